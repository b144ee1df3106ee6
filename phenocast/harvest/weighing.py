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
def ripening_days(n_days: int, work: Array) -> tuple[int, int]:
    """Return the first day with ripening fruit and the day after the last; equal without fruit."""
    first = 0
    while first < n_days and not _ripens(work, first):
        first += 1
    stop = n_days
    while stop > first and not _ripens(work, stop - 1):
        stop -= 1
    return first, stop


@njit(cache=True, nogil=True, error_model="numpy")
def _ripens(work: Array, day: int) -> bool:
    """Say whether fruit of any rank ripens on a day."""
    return bool(
        work[RIPENING_1, day] > 0.0
        or work[RIPENING_1 + 1, day] > 0.0
        or work[RIPENING_1 + 2, day] > 0.0
    )


@njit(cache=True, nogil=True, error_model="numpy")
def weigh(first: int, stop: int, plant: Any, work: Array) -> None:
    """Mass, marketable mass and number of the fruit that ripens on each day from first to stop."""
    n_days = stop - first
    first_rank = work[RIPENING_1, first:stop]
    second_rank = work[RIPENING_1 + 1, first:stop]
    third_rank = work[RIPENING_1 + 2, first:stop]
    warmth = work[SIZE_WARMTH, first:stop]
    borne = 0.0
    slope = plant.fruit_mass_slope
    decline = plant.size_decline
    full = plant.fruit_mass_15
    mass_1 = plant.rank1_mass
    mass_2 = plant.rank2_mass
    mass_3 = plant.rank3_mass
    # the odds that a fruit is too small to sell: fruit mass is log-logistic around its mean
    market = plant.marketable_share
    steepness = LOGISTIC_PER_NORMAL / plant.mass_spread
    usual_too_small = (plant.cull_mass / full) ** steepness
    small_1 = usual_too_small * mass_1**-steepness
    small_2 = usual_too_small * mass_2**-steepness
    small_3 = usual_too_small * mass_3**-steepness
    # The three rows that are filled in the end hold what the loops hand on: how much smaller than
    # usual as a logarithm, the usual mass, the odds.
    logs = work[SHARP_MARKETABLE, first:stop]
    for day in range(n_days):
        fruit = first_rank[day] + second_rank[day] + third_rank[day]
        logs[day] = slope * (warmth[day] - 15.0) + decline * (borne + 0.5 * fruit)
        borne += fruit
    usual = work[SHARP_G, first:stop]
    odds = work[SHARP_FRUIT, first:stop]
    for day in range(n_days):
        usual[day] = full * exponential(-logs[day])
        odds[day] = exponential(steepness * logs[day])
    for day in range(n_days):
        fruit = first_rank[day] + second_rank[day] + third_rank[day]
        mass = usual[day]
        primary = first_rank[day] * mass * mass_1
        secondary = second_rank[day] * mass * mass_2
        tertiary = third_rank[day] * mass * mass_3
        # the shares that can be sold are three quotients: brought over one denominator
        one = 1.0 + odds[day] * small_1
        two = 1.0 + odds[day] * small_2
        three = 1.0 + odds[day] * small_3
        sold = primary * two * three + secondary * one * three + tertiary * one * two
        usual[day] = primary + secondary + tertiary
        logs[day] = market * sold / (one * two * three)
        odds[day] = fruit
