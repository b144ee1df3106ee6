"""Mass of the ripe fruit of each day, and how much of it can be sold."""

from __future__ import annotations

from typing import Any

from numba import njit

from phenocast.phenology.steps import Array, exponential
from phenocast.phenology.work import (
    RIPENING_1,
    SHARP_FRUIT,
    SHARP_G,
    SHARP_MARKETABLE,
    SIZE_WARMTH,
)

LOGISTIC_PER_NORMAL = 1.702
"""A logistic with its slope scaled by this is within 0.01 of the standard normal's share (Haley
1952, recalled from memory)."""


@njit(cache=True, nogil=True, error_model="numpy")
def weigh(n_days: int, plant: Any, work: Array) -> None:
    """Mass, marketable mass and number of the fruit that ripens on each day."""
    borne = 0.0
    slope = plant.fruit_mass_slope
    decline = plant.size_decline
    full = plant.fruit_mass_15
    mass_1 = plant.rank1_mass
    mass_2 = plant.rank2_mass
    mass_3 = plant.rank3_mass
    # the odds that a fruit is too small to sell: fruit mass is log-logistic around its mean
    steepness = LOGISTIC_PER_NORMAL / plant.mass_spread
    usual_too_small = (plant.cull_mass / full) ** steepness
    small_1 = usual_too_small * mass_1**-steepness
    small_2 = usual_too_small * mass_2**-steepness
    small_3 = usual_too_small * mass_3**-steepness
    # how much smaller than usual, as a logarithm; the marketable row keeps it for the next loops
    logs = work[SHARP_MARKETABLE, :n_days]
    for day in range(n_days):
        fruit = work[RIPENING_1, day] + work[RIPENING_1 + 1, day] + work[RIPENING_1 + 2, day]
        logs[day] = slope * (work[SIZE_WARMTH, day] - 15.0) + decline * (borne + 0.5 * fruit)
        borne += fruit
    usual = work[SHARP_G, :n_days]
    odds = work[SHARP_FRUIT, :n_days]
    for day in range(n_days):
        usual[day] = full * exponential(-logs[day])
        odds[day] = exponential(steepness * logs[day])
    for day in range(n_days):
        first = work[RIPENING_1, day]
        second = work[RIPENING_1 + 1, day]
        third = work[RIPENING_1 + 2, day]
        fruit = first + second + third
        first *= usual[day] * mass_1
        second *= usual[day] * mass_2
        third *= usual[day] * mass_3
        # the shares that can be sold are three quotients: brought over one denominator
        one = 1.0 + odds[day] * small_1
        two = 1.0 + odds[day] * small_2
        three = 1.0 + odds[day] * small_3
        sold = first * two * three + second * one * three + third * one * two
        work[SHARP_G, day] = first + second + third
        work[SHARP_MARKETABLE, day] = plant.marketable_share * sold / (one * two * three)
        work[SHARP_FRUIT, day] = fruit
