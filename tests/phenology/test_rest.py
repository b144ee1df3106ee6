"""Winter rest: cold short days bring it on, chill or longer days end it, a mild winter has none."""

from datetime import date

import numpy as np
import pytest

from phenocast.harvest import grow
from phenocast.parameters import cultivars
from phenocast.phenology.daily import CHILL, FLOWER_MIN
from tests.phenology.chamber import chamber, plant_of
from tests.phenology.climates import climate_days

COLD_C = [3.0, 4.0, 9.0, 14.0, 19.0, 23.0, 26.0, 25.0, 21.0, 14.5, 9.0, 4.5]
PLANTING = date(2025, 10, 1)


@pytest.fixture(scope="module")
def cold():
    days = climate_days(COLD_C, 9.0, 36.0, PLANTING, 300, cultivars()["Basalt"], crown_above_c=2.0)
    # sine days have no cold nights: winter takes what opens in it, and the spring is spared
    days[FLOWER_MIN, 60:140] = -8.0
    days[FLOWER_MIN, 140:] = 5.0
    return days


def _weeks_of_crop(season):
    share = np.cumsum(season.ripe_fruit) / season.ripe_fruit.sum()
    days = np.interp([0.05, 0.95], share, np.arange(season.n_days))
    return (days[1] - days[0]) / 7.0


def test_one_flush_with_rest_and_a_long_crop_without(cold):
    rested = grow(cold, plant_of("Basalt", "plug"))
    mild = cold.copy()
    mild[CHILL] = 0.0
    awake = grow(mild, plant_of("Basalt", "plug"))
    assert np.isfinite(rested.rest_release)
    assert np.isinf(awake.rest_release)
    assert _weeks_of_crop(rested) < 6.0
    assert _weeks_of_crop(awake) > 1.5 * _weeks_of_crop(rested)


def test_short_day_types_form_no_flowers_in_spring_after_rest(cold):
    season = grow(cold, plant_of("Basalt", "plug"))
    after = int(season.rest_release) + 1
    assert season.flowers_initiated[after : after + 90].sum() < 0.01


def test_day_neutral_types_do(cold):
    season = grow(cold, plant_of("Tuff", "plug"))
    after = int(season.rest_release) + 1
    assert season.flowers_initiated[after:].sum() > 3.0


def test_more_chill_ends_rest_sooner(cold):
    colder = cold.copy()
    colder[CHILL] = np.minimum(cold[CHILL] * 1.3, 24.0)
    plant = plant_of("Basalt", "plug")
    assert grow(colder, plant).rest_release < grow(cold, plant).rest_release


def test_a_plant_short_of_chill_wakes_when_days_lengthen(cold):
    short = cold.copy()
    short[CHILL] *= 0.6
    release = grow(short, plant_of("Basalt", "plug")).rest_release
    assert date(2026, 2, 15).toordinal() < PLANTING.toordinal() + release
    assert PLANTING.toordinal() + release < date(2026, 4, 15).toordinal()


def test_plants_from_the_cold_store_have_rest_behind_them():
    season = chamber("Basalt", "cold-stored", 120, 15.0, 12.0)
    assert season.rest_release == 0.0
    assert np.isfinite(season.first_pick)
