"""Conduction of heat in a half-space: exact solutions of the type of Carslaw and Jaeger (1959).

Conduction of Heat in Solids, 2nd ed., Oxford; recalled, and evaluated here with complex numbers
and scipy.special.erfc. The bed has three layers and an hourly step, so it can only come near; the
tolerances are what three layers are known to cost, and each test states it.

A finer step is had without touching the kernel: a step of 1/60 h is a step of 1 h in a soil of 60
times the heat capacity.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import erfc

from phenocast.crown import FILM_SURFACE, SOIL_10CM
from phenocast.crown.film import stripe_weight
from phenocast.crown.soil import damping_depth
from tests.crown.bedside import record, run, weather

K, C, U, S1 = 1.2, 2.2e6, 22.0, 300.0
OMEGA = 2 * np.pi / 86400.0


def wave(values, per_hour):
    """Amplitude and lag [h] behind a cosine of 24 h, from the last period."""
    n = 24 * per_hour
    last = values[-n:] - values[-n:].mean()
    phase = 2 * np.pi * np.arange(n) / n
    a, b = 2 * np.mean(last * np.cos(phase)), 2 * np.mean(last * np.sin(phase))
    return np.hypot(a, b), (np.arctan2(b, a) * 24 / (2 * np.pi)) % 24


def bed_under_a_cosine(contact, per_hour=1):
    n = 24 * per_hour * 40
    sun = S1 * (1 + np.cos(2 * np.pi * np.arange(n) / (24 * per_hour)))
    # An upward conductance U that knows neither radiation nor stability.
    bed = record(
        solar_reflectance=0.0,
        solar_transmittance=0.0,
        longwave_emittance=0.0,
        longwave_transmittance=0.0,
        contact_conductance=contact,
        wind_calm=U,
        wind_slope=0.0,
        conductivity=K,
        heat_capacity=C * per_hour,
        deep_contact=0.0,
    )
    out, _ = run(weather(n, solar=sun), bed)
    return wave(out[FILM_SURFACE], per_hour), wave(out[SOIL_10CM], per_hour)


def exact(contact):
    """Film, soil surface and 10 cm under S1 cos(wt): amplitude and lag [h]."""
    inner = np.sqrt(1j * OMEGA * K * C)
    seen = 1 / (1 / contact + 1 / inner)
    film = S1 / (U + seen)
    surface = film * contact / (contact + inner)
    ten = surface * np.exp(-0.10 * np.sqrt(1j * OMEGA * C / K))
    return [(abs(x), (-np.angle(x) / OMEGA / 3600) % 24) for x in (film, surface, ten)]


def three_layers(contact):
    """The same for the three layers in continuous time, by their complex conductances."""
    thick = (0.04, 0.12, 0.44)
    below = 1j * OMEGA * C * thick[2]
    below = 1j * OMEGA * C * thick[1] + 1 / (0.28 / K + 1 / below)
    second = below
    below = 1j * OMEGA * C * thick[0] + 1 / (0.08 / K + 1 / below)
    top = 1 / (1 / contact + 0.02 / K + 1 / below)
    film = S1 / (U + top)
    first = film * top / below
    ten = first / (1 + second * 0.08 / K)
    return [(abs(x), (-np.angle(x) / OMEGA / 3600) % 24) for x in (film, ten)]


def test_exact_waves_are_the_tabulated_ones():
    # Worked beforehand: perfect contact 9.02 and 1.14 h, at 10 cm 3.99 and 4.26 h; contact 20:
    # film 9.95, 0.51 h; soil surface 6.34, 1.72 h; 10 cm 2.80, 4.84 h. Tolerance: last digit.
    film, _, ten = exact(1e9)
    assert film == pytest.approx((9.02, 1.14), abs=0.01)
    assert ten == pytest.approx((3.99, 4.26), abs=0.01)
    film, surface, ten = exact(20.0)
    assert film == pytest.approx((9.95, 0.51), abs=0.01)
    assert surface == pytest.approx((6.34, 1.72), abs=0.01)
    assert ten == pytest.approx((2.80, 4.84), abs=0.01)


def test_small_steps_give_the_three_layers_of_continuous_time():
    # Worked beforehand: film 10.06, 0.48 h; 10 cm 3.04, 5.29 h. Tolerance 1 % and 0.05 h at a step
    # of one minute.
    expected_film, expected_ten = three_layers(20.0)
    assert expected_film == pytest.approx((10.06, 0.48), abs=0.02)
    assert expected_ten == pytest.approx((3.04, 5.29), abs=0.02)
    film, ten = bed_under_a_cosine(20.0, per_hour=60)
    assert film[0] == pytest.approx(expected_film[0], rel=0.01)
    assert film[1] == pytest.approx(expected_film[1], abs=0.05)
    assert ten[0] == pytest.approx(expected_ten[0], rel=0.01)
    assert ten[1] == pytest.approx(expected_ten[1], abs=0.05)


@pytest.mark.parametrize("contact", [20.0, 1e5])
def test_an_hourly_step_stays_near_the_exact_half_space(contact):
    # What three layers and one hour cost: film within 5 %, 10 cm within 10 % in amplitude, and the
    # wave at 10 cm at most three quarters of an hour late.
    film, _, ten = exact(contact)
    got_film, got_ten = bed_under_a_cosine(contact)
    assert got_film[0] == pytest.approx(film[0], rel=0.05)
    assert got_film[1] == pytest.approx(film[1], abs=0.25)
    assert got_ten[0] == pytest.approx(ten[0], rel=0.10)
    assert 0.0 < got_ten[1] - ten[1] < 0.75


def test_a_surface_wave_reaches_10_cm_as_in_the_half_space():
    # Forced surface: ratio exp(-z/D) and lag z/D. Worked for three layers at 1 h: ratio 0.437
    # (exact 0.442), lag 3.39 h (exact 3.12).
    depth = float(damping_depth(K, C))
    n = 24 * 40
    bed = record(
        solar_reflectance=0.0,
        solar_transmittance=0.0,
        longwave_emittance=0.0,
        longwave_transmittance=0.0,
        contact_conductance=1e5,
        wind_calm=1e7,
        wind_slope=0.0,
        conductivity=K,
        heat_capacity=C,
        deep_contact=0.0,
    )
    air = 20.0 + 10.0 * np.cos(2 * np.pi * np.arange(n) / 24)
    out, _ = run(weather(n, air=air), bed)
    amplitude, lag = wave(out[SOIL_10CM], 1)
    assert np.exp(-0.10 / depth) == pytest.approx(0.442, abs=0.002)
    assert amplitude / 10.0 == pytest.approx(0.442, rel=0.02)
    assert lag == pytest.approx(0.10 / depth * 24 / (2 * np.pi), abs=0.35)


def test_a_step_at_the_surface_reaches_10_cm_by_erfc():
    # kappa 5.4545e-7, 10 cm, 6 h: erfc(z / 2 sqrt(kappa t)) = 0.515.
    expected = erfc(0.10 / (2 * np.sqrt(K / C * 6 * 3600)))
    assert expected == pytest.approx(0.515, abs=0.001)
    bed = record(
        solar_reflectance=0.0,
        solar_transmittance=0.0,
        longwave_emittance=0.0,
        longwave_transmittance=0.0,
        contact_conductance=1e5,
        wind_calm=1e7,
        wind_slope=0.0,
        conductivity=K,
        heat_capacity=C * 60,
        deep_contact=0.0,
    )
    hours = weather(6 * 60, air=1.0)
    state = np.zeros((2, 6))
    out, _ = run(hours, bed, state=state)
    # Tolerance 0.04: a layer of 12 cm stands for its centre (0.01 on a fine grid).
    assert out[SOIL_10CM, -1] == pytest.approx(expected, abs=0.04)


def test_steady_strip_of_30_cm_at_10_cm():
    # (2/pi) atan(a/z) = 0.626; 15, 20 and 30 cm strips 0.41, 0.50, 0.63. Tolerance: last digit.
    assert stripe_weight(0.30, 0.10) == pytest.approx(0.626, abs=1e-3)
    assert stripe_weight(np.array([0.15, 0.20, 0.30]), 0.10) == pytest.approx(
        [0.41, 0.50, 0.63], abs=0.005
    )
    # Off the centre line: the same half-space solved on a grid by Laplace's equation.
    assert stripe_weight(0.40, 0.10, 0.15) == pytest.approx(
        _strip_by_fourier(0.2, 0.10, 0.15), abs=2e-3
    )


def _strip_by_fourier(half, depth, offset):
    """Strip in the half-space as an integral of decaying waves, by quadrature."""
    k = np.linspace(1e-6, 400.0, 400_001)
    f = 2 * np.sin(k * half) / k * np.exp(-k * depth) * np.cos(k * offset) / (2 * np.pi)
    return 2 * np.trapezoid(f, k)
