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


@overload(ops.clip)
def _clip(value, low, high):  # type: ignore[no-untyped-def]
    return lambda value, low, high: ops.minimum(ops.maximum(value, low), high)


@overload(ops.trunc)
def _trunc(value):  # type: ignore[no-untyped-def]
    if value == NUMBERS:
        return lambda value: llvm.truncate(value)
    return (lambda value: int(value)) if isinstance(value, types.Float) else None


@overload(ops.any_lane)
def _any_of_one(mask):  # type: ignore[no-untyped-def]
    return (lambda mask: mask) if isinstance(mask, types.Boolean) else None


@overload(ops.row_of)
def _row_of(rows, number):  # type: ignore[no-untyped-def]
    if rows.ndim == 2:
        return lambda rows, number: llvm.address_of_row(rows, number, 1)
    return lambda rows, number: llvm.address_of_row(rows, number, 2)


@overload(ops.series)
def _series_of(numbers):  # type: ignore[no-untyped-def]
    if numbers.ndim == 1:
        return lambda numbers: llvm.address_of_row(numbers, 0, 1)
    return lambda numbers: llvm.address_of_row(numbers, 0, 2)


@overload(ops.lanes)
def _lanes(numbers):  # type: ignore[no-untyped-def]
    if isinstance(numbers, types.Array):
        return lambda numbers: llvm.read_lasting(numbers)
    return (lambda numbers: numbers) if isinstance(numbers, types.Float) else None


@overload(ops.load)
def _load_row(row, place):  # type: ignore[no-untyped-def]
    return lambda row, place: llvm.read(row, place)


@overload(ops.store)
def _store_row(row, place, value):  # type: ignore[no-untyped-def]
    return lambda row, place, value: llvm.write(row, place, value)


@overload(operator.getitem)
def _read_row(row, place):  # type: ignore[no-untyped-def]
    return (lambda row, place: llvm.read_shared(row, place)) if row == SHARED else None


@overload(ops.take)
def _take(row, places):  # type: ignore[no-untyped-def]
    if places == INTEGERS:
        if isinstance(row, types.Array):
            return lambda row, places: llvm.gather(llvm.address_of_row(row, 0, 1), places)
        return lambda row, places: llvm.gather(row, places)
    return lambda row, places: row[places]


@overload(ops.scatter)
def _scatter(row, places, value):  # type: ignore[no-untyped-def]
    return lambda row, places, value: llvm.scatter(row, places, value)


@overload(ops.lane_of)
def _lane(value, lane):  # type: ignore[no-untyped-def]
    return lambda value, lane: llvm.extract(value, lane)


@overload(ops.with_lane)
def _put_lane(value, lane, number):  # type: ignore[no-untyped-def]
    return lambda value, lane, number: llvm.insert(value, lane, number)
