# mypy: disable-error-code="call-arg, import-untyped, no-untyped-call"
"""The operations of `phenocast.vector.ops` as instructions on vectors of eight lanes."""

from __future__ import annotations

import operator
from typing import Any

from llvmlite import ir
from numba import types
from numba.core import cgutils
from numba.extending import overload

from phenocast.vector import llvm, ops
from phenocast.vector.llvm import (
    INTEGERS,
    MASK,
    NUMBERS,
    SHARED,
    WIDTH,
    choose,
    meet,
    meet_or_number,
    only,
    teach,
)


def _chosen(mask: Any, then: Any, otherwise: Any) -> Any:
    """Return the type of a choice between two; None where it is not this package's matter."""
    if mask == types.boolean:
        return meet_or_number(then, otherwise)
    if mask == MASK:
        if isinstance(then, types.Integer) and isinstance(otherwise, types.Integer):
            return INTEGERS
        return meet(then, otherwise) or NUMBERS
    return None


teach(ops.minimum, 2, meet_or_number, meet_or_number, choose("<"))
teach(ops.maximum, 2, meet_or_number, meet_or_number, choose(">"))
teach(
    ops.where, 3, _chosen, lambda mask, *given: _chosen(mask, *given),
    lambda builder, mask, a, b: builder.select(mask, a, b),
)  # fmt: skip
teach(
    ops.any_lane, 1, only(MASK, types.boolean), meet,
    lambda builder, mask: builder.icmp_unsigned(
        "!=", builder.bitcast(mask, ir.IntType(WIDTH)), ir.IntType(WIDTH)(0)
    ),
)  # fmt: skip
teach(
    ops.sqrt, 1, only(NUMBERS, NUMBERS), meet,
    lambda builder, value: builder.call(
        cgutils.get_or_insert_function(
            builder.module, ir.FunctionType(value.type, [value.type]), f"llvm.sqrt.v{WIDTH}f64"
        ),
        [value],
    ),
)  # fmt: skip
teach(
    ops.everywhere, 1, lambda one: NUMBERS if isinstance(one, types.Number) else None,
    lambda one: NUMBERS, lambda builder, value: value,
)  # fmt: skip
teach(
    ops.everywhere_int, 1, lambda one: INTEGERS if isinstance(one, types.Integer) else None,
    lambda one: INTEGERS, lambda builder, value: value,
)  # fmt: skip


def _trunc(value: Any) -> Any:
    if value == NUMBERS:
        return lambda value: llvm.truncate(value)
    return (lambda value: int(value)) if isinstance(value, types.Float) else None


def _lanes(numbers: Any) -> Any:
    if isinstance(numbers, types.Array):
        return lambda numbers: llvm.read_lasting(numbers)
    return (lambda numbers: numbers) if isinstance(numbers, types.Float) else None


def _take(row: Any, places: Any) -> Any:
    if places != INTEGERS:
        return lambda row, places: row[places]
    if isinstance(row, types.Array):
        return lambda row, places: llvm.gather(llvm.address_of_row(row, 0, 1), places)
    return lambda row, places: llvm.gather(row, places)


_OPERATIONS: dict[Any, Any] = {
    ops.clip: lambda value, low, high: (
        lambda value, low, high: ops.minimum(ops.maximum(value, low), high)
    ),
    ops.trunc: _trunc,
    ops.any_lane: lambda mask: (lambda mask: mask) if isinstance(mask, types.Boolean) else None,
    ops.row_of: lambda rows, number: (
        (lambda rows, number: llvm.address_of_row(rows, number, 1))
        if rows.ndim == 2
        else (lambda rows, number: llvm.address_of_row(rows, number, 2))
    ),
    ops.series: lambda numbers: (
        (lambda numbers: llvm.address_of_row(numbers, 0, 1))
        if numbers.ndim == 1
        else (lambda numbers: llvm.address_of_row(numbers, 0, 2))
    ),
    ops.lanes: _lanes,
    ops.load: lambda row, place: lambda row, place: llvm.read(row, place),
    ops.store: lambda row, place, value: lambda row, place, value: llvm.write(row, place, value),
    operator.getitem: lambda row, place: (
        (lambda row, place: llvm.read_shared(row, place)) if row == SHARED else None
    ),
    ops.take: _take,
    ops.scatter: lambda row, places, value: (
        lambda row, places, value: llvm.scatter(row, places, value)
    ),
    ops.lane_of: lambda value, lane: lambda value, lane: llvm.extract(value, lane),
    ops.with_lane: lambda value, lane, number: (
        lambda value, lane, number: llvm.insert(value, lane, number)
    ),
}
for _operation, _made in _OPERATIONS.items():
    overload(_operation, strict=False)(_made)
