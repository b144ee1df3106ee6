"""Steady films without soil: roots of the published terms, found by scipy.optimize.brentq.

Wind conductance 6 + 5 u; sky by Brutsaert (1975) at 2.0 kPa; Stefan-Boltzmann. Two worked values
were computed beforehand by other code: 60.6 degC by day, 4.67 degC by night; tolerance 0.1 degC,
their last digit.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from phenocast.crown import FILM_SURFACE
from phenocast.crown.atmosphere import clear_sky_emissivity
from tests.crown.bedside import SIGMA, record, run, weather


def root(absorbed, emittance, sky, air, wind):
    return brentq(
        lambda t: (
            absorbed + emittance * (sky - SIGMA * (t + 273.15) ** 4) + (6 + 5 * wind) * (air - t)
        ),
        -60,
        120,
        xtol=1e-12,
    )


def film_alone(**changes):
    return record(
        contact_conductance=0.0, longwave_transmittance=0.0, solar_transmittance=0.0, **changes
    )


def test_black_film_in_hot_sun():
    sky = float(clear_sky_emissivity(np.array(30.0), np.array(2.0))) * SIGMA * 303.15**4
    out, _ = run(
        weather(6, air=30.0, wind=2.0, solar=800.0, sky=sky),
        film_alone(solar_reflectance=0.05, longwave_emittance=0.90),
    )
    assert out[FILM_SURFACE, -1] == pytest.approx(60.6, abs=0.1)
    assert out[FILM_SURFACE, -1] == pytest.approx(root(760.0, 0.9, sky, 30.0, 2.0), abs=1e-6)


def test_film_on_a_clear_night():
    # 10 degC, 0.9 kPa, 1 m/s, without the damping of the wind by cold air, as the worked value.
    sky = float(clear_sky_emissivity(np.array(10.0), np.array(0.9))) * SIGMA * 283.15**4
    out, _ = run(weather(6, air=10.0, wind=1.0, sky=sky), film_alone(longwave_emittance=0.95))
    assert out[FILM_SURFACE, -1] == pytest.approx(4.67, abs=0.1)
    assert out[FILM_SURFACE, -1] == pytest.approx(root(0.0, 0.95, sky, 10.0, 1.0), abs=1e-6)


def test_cold_air_on_the_film_deepens_the_night_and_never_below_still_air():
    sky = float(clear_sky_emissivity(np.array(10.0), np.array(0.9))) * SIGMA * 283.15**4
    bed = film_alone(longwave_emittance=0.95, wind_stable=0.5, stable_damping=4.7)
    out, _ = run(weather(24, air=10.0, wind=1.0, sky=sky), bed, steps=8)
    # Louis (1979), stable side: (1 + 4.7 Ri)^-2 with Ri = g z dT / (T u^2) at z 2 m.
    expected = brentq(
        lambda t: (
            0.95 * (sky - SIGMA * (t + 273.15) ** 4)
            + (0.5 + 5.0 / (1 + 4.7 * 9.81 * 2 * (10 - t) / 283.15) ** 2) * (10 - t)
        ),
        -60,
        10,
        xtol=1e-12,
    )
    assert out[FILM_SURFACE, -1] == pytest.approx(expected, abs=1e-6)
    assert out[FILM_SURFACE, -1] < 4.67
