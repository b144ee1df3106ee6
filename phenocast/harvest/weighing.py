"""Mass of the ripe fruit of each day, and how much of it can be sold."""

from __future__ import annotations

import math
from typing import Any

from numba import njit

from phenocast.phenology.steps import Array, at_noon
from phenocast.phenology.work import AIR_SUM, RIPENING_1, SHARP_FRUIT, SHARP_G, SHARP_MARKETABLE

SIZE_MEMORY_D = 28
"""Days before ripeness whose mean air temperature sets fruit mass. [d]"""

LOGISTIC_PER_NORMAL = 1.702
"""A logistic with its slope scaled by this is within 0.01 of the standard normal's share (Haley
1952, recalled from memory)."""


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
            warmth = (
                at_noon(air_sum, day, n_days) - at_noon(air_sum, day - SIZE_MEMORY_D, n_days)
            ) / min(day + 0.5, SIZE_MEMORY_D)
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
