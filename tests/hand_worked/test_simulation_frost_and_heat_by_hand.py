"""Frost nights, heat on initiation, nursery and tables of responses, worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from phenocast.parameters import cultivars
from phenocast.phenology import daily as rows
from phenocast.season import FrostProtection, Nursery
from phenocast.simulation.bed import bed_season, site_weather
from phenocast.simulation.frost import frost_nights, lost_by_night, without_frost
from phenocast.simulation.initiation_heat import initiation_heat
from phenocast.simulation.nursery import nursery_daily, nursery_plants
from phenocast.simulation.responses import (
    fill_daily_means_in_lanes,
    induction_tables,
    look_up,
    table_temperatures,
    tables_in_lanes,
)
from phenocast.vector import side_by_side
from phenocast.weather.hourly import constant_weather
from tests.hand_worked.plants import days_of, plant_of, season_of
from tests.simulation.conftest import MIAMI, a_setup


def flower_minima(setup, weather):
    """Lowest temperature of an open flower on each day of a block."""
    return bed_season(setup, site_weather(weather, setup.site)).flower_min


def test_what_a_night_takes_of_flowers_and_fruit():
    # Flowers of day 10 open at 10.5 and close at 13.5: half of night 13 finds them open. At -2.1
    # half of the open ones would die: ln 2 less ln(1 + e^-7) of a night at 0 is 0.692 236, half of
    # it 0.346 118; 4 x (1 - e^-0.346 118) = 1.170 284.
    # Fruit ripe at 50.5 opened 36 days before, at 14.5, and closed at 17.5: night 17 at -3.2 finds
    # it half open, ln(1 + e^(1.1 / 0.3)) = 3.691 906 - 0.000 911, and half green, ln 2 - 0.000 023:
    # 2.192 059; 20 x (1 - e^-2.192 059) = 17.766 283
    flowers, fruit = np.zeros((2, 1, 60))
    flowers[0, 10], fruit[0, 50] = 4.0, 20.0
    night_c = np.full(60, 5.0)
    night_c[13], night_c[17] = -2.1, -3.2
    plants = np.array([plant_of()]).view(np.recarray)
    lost_flowers, lost_fruit = lost_by_night(
        flowers, fruit, np.where(np.arange(60) == 13, night_c, 5.0), np.full(60, 10.0), plants
    )
    assert lost_flowers[13] == pytest.approx(1.170284, abs=1e-5)
    assert lost_flowers.sum() == lost_flowers[13]
    _, lost_fruit = lost_by_night(
        flowers, fruit, np.where(np.arange(60) == 17, night_c, 5.0), np.full(60, 10.0), plants
    )
    assert lost_fruit[17] == pytest.approx(17.766283, abs=1e-4)


def test_two_nights_share_what_both_would_kill():
    # Nights 11 and 12, whole days of an open flower, at -2.1 and -2.4: ln 2 - 0.000 911 = 0.692 236
    # and ln(1 + e) - 0.000 911 = 1.312 350; 4 x (1 - e^-2.004 586) = 3.461 142, shared by harm
    flowers = np.zeros((1, 30))
    flowers[0, 10] = 4.0
    night_c = np.full(30, 5.0)
    night_c[[11, 12]] = -2.1, -2.4
    lost, _ = lost_by_night(
        flowers, np.zeros((1, 30)), night_c, np.full(30, 10.0),
        np.array([plant_of()]).view(np.recarray),
    )  # fmt: skip
    assert lost[[11, 12]] == pytest.approx([1.195229, 2.265913], abs=1e-5)
    table = days_of(3, FLOWER_MIN={1: -4.0})
    assert frost_nights(table[rows.FLOWER_MIN]).tolist() == [False, True, False]
    assert without_frost(table)[rows.FLOWER_MIN].tolist() == [10.0, 0.0, 10.0]


def test_what_heat_takes_of_initiation():
    # Each day 18 h at 20 and 6 h at 35 degC. A ceiling of 30 stops 6 of 24 h: response 18 / 24; one
    # of 40 stops none: (18 + 6 x 0.4375) / 24. Without heat both are 1, and nothing is felt.
    own = {"photoperiod_width": 0.2, "vigour_heat_loss": 0.004}
    plants = np.array([plant_of(**own)] * 2).view(np.recarray)
    tables = induction_tables(np.zeros(2), np.full(2, 20.0), np.array([30.0, 40.0]))
    crown = np.tile(np.repeat([20.0, 35.0], [18, 6]), 12)
    table = days_of(12, PHOTOPERIOD=6.0, CROWN_HEAT_30=50.0)
    stopped, lost = initiation_heat(crown, table, tables, plants)
    assert stopped == pytest.approx([0.25, 0.0])
    cool = season_of(days_of(12, PHOTOPERIOD=6.0, INDUCTION_RESPONSE=1.0), **own)
    for found, response in zip(lost, (0.75, (18.0 + 6.0 * 0.4375) / 24.0), strict=True):
        hot = season_of(
            days_of(12, PHOTOPERIOD=6.0, CROWN_HEAT_30=50.0, INDUCTION_RESPONSE=response), **own
        )
        share = hot.flowers_initiated.sum() / cool.flowers_initiated.sum()
        assert 0.05 < share < 0.95
        assert found == pytest.approx(1.0 - share, abs=1e-12)
    none = initiation_heat(np.full(12 * 24, 20.0), days_of(12, PHOTOPERIOD=6.0), tables, plants)
    assert none == pytest.approx(np.zeros((2, 2)))


def test_nursery_weeks_at_eight_degrees():
    # From 21 September to the day before planting, 10 days: 24 h of chill a day, air and leaves of
    # 8 degC, 4 above the base of leaves
    setup = a_setup(planting=date(2025, 10, 1))
    own = cultivars()["Basalt"].with_values({"leaf_base": 4.0, "chill_low": 7.0, "chill_high": 9.0})
    setup = replace(setup, cultivar=own)
    weather = constant_weather(MIAMI, 24 * 40, 8.0, start="2025-09-15T00")
    source = object()
    nursery = Nursery(MIAMI, date(2025, 9, 21), source)
    daily, air, first_hour = nursery_daily(nursery, weather, setup)
    assert daily.shape == (rows.N_DAILY, 10)
    assert first_hour == 6 * 24 + 5
    assert (len(air), set(air)) == (24 * 40, {8.0})
    assert daily[rows.CHILL] == pytest.approx(np.full(10, 24.0))
    assert daily[rows.AIR_MEAN] == pytest.approx(np.full(10, 8.0))
    assert daily[rows.LEAF_WARMTH] == pytest.approx(np.full(10, 4.0))
    assert not daily[rows.COVER].any()
    early = replace(nursery, last_day=date(2025, 9, 24))
    assert nursery_daily(early, weather, setup)[0].shape[1] == 4


def test_plants_of_two_draws_in_one_nursery():
    # Ten days at 8 degC, all short: 240 h of chill, too few for rest. Optima of 20 and 16: 1 - 0.36
    # and 1 - 0.25 of a day's induction each, of ten days that are needed
    setup = a_setup(planting=date(2025, 10, 1))
    own = cultivars()["Basalt"].with_values({"leaf_base": 8.0, "chill_low": 7.0, "chill_high": 9.0})
    weather = constant_weather(MIAMI, 24 * 40, 8.0, start="2025-09-15T00")
    plant = plant_of(
        critical_photoperiod_18=20.0, rest_release_photoperiod=24.0, rest_onset_chill=1e4
    )
    found = nursery_plants(
        Nursery(MIAMI, date(2025, 9, 21), object()), weather, replace(setup, cultivar=own),
        np.array([plant, plant]).view(np.recarray),
        induction_tables(np.zeros(2), np.array([20.0, 16.0]), np.array([40.0, 32.0])),
    )  # fmt: skip
    assert found.induction_carried == pytest.approx([0.64, 0.75], abs=1e-6)
    assert found.chill_carried == pytest.approx([240.0, 240.0])
    assert found.initiation_to_anthesis == pytest.approx([300.0, 300.0])


def test_tables_of_a_line_and_its_double():
    tables = np.stack([table_temperatures(), 2.0 * table_temperatures() + 1.0])
    assert (look_up(tables[0], -55.0), look_up(tables[0], 99.0)) == (-40.0, 90.0)
    assert look_up(tables[0], 12.34) == pytest.approx(12.34)
    # 20 h at 10.02 and 4 h at 22.06: a mean of 12.026 667
    means = side_by_side(1)
    hours = np.repeat([10.02, 22.06], [20, 4])
    fill_daily_means_in_lanes(hours, tables_in_lanes(tables)[0], 1, means)
    assert means[0, 0] == pytest.approx(12.0266667)
    if means.shape[1] > 1:
        assert means[0, 1] == pytest.approx(25.0533333)
    beyond = side_by_side(1)
    hours = np.repeat([-60.0, 95.0], 12)
    fill_daily_means_in_lanes(hours, tables_in_lanes(tables[:1])[0], 1, beyond)
    assert beyond[0, 0] == pytest.approx(25.0)


def test_water_stands_ready_from_one_day_to_the_morning_after_another():
    # Planted on 1 October; water from the 3rd to the 4th, so from hour 48 to noon of the 5th, hour
    # 108. Every hour would frost: the first two days and the end of the 5th are not held at 0 degC
    stated = FrostProtection("overhead-water", date(2025, 10, 3), date(2025, 10, 4), rate_mm_h=20.0)
    setup = a_setup(end=date(2025, 10, 6), sprinkled_days=0)
    setup = replace(setup, block=replace(setup.block, frost_protection=stated))
    weather = constant_weather(MIAMI, 24 * 12, -2.0, start="2025-09-27T00")
    lowest = flower_minima(setup, weather)
    bare = flower_minima(replace(setup, block=replace(setup.block, frost_protection=None)), weather)
    assert (bare < -1.0).all()
    assert lowest == pytest.approx([*bare[:2], 0.0, 0.0, *bare[4:]], abs=1e-9)
    always = FrostProtection("overhead-water", rate_mm_h=20.0)
    setup = replace(setup, block=replace(setup.block, frost_protection=always))
    assert flower_minima(setup, weather) == pytest.approx(np.zeros(6), abs=1e-9)
