"""The trials of one file of records, each season and site by itself, as one document."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, get_args

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.stats import spearmanr

from phenocast import __version__
from phenocast.errors import Fault, InputError, raise_any
from phenocast.trials.layout import SplitPlots, Subsamples, require_beds, split_plots
from phenocast.trials.results import SplitPlotAnalysis
from phenocast.trials.split_plot import (
    Kind,
    analyse_split_plots,
    compared,
    differences,
    what_differs,
)

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


SCHEMA_VERSION = 1
LEVEL = 0.95
# With fewer residuals a rank correlation of their sizes tells next to nothing.
FEWEST_FOR_SPREAD = 12


def trial_document(
    trials: Sequence[SeasonTrial],
    *,
    source: str,
    records: int,
    unit: str = "",
    warnings: Sequence[str] = (),
) -> dict[str, Any]:
    """Return the document that ``phenocast trial --json`` prints.

    Parameters
    ----------
    trials : result of `analyse_seasons`, one or more.
    source : name of the file of records.
    records : rows read from it.
    unit : unit of the response; "" where it is not stated.
    warnings : what the reader of the file must know.

    Returns
    -------
    dict

    Examples
    --------
    >>> from phenocast.trials.layout import SplitPlots
    >>> from phenocast.trials.split_plot import analyse_split_plots
    >>> y = np.array([[[4, 5], [6, 9]], [[5, 5.5], [6.5, 10]], [[3, 5], [7, 9]]])
    >>> plots = SplitPlots("yield", "replicate", "film", "cultivar", ("1", "2", "3"),
    ...                    ("black", "silver"), ("Marl", "Tuff"), y)
    >>> one = SeasonTrial("2026", "", plots, analyse_split_plots(plots))
    >>> told = trial_document([one], source="trial.csv", records=12)
    >>> told["kind"], told["trials"][0]["means"]["whole"]
    ('trial', [{'level': 'black', 'mean': 4.583...}, {'level': 'silver', 'mean': 7.916...}])
    """
    plots = trials[0].plots
    told = list(warnings)
    if len(trials) > 1:
        names = ", ".join(" ".join((one.season, one.site)).strip() for one in trials)
        told.append(
            f"{len(trials)} trials ({names}) are analysed one by one: nothing here says whether an "
            "effect is the same in all of them"
        )
    return {
        "schema_version": SCHEMA_VERSION,
        "engine_version": __version__,
        "kind": "trial",
        "file": source,
        "records": records,
        "response": plots.response,
        "unit": unit,
        "factors": {"block": plots.block, "whole_plot": plots.whole, "sub_plot": plots.sub},
        "level": LEVEL,
        "trials": [_trial(one) for one in trials],
        "warnings": told,
    }


def _trial(one: SeasonTrial) -> dict[str, Any]:
    plots, analysis = one.plots, one.analysis
    sentences = what_differs(analysis, level=LEVEL)
    return {
        "season": one.season,
        "site": one.site,
        "method": analysis.method,
        "blocks": list(plots.blocks),
        "plots": int(plots.values.size),  # noqa: PD011 (not a frame)
        "missing_plots": int(np.isnan(plots.values).sum()),
        "table": [
            {"source": line.name, "df": line.df, "ss": line.ss, "ms": line.ms, "f": line.f,
             "p": line.p, "error": line.error, "error_df": line.error_df}
            for line in analysis.table
        ],
        "means": _means(analysis),
        "standard_errors": [
            {"between": between, "value": error.value, "df": error.df}
            for between, error in zip(
                get_args(Kind),
                (analysis.whole_error, analysis.sub_error, analysis.sub_within_whole,
                 analysis.whole_within_sub),
                strict=True,
            )
        ],
        "components": {"block": analysis.components.block,
                       "whole_plot": analysis.components.whole_plot,
                       "sub_plot": analysis.components.sub_plot},
        "cv": {"whole_plot": analysis.cv_whole, "sub_plot": analysis.cv_sub},
        "compared": list(compared(analysis, level=LEVEL)),
        "differences": [
            {"between": kind, "first": pair.first, "second": pair.second, "at": pair.at,
             "estimate": pair.estimate, "standard_error": pair.standard_error, "df": pair.df,
             "lower": pair.lower, "upper": pair.upper, "p": pair.p, "told_apart": pair.told_apart}
            for kind in get_args(Kind)
            for pair in differences(analysis, kind, level=LEVEL)
        ],
        "what_differs": list(sentences[: len(sentences) - len(analysis.notes)]),
        "notes": list(analysis.notes),
        "residuals": _residuals(one),
        "strata": _strata(analysis),
    }  # fmt: skip


def _means(analysis: SplitPlotAnalysis) -> dict[str, Any]:
    def of(levels: Sequence[str], means: Sequence[float]) -> list[dict[str, Any]]:
        return [{"level": one, "mean": mean} for one, mean in zip(levels, means, strict=True)]

    return {
        "whole": of(analysis.wholes, analysis.whole_means.tolist()),
        "sub": of(analysis.subs, analysis.sub_means.tolist()),
        "cells": [
            {"whole": whole, "sub": sub, "mean": float(analysis.cell_means[i, j])}
            for i, whole in enumerate(analysis.wholes)
            for j, sub in enumerate(analysis.subs)
        ],
    }


def _residuals(one: SeasonTrial) -> list[dict[str, Any]]:
    """Every plot that is there, with its fitted value and residual, for whoever draws them."""
    plots, residuals = one.plots, one.analysis.residuals
    return [
        {"block": plots.blocks[i], "whole": plots.wholes[j], "sub": plots.subs[k],
         "value": float(plots.values[i, j, k]),  # noqa: PD011 (not a frame)
         "fitted": float(residuals.fitted[i, j, k]),
         "residual": float(residuals.sub_plot[i, j, k])}
        for i, j, k in np.argwhere(np.isfinite(plots.values)).tolist()
    ]  # fmt: skip


def _strata(analysis: SplitPlotAnalysis) -> list[dict[str, Any]]:
    """Residuals of each stratum against fitted values and normal scores, in order of the scores."""
    residuals = analysis.residuals
    with np.errstate(invalid="ignore"):
        whole_fitted = (
            np.array([[_mean(plots) for plots in block] for block in residuals.fitted])
            - residuals.whole_plot
        )
    told = []
    for name, fitted, left in (
        ("whole_plot", whole_fitted, residuals.whole_plot),
        ("sub_plot", residuals.fitted, residuals.sub_plot),
    ):
        there = np.isfinite(left)
        order = np.argsort(left[there], kind="stable")
        scores, scaled = residuals.normal_scores(name)
        told.append(
            {
                "stratum": name,
                "fitted": fitted[there][order].tolist(),
                "residual": left[there][order].tolist(),
                "normal_score": scores.tolist(),
                "scaled_residual": scaled.tolist(),
                "in_words": _of_residuals(fitted[there], left[there]),
            }
        )
    return told


def _mean(values: Any) -> float:
    there = values[np.isfinite(values)]
    return float(there.mean()) if there.size else float("nan")


def _of_residuals(fitted: Any, left: Any) -> str:
    """One sentence on whether the spread grows with the fitted value, as far as few plots tell."""
    if left.size < FEWEST_FOR_SPREAD or float(np.ptp(fitted)) == 0.0:
        return f"{left.size} residuals: too few to see whether their spread changes"
    found = spearmanr(fitted, np.abs(left))
    if float(found.pvalue) >= 0.05:
        return "no sign that the spread changes with the fitted value"
    way = "grows" if found.statistic > 0.0 else "falls"
    hint = "; analyse the logarithm or the square root" if found.statistic > 0.0 else ""
    return f"the spread {way} with the fitted value (rank correlation {found.statistic:.2f}){hint}"
