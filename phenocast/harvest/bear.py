"""From open flowers to ripe fruit: set, load, ripening, size, marketable share, day by day.

`bear` reads what `phenocast.phenology.develop` left in the work block. It goes through the days in
order, because the fruit that a plant already carries decides how many more it sets.

The equations are this project's own; their numbers stand in `calibration/cultivars.toml` with
their sources.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit

from phenocast.phenology.steps import Array, day_of, first_passing, put, sum_at, time_in_day
from phenocast.phenology.work import (
    AIR_CLOCK,
    AIR_HEAT,
    AIR_SUM,
    FIRST_PICK,
    FIRST_RIPE,
    FROST_FRUIT,
    FROST_OPEN,
    GROWTH_LIGHT,
    MARKETABLE_G,
    OPEN_1,
    RIPE_FRUIT,
    RIPE_G,
    RIPENING_1,
    SHARP_FRUIT,
    SHARP_G,
    SHARP_MARKETABLE,
    SURVIVING_SHARE,
)

HEAT_BEFORE_ANTHESIS_D = 12.0
HEAT_AFTER_ANTHESIS_D = 1.0
"""Window around anthesis in which hot air harms fruit set [d]: the two sensitive stages of a flower
in the published heat-shock study, 12 to 9 days before and the day of anthesis."""

FLOWER_OPEN_D = 3.0
"""Days for which a flower stays open to frost. [d]"""

LIGHT_MEMORY_D = 14.0
"""Days of canopy and light that decide how many fruit a plant can carry. [d]"""

SIZE_MEMORY_D = 28.0
"""Days before ripeness whose mean air temperature sets fruit mass. [d]"""

LOGISTIC_PER_NORMAL = 1.702
"""A logistic with its slope scaled by this is within 0.01 of the standard normal's share (Haley 1952,
recalled from memory)."""

SPREAD_HALF_WIDTH_D = 18
"""Days to each side over which ripening of the plants of a block is spread: three times the
largest spread that is allowed."""


@njit(cache=True, nogil=True, error_model="numpy")
def set_and_ripen(n_days: int, plant: Any, work: Array) -> None:
    """Fruit set of each day's flowers, and the day on which each becomes ripe."""
    air_clock = work[AIR_CLOCK]
    air_heat = work[AIR_HEAT]
    light = work[GROWTH_LIGHT]
    frost = work[FROST_OPEN, n_days] < 0.0 or work[FROST_FRUIT, n_days] < 0.0
    load = 0.0
    full = plant.load_largest / (plant.fruit_mass_15 * plant.load_cover * plant.load_solar)
    ripening_1 = 0
    ripening_2 = 0
    ripening_3 = 0
    for day in range(n_days):
        flowers = work[OPEN_1, day] + work[OPEN_1 + 1, day] + work[OPEN_1 + 2, day]
        if flowers > 1e-12:
            middle = day + 0.5
            heat = (
                sum_at(air_heat, middle + HEAT_AFTER_ANTHESIS_D, n_days)
                - sum_at(air_heat, middle - HEAT_BEFORE_ANTHESIS_D, n_days)
            ) / plant.set_heat_half
            share = plant.set_potential / (1.0 + heat * heat)
            if frost:
                lost = sum_at(work[FROST_OPEN], middle + FLOWER_OPEN_D, n_days) - sum_at(
                    work[FROST_OPEN], middle, n_days
                )
                if lost < 0.0:
                    share *= math.exp(lost)
            since = max(middle - LIGHT_MEMORY_D, 0.0)
            mean_light = (sum_at(light, middle, n_days) - sum_at(light, since, n_days)) / (
                middle - since
            )
            limit = full * mean_light
            if limit > 0.0:
                crowded = load / limit
                share /= 1.0 + crowded * crowded * crowded
            else:
                share = 0.0
            load += share * flowers
            start = sum_at(air_clock, middle, n_days)
            for rank in range(3):
                fruit = share * work[OPEN_1 + rank, day]
                if fruit <= 0.0:
                    continue
                if rank == 0:
                    target = start + plant.anthesis_to_ripe
                    ripening_1 = day_of(air_clock, target, ripening_1, n_days)
                    ripe_day = ripening_1
                elif rank == 1:
                    target = start + plant.anthesis_to_ripe * plant.rank2_ripening
                    ripening_2 = day_of(air_clock, target, ripening_2, n_days)
                    ripe_day = ripening_2
                else:
                    target = start + plant.anthesis_to_ripe * plant.rank3_ripening
                    ripening_3 = day_of(air_clock, target, ripening_3, n_days)
                    ripe_day = ripening_3
                if ripe_day == n_days:
                    continue
                ripe_at = time_in_day(air_clock, target, ripe_day)
                if frost:
                    lost = sum_at(work[FROST_FRUIT], ripe_at, n_days) - sum_at(
                        work[FROST_FRUIT], middle + FLOWER_OPEN_D, n_days
                    )
                    if lost < 0.0:
                        fruit *= math.exp(lost)
                put(work[RIPENING_1 + rank], ripe_at, fruit, n_days)
        load -= work[RIPENING_1, day] + work[RIPENING_1 + 1, day] + work[RIPENING_1 + 2, day]
        load = max(load, 0.0)


