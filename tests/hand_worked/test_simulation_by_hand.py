"""From hours to the rows of a day, and a block's clock, water and cover, worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from phenocast.parameters import cultivars
from phenocast.phenology import daily as rows
from phenocast.phenology import make_work
from phenocast.phenology.work import FIRST_PICK, FLOWER_INITIATION, MARKETABLE_G, N_DATES
from phenocast.season.model import CanopyReading, ClockHours, Cover, Sprinkling
from phenocast.simulation.bed import bed_season, site_weather
from phenocast.simulation.daily_sums import (
    BED_CROWN_HEAT_30,
    BED_CROWN_HOURS_30,
    BED_CROWN_MAX,
    BED_CROWN_MEAN,
    BED_SOIL_MAX,
    BED_SOIL_MEAN,
    N_BED_DAILY,
    air_rows,
    daily_minimum,
    fill_crown_rows,
    fill_induction,
)
from phenocast.simulation.draws import keep_fruit, run_draws
from phenocast.simulation.engine import draws_of_physics
from phenocast.simulation.responses import (
    branch_table,
    development_table,
    induction_tables,
    look_up,
    tables_in_lanes,
)
from phenocast.simulation.season_effects import moved_dates
from phenocast.simulation.setup import heat_limits
from phenocast.vector import lane_records, side_by_side
from phenocast.weather.hourly import constant_weather
from tests.hand_worked.plants import ONE_TRUSS, days_of, plant_of
from tests.simulation.conftest import MIAMI, a_setup

OWN = cultivars()["Basalt"].with_values(
    {"development_base": 3.0, "development_optimum_low": 23.0, "development_optimum_high": 28.0,
     "development_ceiling": 36.0, "branch_base": 0.0, "branch_optimum": 20.0,
     "branch_ceiling": 30.0, "leaf_base": 4.0, "leaf_cap": 24.0, "crown_heat_threshold": 25.0,
     "crown_strong_heat_threshold": 30.0, "chill_low": 7.0, "chill_high": 9.0}
)  # fmt: skip


def test_rows_of_a_day_that_the_air_decides():
    # A day of 5 hours before it. Air 14 h at 31.04 and 10 h at 8.04: development 20 x
    # (14 x 4.96 / 8 + 10 x 5.04 / 20) / 24 = 9.333 333; above 27: 56.56 degC h; mean
    # (434.56 + 80.4) / 24. Sun 14 h x 500 W m-2 x 0.0036 = 25.2 MJ. Lowest flower -2, leaves 0.3 on
    # average
    hours = np.concatenate([np.full(5, 99.0), np.full(14, 31.04), np.full(10, 8.04)])
    flower = np.concatenate([np.full(5, -30.0), np.full(23, 4.0), [-2.0]])
    sun = np.concatenate([np.full(5, 900.0), np.full(14, 500.0), np.zeros(10)])
    cover = np.concatenate([np.ones(5), np.full(12, 0.2), np.full(12, 0.4)])
    lowest = daily_minimum(flower, 5, 1)
    day = air_rows(
        hours, sun, lowest, cover, np.array([13.5]), development_table(OWN), 27.0, 5, 1
    )[:, 0]  # fmt: skip
    expected = {
        "AIR_DEVELOPMENT": 28.0 / 3.0, "AIR_HEAT_27": 56.56, "AIR_MEAN": 514.96 / 24.0,
        "SOLAR": 25.2, "FLOWER_MIN": -2.0, "COVER": 0.3, "PHOTOPERIOD": 13.5,
    }  # fmt: skip
    assert {name: day[getattr(rows, name)] for name in expected} == pytest.approx(expected)


def test_rows_of_two_days_that_the_crown_decides():
    # Day 1: crown 12 h at 31, 4 h at 27, 8 h at 8; soil 20 all day. Development 20 x (12 x 5/8 +
    # 4 x 1 + 8 x 1/4) / 24 = 11.25; branching 20 x (0 + 4 x 0.3 + 8 x 0.4) / 24 = 3.666 667; heat
    # 12 x 6 + 4 x 2 = 80 in 16 h, 12 above 30; leaves at the mean of both, 25.5 (held at 24), 23.5
    # and 14: (12 x 20 + 4 x 19.5 + 8 x 10) / 24; 8 h from 7 to 9.
    # Day 2: crown 3 (13 h), 9 (1 h) and 7 (10 h); soil 0: leaves of means 1.5, 4.5 and 3.5, half an
    # hour-degree above 4
    crown = np.concatenate(
        [
            np.full(7, 50.0),
            np.full(12, 31.0),
            np.full(4, 27.0),
            np.full(8, 8.0),
            np.full(13, 3.0),
            [9.0],
            np.full(10, 7.0),
        ]
    )
    soil = np.concatenate([np.full(7, 50.0), np.full(23, 20.0), [23.0], np.zeros(24)])
    daily, bed = np.zeros((rows.N_DAILY, 2)), np.zeros((N_BED_DAILY, 2))
    fill_crown_rows(
        crown, soil, 7, development_table(OWN), branch_table(OWN), heat_limits(OWN), daily, bed
    )
    expected = {
        # the second day: 1/20 of 20 x (1 x 6 + 10 x 4) / 24; 20 x (13 x 3 + 9 + 70) / 20 / 24
        "CROWN_DEVELOPMENT": [11.25, 46.0 / 24.0],
        "BRANCH_WARMTH": [88.0 / 24.0, 118.0 / 24.0],
        "CROWN_MEAN": [544.0 / 24.0, 118.0 / 24.0],
        "CROWN_HEAT_30": [80.0, 0.0],
        "CROWN_HEAT_33": [12.0, 0.0],
        # the last hour of day 1 had soil at 23: 15.5 in place of 14
        "LEAF_WARMTH": [399.5 / 24.0, 0.5 / 24.0],
        "CHILL": [8.0, 11.0],
    }
    for name, value in expected.items():
        assert daily[getattr(rows, name)] == pytest.approx(value), name
    assert bed[BED_CROWN_MEAN] == pytest.approx([544.0 / 24.0, 118.0 / 24.0])
    assert bed[BED_CROWN_MAX] == pytest.approx([31.0, 9.0])
    assert bed[BED_CROWN_HOURS_30] == pytest.approx([16.0, 0.0])
    assert bed[BED_CROWN_HEAT_30] == pytest.approx([80.0, 0.0])
    assert bed[BED_SOIL_MEAN] == pytest.approx([483.0 / 24.0, 0.0])
    assert bed[BED_SOIL_MAX] == pytest.approx([23.0, 0.0])


def test_induction_of_a_day_from_a_table():
    # 0 / 20 / 40, a parabola: 0.75 at 10, 1 at 20, 0.4375 at 35 (15 / 20 away); between the nodes
    # of 10.0 and 10.1, 0.75 and 0.754 975, 0.2 of the way 0.750 995
    table = induction_tables(np.array([0.0]), np.array([20.0]), np.array([40.0]))[0]
    assert look_up(table, 10.02) == pytest.approx(0.750995, abs=1e-12)
    assert [look_up(table, t) for t in (-60.0, 0.0, 95.0)] == [0.0, 0.0, 0.0]
    crown = np.concatenate([[20.0] * 3, [10.0] * 12, [20.0] * 6, [35.0] * 4, [-5.0, 45.0]])
    daily = np.zeros((rows.N_DAILY, 1))
    fill_induction(crown, 3, table, daily)
    # (12 x 0.75 + 6 + 4 x 0.4375) / 24
    assert daily[rows.INDUCTION_RESPONSE, 0] == pytest.approx(16.75 / 24.0)


def drawn_seasons(crown, daily, tables, plants, first_pick_g):
    """Dates ``[draws, N_DATES]`` and fruit up to each day ``[draws, days + 1]`` of plants on beds.

    ``crown`` is ``[beds, 24 * days]`` and ``daily`` ``[beds, N_DAILY, days]``.
    """
    n_draws, n_days = len(plants), daily.shape[2]
    dates, flowers = np.empty((n_draws, N_DATES)), np.empty(n_draws)
    fruit = np.empty((1, n_draws, n_days + 2))
    for bed, own in enumerate(draws_of_physics(n_draws, len(crown))):
        groups = lane_records(plants[own])
        run_draws(
            daily[bed], daily[bed, rows.FLOWER_MIN][None], False, crown[bed],
            tables_in_lanes(tables[own]), groups, side_by_side(len(groups)), first_pick_g,
            np.arange(n_days + 1.0), np.empty(0), make_work(n_days), dates[own], fruit[:, own],
            np.empty((3, n_draws, 0))[:, own], flowers[own], np.empty((2, 0, n_days)),
        )  # fmt: skip
    return dates, fruit[0, :, :-1]


def test_draws_of_the_plant_share_the_beds():
    # Beds at 10 and at 20 degC: 0.75 and 1 day of induction a day. Plants 1 and 2, on the first,
    # are short of 1 and 2 days: 1.333 333, 2.666 667; plant 3, on the second, of 1
    plants = np.array([
        plant_of(induction_carried=carried, photoperiod_width=0.2, trusses_at_planting=1.0,
                 truss_progress=0.5, flowers_per_truss=flowers)
        for carried, flowers in ((0.9, 10.0), (0.8, 30.0), (0.9, 20.0))
    ]).view(np.recarray)  # fmt: skip
    daily = np.stack([days_of(70, PHOTOPERIOD=6.0), days_of(70, PHOTOPERIOD=6.0)])
    crown = np.stack([np.full(70 * 24, 10.0), np.full(70 * 24, 20.0)])
    tables = induction_tables(np.zeros(3), np.full(3, 20.0), np.full(3, 40.0))
    dates, fruit = drawn_seasons(crown, daily, tables, plants, 12.0)
    assert dates[:, FLOWER_INITIATION] == pytest.approx([4 / 3, 8 / 3, 1.0], abs=1e-9)
    # 8, 24 and 16 fruit of 20 g, on days 53 to 57 by 1/64, 12/64, 38/64 ...: 12 g of 160, 480 and
    # 320 are passed at 9.5 / 30 of day 54, 4.5 / 90 of it, 7 / 60 of it
    assert dates[:, FIRST_PICK] == pytest.approx(
        [54 + 9.5 / 30, 54 + 4.5 / 90, 54 + 7 / 60], abs=1e-9
    )
    # 20 g of 0.9 / (1 + (10 / 20)^5.673 333) = 0.9 / 1.019 595, before fruit
    # of what is initiated here
    assert fruit[:, 60] == pytest.approx(
        np.array([160.0, 480.0, 320.0]) * 0.9 / 1.0195950, rel=1e-6
    )


def test_a_plant_beside_another_that_is_late():
    # Side by side in the kernels: 36 days from flower to fruit, and 360, beyond the season
    plants = np.array([plant_of(**ONE_TRUSS), plant_of(**ONE_TRUSS, anthesis_to_ripe=3600.0)])
    table = induction_tables(np.array([0.0] * 2), np.array([20.0] * 2), np.array([40.0] * 2))
    dates, fruit = drawn_seasons(
        np.zeros((1, 60 * 24)), days_of(60)[None], table, plants.view(np.recarray), 12.0
    )
    # 9.5 / 30 of day 54: 2.5 g on day 53, 30 g on day 54
    assert dates[:, FIRST_PICK] == pytest.approx([54 + 9.5 / 30, np.inf])
    # 8 fruit of 20 g, of which 0.9 / 1.019 595 can be sold
    assert fruit[:, -1] == pytest.approx([160.0 * 0.9 / 1.0195950, 0.0], rel=1e-6)


def test_fruit_up_to_a_time_in_a_late_and_in_an_early_season():
    # 1 g on each of 3 days and 2 g on each of 7, 17 in all. What an early season has after the last
    # day is 2 g a day, as in its last week
    work = make_work(10)
    work.rows[MARKETABLE_G, :10, 0] = [1.0] * 3 + [2.0] * 7
    times = np.array([0.0, 5.0, 10.0])
    for late, expected in (
        (0.0, [0.0, 7.0, 17.0]),
        (2.5, [0.0, 2.5, 12.0]),
        (-3.0, [3.0, 13.0, 23.0]),
    ):
        later, fruit = side_by_side(1), np.zeros((1, 4))
        later[:] = late
        keep_fruit(10, times, later, work, fruit)
        assert fruit[0] == pytest.approx([*expected, 17.0]), late
    # a season of four days has four to go on as in
    keep_fruit(4, np.array([5.0]), side_by_side(1) * 0.0, work, fruit[:, :2])
    assert fruit[0, :2] == pytest.approx([5.0 + 5.0 / 4.0, 5.0])


def test_dates_of_a_late_and_of_an_early_season():
    # the stages alone move, not before planting nor beyond the last of 60 days
    dates = np.tile(np.arange(10.0, 10.0 * N_DATES + 10.0, 10.0), (2, 1))
    moved = moved_dates(dates, np.array([2.0, -15.0]), 60)
    stages = FIRST_PICK - FLOWER_INITIATION + 1
    assert (FLOWER_INITIATION, stages) == (0, 5)
    assert moved[0, :stages].tolist() == [12.0, 22.0, 32.0, 42.0, 52.0]
    assert moved[1, :stages].tolist() == [0.0, 5.0, 15.0, 25.0, 35.0]
    assert np.array_equal(moved[:, stages:], dates[:, stages:])
    assert moved_dates(dates, np.array([10.0, 9.0]), 60)[:, stages - 1].tolist() == [np.inf, 59.0]


def test_what_the_plants_are_like_at_a_time():
    # Flowers 1.25, 7.5 and 1.25 on days 18 to 20, of which eight tenths set; two days later in the
    # second run. Ripe from day 53 on: 0.125, 1.5 and 4.75 on days 53 to 55, each 20 g of which
    # 0.9 / 1.019 595 is sold; half of the third by 55.5
    plants = np.array([plant_of(**ONE_TRUSS)] * 3).view(np.recarray)
    table = tables_in_lanes(induction_tables(np.zeros(3), np.full(3, 20.0), np.full(3, 40.0)))
    sold = 20.0 * 0.9 / 1.0195950
    for late in (0.0, 2.0):
        groups = lane_records(plants)
        later = side_by_side(len(groups))
        later[:] = late
        days, times = days_of(70), np.array([18.9, 19.0, 55.5, 99.0]) + late
        states, flowers = np.empty((3, 3, 4)), np.empty(3)
        nights = np.empty((2, 3, 70))
        run_draws(
            days, days[rows.FLOWER_MIN][None], True, np.zeros(70 * 24), table, groups, later, 3.0,
            np.array([70.0]), times, make_work(70), np.empty((3, N_DATES)), np.empty((1, 3, 2)),
            states, flowers, nights,
        )  # fmt: skip
        for draw in range(3):
            opened, green, marketable = states[:, draw]
            assert opened == pytest.approx([1.25, 7.5, 0.0, 0.0], abs=1e-9)
            assert green == pytest.approx([1.0, 7.0, 1.625, 0.0], abs=1e-9)
            assert marketable == pytest.approx([0.0, 0.0, 4.0 * sold, 8.0 * sold], rel=1e-6)
        assert flowers == pytest.approx(np.full(3, 10.0))
        assert nights[0, :, 19] == pytest.approx(np.full(3, 7.5))
        assert nights[1, :, 54] == pytest.approx(np.full(3, 1.5 * sold), rel=1e-6)


def test_draws_on_beds_end_where_groups_of_eight_do():
    # from 64 draws on two beds on: 72 are 9 groups, of which 4 are the first bed's
    assert draws_of_physics(72, 2) == [slice(0, 32), slice(32, 72)]
    assert draws_of_physics(64, 2) == [slice(0, 32), slice(32, 64)]
    assert draws_of_physics(60, 2) == [slice(0, 30), slice(30, 60)]
    assert draws_of_physics(9, 3) == [slice(0, 3), slice(3, 6), slice(6, 9)]


def test_clock_water_and_leaves_of_a_block():
    # Planted on 1 October at 5 h UTC, 77 h into the weather; the film is then 6 days old, so 2.79
    # at the start. Sprinklers from 10 to 16 h on two days. Leaves read on days 0 and 2, at noon.
    # A tunnel from 18 to 8 h on 3 October: its first 8 and its last 6 hours
    setup = a_setup(end=date(2025, 10, 4))
    block = replace(
        setup.block, film_laid=date(2025, 9, 25),
        sprinkling=Sprinkling(2, ClockHours(10.0, 16.0), rate_mm_h=2.5),
        canopy=(CanopyReading(date(2025, 10, 1), 0.1), CanopyReading(date(2025, 10, 3), 0.5)),
        covers=(Cover("low-tunnel", date(2025, 10, 3), date(2025, 10, 3), ClockHours(18.0, 8.0)),),
    )  # fmt: skip
    tunnel = setup.shelters["low-tunnel"].with_values({"night_warming": 2.0})
    setup = replace(setup, block=block, shelters={"low-tunnel": tunnel})
    weather = constant_weather(MIAMI, 24 * 8, 15.0, start="2025-09-28T00")
    bed = bed_season(setup, site_weather(weather, MIAMI))
    assert (bed.days.first_hour, bed.days.n_days) == (77, 4)
    assert bed.film_age_d == pytest.approx(6.0 - 77.0 / 24.0)
    water = np.flatnonzero(bed.sprinkling_mm_h) - 77
    assert water.tolist() == [*range(10, 16), *range(34, 40)]
    assert set(bed.sprinkling_mm_h[water + 77]) == {2.5}
    assert bed.cover[[0, 77 + 12, 77 + 36, 77 + 60, 77 + 90]] == pytest.approx(
        [0.1, 0.1, 0.3, 0.5, 0.5]
    )
    warm = np.flatnonzero(bed.forcing.air_c > 15.0) - 77
    assert warm.tolist() == [*range(48, 56), *range(66, 72)]
    assert bed.forcing.air_c[77 + 48] == pytest.approx(17.0)
