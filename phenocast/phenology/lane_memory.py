# mypy: disable-error-code="call-arg, import-untyped, no-untyped-call"
"""How lanes are read from and written to rows.

As `phenocast.phenology.lane_instructions`, of which this is the part that goes through memory. A
row is its address and nothing else: a view of an array would be counted in and out of use at every
step of a loop, which costs more than the step.
"""

from __future__ import annotations

import operator
from typing import Any

from llvmlite import ir
from numba import types
from numba.core import cgutils
from numba.extending import intrinsic, models, overload, register_model

from phenocast.phenology import lane_operations as plain
from phenocast.phenology.lane_instructions import DAYS, MASK, NUMBERS, VECTOR, spread
from phenocast.phenology.lane_operations import LANES

_I64 = ir.IntType(64)
_NUMBER_BYTES = 8


class RowType(types.Type):
    """The address of a row: of plants, or of numbers or days that all plants share."""

    def __init__(self, kind: str) -> None:
        self.kind = kind
        super().__init__(name=f"Row({kind})")


PLANTS, SHARED, SHARED_DAYS = RowType("plants"), RowType("shared"), RowType("shared days")


@register_model(RowType)
class _RowModel(models.PrimitiveModel):
    def __init__(self, dmm: Any, fe_type: RowType) -> None:
        super().__init__(dmm, fe_type, _I64)


def _data(context: Any, builder: Any, array: Any, given: Any) -> Any:
    """Return where an array's first number is, and the array."""
    held = context.make_array(given)(context, builder, array)
    return builder.ptrtoint(held.data, _I64), held


@intrinsic
def _row(typingctx, array, number, dimensions):  # type: ignore[no-untyped-def]
    if not isinstance(dimensions, types.IntegerLiteral):
        return None
    across = dimensions.literal_value
    if across == 2:
        returned = PLANTS
    else:
        returned = SHARED if isinstance(array.dtype, types.Float) else SHARED_DAYS

    def code(context, builder, signature, values):  # type: ignore[no-untyped-def]
        first, held = _data(context, builder, values[0], signature.args[0])
        shape = cgutils.unpack_tuple(builder, held.shape)
        size = _I64(_NUMBER_BYTES)
        for extent in shape[-across:]:
            size = builder.mul(size, extent)
        return builder.add(first, builder.mul(values[1], size))

    return returned(array, types.int64, dimensions), code


def _addresses(builder: Any, row: Any, kind: Any, days: Any) -> Any:
    """Return the address of every lane's own day in a row."""
    vector = VECTOR[DAYS]
    first = spread(builder, row, DAYS)
    each = _NUMBER_BYTES
    if kind == PLANTS:
        own = [lane * _NUMBER_BYTES for lane in range(LANES)]
        first = builder.add(first, ir.Constant(vector, own))
        each *= LANES
    stride = ir.Constant(vector, [each] * LANES)
    places = builder.add(first, builder.mul(days, stride))
    return builder.inttoptr(places, ir.VectorType(ir.PointerType(), LANES))


def _place(builder: Any, row: Any, place: Any) -> Any:
    """Return the address of one place of a row of plants."""
    at = builder.add(row, builder.mul(place, _I64(_NUMBER_BYTES * LANES)))
    return builder.inttoptr(at, ir.PointerType(VECTOR[NUMBERS]))


_ALL = ir.Constant(VECTOR[MASK], [1] * LANES)


@intrinsic
def _load(typingctx, row, place):  # type: ignore[no-untyped-def]
    def code(context, builder, signature, values):  # type: ignore[no-untyped-def]
        return builder.load(_place(builder, *values), align=_NUMBER_BYTES)

    return NUMBERS(PLANTS, types.int64), code


@intrinsic
def _load_lasting(typingctx, numbers):  # type: ignore[no-untyped-def]
    def code(context, builder, signature, values):  # type: ignore[no-untyped-def]
        first, _ = _data(context, builder, values[0], signature.args[0])
        at = builder.inttoptr(first, ir.PointerType(VECTOR[NUMBERS]))
        read = builder.load(at, align=_NUMBER_BYTES)
        # what does not change is read once, and what is made of it is made once
        read.set_metadata("invariant.load", builder.module.add_metadata([]))
        return read

    return NUMBERS(numbers), code


@intrinsic
def _store(typingctx, row, place, value):  # type: ignore[no-untyped-def]
    def code(context, builder, signature, values):  # type: ignore[no-untyped-def]
        builder.store(values[2], _place(builder, *values[:2]), align=_NUMBER_BYTES)
        return context.get_dummy_value()

    return types.void(PLANTS, types.int64, NUMBERS), code


