"""Ripening spread over the plants of a block."""

from __future__ import annotations

import math

from numba import njit

from phenocast.phenology.steps import Array
from phenocast.phenology.work import RIPE_G, SHARP_G

SPREAD_HALF_WIDTH_D = 18
"""Days to each side over which ripening of the plants of a block is spread: three times the
largest spread that is allowed."""


@njit(cache=True, nogil=True, error_model="numpy")
def spread_over_plants(
    days: tuple[int, int, int], first: int, stop: int, spread_d: float, share: float, work: Array
) -> None:
    """Spread ripening over the plants of the block, as a normal in whole days that keeps mass.

    Fruit ripens from day ``first`` to before ``stop``; of ripe mass, marketable mass and number the
    first ``days`` days are filled.
    """
    total = 1.0
    for lag in range(1, SPREAD_HALF_WIDTH_D + 1):
        total += 2.0 * _bell(lag, spread_d)
    scale = share / total
    for row in range(3):
        spread = work[RIPE_G + row]
        for day in range(days[row]):
            spread[day] = 0.0
        # lags are added four at a time, over the edges too
        sharp = work[SHARP_G + row]
        for day in range(max(first - 3, 0), first):
            sharp[day] = 0.0
        for day in range(stop, stop + 3):
            sharp[day] = 0.0
    for lag in range(0, SPREAD_HALF_WIDTH_D + 1, 4):
        weight_0 = scale * _bell(lag, spread_d)
        weight_1 = scale * _bell(lag + 1, spread_d)
        weight_2 = scale * _bell(lag + 2, spread_d)
        weight_3 = scale * _bell(lag + 3, spread_d)
        _add_lags(work, days, first, stop, lag, weight_0, weight_1, weight_2, weight_3)
        if lag == 0:
            weight_0 = 0.0  # the day itself counts once
        _add_lags(work, days, first, stop, -lag - 3, weight_3, weight_2, weight_1, weight_0)


@njit(cache=True, nogil=True, error_model="numpy")
def days_to_pass(
    threshold: float, n_days: int, first: int, stop: int, sharp: Array
) -> int:
    """Return how many days of a series must be spread to see its running total pass a threshold.

    Spreading delays fruit by the half width at most.
    """
    total = 0.0
    for day in range(first, stop):
        total += sharp[day]
        if total >= threshold:
            return min(day + SPREAD_HALF_WIDTH_D + 2, n_days)
    return n_days


@njit(cache=True, nogil=True, error_model="numpy")
def _bell(lag: int, spread_d: float) -> float:
    """Height of the normal at a lag, relative to its top; nothing beyond the half width."""
    if lag > SPREAD_HALF_WIDTH_D:
        return 0.0
    return math.exp(-0.5 * (lag / spread_d) ** 2)


@njit(cache=True, nogil=True, error_model="numpy")
def _add_lags(
    work: Array, days: tuple[int, int, int], first: int, stop: int, lag: int,
    weight_0: float, weight_1: float, weight_2: float, weight_3: float,
) -> None:
    """Add what the days from ``first`` to ``stop`` give to those ``lag`` to ``lag + 3`` days on.

    Four lags at a time, because a day of the result is then loaded and stored a quarter as often.
    """
    begin = max(0, first + lag)
    for row in range(3):
        end = max(begin, min(days[row], stop + lag + 3))
        # from here on all four days are days of the season
        inside = min(max(begin, lag + 3), end)
        sharp = work[SHARP_G + row]
        for day in range(begin, inside):
            work[RIPE_G + row, day] += weight_0 * sharp[day - lag]
            if day - lag >= 1:
                work[RIPE_G + row, day] += weight_1 * sharp[day - lag - 1]
            if day - lag >= 2:
                work[RIPE_G + row, day] += weight_2 * sharp[day - lag - 2]
        # views that start at 0 let the compiler take several days at once
        spread = work[RIPE_G + row, inside:end]
        sharp_0 = sharp[inside - lag : end - lag]
        sharp_1 = sharp[inside - lag - 1 : end - lag - 1]
        sharp_2 = sharp[inside - lag - 2 : end - lag - 2]
        sharp_3 = sharp[inside - lag - 3 : end - lag - 3]
        for day in range(end - inside):
            spread[day] += (
                weight_0 * sharp_0[day] + weight_1 * sharp_1[day]
                + weight_2 * sharp_2[day] + weight_3 * sharp_3[day]
            )
