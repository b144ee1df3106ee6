"""Prefix sums of a season, in which cohorts look up their dates, and the searches in them.

All plants under one course of weather share the running sum of development in the air, and every
cohort of every plant looks up its days in it. So the sum is turned round once: a table over equal
steps of the sum says where to begin, and the day itself is at most a few days on.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit

from phenocast._typing import FloatArray, IntArray
from phenocast.phenology.daily import (
    AIR_DEVELOPMENT,
    AIR_HEAT_27,
    AIR_MEAN,
    COVER,
    CROWN_DEVELOPMENT,
    CROWN_HEAT_30,
    PHOTOPERIOD,
    SOLAR,
)
from phenocast.phenology.steps import normal_share, ramp, time_between
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
    Work,
)
from phenocast.vector import (
    LANES,
    any_lane,
    clip,
    everywhere,
    lane_of,
    lanes,
    row_of,
    store,
    take,
    trunc,
    where,
    with_lane,
)

_ROUNDING = 1e-12


@njit(cache=True, nogil=True, error_model="numpy")
def fill_air_days(n_days: int, air_clock: FloatArray, air_days: IntArray) -> None:
    """Fill the day in which a running sum passes each of as many equal steps as the table holds.

    Parameters
    ----------
    n_days : days of the season.
    air_clock : array ``[n_days + 2 or more]``, running sum of development in the air. [degC d]
    air_days : array ``[steps]``, filled.

    Examples
    --------
    >>> days = np.zeros(6, dtype=np.int64)
    >>> fill_air_days(3, np.array([0.0, 1.0, 5.0, 6.0, 0.0]), days)
    >>> days.tolist()
    [0, 0, 1, 1, 1, 1]
    """
    width = air_clock[n_days] / air_days.shape[0]
    day = 0
    for step in range(air_days.shape[0]):
        # a little early, so that rounding never begins a search too late
        while air_clock[day + 1] < width * step * (1.0 - _ROUNDING):
            day += 1
        air_days[step] = day


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def reach_in_air(
    n_days: int, n_steps: int, air_clock: Any, air_days: Any, target: Any
) -> tuple[Any, Any]:
    """Day in which the running sum in the air reaches a target, and the time inside it. [d]

    Both are ``n_days`` if it never does.

    >>> clock, days = np.array([0.0, 1.0, 5.0, 6.0, 0.0]), np.zeros(6, dtype=np.int64)
    >>> fill_air_days(3, clock, days)
    >>> reach_in_air(3, 6, clock, days, 2.0), reach_in_air(3, 6, clock, days, 7.0)
    ((1, 1.25), (3, 3.0))
    """
    per_step = n_steps / max(air_clock[n_days], 1e-300)
    day = take(air_days, trunc(clip(target * per_step, 0.0, n_steps - 1.0)))
    before = take(air_clock, day)
    after = take(air_clock, day + 1)
    short = (after < target) & (day < n_days)
    while any_lane(short):
        day = where(short, day + 1, day)
        before = where(short, after, before)
        after = where(short, take(air_clock, day + 1), after)
        short = short & (after < target) & (day < n_days)
    return day, time_between(before, after, target, day, n_days)


PHOTOPERIOD_RAMP_H = 0.5
"""Half-width of the change from short-day to long-day growth. [h]"""

COHORT_WARMTH = 40.0
COHORT_DAYS = 7
"""Crown development [degC d] and days at which the flowers gathered so far become a cohort: the
resolution of the cohorts, not traits. On warm days a cohort is two or three days; days of a cold
spell, whose flowers open almost together, go into one. Both hang on the weather alone, so that a
cohort keeps its days when a parameter moves."""

_FAR_FROM_FROST = 12.0
"""Widths from half loss at which a logistic counts as its end: 6 in a million are left out."""


@njit(cache=True, nogil=True, error_model="numpy")
def frost_log_survival(
    temperature_c: float, critical_c: float, half_below_c: float, width_c: float
) -> float:
    """Logarithm of the share that lives through a night with this minimum at flower height.

    Half of the organs die ``half_below_c`` below the critical temperature of their stage.
    """
    margin = (temperature_c - critical_c + half_below_c) / width_c
    if margin >= _FAR_FROM_FROST:
        return 0.0
    if margin <= -_FAR_FROM_FROST:
        return float(margin)
    return -math.log(1.0 + math.exp(-margin))


@njit(cache=True, nogil=True, error_model="numpy")
def sum_weather(daily: FloatArray, work: Work) -> None:
    """Fill the prefix sums that all plants under one daily table share."""
    n_days = daily.shape[1]
    weather = work.weather
    for row in (AIR_CLOCK, CROWN_HEAT, AIR_HEAT, AIR_SUM, GROWTH_LIGHT):
        weather[row, 0] = 0.0
    warmth = 0.0
    first = 0
    for day in range(n_days):
        warmth += daily[CROWN_DEVELOPMENT, day]
        weather[COHORT_ENDS, day] = 0.0
        if warmth >= COHORT_WARMTH or day + 1 - first == COHORT_DAYS or day == n_days - 1:
            weather[COHORT_ENDS, day] = 1.0
            warmth = 0.0
            first = day + 1
        weather[AIR_CLOCK, day + 1] = weather[AIR_CLOCK, day] + daily[AIR_DEVELOPMENT, day]
        weather[CROWN_HEAT, day + 1] = weather[CROWN_HEAT, day] + daily[CROWN_HEAT_30, day]
        weather[AIR_HEAT, day + 1] = weather[AIR_HEAT, day] + daily[AIR_HEAT_27, day]
        weather[AIR_SUM, day + 1] = weather[AIR_SUM, day] + daily[AIR_MEAN, day]
        weather[GROWTH_LIGHT, day + 1] = (
            weather[GROWTH_LIGHT, day] + daily[COVER, day] * daily[SOLAR, day]
        )
    fill_air_days(n_days, weather[AIR_CLOCK], work.air_days)


@njit(cache=True, nogil=True, error_model="numpy")
def sum_for_plants(daily: FloatArray, plant: Any, work: Work) -> None:
    """Fill the prefix sums of the plants' own clock."""
    n_days = daily.shape[1]
    bud_clock = row_of(work.rows, BUD_CLOCK)
    establishment = row_of(work.rows, ESTABLISHED)
    clock = everywhere(0.0)
    store(bud_clock, 0, clock)
    most_gain = 1.0 / lanes(plant.long_day_speed) - 1.0
    long_day = lanes(plant.long_day_speed_photoperiod)
    needs = lanes(plant.establishment_development)
    per_width = 1.0 / (lanes(plant.establishment_spread) * needs + 1.0)
    warmth = 0.0
    for day in range(n_days):
        step = daily[CROWN_DEVELOPMENT, day]
        warmth += step
        established = normal_share((warmth - needs) * per_width)
        gain = most_gain * ramp(daily[PHOTOPERIOD, day], long_day, PHOTOPERIOD_RAMP_H)
        clock += established * (1.0 + gain) * step
        store(bud_clock, day + 1, clock)
        store(establishment, day, established)


