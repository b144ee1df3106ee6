"""A breeder's usual indices of heat sensitivity, from yields in a mild and in a hot regime.

All of them are ratios and means of two yields. They say which cultivar lost most in this pair of
environments, with no error attached.
For delays in days, where larger is worse, take differences instead: a ratio of dates means nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike

from phenocast.calibration._checks import FloatArray, finite
from phenocast.errors import Fault, InputError


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
    if one.shape != other.shape:
        raise InputError(
            Fault("not one yield of each cultivar in each regime", value=(one.size, other.size))
        )
    faults = [
        Fault("a yield is out of range", f"{name}[{i}]", float(array[i]), allowed)
        for name, array, bad, allowed in (
            ("mild", one, one <= 0.0, "above 0"),
            ("hot", other, other < 0.0, "0 or more"),
        )
        for i in np.flatnonzero(bad)
    ]
    if faults:
        raise InputError(faults)
    mild_mean, hot_mean = float(one.mean()), float(other.mean())
    if hot_mean >= mild_mean:
        raise InputError(
            Fault(
                "the hot regime took no yield on average, so there is no stress to compare under",
                value=(round(mild_mean, 6), round(hot_mean, 6)),
                allowed="a mean below that of the mild regime",
                do="check which regime is which",
            )
        )
    if hot_mean == 0.0:
        raise InputError(Fault("no cultivar yielded in the hot regime", where="hot"))
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
