"""ASCE-EWRI (2005), The ASCE Standardized Reference Evapotranspiration Equation, Appendix C.

Saturation vapour pressures of the appendix, read as the fixture of a public test suite that quotes
it. A second fixture (Fallon NV, 1 July 2015; read in the tests of another public library) checks
the sun of a day.
"""

from __future__ import annotations

import pytest

from phenocast.weather.humidity import saturation_vapour_pressure
from phenocast.weather.sun import (
    declination,
    extraterrestrial_daily,
    inverse_relative_distance,
)


def test_saturation_vapour_pressure_of_the_appendix():
    assert saturation_vapour_pressure([30.9, 13.2]) == pytest.approx([4.467, 1.517], abs=0.0011)


def test_fallon_nevada():
    assert inverse_relative_distance(182) == pytest.approx(0.9670012, abs=1e-6)
    assert declination(182) == pytest.approx(0.4029517, abs=1e-6)
    assert extraterrestrial_daily(39.4575, 182) == pytest.approx(41.64825, abs=2e-4)
