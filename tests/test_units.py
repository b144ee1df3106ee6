"""Units: published factors, spellings, and what may not be converted."""

from __future__ import annotations

import numpy as np
import pytest

from phenocast.errors import InputError
from phenocast.units import UNITS, convert, parse_unit

# NIST Special Publication 811 (2008), appendix B.8, factors as recalled from memory; those marked
# exact there are exact here. Tolerance: the digits given there.
NIST = [
    (1.0, "in", "mm", 25.4, 0.0),
    (1.0, "ft", "m", 0.3048, 0.0),
    (1.0, "mph", "m s-1", 0.44704, 0.0),
    (1.0, "kn", "m s-1", 0.5144444, 1e-7),
    (1.0, "km h-1", "m s-1", 0.2777778, 1e-7),
    (1.0, "lb", "kg", 0.45359237, 0.0),
    (1.0, "oz", "g", 28.34952, 1e-5),
    (1.0, "acre", "ha", 0.4046873, 1e-5),  # there: survey acre, 2e-6 larger
    (1.0, "inHg", "kPa", 3.386389, 1e-6),
    (1.0, "mbar", "hPa", 1.0, 0.0),
    (1.0, "hPa", "kPa", 0.1, 0.0),
    (101325.0, "Pa", "kPa", 101.325, 1e-12),
    (1.0, "MJ m-2 d-1", "W m-2", 11.57407, 1e-5),  # FAO-56 table 3: 1 W m-2 = 0.0864
    (1.0, "MJ m-2 h-1", "W m-2", 277.7778, 1e-4),
    (1.0, "Wh m-2", "kJ m-2", 3.6, 1e-12),
    (1.0, "cal cm-2 d-1", "MJ m-2 d-1", 0.041868, 4e-5),  # FAO-56 table 3 uses the other calorie
    (212.0, "degF", "degC", 100.0, 1e-12),
    (-40.0, "degF", "degC", -40.0, 1e-12),
    (0.0, "degC", "K", 273.15, 0.0),
    (18.0, "delta_degF", "delta_degC", 10.0, 1e-12),
    (50.0, "%", "1", 0.5, 0.0),
    (253.0, "0.1 degC", "degC", 25.3, 1e-12),
    (120.0, "tenths of mm", "mm", 12.0, 1e-12),
    (1.0, "degF d", "degC h", 13.33333, 1e-5),
]


@pytest.mark.parametrize(("value", "source", "target", "expected", "tolerance"), NIST)
def test_published_factors(
    value: float, source: str, target: str, expected: float, tolerance: float
) -> None:
    assert convert(value, source, target) == pytest.approx(expected, rel=0.0, abs=tolerance)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("°C", "degC"), ("C", "degC"), ("deg C", "degC"), ("F", "degF"), ("W/m2", "W m-2"),
        ("W m^-2", "W m-2"), ("W·m⁻²", "W m-2"), ("W m**-2", "W m-2"), ("MJ/m2/day", "MJ m-2 d-1"),
        ("m/s", "m s-1"), ("km/h", "km h-1"), ("knots", "kn"), ("inches", "in"), ("percent", "%"),
        ("mb", "mbar"), (" mm ", "mm"), ("Feet", "ft"), ("langley/d", "cal cm-2 d-1"),
    ],
)  # fmt: skip
def test_spellings(text: str, name: str) -> None:
    assert parse_unit(text).name == name


@pytest.mark.parametrize(
    "text", ["", "   ", "degX", "0 degC", "-1 degC", "10", "tenths of", "mm mm"]
)
def test_what_is_no_unit_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        parse_unit(text)


def test_the_nearest_unit_is_named() -> None:
    with pytest.raises(InputError, match="did you mean 'degC'"):
        parse_unit("degCC")


@pytest.mark.parametrize(
    ("source", "target"),
    [
        ("degC", "delta_degC"), ("degF", "delta_degC"), ("mm", "m"), ("W m-2", "MJ m-2"),
        ("kPa", "mm"), ("degC", "degC d"),
    ],
)  # fmt: skip
def test_units_of_different_kinds_do_not_convert(source: str, target: str) -> None:
    with pytest.raises(InputError, match="cannot be turned into"):
        convert(1.0, source, target)


def test_a_number_stays_a_float_and_an_array_an_array() -> None:
    assert isinstance(convert(1, "in", "mm"), float)
    given = np.array([[1.0, np.nan]])
    converted = convert(given, "in", "mm")
    assert converted.shape == (1, 2)
    assert np.isnan(converted[0, 1])
    same = convert(given, "mm", "mm")
    same[0, 0] = 9.0
    assert given[0, 0] == 1.0


def test_every_unit_reads_back_from_its_own_name() -> None:
    assert all(parse_unit(name) == unit for name, unit in UNITS.items())
