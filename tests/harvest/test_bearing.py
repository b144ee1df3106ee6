from datetime import date

import numpy as np
import pytest

from phenocast.errors import InputError
from phenocast.harvest import bear, grow
from phenocast.parameters import cultivars
from phenocast.phenology import develop, make_work
from phenocast.phenology.chamber import chamber_days
from phenocast.phenology.daily import AIR_HEAT_27, COVER, SOLAR
from phenocast.phenology.work import MARKETABLE_G, RIPE_FRUIT, RIPE_G
from phenocast.vector import lane_records
from tests.phenology.chamber import chamber, plant_of
from tests.phenology.stations import season_at

FREE = {"load_largest": 1e12, "size_decline": 0.0}


def test_ripening_spread_keeps_mass_and_mean_date():
    narrow, wide = (
        chamber("Basalt", "cold-stored", 200, 15.0, 16.0, plant={"ripening_spread": s})
        for s in (0.3, 6.0)
    )
    days = np.arange(200) + 0.5
    # a trace ripens within the spread of the season's end
    assert wide.ripe_g.sum() == pytest.approx(narrow.ripe_g.sum(), rel=1e-4)
    assert wide.ripe_g @ days / wide.ripe_g.sum() == pytest.approx(
        narrow.ripe_g @ days / narrow.ripe_g.sum(), abs=0.01
    )

    def variance(season):
        share = season.ripe_g / season.ripe_g.sum()
        return share @ days**2 - (share @ days) ** 2

    # a normal cut at three standard deviations has 0.9733 of its variance
    assert variance(wide) - variance(narrow) == pytest.approx(36.0 * 0.9733, rel=0.02)


def test_first_pick_is_where_the_threshold_is_passed():
    season = chamber("Basalt", "cold-stored", 150, 15.0, 16.0)
    running = np.concatenate([[0.0], np.cumsum(season.ripe_g)])
    assert np.interp(season.first_pick, np.arange(151), running) == pytest.approx(3.0)


def test_a_higher_threshold_is_later_and_may_not_be_reached():
    days = chamber_days(150, 15.0, 16.0, cultivar=cultivars()["Basalt"])
    plant = plant_of("Basalt", "cold-stored")
    dates = [grow(days, plant, g).first_pick for g in (0.5, 3.0, 20.0, 1e6)]
    assert dates[:3] == sorted(dates[:3])
    assert np.isinf(dates[3])


def test_threshold_must_be_above_zero():
    with pytest.raises(InputError, match="first_pick_g_per_plant"):
        grow(chamber_days(10, 15.0, 12.0), plant_of("Basalt", "plug"), 0.0)


def test_heat_window_reaches_from_twelve_days_before_to_a_day_after_anthesis():
    days = chamber_days(150, 15.0, 16.0, cultivar=cultivars()["Basalt"])
    plant = plant_of(
        "Basalt",
        "cold-stored",
        trusses_at_planting=1.0,
        rank2_share=0.0,
        rank3_share=0.0,
        rank1_share=1.0,
        **FREE,
    )
    calm = grow(days, plant)
    opening = int(calm.anthesis)

    def lost(day):
        hot = days.copy()
        hot[AIR_HEAT_27, day] = 200.0
        return 1.0 - grow(hot, plant).ripe_fruit.sum() / calm.ripe_fruit.sum()

    assert lost(opening - 10) > 0.15
    assert lost(opening) > 0.15
    assert lost(opening - 16) == pytest.approx(0.0, abs=1e-9)
    assert lost(opening + 4) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("row", [COVER, SOLAR])
def test_a_small_or_shaded_plant_carries_less(row):
    days = chamber_days(200, 16.0, 11.0, cultivar=cultivars()["Basalt"])
    plant = plant_of("Basalt", "bare-root")
    full = grow(days, plant).ripe_fruit.sum()
    days[row] *= 0.3
    assert grow(days, plant).ripe_fruit.sum() < 0.8 * full


def test_small_fruit_is_culled():
    cool, warm = (chamber("Basalt", "cold-stored", 150, t, 16.0, plant=FREE) for t in (14.0, 26.0))
    share = [s.marketable_g.sum() / s.ripe_g.sum() for s in (cool, warm)]
    assert share[0] > 0.75
    assert share[1] < share[0] - 0.1


def test_later_fruit_is_smaller():
    season = chamber("Basalt", "bare-root", 200, 16.0, 11.0)
    mass = season.ripe_g / np.maximum(season.ripe_fruit, 1e-12)
    assert mass[190] < mass[int(season.first_ripe)]


@pytest.mark.parametrize("left", [1e3, np.nan])
@pytest.mark.parametrize("transplant", ["bare-root", "plug", "cold-stored"])
@pytest.mark.parametrize(
    ("station", "planting"),
    [("Greensboro", date(2025, 9, 10)), ("Greensboro", date(2025, 10, 5)),
     ("Miami", date(2025, 10, 1))],
)  # fmt: skip
def test_what_plants_before_left_behind_is_not_read(station, planting, transplant, left):
    daily = season_at(station, planting, cultivar="Marl").daily
    plant = plant_of("Marl", transplant)
    plants = lane_records(np.array([plant], dtype=plant.dtype))
    n_days = daily.shape[1]
    found = []
    for filled in (0.0, left):
        work = make_work(n_days)
        for rows in (work.weather, work.rows, work.dates):
            rows[:] = filled
        develop(daily, plants[0], work)
        bear(daily, plants[0], 3.0, work)
        found.append((work.rows[[RIPE_G, MARKETABLE_G, RIPE_FRUIT], :n_days], work.dates))
    for clean, other in zip(*found, strict=True):
        assert np.array_equal(clean, other)
