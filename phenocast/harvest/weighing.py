"""Mass of the ripe fruit of each day, and how much of it can be sold."""

from __future__ import annotations

from typing import Any

from numba import njit

from phenocast.phenology.steps import Array, each_power, exponential
from phenocast.phenology.work import (
    RIPENING_1,
    SIZE_WARMTH,
    SPREAD_HALF_WIDTH_D,
    UNSMOOTHED_FRUIT,
    UNSMOOTHED_G,
    UNSMOOTHED_MARKETABLE,
    Work,
)
from phenocast.vector import any_lane, everywhere, lanes, load, row_of, store

LOGISTIC_PER_NORMAL = 1.702
"""A logistic with its slope scaled by this is within 0.01 of the standard normal's share (Haley
1952, recalled from memory)."""


@njit(cache=True, nogil=True, error_model="numpy")
def ripening_days(n_days: int, rows: Array) -> tuple[int, int]:
    """Return the first day with ripening fruit and the day after the last; equal without fruit."""
    first = 0
    while first < n_days and not _ripens(rows, first):
        first += 1
    stop = n_days
    while stop > first and not _ripens(rows, stop - 1):
        stop -= 1
    return first, stop


@njit(cache=True, nogil=True, error_model="numpy")
def _ripens(rows: Array, day: int) -> bool:
    """Say whether fruit of any rank ripens on a day in any plant."""
    fruit = load(row_of(rows, RIPENING_1), day) + load(row_of(rows, RIPENING_1 + 1), day)
    return any_lane(fruit + load(row_of(rows, RIPENING_1 + 2), day) > 0.0)


@njit(cache=True, nogil=True, error_model="numpy")
def weigh(first: int, stop: int, plant: Any, work: Work) -> None:
    """Mass, marketable mass and number of the fruit that ripens on each day from first to stop."""
    rows = work.rows
    warmth = row_of(work.weather, SIZE_WARMTH)
    borne = everywhere(0.0)
    slope = lanes(plant.fruit_mass_slope)
    decline = lanes(plant.size_decline)
    full = lanes(plant.fruit_mass_15)
    mass_1 = lanes(plant.rank1_mass)
    mass_2 = lanes(plant.rank2_mass)
    mass_3 = lanes(plant.rank3_mass)
    # the odds that a fruit is too small to sell: fruit mass is log-logistic around its mean
    market = lanes(plant.marketable_share)
    steepness = LOGISTIC_PER_NORMAL / lanes(plant.mass_spread)
    usual_too_small = each_power(lanes(plant.cull_mass) / full, steepness)
    small_1 = usual_too_small * each_power(mass_1, -steepness)
    small_2 = usual_too_small * each_power(mass_2, -steepness)
    small_3 = usual_too_small * each_power(mass_3, -steepness)
    for day in range(first, stop):
        first_rank = load(row_of(rows, RIPENING_1), day)
        second_rank = load(row_of(rows, RIPENING_1 + 1), day)
        third_rank = load(row_of(rows, RIPENING_1 + 2), day)
        fruit = first_rank + second_rank + third_rank
        # how much smaller than usual, as a logarithm
        smaller = slope * (warmth[day] - 15.0) + decline * (borne + 0.5 * fruit)
        borne += fruit
        mass = full * exponential(-smaller)
        odds = exponential(steepness * smaller)
        primary = first_rank * mass * mass_1
        secondary = second_rank * mass * mass_2
        tertiary = third_rank * mass * mass_3
        # the shares that can be sold are three quotients: brought over one denominator
        one = 1.0 + odds * small_1
        two = 1.0 + odds * small_2
        three = 1.0 + odds * small_3
        sold = primary * two * three + secondary * one * three + tertiary * one * two
        place = SPREAD_HALF_WIDTH_D + day
        store(row_of(rows, UNSMOOTHED_G), place, primary + secondary + tertiary)
        store(row_of(rows, UNSMOOTHED_MARKETABLE), place, market * sold / (one * two * three))
        store(row_of(rows, UNSMOOTHED_FRUIT), place, fruit)
