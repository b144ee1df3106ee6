# mypy: disable-error-code="import-untyped, no-untyped-call"
"""The operations of `phenocast.phenology.lane_operations` as instructions on vectors.

A compiler left to itself takes several plants at once only in loops without a branch and without
rows that might overlap. So the vector is told to it as a type of its own, with the arithmetic that
the kernels need; nothing here knows of plants. Importing the module is what teaches the compiler.
"""

from __future__ import annotations

import operator
from collections.abc import Callable
from itertools import product
from typing import Any

from llvmlite import ir
from numba import types
from numba.core import cgutils
from numba.extending import (
    lower_builtin,
    models,
    overload,
    register_model,
    type_callable,
)

from phenocast.phenology import lane_operations as plain
from phenocast.phenology.lane_operations import LANES

_ELEMENTS = {"numbers": ir.DoubleType(), "days": ir.IntType(64), "mask": ir.IntType(1)}


class LaneType(types.Type):
    """Eight numbers, eight days or a mask of eight."""

    def __init__(self, kind: str) -> None:
        self.kind = kind
        super().__init__(name=f"Lanes({kind})")


NUMBERS, DAYS, MASK = LaneType("numbers"), LaneType("days"), LaneType("mask")
VECTOR = {kind: ir.VectorType(_ELEMENTS[kind.kind], LANES) for kind in (NUMBERS, DAYS, MASK)}


@register_model(LaneType)
class _LaneModel(models.PrimitiveModel):
    def __init__(self, dmm: Any, fe_type: LaneType) -> None:
        super().__init__(dmm, fe_type, VECTOR[fe_type])


def _meet(*given: Any) -> Any:
    """Return the type in which values meet; None where it is not this module's matter."""
    if DAYS in given and all(one == DAYS or isinstance(one, types.Integer) for one in given):
        return DAYS
    if (NUMBERS in given or DAYS in given) and all(
        one in (NUMBERS, DAYS) or isinstance(one, types.Number) for one in given
    ):
        return NUMBERS
    return None


def _meet_or_number(*given: Any) -> Any:
    """Return the type in which values meet, be they lanes or plain numbers."""
    if all(isinstance(one, types.Integer) for one in given):
        return types.int64
    if all(isinstance(one, types.Number) for one in given):
        return types.float64
    return _meet(*given)


def _as(context: Any, builder: Any, value: Any, given: Any, wanted: Any) -> Any:
    """Bring a value to another type: a number to every lane, days to numbers."""
    if given == wanted:
        return value
    if not isinstance(wanted, LaneType):
        return context.cast(builder, value, given, wanted)
    if isinstance(given, LaneType):
        return builder.sitofp(value, VECTOR[wanted])
    one = context.cast(builder, value, given, types.float64 if wanted == NUMBERS else types.int64)
    return spread(builder, one, wanted)


def spread(builder: Any, one: Any, wanted: LaneType) -> Any:
    """Bring one number or day to every lane."""
    empty = ir.Constant(VECTOR[wanted], ir.Undefined)
    first = builder.insert_element(empty, one, ir.IntType(32)(0))
    zeros = ir.Constant(ir.VectorType(ir.IntType(32), LANES), [0] * LANES)
    return builder.shuffle_vector(first, empty, zeros)


_TYPERS: dict[int, Callable[[Any], Callable[[Any], Any]]] = {
    1: lambda returned: lambda context: lambda one: returned(one),
    2: lambda returned: lambda context: lambda one, other: returned(one, other),
    3: lambda returned: lambda context: lambda one, other, third: returned(one, other, third),
}


