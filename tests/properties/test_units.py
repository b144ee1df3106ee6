"""Units go there and back, and keep order and sums where they should."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from phenocast.units import UNITS, Unit, convert

PAIRS = [
    (a, b) for a in UNITS.values() for b in UNITS.values() if a.kind == b.kind and a.name != b.name
]
VALUES = st.floats(-1e6, 1e6, allow_nan=False)


@given(pair=st.sampled_from(PAIRS), value=VALUES)
def test_there_and_back_again(pair: tuple[Unit, Unit], value: float) -> None:
    source, target = pair
    there = convert(value, source, target)
    # Round-off of an offset of up to 273 besides that of the factor.
    assert convert(there, target, source) == pytest.approx(value, rel=1e-12, abs=2e-12 * 273.15)


@given(pair=st.sampled_from(PAIRS), first=VALUES, second=VALUES)
def test_order_is_kept(pair: tuple[Unit, Unit], first: float, second: float) -> None:
    low, high = sorted((first, second))
    assert convert(low, *pair) <= convert(high, *pair)


@given(first=st.floats(-100, 100), second=st.floats(-100, 100))
def test_a_difference_of_thermometers_converts_as_a_difference(first: float, second: float) -> None:
    apart = convert(first, "degF", "degC") - convert(second, "degF", "degC")
    assert apart == pytest.approx(convert(first - second, "delta_degF", "delta_degC"), abs=1e-11)


@given(values=st.lists(VALUES, min_size=1, max_size=8), pair=st.sampled_from(PAIRS))
def test_an_array_converts_as_its_members(values: list[float], pair: tuple[Unit, Unit]) -> None:
    together = convert(np.array(values), *pair)
    assert together.tolist() == [convert(value, *pair) for value in values]


@given(through=st.sampled_from(PAIRS), value=VALUES, data=st.data())
def test_a_detour_through_a_third_unit_changes_nothing(
    through: tuple[Unit, Unit], value: float, data: st.DataObject
) -> None:
    source, middle = through
    target = data.draw(st.sampled_from([u for u in UNITS.values() if u.kind == source.kind]))
    detour = convert(convert(value, source, middle), middle, target)
    assert detour == pytest.approx(convert(value, source, target), rel=1e-11, abs=1e-9)
