"""Factors of units that no published table of `tests/test_units.py` covers, worked out by hand."""

from __future__ import annotations

import math

import pytest

from phenocast.units import convert, parse_unit, to_kept_digits

CASES = [
    # 1 kW is 1000 W; a MJ in an hour is 1e6 J / 3600 s, a kJ a thousandth of that
    (0.8, "kW m-2", "W m-2", 800.0),
    (3.6, "MJ m-2 h-1", "W m-2", 1000.0),
    (720.0, "kJ m-2 h-1", "W m-2", 200.0),
    # a Wh in an hour is a watt; in a day it is a 24th of one, a kWh 1000 / 24
    (450.0, "Wh m-2 h-1", "W m-2", 450.0),
    (450.0, "Wh m-2 h-1", "kJ m-2 h-1", 1620.0),
    (4800.0, "Wh m-2 d-1", "W m-2", 200.0),
    (4.8, "kWh m-2 d-1", "W m-2", 200.0),
    # a Wh is 3600 J, 0.0036 MJ; 1 J cm-2 is 10^4 J m-2; a thermochemical calorie is 4.184 J, so
    # 1 cal cm-2 is 41 840 J m-2, in a day 41 840 / 86 400 = 0.484 259 W
    (250.0, "Wh m-2", "MJ m-2", 0.9),
    (5.0, "kWh m-2", "MJ m-2", 18.0),
    (1500.0, "J cm-2", "MJ m-2", 15.0),
    (1500.0, "kJ m-2", "MJ m-2", 1.5),
    (2e6, "J m-2", "kJ m-2", 2000.0),
    (250.0, "cal cm-2", "MJ m-2", 10.46),
    (432.0, "cal cm-2 d-1", "W m-2", 209.2),
    (36.0, "km h-1", "m s-1", 10.0),
    (10.0, "ft s-1", "m s-1", 3.048),
    (2.0, "in h-1", "mm h-1", 50.8),
    (30.0, "cm", "m", 0.3),
    (1.2, "km", "m", 1200.0),
    (12.5, "%", "1", 0.125),
    (1.01325, "bar", "kPa", 101.325),
    (750.0, "mmHg", "kPa", 99.9918),  # 750 x 0.1333224
    (2.5, "t", "kg", 2500.0),
    (250.0, "g", "kg", 0.25),
    (2500.0, "m2", "ha", 0.25),
    (1.5, "d", "h", 36.0),
    (90.0, "min", "h", 1.5),
    (1800.0, "s", "h", 0.5),
    (48.0, "degC h", "degC d", 2.0),
    (90.0, "degF h", "degC h", 50.0),
    (9.0, "delta_degF", "delta_K", 5.0),
    # half a turn is pi radians and 180 degrees
    (3.141592653589793, "rad", "deg", 180.0),
    (45.0, "deg", "rad", 0.7853981633974483),
    (2.1, "MJ m-3 K-1", "J m-3 K-1", 2.1e6),
    (0.6, "kg plant-1", "g plant-1", 600.0),
    (2.0, "lb plant-1", "g plant-1", 907.18474),
    (10.0, "oz plant-1", "g plant-1", 283.49523125),
    (4.5, "plants m-2", "plants ha-1", 45_000.0),
    # an acre is 0.404 685 642 24 ha: 17 500 on it are 17 500 / 0.404 685 642 24 on a hectare
    (17_500.0, "plants acre-1", "plants ha-1", 43_243.441757),
    # thermometers: 300 K = 26.85 degC = 26.85 x 1.8 + 32 = 80.33 degF
    (300.0, "K", "degF", 80.33),
    (80.33, "degF", "K", 300.0),
    (10.0, "degC", "degF", 50.0),
]


@pytest.mark.parametrize(("value", "source", "target", "expected"), CASES)
def test_factors(value, source, target, expected):
    assert convert(value, source, target) == pytest.approx(expected, rel=1e-9)


def test_a_number_before_the_unit_scales_it():
    # 283 tenths of a degF: 28.3 degF = -3.7 / 1.8 degC; 12 hundredths of an inch: 3.048 mm
    assert convert(283.0, "tenths of degF", "degC") == pytest.approx(-2.0555555555555554)
    assert convert(12.0, "0.01 in", "mm") == pytest.approx(3.048)
    assert convert(12.0, "hundredths of an inch", "mm") == pytest.approx(3.048)


def test_ten_digits_of_a_number_are_kept():
    assert to_kept_digits(0.012345678912345) == 0.01234567891
    assert to_kept_digits(-98765.432198765) == -98765.4322
    assert math.copysign(1.0, to_kept_digits(-0.0)) == 1.0
    assert to_kept_digits(math.inf) is None


def test_a_unit_that_is_no_thermometer_begins_at_nothing():
    inch = parse_unit("in")
    assert (inch.factor, inch.offset) == (25.4, 0.0)
    freezing = parse_unit("degF")
    assert 32.0 * freezing.factor + freezing.offset == pytest.approx(0.0, abs=1e-12)
