"""Fruit set of each day's flowers, and the day on which each fruit becomes ripe.

It goes through the days in order, because the fruit that a plant already carries decides how many
more it sets. The equations are this project's own; their numbers stand in
`calibration/cultivars.toml` with their sources.
"""

from __future__ import annotations

import math
from typing import Any

from numba import njit

from phenocast.phenology.steps import Array, at_noon, day_of, put, sum_at, time_in_day
from phenocast.phenology.work import (
    AIR_CLOCK,
    AIR_HEAT,
    FROST_FRUIT,
    FROST_OPEN,
    GROWTH_LIGHT,
    OPEN_1,
    RIPENING_1,
)

HEAT_BEFORE_ANTHESIS_D = 12
HEAT_AFTER_ANTHESIS_D = 1
"""Window around anthesis in which hot air harms fruit set [d]: the two sensitive stages of a flower
in the published heat-shock study, 12 to 9 days before and the day of anthesis."""

FLOWER_OPEN_D = 3
"""Days for which a flower stays open to frost. [d]"""

LIGHT_MEMORY_D = 14
"""Days of canopy and light that decide how many fruit a plant can carry. [d]"""


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
            heat = (
                at_noon(air_heat, day + HEAT_AFTER_ANTHESIS_D, n_days)
                - at_noon(air_heat, day - HEAT_BEFORE_ANTHESIS_D, n_days)
            ) / plant.set_heat_half
            share = plant.set_potential / (1.0 + heat * heat)
            if frost:
                lost = at_noon(work[FROST_OPEN], day + FLOWER_OPEN_D, n_days) - at_noon(
                    work[FROST_OPEN], day, n_days
                )
                if lost < 0.0:
                    share *= math.exp(lost)
            mean_light = (
                at_noon(light, day, n_days) - at_noon(light, day - LIGHT_MEMORY_D, n_days)
            ) / min(day + 0.5, LIGHT_MEMORY_D)
            limit = full * mean_light
            if limit > 0.0:
                crowded = load / limit
                share /= 1.0 + crowded * crowded * crowded
            else:
                share = 0.0
            load += share * flowers
            start = at_noon(air_clock, day, n_days)
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
                    lost = sum_at(work[FROST_FRUIT], ripe_at, n_days) - at_noon(
                        work[FROST_FRUIT], day + FLOWER_OPEN_D, n_days
                    )
                    if lost < 0.0:
                        fruit *= math.exp(lost)
                put(work[RIPENING_1 + rank], ripe_at, fruit, n_days)
        load -= work[RIPENING_1, day] + work[RIPENING_1 + 1, day] + work[RIPENING_1 + 2, day]
        load = max(load, 0.0)
