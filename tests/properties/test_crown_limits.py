"""Limiting cases of the film's energy balance: what must hold whatever the numbers.

Cases 12 and 13, exact waves of a half-space, are in tests/published/test_conduction_analytic.py.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from phenocast.crown import AIR_ABOVE_FILM, CROWN, FILM_SURFACE, SOIL_5CM, SOIL_10CM, starting_state
from phenocast.crown.film import mixing_weight
from phenocast.crown.soil import LAYER_THICKNESS_M
from phenocast.crown.sprinkling import saturation_kpa, wet_bulb_c
from phenocast.parameters import bed, films, soils
from tests.crown.bedside import SIGMA, record, run, weather

optics = st.fixed_dictionaries(
    {
        "solar_reflectance": st.floats(0.0, 0.9),
        "longwave_emittance": st.floats(0.05, 0.95),
        "contact_conductance": st.floats(5.0, 100.0),
        "wind_calm": st.floats(3.0, 9.0),
        "wind_slope": st.floats(3.0, 7.0),
    }
)
air = st.floats(-5.0, 40.0)
sun = st.floats(1.0, 1100.0)


def opaque(**changes):
    return record(solar_transmittance=0.0, longwave_transmittance=0.0, **changes)


def clear_days(days, seed=3):
    """Hours of changing weather: sun by day, a sky 70 W m-2 short of black, gusts."""
    rng = np.random.default_rng(seed)
    n = 24 * days
    hour = np.arange(n) % 24
    t = 20 + 6 * np.sin(2 * np.pi * (hour - 9) / 24) + rng.normal(0, 1, n)
    solar = np.maximum(0, 800 * np.sin(np.pi * (hour - 6) / 12)) * rng.uniform(0.3, 1, n)
    return weather(
        n,
        air=t,
        solar=solar,
        wind=rng.uniform(0.2, 6, n),
        deep=20.0,
        sky=SIGMA * (t + 273.15) ** 4 - 70 * rng.uniform(0.5, 1, n),
    )


# Case 1
@given(optics, air, st.floats(0.0, 8.0))
def test_without_any_flux_everything_stays_at_air_temperature(film, t, wind):
    hours = weather(72, air=t, wind=wind)
    out, _ = run(hours, record(**film))
    assert out == pytest.approx(np.full_like(out, t), abs=1e-9)


# Case 2
@given(optics, air, st.floats(0.5, 8.0))
def test_under_a_clear_night_sky_the_film_is_colder_than_air_and_bounds_the_crown(film, t, wind):
    sky = 0.75 * SIGMA * (t + 273.15) ** 4
    hours = weather(48, air=t, wind=wind, sky=sky, deep=t)
    out, state = run(hours, record(**film))
    assert np.all(out[FILM_SURFACE] < t)
    seen = t + (sky - SIGMA * (t + 273.15) ** 4) / (4 * SIGMA * (t + 273.15) ** 3)
    assert np.all(out[CROWN] >= np.minimum(out[FILM_SURFACE], seen) - 1e-9)
    assert np.all(out[CROWN] <= t + 1e-9)
    assert state[0, 0] < t


def test_a_crown_held_by_soil_alone_is_at_soil_temperature_and_by_air_alone_at_air():
    hours = clear_days(3)
    soil, state = run(
        hours, record(crown_soil_weight=1.0, crown_radiant_weight=0.0, crown_solar_gain=0.0)
    )
    assert soil[CROWN, -1] == pytest.approx(state[0, 0], abs=1e-9)
    in_air, _ = run(
        hours,
        record(
            crown_soil_weight=0.0,
            crown_radiant_weight=0.0,
            crown_solar_gain=0.0,
            air_above_share=0.0,
        ),
    )
    assert in_air[CROWN] == pytest.approx(hours["air"], abs=1e-9)


# Case 3
@given(air, sun)
def test_a_film_that_takes_up_nothing_leaves_the_soil_at_the_air_whatever_the_sun(t, solar):
    bed_ = opaque(solar_reflectance=1.0, crown_solar_gain=0.0)
    out, _ = run(weather(48, air=t, solar=solar), bed_)
    assert out == pytest.approx(np.full_like(out, t), abs=1e-9)


# Case 4
@given(optics, air, sun)
def test_a_gale_brings_every_film_to_air_temperature(film, t, solar):
    hours = weather(48, air=t, solar=solar, sky=0.7 * SIGMA * (t + 273.15) ** 4)
    out, _ = run(hours, record(**{**film, "wind_slope": 1e7}), steps=4)
    assert out[FILM_SURFACE] == pytest.approx(np.full(48, t), abs=1e-3)


# Case 5
def test_soil_without_contact_keeps_its_heat():
    hours = clear_days(20)
    bed_ = opaque(contact_conductance=1e-12, deep_contact=0.0)
    start = starting_state(hours["air"], 15.0)
    start[:, :3] = (30.0, 20.0, 10.0)
    _, state = run(hours, bed_, state=start)
    thick = np.array(LAYER_THICKNESS_M)
    assert thick @ state[0, :3] == pytest.approx(thick @ start[0, :3], rel=1e-10)
    assert np.ptp(state[0, :3]) < 1.0


# Case 6
@given(optics, air, sun)
def test_under_a_closed_black_canopy_the_film_is_at_air_temperature_whatever_its_colour(
    film, t, solar
):
    hours = weather(24, air=t, solar=solar, cover=1.0, sky=0.7 * SIGMA * (t + 273.15) ** 4)
    shut = {**film, "canopy_interception": 1.0}
    out, _ = run(hours, opaque(**shut, leaf_emittance=1.0))
    assert out[FILM_SURFACE] == pytest.approx(np.full(24, t), abs=1e-9)
    grey, _ = run(hours, opaque(**shut, leaf_emittance=0.97))
    other, _ = run(hours, opaque(**{**shut, "solar_reflectance": 0.5}, leaf_emittance=0.97))
    assert np.all(np.abs(grey[FILM_SURFACE] - t) < 1.5)
    assert grey[FILM_SURFACE] == pytest.approx(other[FILM_SURFACE], abs=1e-9)


# Case 7
@given(optics, air, sun, st.floats(0.0, 6.0))
def test_in_steady_weather_film_and_soil_meet_at_the_root_of_the_film_balance(film, t, solar, wind):
    sky = 0.8 * SIGMA * (t + 273.15) ** 4
    hours = weather(24 * 250, air=t, wind=wind, solar=solar, sky=sky)
    bed_ = opaque(**film, deep_contact=0.0)
    out, state = run(hours, bed_, steps=5)
    tm = out[FILM_SURFACE, -1]
    assert state[0, :3] == pytest.approx(np.full(3, tm), abs=1e-6)
    h = film["wind_calm"] + film["wind_slope"] * wind
    eps = film["longwave_emittance"]
    residual = (
        (1 - film["solar_reflectance"]) * solar
        + eps * (sky - SIGMA * (tm + 273.15) ** 4)
        + h * (t - tm)
    )
    assert abs(residual) < 1e-6


# Case 8
@given(optics, st.integers(0, 1000))
def test_each_hour_the_column_gains_exactly_what_its_surface_took_and_the_bottom_lost(film, seed):
    hours = clear_days(3, seed)
    bed_ = record(**film)
    k, c = bed_.conductivity, bed_.heat_capacity
    thick = np.array(LAYER_THICKNESS_M)
    to_deep = k / (0.22 + bed_.deep_distance)
    state = starting_state(hours["air"], 20.0)
    for i in range(hours["air"].size):
        hour = {name: values[i : i + 1] for name, values in hours.items()}
        before = state[0, :3].copy()
        _, state = run(hour, bed_, state=state, steps=6)
        after, tm, ts = state[0, :3], state[0, 3], state[0, 4]
        gained = c * thick @ (after - before)
        into = k / 0.02 * (ts - after[0])
        out_of = to_deep * (after[2] - 20.0)
        turned_over = c * thick @ np.abs(after - before) + 3600 * (abs(into) + abs(out_of))
        assert abs(gained - 3600 * (into - out_of)) < 1e-10 * max(turned_over, c * thick.sum())
        # and film and surface balance
        sky, sun_, ta = hour["sky"][0], hour["solar"][0], hour["air"][0]
        h = bed_.wind_calm + bed_.wind_slope * hour["wind"][0]
        film_gap = (
            (1 - bed_.solar_reflectance - 0.01) * sun_
            + bed_.longwave_emittance * (sky - SIGMA * (tm + 273.15) ** 4)
            + h * (ta - tm)
            + bed_.contact_conductance * (ts - tm)
        )
        assert abs(film_gap) < 1e-6


def test_the_usual_newton_steps_are_enough():
    hours = clear_days(60)
    bed_ = record(wind_stable=0.5, stable_damping=4.7)
    usual, _ = run(hours, bed_)
    many, _ = run(hours, bed_, steps=9)
    assert np.abs(usual - many).max() < 0.001


# Case 9
@given(optics, air, sun, st.floats(0.5, 5.0), st.floats(0.02, 0.1))
def test_more_absorbed_sun_warms_wind_pulls_to_air_and_emittance_cools_the_night(
    film, t, solar, wind, more
):
    day = weather(24, air=t, solar=solar, wind=wind)
    base, _ = run(day, opaque(**film))
    darker, _ = run(
        day,
        opaque(
            **{
                **film,
                "solar_reflectance": film["solar_reflectance"] - more * film["solar_reflectance"],
            }
        ),
    )
    if film["solar_reflectance"] > 0.01:
        assert np.all(darker[FILM_SURFACE] > base[FILM_SURFACE])
        assert darker[SOIL_10CM].max() > base[SOIL_10CM].max()
    windier, _ = run({**day, "wind": day["wind"] + 1.0}, opaque(**film))
    assert np.all(np.abs(windier[FILM_SURFACE] - t) < np.abs(base[FILM_SURFACE] - t) + 1e-12)
    night = weather(24, air=t, wind=wind, sky=0.75 * SIGMA * (t + 273.15) ** 4)
    dull, _ = run(night, opaque(**film))
    glossy, _ = run(
        night, opaque(**{**film, "longwave_emittance": film["longwave_emittance"] + 0.05})
    )
    assert np.all(glossy[FILM_SURFACE] < dull[FILM_SURFACE])


# Case 10
@given(optics, st.floats(10.0, 500.0))
def test_without_radiation_of_its_own_a_film_answers_the_sun_in_proportion(film, solar):
    bed_ = opaque(**{**film, "longwave_emittance": 0.0})
    one, _ = run(weather(48, solar=solar), bed_)
    two, _ = run(weather(48, solar=2 * solar), bed_)
    assert two - 20.0 == pytest.approx(2 * (one - 20.0), rel=1e-9, abs=1e-9)


# Case 11
@given(st.floats(5.0, 40.0), st.floats(0.1, 0.95))
def test_a_wet_film_alone_with_the_air_is_at_the_wet_bulb(t, humidity):
    vapour = humidity * saturation_kpa(t)
    bed_ = opaque(contact_conductance=0.0, longwave_emittance=0.0, surface_wetness=1.0)
    out, _ = run(weather(48, air=t, vapour=vapour), bed_, steps=8)
    assert out[FILM_SURFACE, -1] == pytest.approx(wet_bulb_c(t, vapour), abs=1e-6)


# Case 14
def test_a_stripe_of_no_width_is_shoulder_and_a_very_wide_one_is_stripe():
    hours = clear_days(4)
    white = {"solar_reflectance": 0.5}
    shoulder = {
        f"shoulder_{name}": value
        for name, value in {
            "solar_reflectance": 0.04,
            "solar_transmittance": 0.01,
            "longwave_emittance": 0.85,
            "longwave_transmittance": 0.1,
        }.items()
    }
    for width, same in ((0.0, {}), (1e6, white)):
        weights = {
            "weight_top": float(mixing_weight(width, 0.02, 0.0, 0.1)),
            "weight_10cm": float(mixing_weight(width, 0.10, 0.0, 0.1)),
        }
        mixed, _ = run(hours, record(striped=1.0, **white, **shoulder, **weights))
        alone, _ = run(hours, record(**same))
        assert mixed[SOIL_10CM] == pytest.approx(alone[SOIL_10CM], abs=1e-5)
        assert mixed[SOIL_5CM] == pytest.approx(alone[SOIL_5CM], abs=1e-5)


# Case 15
def test_a_warmer_world_without_radiation_is_the_same_world_shifted():
    hours = clear_days(5)
    bed_ = opaque(longwave_emittance=0.0, crown_radiant_weight=0.0)
    here, _ = run(hours, bed_)
    warm = {**hours, "air": hours["air"] + 7.0, "deep": hours["deep"] + 7.0}
    start = starting_state(warm["air"], warm["deep"][0])
    there, _ = run(warm, bed_, state=start)
    assert there - here == pytest.approx(np.full_like(here, 7.0), abs=1e-9)


@pytest.mark.parametrize("name", ["air", "wind", "solar", "sky", "cover"])
def test_a_missing_hour_makes_all_later_hours_missing_and_no_earlier_one(name):
    hours = clear_days(4)
    start = starting_state(hours["air"], hours["deep"][0])
    hours[name][40] = np.nan
    out, _ = run(hours, record(), state=start)
    assert np.all(np.isfinite(out[:, :40]))
    assert np.all(np.isnan(out[CROWN, 40:]))


# Case 16
def test_by_day_the_films_rank_by_what_they_absorb():
    from phenocast.crown import bed_records

    hours = clear_days(10)
    noon = (np.arange(240) % 24 >= 10) & (np.arange(240) % 24 < 15)
    means = [
        run(hours, bed_records(films()[name], bed(), soils()["sandy loam"])[0])[0][
            FILM_SURFACE, noon
        ].mean()
        for name in ("black", "silver", "white-on-black")
    ]
    assert means[0] > means[1] + 2.0 > means[2] + 2.0


def test_a_run_cut_in_two_is_the_run_in_one():
    hours = clear_days(6)
    bed_ = record(wind_stable=0.5, stable_damping=4.7)
    hours["sprinkling"][60:66] = 3.0
    whole, _ = run(hours, bed_)
    first, state = run(
        {k: v[:63] for k, v in hours.items()},
        bed_,
        state=starting_state(hours["air"], hours["deep"][0]),
    )
    second, _ = run({k: v[63:] for k, v in hours.items()}, bed_, state=state)
    assert np.array_equal(np.hstack([first, second]), whole)


@given(air, st.floats(0.0, 10.0), st.floats(0.0, 10.0), st.floats(0.5, 0.95))
def test_wind_never_cools_a_night_film_even_where_cold_air_shuts_it_out(t, wind, more, emissivity):
    bed_ = opaque(wind_stable=0.5, stable_damping=4.7)
    sky = emissivity * SIGMA * (t + 273.15) ** 4
    still, _ = run(weather(24, air=t, wind=wind, sky=sky), bed_, steps=8)
    windy, _ = run(weather(24, air=t, wind=wind + more, sky=sky), bed_, steps=8)
    assert np.all(windy[FILM_SURFACE] >= still[FILM_SURFACE] - 1e-6)
    assert np.all(windy[AIR_ABOVE_FILM] <= t + 1e-9)
