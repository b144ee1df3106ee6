# mypy: disable-error-code="call-arg, import-untyped, no-untyped-call, unreachable, var-annotated"
"""Vectors as types of the compiler: their arithmetic, and how they are read and written.

A compiler left to itself takes several numbers at once only in loops without a branch and without
rows that might overlap. So the vector is told to it as a type of its own. Importing the module
teaches the arithmetic, of which `phenocast.vector.wide` makes the operations of
`phenocast.vector.ops`.

A row is its address and nothing else: a view of an array would be counted in and out of use at
every step of a loop, which costs more than the step.
"""

from __future__ import annotations

import operator
from collections.abc import Callable
from itertools import product
from typing import Any

from llvmlite import ir
from numba import njit, types
from numba.core import cgutils
from numba.extending import (
    intrinsic,
    lower_builtin,
    models,
    register_model,
    type_callable,
)

WIDTH = 8
"""Numbers of a vector: as many as the widest vectors of common processors hold."""

_I64 = ir.IntType(64)
_NUMBER_BYTES = 8


class LaneType(types.Type):
    """Eight numbers, eight integers or a mask of eight."""


class RowType(types.Type):
    """The address of a row: of lanes, or of numbers or integers that all lanes share."""


NUMBERS, INTEGERS, MASK = LaneType("numbers"), LaneType("integers"), LaneType("mask")
OWN, SHARED, SHARED_INTEGERS = RowType("row"), RowType("shared row"), RowType("integer row")
VECTOR = {
    NUMBERS: ir.VectorType(ir.DoubleType(), WIDTH),
    INTEGERS: ir.VectorType(_I64, WIDTH),
    MASK: ir.VectorType(ir.IntType(1), WIDTH),
}


@register_model(LaneType)
@register_model(RowType)
class _Model(models.PrimitiveModel):
    def __init__(self, dmm: Any, fe_type: Any) -> None:
        super().__init__(dmm, fe_type, VECTOR.get(fe_type, _I64))


def meet(*given: Any) -> Any:
    """Return the type in which values meet; None where it is not this module's matter."""
    if INTEGERS in given and all(
        one == INTEGERS or isinstance(one, types.Integer) for one in given
    ):
        return INTEGERS
    if (NUMBERS in given or INTEGERS in given) and all(
        one in (NUMBERS, INTEGERS) or isinstance(one, types.Number) for one in given
    ):
        return NUMBERS
    return None


def meet_or_number(*given: Any) -> Any:
    """Return the type in which values meet, be they lanes or plain numbers."""
    if all(isinstance(one, types.Integer) for one in given):
        return types.int64
    if all(isinstance(one, types.Number) for one in given):
        return types.float64
    return meet(*given)


def _as(context: Any, builder: Any, value: Any, given: Any, wanted: Any) -> Any:
    """Bring a value to another type: a number to every lane, integers to numbers."""
    if given == wanted:
        return value
    if not isinstance(wanted, LaneType):
        return context.cast(builder, value, given, wanted)
    if isinstance(given, LaneType):
        return builder.sitofp(value, VECTOR[wanted])
    one = context.cast(builder, value, given, types.float64 if wanted == NUMBERS else types.int64)
    return spread(builder, one, wanted)


def spread(builder: Any, one: Any, wanted: LaneType) -> Any:
    """Bring one number or integer to every lane."""
    empty = ir.Constant(VECTOR[wanted], ir.Undefined)
    first = builder.insert_element(empty, one, ir.IntType(32)(0))
    zeros = ir.Constant(ir.VectorType(ir.IntType(32), WIDTH), [0] * WIDTH)
    return builder.shuffle_vector(first, empty, zeros)


_TYPERS: dict[int, Callable[[Any], Callable[[Any], Any]]] = {
    1: lambda returned: lambda context: lambda one: returned(one),
    2: lambda returned: lambda context: lambda one, other: returned(one, other),
    3: lambda returned: lambda context: lambda one, other, third: returned(one, other, third),
}


def teach(
    name: Any, n_values: int, returned: Any, meet: Any, code: Any, kinds: Any = (types.Any,)
) -> None:
    """Teach the compiler an operation.

    ``returned`` gives the type of the result and ``meet`` the type that the values are brought to
    before ``code`` makes the instruction.
    """

    def lower(context: Any, builder: Any, signature: Any, values: Any) -> Any:
        common = meet(*signature.args)
        brought = [
            value
            if common is None or given in (MASK, types.boolean)
            else _as(context, builder, value, given, common)
            for value, given in zip(values, signature.args, strict=True)
        ]
        return code(builder, *brought)

    type_callable(name)(_TYPERS[n_values](returned))
    for given in product(kinds, repeat=n_values):
        if LaneType in given or types.Any in given:
            lower_builtin(name, *given)(lower)


_PLAIN = (LaneType, types.Float, types.Integer)


def _is_number(value: Any) -> bool:
    """Say whether a value holds numbers with a fraction, in lanes or alone."""
    element = value.type.element if isinstance(value.type, ir.VectorType) else value.type
    return isinstance(element, ir.DoubleType)


