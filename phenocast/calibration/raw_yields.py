"""A breeder's usual indices from raw yields, where cultivars were grown in a hot and a mild regime.

An environment is one season, film and planting date. The regimes are taken from the heat that the
crown carried in each of them; nothing of the fitted model enters the yields.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from phenocast.calibration.indices import HeatIndices, heat_indices
from phenocast.calibration.stability import (
    Axes,
    Slopes,
    finlay_wilkinson,
    interaction_axes,
    stability_variance,
)
from phenocast.errors import Fault, InputError

COLUMNS = ("cultivar", "season", "film", "planting_date", "yield", "heat")
_ENVIRONMENT = ["season", "planting_date", "film"]
# A regime is hot where its crown carries this share more heat than the mild one of the same season.
LEAST_CONTRAST = 1.25


@dataclass(frozen=True)
class Regimes:
    """Two regimes of the same seasons, and every cultivar's yield in both.

    ``cultivars`` have ``mild`` and ``hot`` yields ``[cultivar]``, means over ``pairs``: season,
    planting dates and films of the mild and of the hot environment, and the heat of each.
    """

    cultivars: tuple[str, ...]
    mild: np.ndarray
    hot: np.ndarray
    pairs: tuple[dict[str, object], ...]
    indices: HeatIndices


@dataclass(frozen=True)
class Responses:
    """Response of every cultivar to the heat of ``environments``, and its stability in them.

    ``stability`` (Shukla) is ``[cultivar]``, or None with two cultivars; ``axes`` is None where
    cultivars and environments do not interact. The slopes are per degree-hour.
    """

    cultivars: tuple[str, ...]
    environments: tuple[str, ...]
    heat: np.ndarray
    slopes: Slopes
    stability: np.ndarray | None
    axes: Axes | None


def regimes(yields: pd.DataFrame, *, least_contrast: float = LEAST_CONTRAST) -> Regimes | str:
    """Find the hot and the mild regime in a table of yields, and the indices from them.

    Parameters
    ----------
    yields : DataFrame
        One row a cultivar and environment (rows of the same are averaged): ``cultivar``,
        ``season``, ``film``, ``planting_date``, ``yield`` in any unit and ``heat``, crown
        degree-hours above 30 degC [degC h].
    least_contrast : float
        The hot environment carries at least so many times the heat of the mild one. [1]

    Returns
    -------
    Regimes, or the sentence that says why there are none. In each season the warmest and the
    mildest environment of one planting date are taken, so that only the film differs; where no
    season has such two, those of different dates.

    Raises
    ------
    InputError : a column or a value that is missing.

    Examples
    --------
    >>> table = pd.DataFrame({"cultivar": ["Marl", "Gneiss"] * 2, "season": "2026",
    ...     "film": ["black", "black", "silver", "silver"], "planting_date": "2026-10-01",
    ...     "yield": [400.0, 500.0, 600.0, 550.0], "heat": [800.0, 800.0, 300.0, 300.0]})
    >>> found = regimes(table)
    >>> found.cultivars, found.indices.ssi.round(2).tolist()
    (('Gneiss', 'Marl'), [0.42, 1.53])
    """
    table = _means(yields)
    names = sorted(table["cultivar"].unique())
    if len(names) < 2:
        return "one cultivar: an index compares cultivars"
    complete = _complete(table, names)
    for same in (["season", "planting_date"], ["season"]):
        pairs = []
        for _, group in complete.groupby(same, sort=True):
            heat = group.groupby(_ENVIRONMENT, sort=True)["heat"].mean()
            if heat.size > 1 and heat.max() > max(heat.min(), 1.0) * least_contrast:
                pairs.append((heat.idxmin(), heat.idxmax(), float(heat.min()), float(heat.max())))
        if pairs:
            return _indices(complete, names, pairs)
    return (
        "no season has two films or planting dates with all cultivars whose crowns differ in heat "
        f"by a factor of {least_contrast:g}: only one regime was grown"
    )


def responses(yields: pd.DataFrame) -> Responses | str:
    """Slopes on heat, stability variances and axes over all environments.

    Parameters
    ----------
    yields : DataFrame as for `regimes`.

    Returns
    -------
    Responses, or the sentence that says why there are none.

    Raises
    ------
    InputError : a column or a value that is missing.
    """
    table = _means(yields)
    names = sorted(table["cultivar"].unique())
    complete = _complete(table, names)
    wide = complete.pivot_table(index="cultivar", columns=_ENVIRONMENT, values="yield")
    heat = complete.groupby(_ENVIRONMENT, sort=True)["heat"].mean().reindex(wide.columns)
    if len(names) < 2 or wide.shape[1] < 3:
        return (
            f"{len(names)} cultivar(s) in {wide.shape[1]} environment(s) that hold all of them: "
            "slopes and axes take two cultivars in three environments"
        )
    if float(heat.max() - heat.min()) <= 0.0:
        return "the environments do not differ in heat: there is no slope"
    values = wide.to_numpy()
    try:
        axes = interaction_axes(values)
    except InputError:
        axes = None
    return Responses(
        cultivars=tuple(wide.index),
        environments=tuple(_named(one) for one in wide.columns),
        heat=heat.to_numpy(),
        slopes=finlay_wilkinson(values, heat.to_numpy()),
        stability=stability_variance(values) if len(names) > 2 else None,
        axes=axes,
    )


def _means(yields: pd.DataFrame) -> pd.DataFrame:
    missing = [name for name in COLUMNS if name not in yields]
    if missing:
        raise InputError([Fault("no such column", "yields", name) for name in missing])
    bad = yields[["yield", "heat"]].isna().any(axis=1)
    if bad.any():
        at = yields.index[bad][0]
        raise InputError(Fault("a yield or its heat is missing", f"yields, row {at}"))
    return (
        yields.groupby(["cultivar", *_ENVIRONMENT], sort=True)[["yield", "heat"]]
        .mean()
        .reset_index()
    )


def _complete(table: pd.DataFrame, names: list[str]) -> pd.DataFrame:
    """Environments in which every cultivar was grown."""
    count = table.groupby(_ENVIRONMENT)["cultivar"].transform("nunique")
    return table[count == len(names)]


def _indices(
    complete: pd.DataFrame,
    names: list[str],
    pairs: list[tuple[Hashable, Hashable, float, float]],
) -> Regimes | str:
    wide = complete.pivot_table(index="cultivar", columns=_ENVIRONMENT, values="yield").loc[names]
    mild = wide[[one[0] for one in pairs]].to_numpy().mean(axis=1)
    hot = wide[[one[1] for one in pairs]].to_numpy().mean(axis=1)
    try:
        indices = heat_indices(mild, hot)
    except InputError as told:
        return f"no indices: {told.faults[0].what}"
    return Regimes(
        tuple(names),
        mild,
        hot,
        tuple(
            {"mild": _named(low), "hot": _named(high), "mild_degree_hours": cool,
             "hot_degree_hours": warm}
            for low, high, cool, warm in pairs
        ),
        indices,
    )  # fmt: skip


def _named(environment: Hashable) -> str:
    assert isinstance(environment, tuple)
    return ", ".join(str(part) for part in environment)
