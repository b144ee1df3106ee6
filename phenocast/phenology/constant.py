"""Daily tables of a growth chamber: the same day, over and over.

Published treatments are given as day and night temperatures and a photoperiod. These tables hold
what such a chamber does to a plant; the crown takes the temperature of the air.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from phenocast.parameters import ParameterSet, species
from phenocast.phenology import daily as rows
from phenocast.thermal_time import trapezoid, wang_engel


def constant_days(
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
) -> NDArray[np.float64]:
    """Make the daily table of a chamber.

    Parameters
    ----------
    n_days : number of days.
    crown_c : crown temperature by day. [degC]
    photoperiod_h : hours of light that the plant feels. [h]
    night_c : crown temperature by night; as by day where not given. [degC]
    day_h : hours at the day temperature. [h]
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
    >>> constant_days(3, 13.0, 10.0)[rows.CROWN_DEVELOPMENT].tolist()
    [10.0, 10.0, 10.0]
    """
    own = species() if cultivar is None else cultivar
    night = crown_c if night_c is None else night_c
    crown = np.array([crown_c, night])
    air = crown if air_c is None else np.array([air_c, air_c])
    share = np.array([day_h, 24.0 - day_h]) / 24.0

    base = own.value("development_base")
    optimum = own.value("development_optimum_low")
    high = own.value("development_optimum_high")
    ceiling = own.value("development_ceiling")

    def mean(values: NDArray[np.float64]) -> float:
        return float(np.sum(values * share))

    def development(t: NDArray[np.float64]) -> float:
        return (optimum - base) * mean(trapezoid(t, base, optimum, high, ceiling))

    def above(t: NDArray[np.float64], limit: str) -> float:
        return 24.0 * mean(np.maximum(t - own.value(limit), 0.0))

    table = np.zeros((rows.N_DAILY, n_days))
    table[rows.CROWN_DEVELOPMENT] = development(crown)
    table[rows.AIR_DEVELOPMENT] = development(air)
    table[rows.INDUCTION_RESPONSE] = 1.0
    if cultivar is not None:
        response = wang_engel(
            crown,
            own.value("induction_base"),
            own.value("induction_optimum"),
            own.value("induction_ceiling"),
        )
        table[rows.INDUCTION_RESPONSE] = mean(response)
    table[rows.CROWN_MEAN] = mean(crown)
    table[rows.CROWN_HEAT_30] = above(crown, "crown_heat_threshold")
    table[rows.CROWN_HEAT_33] = above(crown, "crown_strong_heat_threshold")
    leaf = np.maximum(np.minimum(crown, own.value("leaf_cap")) - own.value("leaf_base"), 0.0)
    table[rows.LEAF_WARMTH] = mean(leaf)
    branch_base, branch_optimum = own.value("branch_base"), own.value("branch_optimum")
    branching = trapezoid(
        crown, branch_base, branch_optimum, branch_optimum, own.value("branch_ceiling")
    )
    table[rows.BRANCH_WARMTH] = (branch_optimum - branch_base) * mean(branching)
    table[rows.AIR_HEAT_27] = above(air, "fruit_heat_threshold")
    table[rows.AIR_MEAN] = mean(air)
    table[rows.SOLAR] = solar_mj
    table[rows.PHOTOPERIOD] = photoperiod_h
    table[rows.COVER] = cover
    chilling = (crown >= own.value("chill_low")) & (crown <= own.value("chill_high"))
    table[rows.CHILL] = 24.0 * mean(chilling.astype(np.float64))
    table[rows.FLOWER_MIN] = float(air.min())
    return table