def _teach_arithmetic(name: Any, numbers: str, integers: str) -> None:
    """Teach a sum, difference or product; a product may go into a sum unrounded, in one step."""

    def code(builder: Any, a: Any, b: Any) -> Any:
        if _is_number(a):
            return getattr(builder, numbers)(a, b, flags=("contract",))
        return getattr(builder, integers)(a, b)

    teach(name, 2, meet, meet, code, _PLAIN)


def _compare(sign: str) -> Callable[[Any, Any, Any], Any]:
    def code(builder: Any, a: Any, b: Any) -> Any:
        if not _is_number(a):
            return builder.icmp_signed(sign, a, b)
        return (builder.fcmp_unordered if sign == "!=" else builder.fcmp_ordered)(sign, a, b)

    return code


def choose(sign: str) -> Callable[[Any, Any, Any], Any]:
    """Return the instructions that choose the first of two where it compares so."""
    before = _compare(sign)
    return lambda builder, a, b: builder.select(before(builder, a, b), a, b)


def _mask_of(*given: Any) -> Any:
    return None if meet(*given) is None else MASK


def _both_masks(*given: Any) -> Any:
    return MASK if all(one == MASK for one in given) else None


def only(kind: LaneType, returned: Any) -> Callable[[Any], Any]:
    """Return what gives one type for one kind of vector and leaves all else to others."""
    return lambda one: returned if one == kind else None


for _name in (operator.add, operator.iadd):
    _teach_arithmetic(_name, "fadd", "add")
for _name in (operator.sub, operator.isub):
    _teach_arithmetic(_name, "fsub", "sub")
for _name in (operator.mul, operator.imul):
    _teach_arithmetic(_name, "fmul", "mul")
for _name in (operator.truediv, operator.itruediv):
    teach(
        _name, 2, lambda *given: meet(*given) and NUMBERS, lambda *given: NUMBERS,
        lambda builder, a, b: builder.fdiv(a, b), _PLAIN,
    )  # fmt: skip
for _name, _sign in (
    (operator.lt, "<"), (operator.le, "<="), (operator.gt, ">"), (operator.ge, ">="),
    (operator.eq, "=="), (operator.ne, "!="),
):  # fmt: skip
    teach(_name, 2, _mask_of, meet, _compare(_sign), _PLAIN)
teach(operator.and_, 2, _both_masks, meet, lambda b, x, y: b.and_(x, y), (LaneType,))
teach(operator.or_, 2, _both_masks, meet, lambda b, x, y: b.or_(x, y), (LaneType,))
teach(operator.invert, 1, _both_masks, meet, lambda b, x: b.not_(x), (LaneType,))
teach(operator.neg, 1, only(NUMBERS, NUMBERS), meet, lambda b, x: b.fneg(x), (LaneType,))


def _data(context: Any, builder: Any, array: Any, given: Any) -> Any:
    """Return where an array's first number is, and the array."""
    held = context.make_array(given)(context, builder, array)
    return builder.ptrtoint(held.data, _I64), held


@intrinsic
def address_of_row(typingctx, array, number, dimensions):  # type: ignore[no-untyped-def]
    """Return the address of a row of an array whose rows have one or two dimensions."""
    if not isinstance(dimensions, types.IntegerLiteral):
        return None
    across = dimensions.literal_value
    if across == 2:
        returned = OWN
    else:
        returned = SHARED if isinstance(array.dtype, types.Float) else SHARED_INTEGERS

    def code(context, builder, signature, values):  # type: ignore[no-untyped-def]
        first, held = _data(context, builder, values[0], signature.args[0])
        shape = cgutils.unpack_tuple(builder, held.shape)
        size = _I64(_NUMBER_BYTES)
        for extent in shape[-across:]:
            size = builder.mul(size, extent)
        return builder.add(first, builder.mul(values[1], size))

    return returned(array, types.int64, dimensions), code


def _addresses(builder: Any, row: Any, kind: Any, places: Any) -> Any:
    """Return the address of every lane's own place in a row."""
    vector = VECTOR[INTEGERS]
    first = spread(builder, row, INTEGERS)
    each = _NUMBER_BYTES
    if kind == OWN:
        own = [lane * _NUMBER_BYTES for lane in range(WIDTH)]
        first = builder.add(first, ir.Constant(vector, own))
        each *= WIDTH
    stride = ir.Constant(vector, [each] * WIDTH)
    at = builder.add(first, builder.mul(places, stride))
    return builder.inttoptr(at, ir.VectorType(ir.PointerType(), WIDTH))


def _place(builder: Any, row: Any, place: Any) -> Any:
    """Return the address of one place of a row of lanes."""
    at = builder.add(row, builder.mul(place, _I64(_NUMBER_BYTES * WIDTH)))
    return builder.inttoptr(at, ir.PointerType(VECTOR[NUMBERS]))


_ALL = ir.Constant(VECTOR[MASK], [1] * WIDTH)