@njit(cache=True, nogil=True, error_model="numpy")
def sum_frost(flower_min_c: FloatArray, plant: Any, rows: FloatArray) -> tuple[int, int]:
    """Fill the prefix sums of frost survival; return the first and last night that harms buds.

    A stage that no night harms in any plant has 0 in its last entry, and the rest of its row is not
    filled: nobody reads it. The nights are ``n_days`` and -1 where there is none.
    """
    n_days = flower_min_c.shape[0]
    coldest = np.inf
    for day in range(n_days):
        coldest = min(coldest, flower_min_c[day])
    buds = max(
        _harmless(plant.frost_bud, plant), _harmless(plant.frost_popcorn, plant)
    )  # their rows are read together
    first, last = n_days, -1
    for row, critical, harmless in (
        (FROST_TIGHT_BUD, plant.frost_bud, buds),
        (FROST_POPCORN, plant.frost_popcorn, buds),
        (FROST_OPEN, plant.frost_open, _harmless(plant.frost_open, plant)),
        (FROST_FRUIT, plant.frost_green, _harmless(plant.frost_green, plant)),
    ):
        survival = everywhere(0.0)
        sums = row_of(rows, row)
        store(sums, n_days, survival)
        if coldest >= harmless:
            continue
        store(sums, 0, survival)
        for day in range(n_days):
            night = flower_min_c[day]
            if night < harmless:
                for lane in range(LANES):
                    share = frost_log_survival(
                        night,
                        critical[lane],
                        plant.frost_half_below[lane],
                        plant.frost_width[lane],
                    )
                    survival = with_lane(survival, lane, lane_of(survival, lane) + share)
                if row == FROST_TIGHT_BUD:
                    first = min(first, day)
                    last = day
            store(sums, day + 1, survival)
    return first, last


@njit(cache=True, nogil=True, error_model="numpy")
def _harmless(critical_c: FloatArray, plant: Any) -> float:
    """Return the temperature from which on a night harms a stage in none of the plants. [degC]"""
    harmless = -np.inf
    for lane in range(LANES):
        margin = _FAR_FROM_FROST * plant.frost_width[lane]
        harmless = max(harmless, critical_c[lane] - plant.frost_half_below[lane] + margin)
    return harmless
