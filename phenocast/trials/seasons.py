"""The trials that one file of records holds: each season and site by itself."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from phenocast.errors import Fault, InputError, raise_any
from phenocast.trials.layout import SplitPlots, Subsamples, require_beds, split_plots
from phenocast.trials.results import SplitPlotAnalysis
from phenocast.trials.split_plot import analyse_split_plots

PARTS = ("season", "site")
BED = "whole_plot"


@dataclass(frozen=True)
class SeasonTrial:
    """One trial of one season at one site; both "" where the records do not name them."""

    season: str
    site: str
    plots: SplitPlots
    analysis: SplitPlotAnalysis


def analyse_seasons(
    records: pd.DataFrame,
    response: str,
    *,
    block: str = "replicate",
    whole: str = "film",
    sub: str = "cultivar",
    subsamples: Subsamples = "refuse",
) -> tuple[SeasonTrial, ...]:
    """Analyse the split-plot trial of each season and site in the records.

    Parameters
    ----------
    records : one row per plot with the columns below; "season" and "site" part it into trials, and
        "whole_plot" names the beds, where these columns are there.
    response, block, whole, sub, subsamples : as `split_plots`.

    Returns
    -------
    tuple of SeasonTrial, in the order of the records.

    Raises
    ------
    InputError : with the faults of all trials, each with its season and site.
    NoAnswerError : REML found no maximum.

    Examples
    --------
    >>> y = [4, 5, 6, 9, 5, 5.5, 6.5, 10, 3, 5, 7, 9]
    >>> rows = [(s, b, f, c) for s in ("2025", "2026") for b in "123" for f in ("black", "silver")
    ...         for c in ("Marl", "Tuff")]
    >>> table = pd.DataFrame(rows, columns=["season", "replicate", "film", "cultivar"])
    >>> table["yield"] = y * 2
    >>> [(one.season, round(one.analysis.source("film").f)) for one in
    ...  analyse_seasons(table, "yield")]
    [('2025', 100), ('2026', 100)]
    """
    parts = [p for p in PARTS if p in records and p not in (response, block, whole, sub)]
    labels = (
        pd.MultiIndex.from_frame(records[parts].astype(str)).unique().tolist() if parts else [()]
    )
    found: list[SeasonTrial] = []
    faults: list[Fault] = []
    for label in labels:
        names = dict(zip(parts, label, strict=True))
        at: NDArray[np.bool_] = np.ones(len(records), dtype=np.bool_)
        for part, name in names.items():
            at &= (records[part].astype(str) == name).to_numpy()
        one = records.loc[at].reset_index(drop=True)
        try:
            if BED in one and BED not in (block, whole, sub):
                require_beds(one, block=block, whole=whole, bed=BED)
            plots = split_plots(
                one, response, block=block, whole=whole, sub=sub, subsamples=subsamples
            )
            analysis = analyse_split_plots(plots)
        except InputError as error:
            place = ", ".join(f"{part} {name}" for part, name in names.items())
            faults += [_placed(fault, place if len(labels) > 1 else "") for fault in error.faults]
            continue
        found.append(SeasonTrial(names.get("season", ""), names.get("site", ""), plots, analysis))
    raise_any(faults)
    return tuple(found)


def _placed(fault: Fault, place: str) -> Fault:
    where = ", ".join(text for text in (place, fault.where) if text)
    return replace(fault, where=where)