@intrinsic
def read(typingctx, row, place):  # type: ignore[no-untyped-def]
    """Read one place of a row of lanes."""

    def code(context, builder, signature, values):  # type: ignore[no-untyped-def]
        return builder.load(_place(builder, *values), align=_NUMBER_BYTES)

    return NUMBERS(OWN, types.int64), code


@intrinsic
def read_lasting(typingctx, numbers):  # type: ignore[no-untyped-def]
    """Read a vector that does not change while a kernel runs."""

    def code(context, builder, signature, values):  # type: ignore[no-untyped-def]
        first, _ = _data(context, builder, values[0], signature.args[0])
        at = builder.inttoptr(first, ir.PointerType(VECTOR[NUMBERS]))
        read = builder.load(at, align=_NUMBER_BYTES)
        # what does not change is read once, and what is made of it is made once
        read.set_metadata("invariant.load", builder.module.add_metadata([]))
        return read

    return NUMBERS(numbers), code


@intrinsic
def write(typingctx, row, place, value):  # type: ignore[no-untyped-def]
    """Write one place of a row of lanes."""

    def code(context, builder, signature, values):  # type: ignore[no-untyped-def]
        builder.store(values[2], _place(builder, *values[:2]), align=_NUMBER_BYTES)
        return context.get_dummy_value()

    return types.void(OWN, types.int64, NUMBERS), code


@intrinsic
def gather(typingctx, row, places):  # type: ignore[no-untyped-def]
    """Read each lane at its own place of a row."""
    returned = INTEGERS if row == SHARED_INTEGERS else NUMBERS
    vector = VECTOR[returned]

    def code(context, builder, signature, values):  # type: ignore[no-untyped-def]
        at = _addresses(builder, values[0], row, values[1])
        element = "f64" if returned == NUMBERS else "i64"
        gather = cgutils.get_or_insert_function(
            builder.module,
            ir.FunctionType(vector, [at.type, ir.IntType(32), VECTOR[MASK], vector]),
            f"llvm.masked.gather.v{WIDTH}{element}.v{WIDTH}p0",
        )
        return builder.call(
            gather, [at, ir.IntType(32)(_NUMBER_BYTES), _ALL, ir.Constant(vector, ir.Undefined)]
        )

    return returned(row, INTEGERS), code


@intrinsic
def read_shared(typingctx, row, place):  # type: ignore[no-untyped-def]
    """Read one place of a row that all lanes share."""

    def code(context, builder, signature, values):  # type: ignore[no-untyped-def]
        at = builder.add(values[0], builder.mul(values[1], _I64(_NUMBER_BYTES)))
        return builder.load(builder.inttoptr(at, ir.PointerType(ir.DoubleType())))

    return types.float64(SHARED, types.int64), code


@intrinsic
def scatter(typingctx, row, places, value):  # type: ignore[no-untyped-def]
    """Write each lane at its own place of a row of lanes."""

    def code(context, builder, signature, values):  # type: ignore[no-untyped-def]
        at = _addresses(builder, values[0], row, values[1])
        scatter = cgutils.get_or_insert_function(
            builder.module,
            ir.FunctionType(
                ir.VoidType(), [VECTOR[NUMBERS], at.type, ir.IntType(32), VECTOR[MASK]]
            ),
            f"llvm.masked.scatter.v{WIDTH}f64.v{WIDTH}p0",
        )
        builder.call(scatter, [values[2], at, ir.IntType(32)(_NUMBER_BYTES), _ALL])
        return context.get_dummy_value()

    return types.void(OWN, INTEGERS, NUMBERS), code


@intrinsic
def extract(typingctx, value, lane):  # type: ignore[no-untyped-def]
    """Read one lane."""

    def code(context, builder, signature, values):  # type: ignore[no-untyped-def]
        return builder.extract_element(values[0], values[1])

    return types.float64(NUMBERS, types.int64), code


@intrinsic
def insert(typingctx, value, lane, number):  # type: ignore[no-untyped-def]
    """Return the lanes with another number in one of them."""

    def code(context, builder, signature, values):  # type: ignore[no-untyped-def]
        return builder.insert_element(values[0], values[2], values[1])

    return NUMBERS(NUMBERS, types.int64, types.float64), code


@intrinsic
def truncate(typingctx, value):  # type: ignore[no-untyped-def]
    """Cut each lane to an integer, toward zero."""

    def code(context, builder, signature, values):  # type: ignore[no-untyped-def]
        return builder.fptosi(values[0], VECTOR[INTEGERS])

    return INTEGERS(NUMBERS), code


@njit(cache=True, nogil=True, error_model="numpy")
def probe(rows):  # type: ignore[no-untyped-def]
    """Double what lanes 0 to 3 hold at place 0 of ``[1, 2, 8]`` and lanes 4 to 7 at place 1.

    The numbers at place 0 must be those of the lanes: it is for `phenocast.vector.width`.
    """
    row = address_of_row(rows, 0, 2)
    places = truncate(read(row, 0) * 0.25)
    scatter(row, places, gather(row, places) * 2.0)
