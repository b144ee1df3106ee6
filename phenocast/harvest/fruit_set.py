"""Fruit set of each day's flowers, and the day on which each fruit becomes ripe.

It goes through the days in order, because the fruit that a plant already carries decides how many
more it sets. The equations are this project's own; their numbers stand in
`calibration/cultivars.toml` with their sources.
"""

from __future__ import annotations

import math
from typing import Any

from numba import njit

from phenocast.phenology.steps import Array, at_noon, put, sum_at
from phenocast.phenology.work import (
    CARRYING_LIGHT,
    FROST_FRUIT,
    FROST_OPEN,
    LOADING,
    N_RANKS,
    OPEN_1,
    RIPENING_1,
    SET_HEAT,
    SETTING,
)

FLOWER_OPEN_D = 3
"""Days for which a flower stays open to frost. [d]"""


@njit(cache=True, nogil=True, error_model="numpy")
def set_and_ripen(n_days: int, ripe_at: Array, lead: int, plant: Any, work: Array) -> None:
    """Fruit set of each day's flowers, and the day on which each becomes ripe.

    ``ripe_at`` is `fill_ripe_at`, which may begin ``lead`` days before the season.
    """
    set_heat = work[SET_HEAT]
    light = work[CARRYING_LIGHT]
    opened = work[FROST_OPEN]
    green = work[FROST_FRUIT]
    frost = opened[n_days] < 0.0 or green[n_days] < 0.0
    # what does not hang on the load is made first: the loop that does waits for every line of it
    setting = work[SETTING, :n_days]
    loading = work[LOADING, :n_days]
    per_light = plant.fruit_mass_15 * plant.load_cover * plant.load_solar / plant.load_largest
    per_half = 1.0 / plant.set_heat_half
    potential = plant.set_potential
    for day in range(n_days):
        heat = set_heat[day] * per_half
        setting[day] = potential / (1.0 + heat * heat)
        loading[day] = per_light / light[day]
    if frost:
        for day in range(n_days):
            lost = at_noon(opened, day + FLOWER_OPEN_D, n_days) - at_noon(opened, day, n_days)
            if lost < 0.0:
                setting[day] *= math.exp(lost)
    load = 0.0
    for day in range(n_days):
        flowers = work[OPEN_1, day] + work[OPEN_1 + 1, day] + work[OPEN_1 + 2, day]
        gone = work[RIPENING_1, day] + work[RIPENING_1 + 1, day] + work[RIPENING_1 + 2, day]
        if flowers > 1e-12 and light[day] > 0.0:
            crowded = load * loading[day]
            share = setting[day] / (1.0 + crowded * crowded * crowded)
            for rank in range(N_RANKS):
                fruit = share * work[OPEN_1 + rank, day]
                at = ripe_at[rank, lead + day] - lead
                if at >= n_days:
                    continue
                if frost:
                    lost = sum_at(green, at, n_days) - at_noon(green, day + FLOWER_OPEN_D, n_days)
                    if lost < 0.0:
                        fruit *= math.exp(lost)
                put(work[RIPENING_1 + rank], at, fruit, n_days)
            load += share * flowers
        load = max(load - gone, 0.0)
