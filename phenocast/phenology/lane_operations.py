"""Eight plants side by side: the small set of operations in which the kernels are written.

Plants under one daily table go through the days together, one to a lane. Every operation takes and
returns all eight lanes at once; a condition gives a mask, and `where` chooses lane by lane. The
functions below are what the operations mean, on NumPy arrays ``[LANES]``, and are what runs where
numba is off. Compiled, each is an instruction on one vector of the processor (see
`phenocast.phenology.lane_instructions`), a product and the sum it goes into often one together, so
that results may differ in their last digit; all but those on rows take single numbers as well.

Rows of plants are ``[days, LANES]``; rows that all plants share are ``[days]``.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

LANES = 8
"""Plants that go side by side: as many numbers as the widest vectors of common processors hold."""

_LANE = np.arange(LANES)


def side_by_side(*shape: int) -> NDArray[np.float64]:
    """Make rows of plants, zeros ``[*shape, LANES]``, that begin where a vector is read at once.

    >>> rows = side_by_side(2, 30)
    >>> rows.shape, rows.ctypes.data % 64
    ((2, 30, 8), 0)
    """
    size = math.prod(shape) * LANES
    room = np.zeros(size + LANES)
    first = -(room.ctypes.data // room.itemsize) % LANES
    return room[first : first + size].reshape(*shape, LANES)


def in_groups(n: int) -> NDArray[np.int64]:
    """Say which of n plants goes in each lane, ``[groups, LANES]``; the last fills up.

    >>> in_groups(9)[1].tolist()
    [8, 8, 8, 8, 8, 8, 8, 8]
    """
    groups = -(-n // LANES)
    return np.minimum(np.arange(groups * LANES), n - 1).reshape(groups, LANES)


def lanes(numbers: Any) -> Any:
    """Take the numbers of eight plants, such as a field of a record of `lane_records`.

    They must not change while a kernel runs.
    """
    return np.array(numbers)


def everywhere(number: float) -> Any:
    """Put one number into every lane."""
    return np.full(LANES, float(number))


def everywhere_day(day: int) -> Any:
    """Put one day into every lane."""
    return np.full(LANES, day, dtype=np.int64)


def row_of(rows: NDArray[Any], number: int) -> Any:
    """Take one row of ``[rows, days, LANES]`` or ``[rows, days]``; more axes count as more rows.

    >>> row_of(side_by_side(2, 3, 30), 4).shape, row_of(np.zeros((5, 30)), 4).shape
    ((30, 8), (30,))
    """
    if rows.ndim == 2:
        return rows[number]
    return rows.reshape(-1, *rows.shape[-2:])[number]


def series(numbers: NDArray[Any]) -> Any:
    """Take an array that is one row: ``[places, LANES]`` of plants, or ``[days]`` they share."""
    return numbers


def load(row: NDArray[np.float64], place: int) -> Any:
    """Read one place of a row of plants."""
    return np.array(row[place])


def store(row: NDArray[np.float64], place: int, value: Any) -> None:
    """Write one place of a row of plants."""
    row[place] = value


def pick(row: NDArray[Any], days: Any) -> Any:
    """Read each lane at its own day, of a row of plants or of one that all share.

    >>> pick(np.array([10.0, 11.0, 12.0]), np.arange(8) % 3).tolist()
    [10.0, 11.0, 12.0, 10.0, 11.0, 12.0, 10.0, 11.0]
    """
    return row[days] if row.ndim == 1 else row[days, _LANE]


def drop(row: NDArray[np.float64], days: Any, value: Any) -> None:
    """Write each lane at its own day of a row of plants."""
    row[days, _LANE] = value


def where(mask: Any, then: Any, otherwise: Any) -> Any:
    """Choose lane by lane.

    >>> where(np.array([True, False]), 1.0, 2.0).tolist()
    [1.0, 2.0]
    """
    return np.where(mask, then, otherwise)


def least(one: Any, other: Any) -> Any:
    """Return the smaller of two, lane by lane."""
    return np.where(one < other, one, other)


def most(one: Any, other: Any) -> Any:
    """Return the larger of two, lane by lane."""
    return np.where(one > other, one, other)


def within(value: Any, low: Any, high: Any) -> Any:
    """Bring a value into a range, lane by lane.

    >>> within(np.array([-1.0, 0.5, 7.0]), 0.0, 1.0).tolist()
    [0.0, 0.5, 1.0]
    """
    return least(most(value, low), high)


def root(value: Any) -> Any:
    """Return the square root of each lane."""
    return np.sqrt(value)


def whole(value: Any) -> Any:
    """Cut each lane to a whole number, toward zero."""
    return np.asarray(value).astype(np.int64)


def any_lane(mask: Any) -> bool:
    """Say whether a mask holds in any lane."""
    return bool(np.any(mask))


def lane_of(value: Any, lane: int) -> float:
    """Read one lane."""
    return float(value[lane])


def with_lane(value: Any, lane: int, number: float) -> Any:
    """Return the lanes with another number in one of them."""
    changed = np.array(value)
    changed[lane] = number
    return changed