@intrinsic
def _pick(typingctx, row, days):  # type: ignore[no-untyped-def]
    returned = DAYS if row == SHARED_DAYS else NUMBERS
    vector = VECTOR[returned]

    def code(context, builder, signature, values):  # type: ignore[no-untyped-def]
        at = _addresses(builder, values[0], row, values[1])
        element = "f64" if returned == NUMBERS else "i64"
        gather = cgutils.get_or_insert_function(
            builder.module,
            ir.FunctionType(vector, [at.type, ir.IntType(32), VECTOR[MASK], vector]),
            f"llvm.masked.gather.v{LANES}{element}.v{LANES}p0",
        )
        return builder.call(
            gather, [at, ir.IntType(32)(_NUMBER_BYTES), _ALL, ir.Constant(vector, ir.Undefined)]
        )

    return returned(row, DAYS), code


@intrinsic
def _read_shared(typingctx, row, day):  # type: ignore[no-untyped-def]
    def code(context, builder, signature, values):  # type: ignore[no-untyped-def]
        at = builder.add(values[0], builder.mul(values[1], _I64(_NUMBER_BYTES)))
        return builder.load(builder.inttoptr(at, ir.PointerType(ir.DoubleType())))

    return types.float64(SHARED, types.int64), code


@intrinsic
def _drop(typingctx, row, days, value):  # type: ignore[no-untyped-def]
    def code(context, builder, signature, values):  # type: ignore[no-untyped-def]
        at = _addresses(builder, values[0], row, values[1])
        scatter = cgutils.get_or_insert_function(
            builder.module,
            ir.FunctionType(
                ir.VoidType(), [VECTOR[NUMBERS], at.type, ir.IntType(32), VECTOR[MASK]]
            ),
            f"llvm.masked.scatter.v{LANES}f64.v{LANES}p0",
        )
        builder.call(scatter, [values[2], at, ir.IntType(32)(_NUMBER_BYTES), _ALL])
        return context.get_dummy_value()

    return types.void(PLANTS, DAYS, NUMBERS), code


@intrinsic
def _lane_of(typingctx, value, lane):  # type: ignore[no-untyped-def]
    def code(context, builder, signature, values):  # type: ignore[no-untyped-def]
        return builder.extract_element(values[0], values[1])

    return types.float64(NUMBERS, types.int64), code


@intrinsic
def _with_lane(typingctx, value, lane, number):  # type: ignore[no-untyped-def]
    def code(context, builder, signature, values):  # type: ignore[no-untyped-def]
        return builder.insert_element(values[0], values[2], values[1])

    return NUMBERS(NUMBERS, types.int64, types.float64), code


@overload(plain.row_of)
def _row_of(rows, number):  # type: ignore[no-untyped-def]
    if rows.ndim == 2:
        return lambda rows, number: _row(rows, number, 1)
    return lambda rows, number: _row(rows, number, 2)


@overload(plain.series)
def _series_of(numbers):  # type: ignore[no-untyped-def]
    if numbers.ndim == 1:
        return lambda numbers: _row(numbers, 0, 1)
    return lambda numbers: _row(numbers, 0, 2)


@overload(plain.lanes)
def _lanes(numbers):  # type: ignore[no-untyped-def]
    if isinstance(numbers, types.Array):
        return lambda numbers: _load_lasting(numbers)
    return (lambda numbers: numbers) if isinstance(numbers, types.Float) else None


@overload(plain.load)
def _load_row(row, place):  # type: ignore[no-untyped-def]
    return lambda row, place: _load(row, place)


@overload(plain.store)
def _store_row(row, place, value):  # type: ignore[no-untyped-def]
    return lambda row, place, value: _store(row, place, value)


@overload(operator.getitem)
def _read_row(row, day):  # type: ignore[no-untyped-def]
    return (lambda row, day: _read_shared(row, day)) if row == SHARED else None


@overload(plain.pick)
def _pick_row(row, days):  # type: ignore[no-untyped-def]
    if days == DAYS:
        if isinstance(row, types.Array):
            return lambda row, days: _pick(_row(row, 0, 1), days)
        return lambda row, days: _pick(row, days)
    return lambda row, days: row[days]


@overload(plain.drop)
def _drop_row(row, days, value):  # type: ignore[no-untyped-def]
    return lambda row, days, value: _drop(row, days, value)


@overload(plain.lane_of)
def _lane(value, lane):  # type: ignore[no-untyped-def]
    return lambda value, lane: _lane_of(value, lane)


@overload(plain.with_lane)
def _put_lane(value, lane, number):  # type: ignore[no-untyped-def]
    return lambda value, lane, number: _with_lane(value, lane, number)
