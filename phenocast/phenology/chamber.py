"""Daily tables of a growth chamber: the same day, over and over.

Published treatments are given as day and night temperatures and a photoperiod. These tables hold
what such a chamber does to a plant; the crown takes the temperature of the air.
"""

from __future__ import annotations

import numpy as np

from phenocast._typing import FloatArray
from phenocast.parameters import ParameterSet, species
from phenocast.phenology import daily as rows
from phenocast.thermal_time import trapezoid, wang_engel


def chamber_days(
    n_days: int,
    crown_c: float,
    photoperiod_h: float,
    *,
    night_c: float | None = None,
    day_h: float = 12.0,
    air_c: float | None = None,
    solar_mj: float = 15.0,
    cover: float = 0.5,
    cultivar: ParameterSet | None = None,
) -> FloatArray:
    """Make the daily table of a chamber.

    Parameters
    ----------
    n_days : number of days.
    crown_c : crown temperature by day. [degC]
    photoperiod_h : hours of light that the plant feels. [h]
    night_c : crown temperature by night; as by day where not given. [degC]
    day_h : whole hours at the day temperature. [h]
    air_c : air temperature, day and night; that of the crown where not given. [degC]
    solar_mj : radiation. [MJ m-2 d-1]
    cover : canopy cover. [1]
    cultivar : whose induction response and temperature limits to use; without it the induction
        response is 1.

    Returns
    -------
    array ``[N_DAILY, n_days]``.

    Examples
    --------
    >>> chamber_days(3, 13.0, 10.0)[rows.CROWN_DEVELOPMENT].round(9).tolist()
    [10.0, 10.0, 10.0]
    """
    night = crown_c if night_c is None else night_c
    lit = round(day_h)
    crown = np.repeat([crown_c, night], [lit, 24 - lit])
    air = crown if air_c is None else np.full(24, air_c)
    day = day_table(crown, air, photoperiod_h, solar_mj, cover, cultivar)
    return np.repeat(day[:, None], n_days, axis=1)


def day_table(
    crown_c: FloatArray,
    air_c: FloatArray,
    photoperiod_h: float,
    solar_mj: float,
    cover: float,
    cultivar: ParameterSet | None = None,
) -> FloatArray:
    """Make one column of a daily table from the 24 hours of a day.

    Parameters
    ----------
    crown_c, air_c : crown and air temperature, ``[24]``; the root zone takes that of the crown.
        [degC]
    photoperiod_h : hours of light that the plant feels. [h]
    solar_mj : radiation. [MJ m-2 d-1]
    cover : canopy cover. [1]
    cultivar : as in `chamber_days`.

    Returns
    -------
    array ``[N_DAILY]``.

    Examples
    --------
    >>> warm = np.full(24, 33.0)
    >>> float(day_table(warm, warm, 12.0, 15.0, 0.5)[rows.CROWN_HEAT_30])
    72.0
    """
    own = species() if cultivar is None else cultivar
    value = own.value
    base, optimum = value("development_base"), value("development_optimum_low")
    high, ceiling = value("development_optimum_high"), value("development_ceiling")
    branch_base, branch_optimum = value("branch_base"), value("branch_optimum")
    branching = trapezoid(
        crown_c, branch_base, branch_optimum, branch_optimum, value("branch_ceiling")
    )
    leaf = np.clip(crown_c, value("leaf_base"), value("leaf_cap")) - value("leaf_base")
    response = np.ones(24)
    if cultivar is not None:
        response = wang_engel(
            crown_c, value("induction_base"), value("induction_optimum"), value("induction_ceiling")
        )

    def development(t: FloatArray) -> float:
        return float((optimum - base) * np.mean(trapezoid(t, base, optimum, high, ceiling)))

    def above(t: FloatArray, limit: str) -> float:
        return float(np.sum(np.maximum(t - value(limit), 0.0)))

    column = np.zeros(rows.N_DAILY)
    column[rows.CROWN_DEVELOPMENT] = development(crown_c)
    column[rows.AIR_DEVELOPMENT] = development(air_c)
    column[rows.INDUCTION_RESPONSE] = np.mean(response)
    column[rows.CROWN_MEAN] = np.mean(crown_c)
    column[rows.CROWN_HEAT_30] = above(crown_c, "crown_heat_threshold")
    column[rows.CROWN_HEAT_33] = above(crown_c, "crown_strong_heat_threshold")
    column[rows.LEAF_WARMTH] = np.mean(leaf)
    column[rows.BRANCH_WARMTH] = (branch_optimum - branch_base) * np.mean(branching)
    column[rows.AIR_HEAT_27] = above(air_c, "fruit_heat_threshold")
    column[rows.AIR_MEAN] = np.mean(air_c)
    column[rows.SOLAR] = solar_mj
    column[rows.PHOTOPERIOD] = photoperiod_h
    column[rows.COVER] = cover
    column[rows.CHILL] = np.sum((crown_c >= value("chill_low")) & (crown_c <= value("chill_high")))
    column[rows.FLOWER_MIN] = np.min(air_c)
    return column
