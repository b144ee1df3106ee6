"""A breeder's usual indices of heat sensitivity, from yields in a non-stress and a stress regime.

All of them are ratios and means of two yields. They say which cultivar lost most in this pair of
environments, with no error attached. For delays in days, where larger is worse, take differences
instead: a ratio of dates means nothing. The regimes are taken from the heat that the crown carried
in each environment (season, film and planting date); nothing of the fitted model enters the
yields.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass, fields

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from phenocast._typing import FloatArray
from phenocast.calibration._checks import finite
from phenocast.calibration.ranking.stability import (
    Axes,
    Slopes,
    finlay_wilkinson,
    interaction_axes,
    stability_variance,
)
from phenocast.errors import Fault, InputError, raise_any, refuse


@dataclass(frozen=True)
class HeatIndices:
    """Indices of every cultivar; arrays ``[cultivar]`` unless said otherwise.

    Parameters
    ----------
    intensity : float
        Share of the mean yield that the hot regime took, ``1 - mean hot / mean mild``. [1]
    ssi : array
        Stress susceptibility index; above 1 more susceptible than the mean. [1]
    tol : array
        Tolerance, the yield lost; larger is worse. [unit of the yields]
    mp, gmp, hm : arrays
        Arithmetic, geometric and harmonic mean of both yields. [unit of the yields]
    sti : array
        Stress tolerance index; higher is better in both regimes together. [1]
    ysi : array
        Yield stability index, share of the yield that was kept. [1]
    yi : array
        Yield index, hot yield over the mean hot yield. [1]
    rhi : array
        Relative heat index, share kept over the mean's share kept. [1]
    """

    intensity: float
    ssi: FloatArray
    tol: FloatArray
    mp: FloatArray
    gmp: FloatArray
    hm: FloatArray
    sti: FloatArray
    ysi: FloatArray
    yi: FloatArray
    rhi: FloatArray

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the indices that each cultivar has."""
        return tuple(item.name for item in fields(self) if item.name != "intensity")


def heat_indices(mild: ArrayLike, hot: ArrayLike) -> HeatIndices:
    """Indices of heat sensitivity from the yields of each cultivar in both regimes.

    Parameters
    ----------
    mild, hot : arrays ``[cultivar]``
        Yields in one unit, such as g per plant: above 0 in the mild regime, not below 0 in the hot.

    Returns
    -------
    HeatIndices

    Raises
    ------
    InputError : arrays that differ in length, fewer than two cultivars, a yield missing or out of
        range; a hot regime that took no yield, which makes no stress to be susceptible to.

    Notes
    -----
    SSI: Fischer and Maurer (1978), Aust. J. Agric. Res. 29:897-912. TOL, MP: Rosielle and Hamblin
    (1981), Crop Sci. 21:943-946. STI, GMP: Fernandez (1992), Proc. Int. Symp. on Adaptation of
    Vegetables, AVRDC, 257-270. YSI: Bouslama and Schapaugh (1984), Crop Sci. 24:933-937. YI:
    Gavuzzi and others (1997), Can. J. Plant Sci. 77:523-531. Formulas read in the table of a later
    paper (Sci. Rep. 2025, s41598-025-13863-x, table 1); these citations recalled from memory.

    Examples
    --------
    >>> found = heat_indices(mild=[500.0, 400.0], hot=[400.0, 200.0])
    >>> found.ssi.round(2).tolist(), found.ysi.tolist()
    ([0.6, 1.5], [0.8, 0.5])
    """
    one = finite(mild, "mild", dimensions=1, shortest=(2,))
    other = finite(hot, "hot", dimensions=1, shortest=(2,))
    refuse(
        (
            one.shape != other.shape,
            Fault("not one yield of each cultivar in each regime", value=(one.size, other.size)),
        )
    )
    faults = [
        Fault("a yield is out of range", f"{name}[{i}]", float(array[i]), allowed)
        for name, array, bad, allowed in (
            ("mild", one, one <= 0.0, "above 0"),
            ("hot", other, other < 0.0, "0 or more"),
        )
        for i in np.flatnonzero(bad)
    ]
    raise_any(faults)
    mild_mean, hot_mean = float(one.mean()), float(other.mean())
    refuse(
        (
            hot_mean >= mild_mean,
            Fault(
                "the hot regime took no yield on average, so there is no stress to compare under",
                value=(round(mild_mean, 6), round(hot_mean, 6)),
                allowed="a mean below that of the mild regime",
                do="check which regime is which",
            ),
        )
    )
    refuse((hot_mean == 0.0, Fault("no cultivar yielded in the hot regime", where="hot")))
    intensity = 1.0 - hot_mean / mild_mean
    kept = other / one
    return HeatIndices(
        intensity=intensity,
        ssi=(1.0 - kept) / intensity,
        tol=one - other,
        mp=(one + other) / 2.0,
        gmp=np.sqrt(one * other),
        hm=2.0 * one * other / (one + other),
        sti=one * other / mild_mean**2,
        ysi=kept,
        yi=other / hot_mean,
        rhi=kept / (hot_mean / mild_mean),
    )


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
