"""The day in which development in the air has come to a sum, read off a table.

All plants under one course of weather share the running sum of development in the air, and every
cohort of every plant looks up its days in it. So the sum is turned round once: a table over equal
steps of the sum says where to begin, and the day itself is at most a few days on.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from phenocast.phenology.steps import Array, time_between
from phenocast.vector import any_lane, clip, take, trunc, where

_ROUNDING = 1e-12


@njit(cache=True, nogil=True, error_model="numpy")
def fill_air_days(n_days: int, air_clock: Array, air_days: NDArray[np.int64]) -> None:
    """Fill the day in which a running sum passes each of as many equal steps as the table holds.

    Parameters
    ----------
    n_days : days of the season.
    air_clock : array ``[n_days + 2 or more]``, running sum of development in the air. [degC d]
    air_days : array ``[steps]``, filled.

    Examples
    --------
    >>> days = np.zeros(6, dtype=np.int64)
    >>> fill_air_days(3, np.array([0.0, 1.0, 5.0, 6.0, 0.0]), days)
    >>> days.tolist()
    [0, 0, 1, 1, 1, 1]
    """
    width = air_clock[n_days] / air_days.shape[0]
    day = 0
    for step in range(air_days.shape[0]):
        # a little early, so that rounding never begins a search too late
        while air_clock[day + 1] < width * step * (1.0 - _ROUNDING):
            day += 1
        air_days[step] = day


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def reach_in_air(
    n_days: int, n_steps: int, air_clock: Any, air_days: Any, target: Any
) -> tuple[Any, Any]:
    """Day in which the running sum in the air reaches a target, and the time inside it. [d]

    Both are ``n_days`` if it never does.

    >>> clock, days = np.array([0.0, 1.0, 5.0, 6.0, 0.0]), np.zeros(6, dtype=np.int64)
    >>> fill_air_days(3, clock, days)
    >>> reach_in_air(3, 6, clock, days, 2.0), reach_in_air(3, 6, clock, days, 7.0)
    ((1, 1.25), (3, 3.0))
    """
    per_step = n_steps / max(air_clock[n_days], 1e-300)
    day = take(air_days, trunc(clip(target * per_step, 0.0, n_steps - 1.0)))
    before = take(air_clock, day)
    after = take(air_clock, day + 1)
    short = (after < target) & (day < n_days)
    while any_lane(short):
        day = where(short, day + 1, day)
        before = where(short, after, before)
        after = where(short, take(air_clock, day + 1), after)
        short = short & (after < target) & (day < n_days)
    return day, time_between(before, after, target, day, n_days)
