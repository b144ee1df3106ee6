"""Overhead water against frost: in which hours it keeps flowers at the melting point.

Water that freezes on a flower holds it at about 0 degC as long as enough falls. Where too little
falls for the cold, the wind and the dryness of the air, or where it ends early, the wet flower
evaporates and becomes colder than a dry one.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from phenocast._typing import FloatArray
from phenocast.crown.flower import flower_temperature
from phenocast.crown.series import BedForcing
from phenocast.parameters import ParameterSet, frost, frost_rates
from phenocast.season import FrostProtection

LEAF_F = (27, 26, 24, 22, 20, 18, 15)
"""Temperatures of a dry leaf in the rows of the table of rates. [degF]"""
MELTING_C = 0.0


@cache
def _table() -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return winds [m s-1], temperatures [degC] from warm to cold, and rates [mm h-1] of both."""
    columns = list(frost_rates().values())
    winds = np.array([column.value("wind_to") for column in columns])
    rates = np.array([[column.value(f"rate_{leaf}f") for leaf in LEAF_F] for column in columns])
    return winds, (np.array(LEAF_F) - 32.0) / 1.8, rates


def water_needed_mm_h(leaf_c: ArrayLike, wind_m_s: ArrayLike) -> FloatArray:
    """Return the rate of overhead water that is enough.

    Parameters
    ----------
    leaf_c : array [n]
        Temperature that the flower would have without the heat of freezing. [degC]
    wind_m_s : array [n]
        At 2 m. [m s-1]

    Returns
    -------
    array [n]
        Rate; that of the mildest row where it is warmer, infinite beyond the table. [mm h-1]

    Notes
    -----
    Table of Gerber and Martsolf (1965), recalled. A wind takes the column of the next stronger
    one; temperatures are read between the rows.

    Examples
    --------
    >>> water_needed_mm_h([-1.0, -5.0, -5.0, -12.0], [0.2, 0.2, 3.0, 0.0]).round(1).tolist()
    [2.5, 2.8, 10.2, inf]
    """
    leaf, wind = np.broadcast_arrays(np.asarray(leaf_c, float), np.asarray(wind_m_s, float))
    winds, leaves, rates = _table()
    column = np.searchsorted(winds, wind, side="left")
    needed = np.full(leaf.shape, np.inf)
    for number, of_wind in enumerate(rates):
        here = (column == number) & (leaf >= leaves[-1])
        needed[here] = np.interp(-leaf[here], -leaves, of_wind)
    return needed


def watered_flower(
    flower_c: FloatArray,
    forcing: BedForcing,
    physics: ParameterSet,
    stated: FrostProtection,
    stands_ready: NDArray[np.bool_],
    first_noon: int,
) -> FloatArray:
    """Return the flower temperature of a block with overhead water against frost.

    Parameters
    ----------
    flower_c : array [n]
        Temperature of a dry flower, `flower_temperature`. [degC]
    forcing : BedForcing
        Weather over the bed, of the same hours.
    physics : ParameterSet
        The bed's physics.
    stated : FrostProtection
        Rate, wind and temperature up to which the water protects.
    stands_ready : array [n]
        The hours in which it may run.
    first_noon : int
        Position of a local noon; nights lie between two noons.

    Returns
    -------
    array [n]
        Flower temperature. [degC]

    Notes
    -----
    In a night in which dry flowers would fall below 0 degC, water runs as long as the wet bulb at
    flower height is below 0 degC. Where it is enough the flower is at 0 degC; where it is not, at
    its wet bulb. Need is read at the colder of dry and wet flower, so that dry air asks for more.
    """
    numbers = frost()
    wet = np.minimum(flower_temperature(forcing, physics, wet=True), flower_c)
    night = (np.arange(len(flower_c)) - first_noon) // 24
    night -= night[0] if len(night) else 0
    coldest = np.full(int(night[-1]) + 1 if len(night) else 0, np.inf)
    np.minimum.at(coldest, night, flower_c)
    runs = (
        stands_ready
        & (wet < numbers.value("water_runs_below"))
        & (coldest[night] < numbers.value("night_below"))
    )
    rate = numbers.value("water_rate") if stated.rate_mm_h is None else stated.rate_mm_h
    enough = water_needed_mm_h(wet, forcing.wind_m_s) <= rate
    if stated.max_wind_m_s is not None:
        enough &= forcing.wind_m_s <= stated.max_wind_m_s
    if stated.down_to_c is not None:
        enough &= flower_c >= stated.down_to_c
    protected = np.where(enough, np.maximum(flower_c, MELTING_C), wet)
    return np.where(runs, protected, flower_c)
