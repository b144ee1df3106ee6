"""Numbers side by side: the small set of operations in which kernels are written.

What goes through a kernel side by side goes one to a lane. Every operation takes and returns all
lanes at once; a condition gives a mask, and `where` chooses lane by lane. The functions below are
what the operations mean, on NumPy arrays ``[LANES]``, and are what runs where numba is off.
Compiled, each is an instruction on one vector of the processor (`phenocast.vector.wide`), a product
and the sum it goes into often one together, so that results may differ in their last digit; or on
one number, where there is one lane (`phenocast.vector.single`). All but those on rows take single
numbers as well.

Rows of lanes are ``[places, LANES]``; rows that all lanes share are ``[places]``.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from phenocast._typing import FloatArray
from phenocast.vector.width import LANES

_LANE = np.arange(LANES)


def side_by_side(*shape: int) -> FloatArray:
    """Make rows of lanes, zeros ``[*shape, LANES]``, that begin where a vector is read at once.

    >>> rows = side_by_side(2, 30)
    >>> rows.shape, rows.ctypes.data % 64
    ((2, 30, 8), 0)
    """
    size = math.prod(shape) * LANES
    room = np.zeros(size + LANES)
    first = -(room.ctypes.data // room.itemsize) % LANES
    return room[first : first + size].reshape(*shape, LANES)


def in_groups(n: int) -> NDArray[np.int64]:
    """Say which of n goes in each lane, ``[groups, LANES]``; the last fills up.

    >>> in_groups(9)[1].tolist()
    [8, 8, 8, 8, 8, 8, 8, 8]
    """
    groups = -(-n // LANES)
    return np.minimum(np.arange(groups * LANES), n - 1).reshape(groups, LANES)


def lane_records(records: NDArray[Any]) -> NDArray[Any]:
    """Put records side by side, as kernels take them: eight to a record.

    Parameters
    ----------
    records : records whose fields are all numbers, ``[n]`` or a single one.

    Returns
    -------
    array of records ``[n / LANES, rounded up]``; every field holds the numbers of `LANES` records.
    The last fills what is left.

    Examples
    --------
    >>> kinds = np.dtype([("width", np.float64), ("height", np.float64)])
    >>> lane_records(np.array([(1.0, 2.0), (3.0, 4.0)], dtype=kinds))[0].height.tolist()
    [2.0, 4.0, 4.0, 4.0, 4.0, 4.0, 4.0, 4.0]
    """
    names = records.dtype.names or ()
    numbers = np.array(records).view(np.float64).reshape(-1, len(names))
    which = in_groups(len(numbers))
    turned = side_by_side(len(which), len(names))
    turned[:] = numbers[which].transpose(0, 2, 1)
    in_lanes = np.dtype((np.record, [(name, np.float64, (LANES,)) for name in names]))
    return turned.reshape(len(which), -1).view(in_lanes)[:, 0]


def lanes(numbers: Any) -> Any:
    """Take the numbers of all lanes, such as a field of a record whose fields are ``[LANES]``.

    They must not change while a kernel runs.
    """
    return np.array(numbers)


def everywhere(number: float) -> Any:
    """Put one number into every lane."""
    return np.full(LANES, float(number))


def everywhere_int(number: int) -> Any:
    """Put one integer into every lane."""
    return np.full(LANES, number, dtype=np.int64)


def row_of(rows: NDArray[Any], number: int) -> Any:
    """Take one row of ``[rows, places, LANES]`` or ``[rows, places]``; more axes are more rows.

    >>> row_of(side_by_side(2, 3, 30), 4).shape, row_of(np.zeros((5, 30)), 4).shape
    ((30, 8), (30,))
    """
    if rows.ndim == 2:
        return rows[number]
    return rows.reshape(-1, *rows.shape[-2:])[number]


def series(numbers: NDArray[Any]) -> Any:
    """Take an array that is one row: ``[places, LANES]``, or ``[places]`` that all lanes share."""
    return numbers


def load(row: FloatArray, place: int) -> Any:
    """Read one place of a row of lanes."""
    return np.array(row[place])


def store(row: FloatArray, place: int, value: Any) -> None:
    """Write one place of a row of lanes."""
    row[place] = value


def take(row: NDArray[Any], places: Any) -> Any:
    """Read each lane at its own place, of a row of lanes or of one that all share.

    >>> take(np.array([10.0, 11.0, 12.0]), np.arange(8) % 3).tolist()
    [10.0, 11.0, 12.0, 10.0, 11.0, 12.0, 10.0, 11.0]
    """
    return row[places] if row.ndim == 1 else row[places, _LANE]


def scatter(row: FloatArray, places: Any, value: Any) -> None:
    """Write each lane at its own place of a row of lanes."""
    row[places, _LANE] = value


def where(mask: Any, then: Any, otherwise: Any) -> Any:
    """Choose lane by lane.

    >>> where(np.array([True, False]), 1.0, 2.0).tolist()
    [1.0, 2.0]
    """
    return np.where(mask, then, otherwise)


def minimum(one: Any, other: Any) -> Any:
    """Return the smaller of two, lane by lane."""
    return np.where(one < other, one, other)


def maximum(one: Any, other: Any) -> Any:
    """Return the larger of two, lane by lane."""
    return np.where(one > other, one, other)


def clip(value: Any, low: Any, high: Any) -> Any:
    """Bring a value into a range, lane by lane.

    >>> clip(np.array([-1.0, 0.5, 7.0]), 0.0, 1.0).tolist()
    [0.0, 0.5, 1.0]
    """
    return minimum(maximum(value, low), high)


def sqrt(value: Any) -> Any:
    """Return the square root of each lane."""
    return np.sqrt(value)


def trunc(value: Any) -> Any:
    """Cut each lane to a whole number, toward zero."""
    return np.asarray(value).astype(np.int64)


@njit(cache=True, nogil=True, error_model="numpy")
def exp(value: Any) -> Any:
    """Return the exponential of each lane, to a relative 1e-13 between -10 and 10.

    A series at 1/256 of the value, squared eight times: compilers have none on vectors.

    >>> round(exp(2.0), 12)
    7.389056098931
    """
    part = value * (1.0 / 256.0)
    square = part * part
    power = (1.0 / 24.0 + part * (1.0 / 120.0)) + square * (1.0 / 720.0 + part * (1.0 / 5040.0))
    power = (1.0 + part) + square * ((0.5 + part * (1.0 / 6.0)) + square * power)
    for _ in range(8):
        power = power * power
    return power


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