@njit(cache=True, nogil=True, error_model="numpy")
def weigh(n_days: int, plant: Any, work: Array) -> None:
    """Mass, marketable mass and number of the fruit that ripens on each day."""
    air_sum = work[AIR_SUM]
    borne = 0.0
    # the odds that a fruit is too small to sell: fruit mass is log-logistic around its mean
    steepness = LOGISTIC_PER_NORMAL / plant.mass_spread
    usual_too_small = (plant.cull_mass / plant.fruit_mass_15) ** steepness
    small_1 = plant.rank1_mass**-steepness
    small_2 = plant.rank2_mass**-steepness
    small_3 = plant.rank3_mass**-steepness
    for day in range(n_days):
        mass = 0.0
        market = 0.0
        number = 0.0
        fruit = work[RIPENING_1, day] + work[RIPENING_1 + 1, day] + work[RIPENING_1 + 2, day]
        if fruit > 1e-12:
            middle = day + 0.5
            since = max(middle - SIZE_MEMORY_D, 0.0)
            warmth = (sum_at(air_sum, middle, n_days) - sum_at(air_sum, since, n_days)) / (
                middle - since
            )
            smaller = plant.fruit_mass_slope * (warmth - 15.0) + plant.size_decline * (
                borne + 0.5 * fruit
            )
            borne += fruit
            usual = plant.fruit_mass_15 * math.exp(-smaller)
            too_small = usual_too_small * math.exp(steepness * smaller)
            for rank in range(3):
                of_rank = work[RIPENING_1 + rank, day]
                one = usual * plant.rank1_mass
                culled = too_small * small_1
                if rank == 1:
                    one = usual * plant.rank2_mass
                    culled = too_small * small_2
                if rank == 2:
                    one = usual * plant.rank3_mass
                    culled = too_small * small_3
                mass += of_rank * one
                market += of_rank * one * plant.marketable_share / (1.0 + culled)
                number += of_rank
        work[SHARP_G, day] = mass
        work[SHARP_MARKETABLE, day] = market
        work[SHARP_FRUIT, day] = number


@njit(cache=True, nogil=True, error_model="numpy")
def spread_over_plants(n_days: int, spread_d: float, share: float, work: Array) -> None:
    """Spread ripening over the plants of the block, as a normal in whole days that keeps mass."""
    weights_total = 1.0
    for lag in range(1, SPREAD_HALF_WIDTH_D + 1):
        weights_total += 2.0 * math.exp(-0.5 * (lag / spread_d) ** 2)
    last = -1
    first = n_days
    for day in range(n_days):
        work[RIPE_G, day] = 0.0
        work[MARKETABLE_G, day] = 0.0
        work[RIPE_FRUIT, day] = 0.0
        if work[SHARP_FRUIT, day] > 0.0:
            last = day
            if first == n_days:
                first = day
    for lag in range(-SPREAD_HALF_WIDTH_D, SPREAD_HALF_WIDTH_D + 1):
        weight = share * math.exp(-0.5 * (lag / spread_d) ** 2) / weights_total
        begin = max(first, -lag)
        end = min(last + 1, n_days - lag)
        for day in range(begin, end):
            work[RIPE_G, day + lag] += weight * work[SHARP_G, day]
        for day in range(begin, end):
            work[MARKETABLE_G, day + lag] += weight * work[SHARP_MARKETABLE, day]
        for day in range(begin, end):
            work[RIPE_FRUIT, day + lag] += weight * work[SHARP_FRUIT, day]


@njit(cache=True, nogil=True, error_model="numpy")
def bear(daily: Array, plant: Any, first_pick_g: float, work: Array, dates: Array) -> None:
    """Follow open flowers to ripe fruit.

    Parameters
    ----------
    daily : array ``[N_DAILY, n_days]``, the table that `develop` read.
    plant : the record that `develop` read.
    first_pick_g : cumulative ripe fruit per plant at which picking begins. [g]
    work, dates : as `develop` left them. Afterwards ``work`` holds ripe and marketable fruit
        [g per plant set] and their number per day in its rows ``RIPE_G``, ``MARKETABLE_G`` and
        ``RIPE_FRUIT``, and ``dates`` holds first ripe fruit and first pick. Plants that died after
        planting count as bearing nothing.

    Examples
    --------
    See `phenocast.harvest.grow`, which does the whole in one call.
    """
    n_days = daily.shape[1]
    for row in range(RIPENING_1, RIPENING_1 + 3):
        for day in range(n_days):
            work[row, day] = 0.0
    set_and_ripen(n_days, plant, work)
    weigh(n_days, plant, work)
    share = dates[SURVIVING_SHARE]
    spread_over_plants(n_days, plant.ripening_spread, share, work)
    dates[FIRST_RIPE] = first_passing(work[RIPE_FRUIT], 0.5 * share, n_days)
    dates[FIRST_PICK] = first_passing(work[RIPE_G], first_pick_g, n_days)
