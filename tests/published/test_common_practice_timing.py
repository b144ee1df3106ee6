"""Rules of thumb of the trade for the date of first pick. Common practice, no source.

* October plants without buds in the mild south of Iberia (37 N; monthly means October 19,
  November 15, December 12, January 11 degC, recalled from memory) are first picked between
  mid-December and late January, the early cultivars first (press reports read).
* In a warm winter district, fresh-dug plants of early October are first picked after about seven
  weeks; the progress of the bare-root truss was tuned to this one (45 to 55 days), so it is no
  check.
* Autumn plantings of the inland south-east of the United States (36 N) are picked in one flush
  from mid-April to early June.
* Reflective film pays the more, the earlier the planting and the more heat-tender the cultivar.
* More fruit, not bigger plants, makes the yield: r about .8 between number and yield.
"""

from datetime import date, timedelta

import numpy as np
import pytest

from phenocast.harvest import grow
from phenocast.parameters import cultivars
from phenocast.phenology.daily import FLOWER_MIN
from tests.phenology.chamber import plant_of
from tests.phenology.climates import climate_days, day_of
from tests.phenology.stations import season_at

IBERIA_C = [11.0, 12.0, 14.0, 16.0, 19.0, 23.0, 26.0, 26.0, 23.5, 19.0, 15.0, 12.0]


@pytest.mark.parametrize("planting", [date(2025, 10, 5), date(2025, 10, 15), date(2025, 10, 25)])
@pytest.mark.parametrize("tunnel", [False, True])
def test_unconditioned_october_plants_in_the_mild_south_of_iberia(planting, tunnel):
    own = cultivars()["Marl"]
    warmer = {"warmer_day_c": 5.0, "warmer_night_c": 2.0} if tunnel else {}
    days = climate_days(IBERIA_C, 10.0, 37.2, planting, 200, own, crown_above_c=2.0, **warmer)
    pick = day_of(planting, grow(days, plant_of("Marl", "plug")).first_pick)
    assert date(2025, 12, 15) <= pick <= date(2026, 1, 25)


def test_the_early_cultivar_is_picked_first():
    planting = date(2025, 10, 15)
    dates = []
    for name in ("Marl", "Basalt"):
        days = climate_days(
            IBERIA_C, 10.0, 37.2, planting, 200, cultivars()[name], crown_above_c=2.0
        )
        dates.append(grow(days, plant_of(name, "plug")).first_pick)
    assert dates[0] < dates[1]


def test_fresh_dug_plants_in_a_warm_winter():
    # tuned, not a check
    season = season_at("Miami", date(2025, 10, 10), transplant="bare-root")
    assert 45.0 <= season.plant.first_pick <= 55.0


@pytest.fixture(scope="module")
def cold_winter():
    """Greensboro, planted 1 October; frost kept off the flowers from mid-February, as covers do."""
    days = season_at("Greensboro", date(2025, 10, 1)).daily.copy()
    days[FLOWER_MIN, 140:] = np.maximum(days[FLOWER_MIN, 140:], 1.0)
    return days


def test_a_cold_winter_ends_in_one_spring_flush(cold_winter):
    season = grow(cold_winter, plant_of("Basalt", "plug"))
    first = date(2025, 10, 1) + timedelta(days=season.first_pick)
    assert date(2026, 4, 10) <= first <= date(2026, 5, 10)
    share = np.cumsum(season.ripe_g) / season.ripe_g.sum()
    days = np.interp([0.05, 0.95], share, np.arange(season.n_days))
    assert 14.0 <= days[1] - days[0] <= 42.0
    assert season.resting_share[-1] > 0.99


def test_a_warm_winter_crops_all_through():
    season = season_at("Miami", date(2025, 10, 10), cultivar="Gneiss").plant
    assert season.resting_share[-1] < 0.01
    share = np.cumsum(season.ripe_g) / season.ripe_g.sum()
    days = np.interp([0.05, 0.95], share, np.arange(season.n_days))
    assert days[1] - days[0] > 80.0


def _gain(cultivar, planting):
    early = [
        season_at("Miami", planting, cultivar=cultivar, film=film, transplant="bare-root", days=150)
        .plant.marketable_g[:120]
        .sum()
        for film in ("black", "metallised-striped")
    ]
    return early[1] / early[0] - 1.0


@pytest.fixture(scope="module")
def gains():
    return {
        (cultivar, day): _gain(cultivar, day)
        for cultivar in ("Marl", "Gneiss")
        for day in (date(2025, 9, 20), date(2025, 10, 10), date(2025, 11, 1))
    }


@pytest.mark.parametrize("cultivar", ["Marl", "Gneiss"])
def test_reflective_film_gains_more_in_earlier_plantings(gains, cultivar):
    by_day = [gains[cultivar, d] for d in sorted({day for _, day in gains})]
    assert by_day == sorted(by_day, reverse=True)


def test_reflective_film_gains_more_in_the_tender_cultivar(gains):
    for day in (date(2025, 9, 20), date(2025, 10, 10)):
        assert gains["Marl", day] > gains["Gneiss", day]


def test_little_is_left_to_gain_in_november(gains):
    # "mainly before about 10 October": less than a tenth of early fruit is left by November
    assert all(abs(gains[c, date(2025, 11, 1)]) < 0.10 for c in ("Marl", "Gneiss"))


def test_yield_goes_with_the_number_of_fruit():
    number, mass = [], []
    for film in ("black", "white-on-black", "metallised-striped"):
        for day in (date(2025, 9, 20), date(2025, 10, 10), date(2025, 11, 1)):
            for cultivar in ("Marl", "Gneiss"):
                plant = season_at(
                    "Miami", day, cultivar=cultivar, film=film, transplant="bare-root", days=230
                ).plant
                number.append(plant.ripe_fruit.sum())
                mass.append(plant.marketable_g.sum())
    assert np.corrcoef(number, mass)[0, 1] > 0.6
