"""Sums of a rate through time, and the moment at which a sum is reached.

A season's sum is a prefix sum and a search, not a loop. Inside the step in which a requirement is
met the rate is taken as constant, so the moment is a continuous function of the requirement and of
every number behind the rate.

Chill hours: the count that ends a plant's winter rest.
"""

import numpy as np
from numpy.typing import ArrayLike

from phenocast._typing import FloatArray
from phenocast.errors import Fault, InputError, refuse
from phenocast.thermal_time.responses import (
    floats,
    require_positive,
    require_rising,
)


def prefix_sums(rate: ArrayLike, *, step: float = 1.0) -> FloatArray:
    """Sums from the start to the edge of every step, along the last axis (time).

    Parameters
    ----------
    rate : rate in each step, shape ``[..., n]``. [per unit of time]
    step : length of a step. [unit of time]

    Returns
    -------
    Sums, shape ``[..., n + 1]``; the first is 0. The sum of steps i to j (j not included) is
    ``sums[..., j] - sums[..., i]``.

    Examples
    --------
    >>> prefix_sums([1.0, 2.0, 3.0]).tolist()
    [0.0, 1.0, 3.0, 6.0]
    """
    rate = floats(rate)
    sums = np.zeros((*rate.shape[:-1], rate.shape[-1] + 1))
    np.cumsum(rate, axis=-1, out=sums[..., 1:])
    return sums * step


def value_at(sums: ArrayLike, time: ArrayLike) -> FloatArray:
    """Sum reached at a time, interpolated inside the step.

    Parameters
    ----------
    sums : prefix sums of one series, shape ``[n + 1]``.
    time : times since the start, any shape, 0 to n. [steps]

    Returns
    -------
    Sums, shape of `time`; NaN outside the series.

    Examples
    --------
    >>> value_at([0.0, 1.0, 3.0, 6.0], [0.5, 2.5, 9.0]).tolist()
    [0.5, 4.5, nan]
    """
    sums = floats(sums)
    edges = np.arange(sums.shape[-1], dtype=np.float64)
    return np.asarray(np.interp(floats(time), edges, sums, left=np.nan, right=np.nan))


def crossing_time(sums: ArrayLike, requirement: ArrayLike, start: ArrayLike = 0.0) -> FloatArray:
    """Time at which the sum since `start` first reaches a requirement.

    Parameters
    ----------
    sums : prefix sums of one series (see `prefix_sums`), shape ``[n + 1]``, never falling.
    requirement : sums to reach, 0 or more, any shape.
    start : times since the start of the series from which each is counted, broadcast against
        `requirement`, 0 to n. [steps]

    Returns
    -------
    Times since the start of the series, broadcast shape, interpolated inside the step. [steps]
    NaN where the requirement is not reached before the series ends, or `start` is outside it.

    Raises
    ------
    InputError : sums that fall (a negative rate) or are missing; a negative requirement.

    Examples
    --------
    >>> crossing_time([0.0, 1.0, 3.0, 6.0], [2.0, 4.5, 7.0]).tolist()
    [1.5, 2.5, nan]
    >>> float(crossing_time([0.0, 1.0, 3.0, 6.0], 3.0, start=1.5))
    2.6666666666666665
    """
    sums, requirement, start = floats(sums), floats(requirement), floats(start)
    refuse(
        (
            sums.ndim != 1 or sums.size < 1 or not bool(np.all(np.diff(sums) >= 0.0)),
            Fault(
                what="prefix sums fall, or hold a missing value",
                where="sums",
                allowed="one series that never falls",
                do="fill gaps and use rates of 0 or more",
            ),
        )
    )
    if bool(np.any(requirement < 0.0)):
        raise InputError(
            Fault(
                what="negative requirement",
                where="requirement",
                value=float(np.nanmin(requirement)),
                allowed="0 or more",
            )
        )
    target = np.asarray(value_at(sums, start) + requirement)
    step = np.clip(np.searchsorted(sums, target, side="left"), 1, max(sums.size - 1, 1))
    if sums.size == 1:
        return np.where(target == sums[0], start, np.nan)
    before, after = sums[step - 1], sums[step]
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        inside = np.where(after > before, (target - before) / (after - before), 0.0)
    reached = np.maximum(step - 1 + inside, start)  # a requirement of 0 is met at once
    return np.where(target <= sums[-1], reached, np.nan)


CHILL_LOW_C = 0.0

CHILL_HIGH_C = 7.2

"""Bounds of an hour that chills [degC]: 32 and 45 degF in the original, recalled from memory of
Weinberger (1950), Proc. Amer. Soc. Hort. Sci. 56:122-128. An hour at either bound counts."""


def chill_hours(
    t: ArrayLike,
    low_c: ArrayLike = CHILL_LOW_C,
    high_c: ArrayLike = CHILL_HIGH_C,
    *,
    step_h: float = 1.0,
) -> FloatArray:
    """Hours from `low_c` to `high_c`, both ends counted, summed over the last axis (time).

    Parameters
    ----------
    t : temperature of each step, shape ``[..., n]``. [degC]
    low_c, high_c : bounds of an hour that chills. [degC]
    step_h : length of a step, more than 0. [h]

    Returns
    -------
    Hours, shape ``[...]``; NaN where a temperature is missing. [h]

    Raises
    ------
    InputError : unless low < high; a step that is not above 0.

    Examples
    --------
    >>> float(chill_hours([-0.1, 0.0, 5.0, 7.2, 7.3]))
    3.0
    """
    require_rising(("low_c", "high_c"), (low_c, high_c), "chill hours")
    step = require_positive("step_h", step_h)
    t = floats(t)
    chills = (t >= floats(low_c)) & (t <= floats(high_c))
    return np.asarray(np.sum(np.where(np.isnan(t), np.nan, chills), axis=-1) * step)
