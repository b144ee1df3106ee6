"""Ripening spread over the plants of a block."""

from __future__ import annotations

import math

from numba import njit

from phenocast.phenology.steps import Array
from phenocast.phenology.work import MARKETABLE_G, RIPE_FRUIT, RIPE_G, SHARP_FRUIT, SHARP_G

SPREAD_HALF_WIDTH_D = 18
"""Days to each side over which ripening of the plants of a block is spread: three times the
largest spread that is allowed."""


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
        for row in range(3):
            # views that start at 0 let the compiler take several days at once
            spread = work[RIPE_G + row, begin + lag : end + lag]
            sharp = work[SHARP_G + row, begin:end]
            for day in range(end - begin):
                spread[day] += weight * sharp[day]
