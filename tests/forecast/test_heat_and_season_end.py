"""Over which days heat is told, where an open season ends, and what heat took from initiation."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from phenocast.cli import running
from phenocast.forecast import run_forecast
from phenocast.forecast.draws import with_buds
from phenocast.forecast.options import run_options
from phenocast.forecast.season_days import HeatDays, heat_days, same_days, season_end, summer_crop
from phenocast.parameters import cultivars, transplants
from phenocast.parameters.library import shipped
from phenocast.phenology import plant_records
from phenocast.phenology.chamber import chamber_days
from phenocast.phenology.work import ANTHESIS, FLOWER_INITIATION
from phenocast.report.forecast import forecast_parts
from phenocast.report.reader import Reader
from phenocast.report.render import to_html, to_text
from phenocast.simulation.daily_sums import BED_CROWN_HEAT_30
from phenocast.simulation.initiation_heat import initiation_heat
from phenocast.simulation.responses import induction_tables
from phenocast.simulation.setup import block_setup

BEFORE = date(2026, 9, 24)
WEEKS = [f"2027-W{week}" for week in range(20, 30)]
SUNDAY_OF_29 = date(2027, 7, 25)


@pytest.fixture(scope="module")
def loaded():
    return running.load(shipped("demo_weather", "low_quay.toml"))


@pytest.fixture(scope="module")
def forecast(loaded):
    """An early planting on black film, and a day-neutral one that bears on into the summer."""
    season = loaded.season
    blocks = (season.block("Quay East"), season.block("Rope Walk"))
    return run_forecast(
        replace(season, blocks=blocks), loaded.weather, issue_date=BEFORE, draws=8, seed=1
    )


@pytest.fixture(scope="module")
def document(forecast):
    return forecast.to_dict()


def test_the_headline_is_the_heat_from_planting_to_first_bloom(forecast, document) -> None:
    block, told = forecast.blocks[0], document["blocks"][0]["crown"]
    days = int(np.median(block.dates[..., ANTHESIS]))
    assert 25 <= days <= 35  # five weeks at most: Quay East is planted into warm days
    by_hand = float(np.median(block.bed[:, :, BED_CROWN_HEAT_30, :days].sum(axis=-1)))
    part = told[told["headline"]]
    assert told["headline"] == "to_first_bloom"
    assert (part["days"], part["from"], part["reached"]) == (days, "2026-09-25", True)
    assert part["degree_hours_above_30c"] == pytest.approx(by_hand, abs=0.5)
    assert part["degree_hours_above_30c"] < 0.6 * told["season"]["degree_hours_above_30c"]
    # 1 032 degC h over the 300 days that were simulated, most of them in June and July.
    assert part["degree_hours_above_30c"] == pytest.approx(320.0, rel=0.2)


def test_blocks_are_held_against_each_other_over_the_same_days(document) -> None:
    days = document["heat_compared"]["days"]
    blooms = [b["crown"]["to_first_bloom"]["days"] for b in document["blocks"]]
    assert blooms[1] > 1.5 * blooms[0] == 1.5 * days
    for block in document["blocks"]:
        assert block["crown"]["compared"]["days"] == days


def test_an_open_season_ends_with_its_fruit_on_one_day_for_all_draws(forecast, document) -> None:
    east, rope = forecast.blocks
    end = document["blocks"][0]["season_end"]
    last = date.fromisoformat(document["blocks"][0]["last_day"])
    assert (end["rule"], end["simulated_to"]) == ("fruit", "2027-07-21")
    assert last.isoweekday() == 7
    assert date(2027, 6, 13) <= last <= date(2027, 7, 4)
    assert east.setup.last_day == last
    days = (last - date(2026, 9, 25)).days + 1
    assert east.bed.shape[-1] == days
    assert np.median(east.weekly_g[..., -1]) >= end["g_per_plant"] == 5.0
    assert document["blocks"][0]["weekly"][-1]["week"] == east.weeks[-1]
    assert document["blocks"][0]["crown"]["season"]["days"] == days
    # The day-neutral block goes on bearing, and that is said.
    assert document["blocks"][1]["season_end"]["rule"] == "still-bearing"
    assert rope.setup.last_day == date(2027, 7, 27)
    text = to_text(forecast_parts, document)
    assert "The block still bears when the simulated days run out" in " ".join(text.split())
    assert f"The season ends on {Reader().date(str(last))}, as none is stated" in text


def ends(fruit, stated=None, last=SUNDAY_OF_29):
    return season_end(cultivars()["Basalt"], stated, last, np.asarray(fruit), WEEKS)


def test_a_season_ends_with_the_last_week_in_which_half_of_the_cases_bear() -> None:
    one = [30.0, 6.0, 4.0, 3.0, 2.0, 5.0, 4.0, 0.0, 0.0, 0.0]
    end = ends([one])  # two weeks below it, but a later week reaches 5 g again: 2027-W25
    assert (end.last_day, end.rule) == (date(2027, 6, 27), "fruit")
    # Of four draws two bear to W22 and two to W26: half of the cases still do.
    half = np.zeros((4, 10))
    half[:, :3], half[2:, :7] = 9.0, 9.0
    assert ends(half).last_day == date(2027, 7, 4)
    half[2, 3:] = 0.0
    assert ends(half).last_day == date(2027, 6, 6)


def test_a_season_that_does_not_end_says_why() -> None:
    late = np.r_[np.full(8, 9.0), 1.0, 1.0][None]
    assert ends(late).rule == "fruit"
    # The last week lacks its Sunday, so one whole week below is all there is.
    cut = ends(late, last=SUNDAY_OF_29 - timedelta(days=1))
    assert (cut.rule, cut.last_day) == ("still-bearing", date(2027, 7, 24))
    assert ends(np.full((3, 10), 4.9)).rule == "little-fruit"
    stated = ends(late, stated=SUNDAY_OF_29)
    assert (stated.rule, stated.last_day) == ("stated", SUNDAY_OF_29)


def test_a_summer_crop_is_told_over_its_bearing_weeks(loaded) -> None:
    block = loaded.season.block("Rope Walk")

    def setup(day: date, cultivar: str = "Tuff", south: bool = False):
        season = loaded.season
        if south:
            season = replace(season, site=replace(season.site, latitude=-29.3))
        end = day + timedelta(days=199)
        return block_setup(
            season, replace(block, planting_date=day, cultivar=cultivar, season_end=end)
        )

    spring, autumn = date(2027, 3, 1), date(2026, 10, 1)
    grown = (spring, "Tuff", False), (autumn, "Tuff", True)
    others = (autumn, "Tuff", False), (spring, "Tuff", True), (spring, "Basalt", False)
    assert [summer_crop(setup(*one)) for one in (*grown, *others)] == [True] * 2 + [False] * 3
    told = heat_days(setup(spring), 30.9, 61.2)
    assert told.headline == ("bearing", (61, 200))
    assert heat_days(setup(autumn), 30.9, 61.2).headline == ("to_first_bloom", (0, 30))
    never = heat_days(setup(autumn), float("inf"), float("inf"))
    assert (never.bloom, never.headline[1]) == (None, (0, 200))
    # The same calendar days for a block planted ten days later, and none before its planting.
    days, windows = same_days([told], [(spring, 200), (date(2027, 3, 11), 190)])
    assert days == {"days": 139, "from": "2027-05-01", "to": "2027-09-16"}
    assert windows == [(61, 200), (51, 190)]
    mixed = [told, HeatDays(spring, 150, 22, None)]
    assert same_days(mixed, [(spring, 200)])[0] == {"days": 22, "from": None, "to": None}


def test_a_later_bloom_adds_no_heat_and_fruit_is_that_of_the_forecast(
    loaded, forecast, document
) -> None:
    block = loaded.season.block("Quay East")
    seasons = run_options(
        loaded.season, loaded.weather, block, plantings=[block.planting_date], films=["black"],
        cultivars=["Marl"], transplants=["bare-root", "plug"], issue_date=BEFORE, draws=8, seed=1,
    )  # fmt: skip
    told, heat = seasons.heat(0)
    bare_root, plug = np.median(seasons.bloom, axis=(1, 2))
    assert plug > bare_root + 10.0
    assert np.array_equal(heat[0], heat[1])
    east = document["blocks"][0]
    headline = east["crown"]["to_first_bloom"]
    assert abs(told["days"] - headline["days"]) <= 1
    assert np.median(heat[0]) == pytest.approx(headline["degree_hours_above_30c"], rel=0.1)
    assert seasons.ends[0].last_day.isoformat() == east["last_day"]
    fruit = east["fruit"]["season_g_per_plant"]["p50"]
    assert np.median(seasons.season_g[0]) == pytest.approx(fruit, rel=0.01)
    assert seasons.weekly_g.sum(axis=-1) == pytest.approx(seasons.season_g, rel=1e-5)
    uncut = seasons.weeks.index("2027-W28")
    assert not seasons.weekly_g[0, ..., uncut:].any()


def test_plants_that_bring_buds_have_no_date_of_initiation(document) -> None:
    east, rope = (block["stages"]["flower_initiation"] for block in document["blocks"])
    assert (east["arrived_with_buds"], east["median"], east["p10"]) == (1.0, None, None)
    assert rope["arrived_with_buds"] == 0.0
    assert rope["median"] > "2026-10-20"
    rows = document["blocks"][0]["week_by_week"]
    assert {row["reached"]["flower_initiation"] for row in rows} == {1.0}
    # On black film planted into heat much is lost, later and on white stripes little.
    assert 0.1 < east["heat"]["new_trusses_lost_share"]["p50"] < 0.4
    assert 0.1 < east["heat"]["hours_stopped_share"]["p50"] < 0.3
    assert rope["heat"]["new_trusses_lost_share"]["p50"] < 0.1
    text = " ".join(to_text(forecast_parts, document).split())
    assert "The plants are taken to have arrived with flower buds (not looked at)" in text
    assert "initiation is 25 September" not in text
    page = to_html(forecast_parts, document)
    assert "taken to have arrived with flower buds (not looked at)" in page
    assert "initiation is 25 September" not in page
    assert "botones florales (no se han mirado)" in to_html(forecast_parts, document, language="es")


def test_of_mixed_plants_the_share_is_told_and_the_dates_of_the_others(forecast) -> None:
    rope = forecast.blocks[1]
    mixed = replace(rope, arrived_with_buds=np.arange(8) < 2)
    stage = mixed.to_dict(forecast.packout, (0, 30))["stages"]["flower_initiation"]
    assert stage["arrived_with_buds"] == 0.25
    middle = np.sort(rope.dates[:, 2:, FLOWER_INITIATION], axis=None)
    day = rope.planting_date + timedelta(days=int(middle[int(np.ceil(0.5 * middle.size)) - 1]))
    assert stage["median"] == day.isoformat()
    plants = plant_records(cultivars()["Basalt"], transplants()["plug"], n_draws=4)
    plants["trusses_at_planting"] = [0.0, 0.4, 0.6, 0.0]
    plants["induction_carried"] = [0.9, 0.0, 0.0, 1.0]
    assert with_buds(plants).tolist() == [False, False, True, True]


def test_what_heat_takes_from_initiation_by_hand() -> None:
    """All hours hot stop it and take all; none hot nothing; half of them half of the hours."""
    cultivar = cultivars()["Basalt"]
    plants = plant_records(cultivar, transplants()["plug"])
    tables = induction_tables(
        *(plants[f"induction_{name}"] for name in ("base", "optimum", "ceiling"))
    )
    ceiling = float(plants["induction_ceiling"][0])
    daily = chamber_days(60, 18.0, 11.0)

    def taken(day_c: float, night_c: float) -> list[float]:
        crown = np.tile(np.repeat([night_c, day_c], 12), 60)
        return initiation_heat(crown, daily, tables, plants)[:, 0].tolist()

    assert taken(ceiling + 4.0, ceiling + 4.0) == pytest.approx([1.0, 1.0])
    assert taken(15.0, 15.0) == pytest.approx([0.0, 0.0], abs=1e-9)
    stopped, lost = taken(ceiling + 4.0, 15.0)
    assert stopped == pytest.approx(0.5)
    # The first trusses come twice as late; then the pace is nearly full (0.5 of 0.6), and at that
    # pace 60 days lose less than half.
    assert 0.15 < lost < 0.4
    # Cold stops it as well, but takes nothing that heat could give back.
    assert taken(-5.0, -5.0)[0] == 0.0
    assert np.isnan(taken(-5.0, -5.0)[1])
