"""The season files of the demo are sound; the package reads its weather as it was made."""

import tomllib

import numpy as np
import pytest

from phenocast.io.weather.clock import Stated
from phenocast.io.weather.read import read_weather_as, read_weather_members
from phenocast.parameters.library import shipped
from phenocast.season.parse import season_from_mapping
from phenocast.weather import to_hourly

FOLDER = shipped("demo_weather")


def season(name):
    text = (FOLDER / name).read_text(encoding="utf-8")
    return season_from_mapping(tomllib.loads(text), name)


def hourly(season, kind):
    source = getattr(season.weather, kind)
    records = read_weather_as(FOLDER / source.files[0], Stated.of(source, season.site))
    return to_hourly(records, season.site)


def test_the_cooperative_has_blocks_worth_comparing():
    blocks = season("low_quay.toml").blocks
    assert len(blocks) == 6
    assert len({block.name for block in blocks}) == 6
    assert {block.cultivar for block in blocks} == {"Basalt", "Marl", "Gneiss", "Tuff"}
    assert len({block.film for block in blocks}) >= 5
    assert len({block.transplant for block in blocks}) >= 3
    by_name = {block.name: block for block in blocks}
    east, west = by_name["Quay East"], by_name["Quay West"]
    assert (east.cultivar, east.planting_date) == (west.cultivar, west.planting_date)
    assert east.film != west.film


@pytest.mark.parametrize("kind", ["observed", "history"])
def test_the_invented_hours_pass_the_control_without_a_mark(kind):
    weather = hourly(season("low_quay.toml"), kind)
    assert weather.warnings == ()
    assert not weather.filled.any()


def test_the_weather_covers_every_planting_of_the_cooperative():
    stated = season("low_quay.toml")
    observed = hourly(stated, "observed")
    first = observed.time_utc[0].astype("datetime64[D]")
    last = observed.time_utc[-1].astype("datetime64[D]")
    for block in stated.blocks:
        planted = np.datetime64(block.planting_date)
        assert first + np.timedelta64(14, "D") <= planted < last


def test_the_outlook_has_its_members_in_order():
    stated = season("low_quay.toml")
    source = stated.weather.outlook
    members = read_weather_members(FOLDER / source.files[0], Stated.of(source, stated.site))
    assert len(members) == 8
    assert {len(member.table) for member in members} == {240}


def test_the_loggers_clock_units_and_gaps_are_understood():
    """Local clock over the end of summer time, end of hour, degF, mph: back to what was made."""
    logger = hourly(season("logger_check.toml"), "observed")
    truth = hourly(season("low_quay.toml"), "observed")
    start = int(np.flatnonzero(truth.time_utc == logger.time_utc[0])[0])
    same = slice(start, start + len(logger.time_utc))
    assert (truth.time_utc[same] == logger.time_utc).all()
    assert len(logger.time_utc) == 28 * 24
    kept = logger.filled == 0
    assert 0.9 < kept.mean() < 0.99
    # the logger's own noise of 0.15 degC and its rounding to 0.1 degF
    off = logger.air_c - truth.air_c[same]
    assert off[kept].std() == pytest.approx(0.15, abs=0.03)
    assert abs(off[kept].mean()) < 0.02
    # an hour of shift anywhere, before or after the change of the clock, would show here
    assert np.abs((logger.solar_w_m2 - truth.solar_w_m2[same])[kept]).max() < 0.6
    assert np.abs((logger.wind_m_s - truth.wind_m_s[same])[kept]).max() < 0.05
    assert np.abs((logger.rain_mm - truth.rain_mm[same])[kept]).max() < 0.13  # 0.01 inch
    # what was filled stays near: the loose wire is gone
    assert np.abs(off[~kept]).max() < 8.0
