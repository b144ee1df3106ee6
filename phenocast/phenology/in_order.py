"""Amounts put into days in the order of their moments, with few touches of memory.

`phenocast.phenology.steps.put` reads and writes three days for each amount. Where moments never go
back, the three days are kept at hand instead and each day is written once, when it is past.
"""

from __future__ import annotations

from typing import Any

from numba import njit

from phenocast.phenology.steps import Array
from phenocast.vector import (
    any_lane,
    everywhere,
    everywhere_int,
    maximum,
    scatter,
    trunc,
    where,
)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def open_window() -> tuple[Any, Any, Any, Any]:
    """Return a window without amounts: its day, and the sums of the day before, it and the next."""
    nothing = everywhere(0.0)
    return everywhere_int(0), nothing, nothing, nothing


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def put_in_order(
    series: Array, time_d: Any, amount: Any, window: tuple[Any, Any, Any, Any]
) -> tuple[Any, Any, Any, Any]:
    """Share an amount among days as `put` does; return the window moved on to its day.

    ``series`` is a row of plants, cleared before the first amount; ``time_d`` must not lie before
    that of the last call in any plant.
    """
    day, before, of_day, after = window
    day_of_amount = trunc(time_d)
    behind = day < day_of_amount
    if any_lane(behind):
        empty = behind & (before + of_day + after == 0.0)
        day = where(empty, day_of_amount, day)
        behind = day < day_of_amount
        while any_lane(behind):
            scatter(series, maximum(day - 1, 0), before)
            before = where(behind, of_day, before)
            of_day = where(behind, after, of_day)
            after = where(behind, 0.0, after)
            day = where(behind, day + 1, day)
            behind = day < day_of_amount
    late = time_d - day
    early = 1.0 - late
    share_before = 0.5 * early * early
    share_after = 0.5 * late * late
    first = day == 0
    share_of_day = where(first, 1.0 - share_after, 1.0 - share_before - share_after)
    return (
        day,
        before + amount * where(first, 0.0, share_before),
        of_day + amount * share_of_day,
        after + amount * share_after,
    )


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def flush(series: Array, window: tuple[Any, Any, Any, Any]) -> None:
    """Write what a window has so far."""
    day, before, of_day, after = window
    scatter(series, maximum(day - 1, 0), before)
    scatter(series, day, of_day)
    scatter(series, day + 1, after)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def flush_for(series: Array, today: int, window: tuple[Any, Any, Any, Any]) -> None:
    """Write what a window has so far where it has come up to today, so that today can be read."""
    day, before, of_day, after = window
    if any_lane((day <= today + 1) & (before + of_day + after > 0.0)):
        flush(series, window)
