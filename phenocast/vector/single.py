# mypy: disable-error-code="import-untyped, no-untyped-call"
"""The operations of `phenocast.vector.ops` on single numbers, where one lane goes at a time.

For compilers that do not take the vector types; it needs nothing but what numba documents.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from numba import types
from numba.extending import overload

from phenocast.vector import ops


def _write(row: Any, place: Any, value: Any) -> None:
    row[place] = value


def _only(numbers: Any) -> Any:
    return numbers[:, 0]


def _first(numbers: Any) -> Any:
    return numbers[0]


def _row(rows: Any, number: Any) -> Any:
    return rows.reshape(-1, rows.shape[rows.ndim - 2])[number]


def _same(value: Any) -> Any:
    return value


def _read(row: Any, place: Any) -> Any:
    return row[place]


def _code(code: Callable[..., Any]) -> Callable[..., Callable[..., Any]]:
    """Return what gives numba the same code for values of every type."""
    return lambda *given: code


_OPERATIONS: dict[Callable[..., Any], Callable[..., Any]] = {
    ops.lanes: lambda numbers: _first if isinstance(numbers, types.Array) else _same,
    ops.everywhere: _code(lambda number: float(number)),
    ops.everywhere_int: _code(lambda number: int(number)),
    ops.row_of: lambda rows, number: _read if rows.ndim == 2 else _row,
    ops.series: lambda numbers: _same if numbers.ndim == 1 else _only,
    ops.load: _code(_read),
    ops.store: _code(_write),
    ops.take: _code(_read),
    ops.scatter: _code(_write),
    ops.where: _code(lambda mask, then, otherwise: then if mask else otherwise),
    ops.minimum: _code(lambda one, other: one if one < other else other),
    ops.maximum: _code(lambda one, other: one if one > other else other),
    ops.clip: _code(lambda value, low, high: ops.minimum(ops.maximum(value, low), high)),
    ops.sqrt: _code(lambda value: math.sqrt(value)),
    ops.trunc: _code(lambda value: int(value)),
    ops.any_lane: _code(_same),
    ops.lane_of: _code(lambda value, lane: value),
    ops.with_lane: _code(lambda value, lane, number: number),
}
for _operation, _made in _OPERATIONS.items():
    overload(_operation, strict=False)(_made)
