"""Small steps that the day loops share, compiled into them.

They are written in the operations of `phenocast.vector`, so each takes eight plants at
once as well as a single number.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit

from phenocast._typing import FloatArray
from phenocast.vector import (
    LANES,
    any_lane,
    clip,
    everywhere,
    everywhere_int,
    lane_of,
    load,
    maximum,
    minimum,
    row_of,
    scatter,
    store,
    take,
    trunc,
    where,
    with_lane,
)

_SIGMAS = 6.0
_NODES_A_SIGMA = 64.0
_NODE_WIDTH = 1.0 / _NODES_A_SIGMA
_NODES = np.arange(-_SIGMAS * _NODES_A_SIGMA, _SIGMAS * _NODES_A_SIGMA + 1.0) / _NODES_A_SIGMA
_SHARES = np.array([0.5 * math.erfc(-z / math.sqrt(2.0)) for z in _NODES])
_HEIGHTS = np.exp(-0.5 * _NODES**2) / math.sqrt(2.0 * math.pi)


@njit(cache=True, nogil=True, error_model="numpy")
def normal_share(z: Any) -> Any:
    """Share of a standard normal below z, to within 2e-15; 0 or 1 beyond six standard deviations.

    It is the Taylor series about the nearest of a table of nodes. No function of the mathematics
    library takes eight plants at once.

    >>> round(normal_share(0.0), 3), round(normal_share(1.6449), 3), normal_share(-9.0)
    (0.5, 0.95, 0.0)
    """
    if not any_lane((z > -_SIGMAS) & (z < _SIGMAS)):
        return where(z > 0.0, 1.0, 0.0)
    near = clip(z, -_SIGMAS, _SIGMAS)
    place = trunc((near + _SIGMAS) * _NODES_A_SIGMA + 0.5)
    node = place * _NODE_WIDTH - _SIGMAS
    d = near - node
    square = node * node
    series = 1.0 - d * (
        0.5 * node
        - d
        * (
            (square - 1.0) / 6.0
            - d * ((square - 3.0) * node / 24.0 - d * ((square - 6.0) * square + 3.0) / 120.0)
        )
    )
    share = take(_SHARES, place) + take(_HEIGHTS, place) * d * series
    return where(z <= -_SIGMAS, 0.0, where(z >= _SIGMAS, 1.0, share))


@njit(cache=True, nogil=True, error_model="numpy")
def exponential(x: Any) -> Any:
    """Exponential of x to within 1e-10 of its value; x outside -40 to 40 counts as the end.

    It is the 64th power of a polynomial, because no function of the mathematics library takes eight
    plants at once.

    >>> exponential(0.0), round(exponential(1.0), 9), exponential(-50.0) < 1e-17
    (1.0, 2.718281828, True)
    """
    part = clip(x, -40.0, 40.0) * 0.015625
    power = part * (1.0 / 479001600.0) + 1.0 / 39916800.0
    power = power * part + 1.0 / 3628800.0
    power = power * part + 1.0 / 362880.0
    power = power * part + 1.0 / 40320.0
    power = power * part + 1.0 / 5040.0
    power = power * part + 1.0 / 720.0
    power = power * part + 1.0 / 120.0
    power = power * part + 1.0 / 24.0
    power = power * part + 1.0 / 6.0
    power = power * part + 0.5
    power = power * part + 1.0
    power = power * part + 1.0
    power *= power
    power *= power
    power *= power
    power *= power
    power *= power
    return power * power


@njit(cache=True, nogil=True, error_model="numpy")
def each_power(base: Any, exponent: Any) -> Any:
    """Power of each lane from the mathematics library: for what is asked once a season."""
    for lane in range(LANES):
        base = with_lane(base, lane, lane_of(base, lane) ** lane_of(exponent, lane))
    return base


@njit(cache=True, nogil=True, error_model="numpy")
def ramp(value: Any, middle: Any, half_width: Any) -> Any:
    """Straight rise from 0 to 1 between ``middle - half_width`` and ``middle + half_width``.

    >>> ramp(13.0, 14.0, 0.5), ramp(14.0, 14.0, 0.5), ramp(14.25, 14.0, 0.5), ramp(16.0, 14.0, 0.5)
    (0.0, 0.5, 0.75, 1.0)
    """
    return clip(0.5 + (value - middle) * (0.5 / half_width), 0.0, 1.0)


@njit(cache=True, nogil=True, error_model="numpy")
def sum_at(prefix: FloatArray, time_d: Any, n_days: int) -> Any:
    """Value of a prefix sum at a time inside a day; its ends hold outside the season.

    The row has a place beyond its last entry.

    >>> sum_at(np.array([0.0, 10.0, 30.0, 0.0]), 1.5, 2)
    20.0
    """
    time = clip(time_d, 0.0, float(n_days))
    day = trunc(time)
    before = take(prefix, day)
    return before + (time - day) * (take(prefix, day + 1) - before)


@njit(cache=True, nogil=True, error_model="numpy")
def noon_of(day: int, n_days: int) -> tuple[int, int]:
    """Places of a prefix sum whose mean is its value at noon; its ends hold outside the season.

    >>> noon_of(1, 2), noon_of(-3, 2), noon_of(7, 2)
    ((1, 2), (0, 0), (2, 2))
    """
    if day < 0:
        return 0, 0
    if day >= n_days:
        return n_days, n_days
    return day, day + 1


@njit(cache=True, nogil=True, error_model="numpy")
def at_noon(prefix: FloatArray, day: int, n_days: int) -> float:
    """Value of a prefix sum of the weather at the middle of a day.

    >>> at_noon(np.array([0.0, 10.0, 30.0]), 1, 2), at_noon(np.array([0.0, 10.0, 30.0]), -3, 2)
    (20.0, 0.0)
    """
    first, second = noon_of(day, n_days)
    return float(0.5 * (prefix[first] + prefix[second]))


@njit(cache=True, nogil=True, error_model="numpy")
def at_noon_each(prefix: FloatArray, day: int, n_days: int) -> Any:
    """Value of a prefix sum of the plants at the middle of a day."""
    first, second = noon_of(day, n_days)
    return 0.5 * (load(prefix, first) + load(prefix, second))


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def first_day(prefix: Any) -> tuple[Any, Any, Any]:
    """Place of a search in a prefix sum of plants: a day, and the sum before and after it."""
    return everywhere_int(0), load(prefix, 0), load(prefix, 1)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def reach(
    prefix: Any, target: Any, found: tuple[Any, Any, Any], n_days: int
) -> tuple[tuple[Any, Any, Any], Any]:
    """Place in which a prefix sum reaches a target, searched forward, and the time inside it. [d]

    ``found`` is where the last search ended, or `first_day`. Day and time are ``n_days`` if the sum
    never reaches the target.

    >>> reach(np.array([0.0, 10.0, 30.0, 0.0]), 15.0, (0, 0.0, 10.0), 2)
    ((1, 10.0, 30.0), 1.25)
    """
    day, before, first = found
    while True:
        # four days at a time: where all four fall short, four more may
        second = take(prefix, minimum(day + 2, n_days))
        third = take(prefix, minimum(day + 3, n_days))
        fourth = take(prefix, minimum(day + 4, n_days))
        ahead = (
            where(first < target, 1, 0)
            + where(second < target, 1, 0)
            + where(third < target, 1, 0)
            + where(fourth < target, 1, 0)
        )
        day = minimum(day + ahead, n_days)
        before = where(
            ahead < 2,
            where(ahead == 0, before, first),
            where(ahead == 2, second, where(ahead == 3, third, fourth)),
        )
        after = where(ahead < 2, where(ahead == 0, first, second), where(ahead == 2, third, fourth))
        if not any_lane(ahead == 4):
            break
        after = take(prefix, minimum(day + 1, n_days))
        if not any_lane((after < target) & (day < n_days)):
            break
        first = after
    return (day, before, after), time_between(before, after, target, day, n_days)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def time_between(before: Any, after: Any, target: Any, day: Any, n_days: int) -> Any:
    """Time inside a day at which a prefix sum that rises over the day reaches a target. [d]

    >>> time_between(10.0, 30.0, 15.0, 1, 2)
    1.25
    """
    passed = where(target <= before, 0.0, (target - before) / (after - before))
    return where(day < n_days, day + passed, float(n_days))


@njit(cache=True, nogil=True, error_model="numpy")
def put(series: FloatArray, time_d: Any, amount: Any) -> None:
    """Share an amount at a moment of the season among its day and the two beside it.

    The shares are those of a quadratic B-spline. Wherever in the day the moment lies, they keep the
    mean moment and a spread of a quarter of a square day about it, so that everything that follows
    moves smoothly with the moment: with shares between two days alone the spread would come and go
    with the hour, and a fit of dates would rest in the ripples. What would fall before the first
    day falls into it; the row has a place for what falls after the last day and is lost.

    ``series`` is a row of plants; ``time_d`` and ``amount`` are in lanes.
    """
    day = trunc(time_d)
    late = time_d - day
    early = 1.0 - late
    before = 0.5 * early * early
    after = 0.5 * late * late
    first = day == 0
    day_before = maximum(day - 1, 0)
    day_after = day + 1
    # all are read before any is written: the processor then need not wait
    sum_before = take(series, day_before) + amount * before
    sum_of_day = take(series, day) + amount * where(first, 1.0 - after, 1.0 - before - after)
    sum_after = take(series, day_after) + amount * after
    scatter(series, day_before, sum_before)
    scatter(series, day, sum_of_day)
    scatter(series, day_after, sum_after)


@njit(cache=True, nogil=True, error_model="numpy")
def clear(rows: FloatArray, first: int, stop: int, n_days: int) -> None:
    """Set daily series to nothing, with the place beyond their end."""
    nothing = everywhere(0.0)
    for row in range(first, stop):
        series = row_of(rows, row)
        for day in range(n_days + 1):
            store(series, day, nothing)


@njit(cache=True, nogil=True, error_model="numpy")
def first_passing(series: FloatArray, threshold: Any, n_days: int) -> Any:
    """Time at which the running total of a daily series passes a threshold [d]; infinite if never.

    ``series`` is a row of plants and ``threshold`` is in lanes.
    """
    total = everywhere(0.0)
    passed_at = everywhere(np.inf)
    for day in range(n_days):
        amount = load(series, day)
        passes = (total + amount >= threshold) & (amount > 0.0) & (passed_at == np.inf)
        if any_lane(passes):
            passed_at = where(passes, day + (threshold - total) / amount, passed_at)
            if not any_lane(passed_at == np.inf):
                break
        total += amount
    return passed_at


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def open_window() -> tuple[Any, Any, Any, Any]:
    """Return a window without amounts: its day, and the sums of the day before, it and the next."""
    nothing = everywhere(0.0)
    return everywhere_int(0), nothing, nothing, nothing


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def put_in_order(
    series: FloatArray, time_d: Any, amount: Any, window: tuple[Any, Any, Any, Any]
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
def flush(series: FloatArray, window: tuple[Any, Any, Any, Any]) -> None:
    """Write what a window has so far."""
    day, before, of_day, after = window
    scatter(series, maximum(day - 1, 0), before)
    scatter(series, day, of_day)
    scatter(series, day + 1, after)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def flush_for(series: FloatArray, today: int, window: tuple[Any, Any, Any, Any]) -> None:
    """Write what a window has so far where it has come up to today, so that today can be read."""
    day, before, of_day, after = window
    if any_lane((day <= today + 1) & (before + of_day + after > 0.0)):
        flush(series, window)
