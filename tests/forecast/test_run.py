"""The forecast as a whole, on a real warm station year (Miami TMY2, as pvlib ships it)."""

import json
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from phenocast.errors import NoAnswerError
from phenocast.forecast import SeasonForecast, run_forecast
from phenocast.season import Block, Season, Site, WeatherSources
from phenocast.weather import HourlyWeather, SeasonWeather
from tests.simulation.conftest import MIAMI, a_setup

PLANTED = date(2025, 10, 5)


def a_season(*blocks: Block, site: Site = MIAMI) -> Season:
    return Season(site=site, bed=a_setup().bed, blocks=blocks, weather=WeatherSources())


def a_block(name: str = "A", **changes: object) -> Block:
    return replace(a_setup(planting=PLANTED).block, name=name, **changes)


def year_of(twice: HourlyWeather) -> HourlyWeather:
    return twice.slice(0, len(twice) // 2)


def forecast(season: Season, weather: SeasonWeather, **options: object) -> SeasonForecast:
    wanted = {"issue_date": date(2025, 10, 4), "draws": 24, "seed": 3} | options
    return run_forecast(season, weather, **wanted)


def test_one_seed_gives_one_document(miami: HourlyWeather) -> None:
    weather = SeasonWeather(history=year_of(miami))
    first, again = (forecast(a_season(a_block()), weather).to_dict() for _ in range(2))
    assert json.dumps(first) == json.dumps(again)
    other = forecast(a_season(a_block()), weather, seed=4).to_dict()
    assert other["blocks"][0]["fruit"] != first["blocks"][0]["fruit"]


def test_a_block_that_is_added_leaves_the_others_as_they_were(miami: HourlyWeather) -> None:
    weather = SeasonWeather(history=year_of(miami))
    alone = forecast(a_season(a_block()), weather)
    both = forecast(a_season(a_block("B", film="clear", cultivar="Tuff"), a_block()), weather)
    assert np.array_equal(alone.blocks[0].dates, both.blocks[1].dates)
    assert np.array_equal(alone.blocks[0].weekly_g, both.blocks[1].weekly_g)


def test_trays_of_all_blocks_are_added_draw_by_draw(miami: HourlyWeather) -> None:
    weather = SeasonWeather(history=year_of(miami))
    told = forecast(
        a_season(a_block(), a_block("B", planting_date=PLANTED + timedelta(days=21))), weather
    )
    labels, total = told.total_trays()
    parts = sum(told.packout.trays(b.weekly_g, b.setup.block).sum(axis=-1) for b in told.blocks)
    assert total.sum(axis=-1) == pytest.approx(parts)
    assert labels == sorted(labels)


def test_what_was_observed_after_the_issue_date_is_not_used(miami: HourlyWeather) -> None:
    year = year_of(miami)
    hot = replace(year, air_c=year.air_c + np.where(np.arange(len(year)) > 300 * 24, 8.0, 0.0))
    issue = date(2025, 10, 20)  # the 293rd day
    season = a_season(a_block())
    cool_tail, hot_tail = (
        forecast(season, SeasonWeather(observed=seen, history=year), issue_date=issue)
        for seen in (year, hot)
    )
    assert np.array_equal(cool_tail.blocks[0].dates, hot_tail.blocks[0].dates)
    later = date(2025, 11, 20)
    informed = forecast(season, SeasonWeather(observed=hot, history=year), issue_date=later)
    assert not np.array_equal(informed.blocks[0].dates, hot_tail.blocks[0].dates)


def test_a_season_too_short_for_first_pick_says_so(miami: HourlyWeather) -> None:
    short = a_block(season_end=PLANTED + timedelta(days=25))
    told = forecast(a_season(short), SeasonWeather(history=year_of(miami))).to_dict()
    pick = told["blocks"][0]["first_pick"]
    assert pick["not_reached_probability"] == 1.0
    assert pick["median"] is None
    assert pick["week_probabilities"] == []
    assert told["blocks"][0]["weekly"] == []


def test_a_leap_day_inside_the_season_is_a_day_like_any_other(miami: HourlyWeather) -> None:
    block = a_block(planting_date=date(2027, 10, 5), season_end=date(2028, 4, 14))
    told = forecast(
        a_season(block), SeasonWeather(history=year_of(miami)), issue_date=date(2027, 10, 4)
    )
    block = told.blocks[0]
    assert block.bed.shape[-1] == 193  # one more than from 2026 to 2027
    assert "2028-W09" in block.weeks  # holds 29 February
    assert block.weekly_g.shape[-1] == len(block.weeks)


def test_the_southern_half_year_mirrors_the_northern(miami: HourlyWeather) -> None:
    # The same weather half a year later under the mirrored sun; the orbit is not quite symmetric.
    shift = 182
    south = Site("Mirror", -MIAMI.latitude, MIAMI.longitude, 2.0, MIAMI.time_zone)
    moved = replace(
        miami, time_utc=miami.time_utc + np.timedelta64(24 * shift, "h"), site=south,
        typical_year=False,
    )  # fmt: skip
    north_block = a_block(transplant="plug", season_end=date(2026, 5, 30))
    south_block = replace(
        north_block, planting_date=PLANTED + timedelta(days=shift),
        season_end=date(2026, 5, 30) + timedelta(days=shift),
    )  # fmt: skip
    north = forecast(
        a_season(north_block), SeasonWeather(observed=miami), issue_date=date(2026, 12, 1)
    )
    mirrored = forecast(
        a_season(south_block, site=south), SeasonWeather(observed=moved),
        issue_date=date(2026, 12, 1),
    )  # fmt: skip
    first, second = (np.median(f.blocks[0].dates[..., 4]) for f in (north, mirrored))
    assert second == pytest.approx(first, abs=2.0)
    fruit = [f.blocks[0].season_g.mean() for f in (north, mirrored)]
    assert fruit[1] == pytest.approx(fruit[0], rel=0.05)


def test_weather_that_ends_too_early_is_no_answer(miami: HourlyWeather) -> None:
    observed = replace(year_of(miami), typical_year=False)
    with pytest.raises(NoAnswerError, match="ends before the season does"):
        forecast(a_season(a_block()), SeasonWeather(observed=observed))


def test_the_interval_holds_what_optics_and_biology_leave_open(miami: HourlyWeather) -> None:
    # Nothing in a forecast may collapse to one value: dates, fruit and heat all have a spread.
    told = forecast(a_season(a_block(film="metallised")), SeasonWeather(history=year_of(miami)))
    block = told.to_dict()["blocks"][0]
    assert block["first_pick"]["p10"] < block["first_pick"]["p90"]
    heat = block["crown"]["to_first_bloom"]["degree_hours_above_30c_spread"]
    assert heat["p90"] > heat["p10"]
    fruit = block["fruit"]["season_g_per_plant"]
    assert fruit["p90"] > 1.2 * fruit["p10"]
