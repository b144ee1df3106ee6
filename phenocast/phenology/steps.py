"""Small steps that the day loops share, compiled into them."""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

Array = NDArray[np.float64]


@njit(cache=True, nogil=True, error_model="numpy")
def normal_share(z: float) -> float:
    """Share of a standard normal below z; 0 or 1 beyond six standard deviations.

    >>> round(normal_share(0.0), 3), round(normal_share(1.6449), 3), normal_share(-9.0)
    (0.5, 0.95, 0.0)
    """
    if z <= -6.0:
        return 0.0
    if z >= 6.0:
        return 1.0
    return 0.5 * (1.0 + math.erf(z * 0.7071067811865476))


@njit(cache=True, nogil=True, error_model="numpy")
def exponential(x: float) -> float:
    """Exponential of x to within 1e-10 of its value; x outside -40 to 40 counts as the end.

    It is the 64th power of a polynomial, because the compiler takes several days of a series at
    once only where no function of the mathematics library is called.

    >>> exponential(0.0), round(exponential(1.0), 9), exponential(-50.0) < 1e-17
    (1.0, 2.718281828, True)
    """
    part = min(max(x, -40.0), 40.0) * 0.015625
    power = 1.0 / 479001600.0
    power = power * part + 1.0 / 39916800.0
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
def ramp(value: float, middle: float, half_width: float) -> float:
    """Straight rise from 0 to 1 between ``middle - half_width`` and ``middle + half_width``.

    >>> ramp(13.0, 14.0, 0.5), ramp(14.0, 14.0, 0.5), ramp(14.25, 14.0, 0.5), ramp(16.0, 14.0, 0.5)
    (0.0, 0.5, 0.75, 1.0)
    """
    share = 0.5 + 0.5 * (value - middle) / half_width
    if share <= 0.0:
        return 0.0
    if share >= 1.0:
        return 1.0
    return share


@njit(cache=True, nogil=True, error_model="numpy")
def sum_at(prefix: Array, time_d: float, n_days: int) -> float:
    """Value of a prefix sum at a time inside a day; its ends hold outside the season.

    >>> sum_at(np.array([0.0, 10.0, 30.0]), 1.5, 2)
    20.0
    """
    if time_d <= 0.0:
        return float(prefix[0])
    if time_d >= n_days:
        return float(prefix[n_days])
    day = int(time_d)
    return float(prefix[day] + (time_d - day) * (prefix[day + 1] - prefix[day]))


@njit(cache=True, nogil=True, error_model="numpy")
def at_noon(prefix: Array, day: int, n_days: int) -> float:
    """Value of a prefix sum at the middle of a day; its ends hold outside the season.

    >>> at_noon(np.array([0.0, 10.0, 30.0]), 1, 2), at_noon(np.array([0.0, 10.0, 30.0]), -3, 2)
    (20.0, 0.0)
    """
    if day < 0:
        return float(prefix[0])
    if day >= n_days:
        return float(prefix[n_days])
    return float(0.5 * (prefix[day] + prefix[day + 1]))


@njit(cache=True, nogil=True, error_model="numpy")
def day_of(prefix: Array, target: float, from_day: int, n_days: int) -> int:
    """Day in which a prefix sum reaches a target, searched forward; ``n_days`` if it never does.

    >>> day_of(np.array([0.0, 10.0, 30.0]), 15.0, 0, 2)
    1
    """
    day = from_day
    while day < n_days and prefix[day + 1] < target:
        day += 1
    return day


@njit(cache=True, nogil=True, error_model="numpy")
def time_in_day(prefix: Array, target: float, day: int) -> float:
    """Time inside the day found by `day_of` at which the target is reached. [d]

    >>> time_in_day(np.array([0.0, 10.0, 30.0]), 15.0, 1)
    1.25
    """
    before = prefix[day]
    if target <= before:
        return float(day)
    return float(day + (target - before) / (prefix[day + 1] - before))


@njit(cache=True, nogil=True, error_model="numpy")
def put(series: Array, time_d: float, amount: float, n_days: int) -> None:
    """Share an amount at a moment among its day and the two beside it; after the end it is lost.

    The shares are those of a quadratic B-spline. Wherever in the day the moment lies, they keep the
    mean moment and a spread of a quarter of a square day about it, so that everything that follows
    moves smoothly with the moment: with shares between two days alone the spread would come and go
    with the hour, and a fit of dates would rest in the ripples.

    >>> days = np.zeros(4)
    >>> put(days, 1.75, 8.0, 4)
    >>> days.tolist()
    [0.25, 5.5, 2.25, 0.0]
    """
    day = max(int(time_d), 0)
    late = max(time_d - day, 0.0)
    before = 0.5 * (1.0 - late) * (1.0 - late)
    after = 0.5 * late * late
    if day == 0:
        series[0] += amount * (1.0 - after)
    elif day < n_days:
        series[day] += amount * (1.0 - before - after)
        series[day - 1] += amount * before
    elif day == n_days:
        series[day - 1] += amount * before
    if day + 1 < n_days:
        series[day + 1] += amount * after


@njit(cache=True, nogil=True, error_model="numpy")
def first_passing(series: Array, threshold: float, n_days: int) -> float:
    """Time at which the running total of a daily series passes a threshold [d]; infinite if never.

    >>> first_passing(np.array([0.0, 2.0, 4.0]), 3.0, 3)
    2.25
    """
    total = 0.0
    for day in range(n_days):
        amount = series[day]
        if total + amount >= threshold and amount > 0.0:
            return float(day + (threshold - total) / amount)
        total += amount
    return np.inf
