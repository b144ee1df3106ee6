"""Psychrometric equation: e_s(Tw) - e = gamma (T - Tw) with gamma 0.066 kPa K-1.

Saturation: FAO Irrigation and Drainage Paper 56 (1998), eq. 11; its annex gives 2.338 kPa at 20
and 4.243 kPa at 30 degC (recalled from memory). The wet bulb at 30 degC and 50 % is 22.02 degC,
root found by hand.
"""

from __future__ import annotations

import pytest

from phenocast.crown import FILM_SURFACE
from phenocast.crown.sprinkling import saturation_kpa, wet_bulb_c
from tests.crown.bedside import record, run, weather


def test_saturation_pressure():
    # Tolerance: last digit of the annex, two units.
    assert saturation_kpa(20.0) == pytest.approx(2.338, abs=0.002)
    assert saturation_kpa(30.0) == pytest.approx(4.243, abs=0.002)


def test_wet_bulb():
    assert wet_bulb_c(30.0, 0.5 * saturation_kpa(30.0)) == pytest.approx(22.02, abs=0.05)


def test_a_sprinkled_film_alone_with_the_air_is_at_the_wet_bulb():
    bed = record(contact_conductance=0.0, longwave_emittance=0.0, longwave_transmittance=0.0)
    hours = weather(12, air=30.0, vapour=0.5 * saturation_kpa(30.0), sprinkling=4.0)
    out, _ = run(hours, bed)
    assert out[FILM_SURFACE, -1] == pytest.approx(22.02, abs=0.05)
