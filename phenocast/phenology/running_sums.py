"""Running sums of the season's weather, in which the cohorts look up their dates."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit

from phenocast.phenology.daily import (
    AIR_DEVELOPMENT,
    AIR_HEAT_27,
    AIR_MEAN,
    COVER,
    CROWN_DEVELOPMENT,
    CROWN_HEAT_30,
    FLOWER_MIN,
    PHOTOPERIOD,
    SOLAR,
)
from phenocast.phenology.steps import Array, normal_share, ramp
from phenocast.phenology.work import (
    AIR_CLOCK,
    AIR_HEAT,
    AIR_SUM,
    BUD_CLOCK,
    COHORT_ENDS,
    CROWN_HEAT,
    ESTABLISHED,
    FROST_FRUIT,
    FROST_OPEN,
    FROST_POPCORN,
    FROST_TIGHT_BUD,
    GROWTH_LIGHT,
)

PHOTOPERIOD_RAMP_H = 0.5
"""Half-width of the change from short-day to long-day growth. [h]"""

COHORT_WARMTH = 40.0
COHORT_DAYS = 7
"""Crown development [degC d] and days at which the flowers gathered so far become a cohort: the
resolution of the cohorts, not traits. On warm days a cohort is two or three days; days of a cold
spell, whose flowers open almost together, go into one. Both hang on the weather alone, so that a
cohort keeps its days when a parameter moves."""


@njit(cache=True, nogil=True, error_model="numpy")
def frost_log_survival(temperature_c: float, critical_c: float, plant: Any) -> float:
    """Logarithm of the share that lives through a night with this minimum at flower height.

    Half of the organs die ``frost_half_below_c`` below the critical temperature of their stage.
    """
    margin = (temperature_c - critical_c + plant.frost_half_below) / plant.frost_width
    if margin >= 12.0:
        return 0.0
    if margin <= -12.0:
        return float(margin)
    return -math.log(1.0 + math.exp(-margin))


@njit(cache=True, nogil=True, error_model="numpy")
def sum_weather(daily: Array, work: Array) -> None:
    """Fill the prefix sums that all plants under one daily table share."""
    n_days = daily.shape[1]
    for row in (AIR_CLOCK, CROWN_HEAT, AIR_HEAT, AIR_SUM, GROWTH_LIGHT):
        work[row, 0] = 0.0
    warmth = 0.0
    first = 0
    for day in range(n_days):
        warmth += daily[CROWN_DEVELOPMENT, day]
        work[COHORT_ENDS, day] = 0.0
        if warmth >= COHORT_WARMTH or day + 1 - first == COHORT_DAYS or day == n_days - 1:
            work[COHORT_ENDS, day] = 1.0
            warmth = 0.0
            first = day + 1
        work[AIR_CLOCK, day + 1] = work[AIR_CLOCK, day] + daily[AIR_DEVELOPMENT, day]
        work[CROWN_HEAT, day + 1] = work[CROWN_HEAT, day] + daily[CROWN_HEAT_30, day]
        work[AIR_HEAT, day + 1] = work[AIR_HEAT, day] + daily[AIR_HEAT_27, day]
        work[AIR_SUM, day + 1] = work[AIR_SUM, day] + daily[AIR_MEAN, day]
        work[GROWTH_LIGHT, day + 1] = (
            work[GROWTH_LIGHT, day] + daily[COVER, day] * daily[SOLAR, day]
        )


@njit(cache=True, nogil=True, error_model="numpy")
def sum_for_plant(daily: Array, plant: Any, work: Array) -> bool:
    """Fill the prefix sums of one plant's own clock and frost; say whether a night had frost."""
    n_days = daily.shape[1]
    clock = 0.0
    work[BUD_CLOCK, 0] = clock
    most_gain = 1.0 / plant.long_day_speed - 1.0
    long_day = plant.long_day_speed_photoperiod
    needs = plant.establishment_development
    per_width = 1.0 / (plant.establishment_spread * needs + 1.0)
    warmth = 0.0
    for day in range(n_days):
        step = daily[CROWN_DEVELOPMENT, day]
        warmth += step
        established = normal_share((warmth - needs) * per_width)
        gain = most_gain * ramp(daily[PHOTOPERIOD, day], long_day, PHOTOPERIOD_RAMP_H)
        clock += established * (1.0 + gain) * step
        work[BUD_CLOCK, day + 1] = clock
        work[ESTABLISHED, day] = established
    return sum_frost(daily, plant, work)


@njit(cache=True, nogil=True, error_model="numpy")
def sum_frost(daily: Array, plant: Any, work: Array) -> bool:
    """Fill the prefix sums of frost survival; say whether any night had frost.

    Without frost the sums are not filled beyond their last entry: nobody reads them.
    """
    n_days = daily.shape[1]
    warmest_critical = max(
        max(plant.frost_bud, plant.frost_popcorn),
        max(plant.frost_open, plant.frost_green),
    )
    harmless = warmest_critical - plant.frost_half_below + 12.0 * plant.frost_width
    coldest = np.inf
    for day in range(n_days):
        coldest = min(coldest, daily[FLOWER_MIN, day])
    if coldest >= harmless:
        for row in range(FROST_TIGHT_BUD, FROST_FRUIT + 1):
            work[row, n_days] = 0.0
        return False
    for row in range(FROST_TIGHT_BUD, FROST_FRUIT + 1):
        work[row, 0] = 0.0
    for day in range(n_days):
        tight = popcorn = opened = fruit = 0.0
        night = daily[FLOWER_MIN, day]
        if night < harmless:
            tight = frost_log_survival(night, plant.frost_bud, plant)
            popcorn = frost_log_survival(night, plant.frost_popcorn, plant)
            opened = frost_log_survival(night, plant.frost_open, plant)
            fruit = frost_log_survival(night, plant.frost_green, plant)
        work[FROST_TIGHT_BUD, day + 1] = work[FROST_TIGHT_BUD, day] + tight
        work[FROST_POPCORN, day + 1] = work[FROST_POPCORN, day] + popcorn
        work[FROST_OPEN, day + 1] = work[FROST_OPEN, day] + opened
        work[FROST_FRUIT, day + 1] = work[FROST_FRUIT, day] + fruit
    return True
