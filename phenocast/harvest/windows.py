"""Weather in the windows that decide set, load and size of fruit: the same for all plants."""

from __future__ import annotations

from numba import njit

from phenocast.phenology.steps import at_noon
from phenocast.phenology.work import (
    AIR_HEAT,
    AIR_SUM,
    GROWTH_LIGHT,
    PER_LIGHT,
    SET_HEAT,
    SIZE_WARMTH,
    Work,
)

HEAT_BEFORE_ANTHESIS_D = 12
HEAT_AFTER_ANTHESIS_D = 1
"""Window around anthesis in which hot air harms fruit set [d]: the two sensitive stages of a flower
in the published heat-shock study, 12 to 9 days before and the day of anthesis."""

LIGHT_MEMORY_D = 14
"""Days of canopy and light that decide how many fruit a plant can carry. [d]"""

SIZE_MEMORY_D = 28
"""Days before ripeness whose mean air temperature sets fruit mass. [d]"""


@njit(cache=True, nogil=True, error_model="numpy")
def fill_windows(n_days: int, work: Work) -> None:
    """Fill the rows ``SET_HEAT`` [degC h], ``PER_LIGHT`` [m2 d MJ-1], ``SIZE_WARMTH`` [degC].

    They are read off the prefix sums of `phenocast.phenology.running_sums.sum_weather`.
    """
    weather = work.weather
    heat = weather[AIR_HEAT]
    light = weather[GROWTH_LIGHT]
    warmth = weather[AIR_SUM]
    for day in range(n_days):
        weather[SET_HEAT, day] = at_noon(heat, day + HEAT_AFTER_ANTHESIS_D, n_days) - at_noon(
            heat, day - HEAT_BEFORE_ANTHESIS_D, n_days
        )
        light_of_day = (
            at_noon(light, day, n_days) - at_noon(light, day - LIGHT_MEMORY_D, n_days)
        ) / min(day + 0.5, LIGHT_MEMORY_D)
        weather[PER_LIGHT, day] = 1.0 / light_of_day if light_of_day > 0.0 else 0.0
        weather[SIZE_WARMTH, day] = (
            at_noon(warmth, day, n_days) - at_noon(warmth, day - SIZE_MEMORY_D, n_days)
        ) / min(day + 0.5, SIZE_MEMORY_D)