def _teach(
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


def _teach_arithmetic(name: Any, numbers: str, days: str) -> None:
    """Teach a sum, difference or product; a product may go into a sum unrounded, in one step."""

    def code(builder: Any, a: Any, b: Any) -> Any:
        if _is_number(a):
            return getattr(builder, numbers)(a, b, flags=("contract",))
        return getattr(builder, days)(a, b)

    _teach(name, 2, _meet, _meet, code, _PLAIN)


def _compare(sign: str) -> Callable[[Any, Any, Any], Any]:
    def code(builder: Any, a: Any, b: Any) -> Any:
        if not _is_number(a):
            return builder.icmp_signed(sign, a, b)
        return (builder.fcmp_unordered if sign == "!=" else builder.fcmp_ordered)(sign, a, b)

    return code


def _choose(sign: str) -> Callable[[Any, Any, Any], Any]:
    before = _compare(sign)
    return lambda builder, a, b: builder.select(before(builder, a, b), a, b)


def _mask_of(*given: Any) -> Any:
    return None if _meet(*given) is None else MASK


def _both_masks(*given: Any) -> Any:
    return MASK if all(one == MASK for one in given) else None


def _chosen(mask: Any, then: Any, otherwise: Any) -> Any:
    if mask == types.boolean:
        return _meet_or_number(then, otherwise)
    if mask == MASK:
        if isinstance(then, types.Integer) and isinstance(otherwise, types.Integer):
            return DAYS
        return _meet(then, otherwise) or NUMBERS
    return None


def _only(kind: LaneType, returned: Any) -> Callable[[Any], Any]:
    return lambda one: returned if one == kind else None


for _name in (operator.add, operator.iadd):
    _teach_arithmetic(_name, "fadd", "add")
for _name in (operator.sub, operator.isub):
    _teach_arithmetic(_name, "fsub", "sub")
for _name in (operator.mul, operator.imul):
    _teach_arithmetic(_name, "fmul", "mul")
for _name in (operator.truediv, operator.itruediv):
    _teach(
        _name, 2, lambda *given: _meet(*given) and NUMBERS, lambda *given: NUMBERS,
        lambda builder, a, b: builder.fdiv(a, b), _PLAIN,
    )  # fmt: skip
for _name, _sign in (
    (operator.lt, "<"), (operator.le, "<="), (operator.gt, ">"), (operator.ge, ">="),
    (operator.eq, "=="), (operator.ne, "!="),
):  # fmt: skip
    _teach(_name, 2, _mask_of, _meet, _compare(_sign), _PLAIN)
_teach(operator.and_, 2, _both_masks, _meet, lambda b, x, y: b.and_(x, y), (LaneType,))
_teach(operator.or_, 2, _both_masks, _meet, lambda b, x, y: b.or_(x, y), (LaneType,))
_teach(operator.invert, 1, _both_masks, _meet, lambda b, x: b.not_(x), (LaneType,))
_teach(operator.neg, 1, _only(NUMBERS, NUMBERS), _meet, lambda b, x: b.fneg(x), (LaneType,))
_teach(plain.least, 2, _meet_or_number, _meet_or_number, _choose("<"))
_teach(plain.most, 2, _meet_or_number, _meet_or_number, _choose(">"))
_teach(
    plain.where, 3, _chosen, lambda mask, *given: _chosen(mask, *given),
    lambda builder, mask, a, b: builder.select(mask, a, b),
)  # fmt: skip
_teach(
    plain.any_lane, 1, _only(MASK, types.boolean), _meet,
    lambda builder, mask: builder.icmp_unsigned(
        "!=", builder.bitcast(mask, ir.IntType(LANES)), ir.IntType(LANES)(0)
    ),
)  # fmt: skip
_teach(
    plain.whole, 1, _only(NUMBERS, DAYS), _meet,
    lambda builder, value: builder.fptosi(value, VECTOR[DAYS]),
)  # fmt: skip
_teach(
    plain.root, 1, _only(NUMBERS, NUMBERS), _meet,
    lambda builder, value: builder.call(
        cgutils.get_or_insert_function(
            builder.module, ir.FunctionType(value.type, [value.type]), f"llvm.sqrt.v{LANES}f64"
        ),
        [value],
    ),
)  # fmt: skip
_teach(
    plain.everywhere, 1, lambda one: NUMBERS if isinstance(one, types.Number) else None,
    lambda one: NUMBERS, lambda builder, value: value,
)  # fmt: skip
_teach(
    plain.everywhere_day, 1, lambda one: DAYS if isinstance(one, types.Integer) else None,
    lambda one: DAYS, lambda builder, value: value,
)  # fmt: skip


@overload(plain.within)
def _within(value, low, high):  # type: ignore[no-untyped-def]
    return lambda value, low, high: plain.least(plain.most(value, low), high)


@overload(plain.whole)
def _whole_of_a_number(value):  # type: ignore[no-untyped-def]
    return (lambda value: int(value)) if isinstance(value, types.Float) else None


@overload(plain.any_lane)
def _any_of_one(mask):  # type: ignore[no-untyped-def]
    return (lambda mask: mask) if isinstance(mask, types.Boolean) else None
