import numpy as np
import pytest

from phenocast.crown import CROWN, FILM_SURFACE, SOIL_5CM
from phenocast.crown.sprinkling import wet_bulb_c
from tests.crown.bedside import record, run, weather

HOUR = np.arange(96) % 24


def hot_days(**more):
    air = 25 + 6 * np.cos(2 * np.pi * (HOUR - 14) / 24)
    solar = np.maximum(0, 820 * np.sin(np.pi * (HOUR - 6) / 12))
    return weather(96, air=air, solar=solar, vapour=2.0, wind=1.5, sky=370.0, deep=26.0, **more)


def test_sprinkling_by_day_cools_film_crown_and_soil_toward_the_wet_bulb():
    dry, _ = run(hot_days(), record())
    wet, _ = run(hot_days(sprinkling=np.where((HOUR >= 10) & (HOUR < 16), 3.0, 0.0)), record())
    on = (HOUR >= 11) & (HOUR < 16)
    assert (dry - wet)[FILM_SURFACE, on].min() > 8.0
    assert (dry - wet)[CROWN, on].min() > 4.0
    assert (dry - wet)[SOIL_5CM, on].mean() > 4.0
    coldest = min(wet_bulb_c(t, 2.0) for t in hot_days()["air"])
    assert wet[FILM_SURFACE, on].min() > coldest
    # Before the water of the first day nothing differs.
    assert np.array_equal(dry[:, :10], wet[:, :10])


def test_the_film_dries_within_the_hour_after_the_water_stops_in_the_sun():
    water = np.where(HOUR == 12, 3.0, 0.0)
    _, before = run({k: v[:13] for k, v in hot_days(sprinkling=water).items()}, record())
    assert before[0, 5] == pytest.approx(0.2)
    _, after = run({k: v[:14] for k, v in hot_days(sprinkling=water).items()}, record())
    assert after[0, 5] == 0.0


def test_no_more_water_evaporates_than_was_there():
    # One hour, no soil, no radiation: latent heat is what the air gave, and equals the water held.
    bed = record(
        contact_conductance=0.0,
        longwave_emittance=0.0,
        longwave_transmittance=0.0,
        wind_calm=100.0,
        wind_slope=0.0,
    )
    hours = weather(1, air=35.0, vapour=1.0)
    state = np.zeros((2, 6))
    state[:, :5] = 35.0
    state[:, 5] = 0.05
    out, after = run(hours, bed, state=state, steps=8)
    latent = 100.0 * (35.0 - out[FILM_SURFACE, 0])
    assert latent == pytest.approx(0.05 * 2.45e6 / 3600, rel=1e-6)
    assert after[0, 5] == 0.0


def test_by_night_the_held_water_stays_and_no_dew_is_taken_for_drying():
    bed = record()
    hours = weather(6, air=15.0, vapour=1.7, sky=300.0, wind=0.5)
    state = np.full((2, 6), 15.0)
    state[:, 5] = 0.2
    _, after = run(hours, bed, state=state)
    assert 0.0 < after[0, 5] <= 0.2


def test_bare_soil_that_evaporates_is_cooler_than_dry_soil():
    bare = {
        "solar_reflectance": 0.15,
        "solar_transmittance": 0.0,
        "longwave_transmittance": 0.0,
        "longwave_emittance": 0.95,
        "contact_conductance": 1e5,
    }
    means = [
        run(hot_days(), record(**bare, surface_wetness=w))[0][SOIL_5CM].mean()
        for w in (0.0, 0.2, 0.8)
    ]
    assert means[0] > means[1] + 1.0 > means[2] + 2.0
