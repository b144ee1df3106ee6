"""Ripening spread over the plants of a block."""

from __future__ import annotations

from typing import Any

from numba import njit

from phenocast.phenology.steps import Array, exponential
from phenocast.phenology.work import (
    RIPE_G,
    SPREAD_HALF_WIDTH_D,
    SPREAD_WEIGHTS,
    UNSMOOTHED_G,
)
from phenocast.vector import any_lane, everywhere, load, row_of, store


@njit(cache=True, nogil=True, error_model="numpy")
def spread_over_plants(
    days: tuple[int, int, int], first: int, stop: int, spread_d: Any, share: Any, rows: Array
) -> None:
    """Spread ripening over the plants of the block, as a normal in whole days that keeps mass.

    Fruit ripens from day ``first`` to before ``stop``; of ripe mass, marketable mass and number the
    first ``days`` days are filled. ``spread_d`` [d] and ``share`` are in lanes.
    """
    weights = row_of(rows, SPREAD_WEIGHTS)
    total = everywhere(1.0)
    per_spread = 1.0 / spread_d
    for lag in range(1, SPREAD_HALF_WIDTH_D + 1):
        spreads = lag * per_spread
        bell = exponential(-0.5 * (spreads * spreads))
        store(weights, lag, bell)
        total += 2.0 * bell
    scale = share / total
    store(weights, 0, scale)
    for lag in range(1, SPREAD_HALF_WIDTH_D + 1):
        store(weights, lag, scale * load(weights, lag))
    nothing = everywhere(0.0)
    n_days = max(days[0], max(days[1], days[2]))
    for row in range(3):
        unsmoothed = row_of(rows, UNSMOOTHED_G + row)
        # two half widths to each side: the first day that is filled reads as far back as the second
        for place in range(max(first - SPREAD_HALF_WIDTH_D, 0), first + SPREAD_HALF_WIDTH_D):
            store(unsmoothed, place, nothing)
        last = min(stop, n_days - SPREAD_HALF_WIDTH_D) + 3 * SPREAD_HALF_WIDTH_D
        for place in range(stop + SPREAD_HALF_WIDTH_D, last):
            store(unsmoothed, place, nothing)
        spread = row_of(rows, RIPE_G + row)
        begin = min(max(first - SPREAD_HALF_WIDTH_D, 0), days[row])
        end = max(begin, min(stop + SPREAD_HALF_WIDTH_D, days[row]))
        for day in range(begin):
            store(spread, day, nothing)
        # a day's sum is a long chain of additions, so four days go side by side; what goes beyond
        # the last is cleared below, or beyond the season, where nobody reads
        for day in range(begin, end, 4):
            _spread_four(weights, unsmoothed, spread, day)
        for day in range(end, days[row]):
            store(spread, day, nothing)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _spread_four(weights: Array, unsmoothed: Array, spread: Array, day: int) -> None:
    """Fill what ripens on a day and the three after it in plants that are spread."""
    place = SPREAD_HALF_WIDTH_D + day
    weight = load(weights, 0)
    first = weight * load(unsmoothed, place)
    second = weight * load(unsmoothed, place + 1)
    third = weight * load(unsmoothed, place + 2)
    fourth = weight * load(unsmoothed, place + 3)
    for lag in range(1, SPREAD_HALF_WIDTH_D + 1):
        weight = load(weights, lag)
        before, after = place - lag, place + lag
        first += weight * (load(unsmoothed, before) + load(unsmoothed, after))
        second += weight * (load(unsmoothed, before + 1) + load(unsmoothed, after + 1))
        third += weight * (load(unsmoothed, before + 2) + load(unsmoothed, after + 2))
        fourth += weight * (load(unsmoothed, before + 3) + load(unsmoothed, after + 3))
    store(spread, day, first)
    store(spread, day + 1, second)
    store(spread, day + 2, third)
    store(spread, day + 3, fourth)


@njit(cache=True, nogil=True, error_model="numpy")
def days_to_pass(threshold: Any, n_days: int, first: int, stop: int, unsmoothed: Array) -> int:
    """Return how many days of a series must be spread to see all running totals pass a threshold.

    Spreading delays fruit by the half width at most. ``threshold`` is in lanes.
    """
    total = everywhere(0.0)
    for day in range(first, stop):
        total += load(unsmoothed, SPREAD_HALF_WIDTH_D + day)
        if not any_lane(total < threshold):
            return min(day + SPREAD_HALF_WIDTH_D + 2, n_days)
    return n_days
