"""Overhead water against frost: enough of it holds flowers at 0 degC, too little cools them."""

from dataclasses import replace

import numpy as np
import pytest

from phenocast.crown import flower_temperature
from phenocast.crown.frost_protection import LEAF_F, water_needed_mm_h, watered_flower
from phenocast.parameters import bed, frost
from phenocast.season import FrostProtection
from phenocast.weather.humidity import saturation_vapour_pressure
from tests.crown.test_shelter_and_flower import night

ALWAYS = np.ones(24, dtype=bool)
NOON = 12


def cold(**more):
    """A night of 24 h whose dry flowers lie near -4 degC."""
    return night(24, **{"air_c": -1.0, "vapour_pressure_kpa": 0.5, "wind_m_s": 0.3,
                        "longwave_down_w_m2": 225.0, **more})  # fmt: skip


def watered(forcing, ready=ALWAYS, **stated):
    dry = flower_temperature(forcing, bed())
    told = FrostProtection("overhead-water", **stated)
    return dry, watered_flower(dry, forcing, bed(), told, ready, NOON)


@pytest.mark.parametrize(
    ("leaf_f", "mph", "inches"),
    [(27, 0, 0.10), (24, 4, 0.16), (22, 8, 0.50), (20, 1, 0.16), (15, 8, 0.90)],
)
def test_the_rates_are_those_of_the_table(leaf_f, mph, inches):
    # Gerber and Martsolf (1965), recalled from memory; rounded to hundredths of an inch.
    needed = water_needed_mm_h([(leaf_f - 32) / 1.8], [0.447 * mph])
    assert needed == pytest.approx([25.4 * inches], abs=0.01)


def test_between_the_rows_rates_are_read_and_beyond_them_none_is_enough():
    middle = ((24 + 22) / 2 - 32) / 1.8
    assert water_needed_mm_h([middle], [3.0]) == pytest.approx([25.4 * 0.40], abs=0.02)
    coldest = (LEAF_F[-1] - 32) / 1.8
    assert np.all(np.isinf(water_needed_mm_h([coldest - 0.1, -3.0], [0.0, 4.0])))


def test_enough_water_holds_flowers_at_the_melting_point():
    dry, flower = watered(cold(), rate_mm_h=4.0)
    assert dry.max() < -3.0
    assert np.array_equal(flower, np.zeros(24))


def test_a_wet_flower_in_dry_wind_is_colder_than_a_dry_one_by_the_psychrometric_equation():
    # Without longwave loss a wet body in wind is at the wet bulb. By hand: air 2 degC, 0.3 kPa:
    # e_s(Tw) - 0.3 = 0.066 (2 - Tw); Tw = -2.0 gives 0.5275 - 0.3 = 0.2275 against 0.264, and
    # Tw = -1.5 gives 0.5474 - 0.3 = 0.2474 against 0.231: Tw = -1.67.
    even = night(air_c=2.0, vapour_pressure_kpa=0.3, wind_m_s=60.0,
                 longwave_down_w_m2=5.670374e-8 * 275.15**4)  # fmt: skip
    assert flower_temperature(even, bed()) == pytest.approx(np.full(4, 2.0), abs=1e-9)
    assert flower_temperature(even, bed(), wet=True) == pytest.approx(np.full(4, -1.67), abs=0.2)


def test_dew_does_not_cool():
    forcing = cold(vapour_pressure_kpa=float(saturation_vapour_pressure(-1.0)))
    assert np.all(flower_temperature(forcing, bed(), wet=True) > flower_temperature(forcing, bed()))
    dry, flower = watered(forcing, rate_mm_h=0.5)
    assert np.array_equal(flower, dry)


@pytest.mark.parametrize(
    "stated",
    [{"rate_mm_h": 1.0}, {"rate_mm_h": 9.0, "max_wind_m_s": 0.2},
     {"rate_mm_h": 9.0, "down_to_c": -2.0}],
)  # fmt: skip
def test_outside_its_limits_water_is_worse_than_none_in_dry_air(stated):
    dry, flower = watered(cold(vapour_pressure_kpa=0.25), **stated)
    assert np.all(flower < dry - 0.5)


def test_dry_air_and_wind_ask_for_more_water():
    forcing = cold(vapour_pressure_kpa=0.25)
    assert watered(cold(), rate_mm_h=3.5)[1].min() == 0.0
    assert watered(forcing, rate_mm_h=3.5)[1].min() < -4.0
    assert watered(forcing, rate_mm_h=6.0)[1].min() == 0.0
    assert watered(cold(wind_m_s=1.0), rate_mm_h=3.5)[1].min() < -4.0


def test_an_early_stop_leaves_wet_flowers_to_the_wind():
    # The wind rises above what the block states at 3 in the morning; the water was enough before.
    calm = cold(vapour_pressure_kpa=0.25)
    wind = np.where(np.arange(24) < 3, 0.3, 2.0)
    forcing = replace(calm, wind_m_s=wind)
    dry, flower = watered(forcing, rate_mm_h=9.0, max_wind_m_s=1.0)
    assert np.array_equal(flower[:3], np.zeros(3))
    assert np.all(flower[3:] < dry[3:] - 0.5)


def test_no_water_runs_in_a_night_without_frost_or_when_it_does_not_stand_ready():
    mild = cold(air_c=4.0, vapour_pressure_kpa=0.2, longwave_down_w_m2=300.0)
    dry, flower = watered(mild, rate_mm_h=1.0)
    assert dry.min() > 0.0
    assert flower_temperature(mild, bed(), wet=True).max() < frost().value("water_runs_below")
    assert np.array_equal(flower, dry)
    dry, flower = watered(cold(), ready=~ALWAYS, rate_mm_h=9.0)
    assert np.array_equal(flower, dry)
