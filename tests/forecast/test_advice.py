"""What a block is warned of: plants that no nursery can have conditioned yet, reflective films."""

import re
from dataclasses import replace
from datetime import date

import pytest

from phenocast.forecast.advice import (
    CREWS_AND_HEAT,
    NOT_VALIDATED,
    block_warnings,
    is_reflective,
    season_warnings,
)
from phenocast.forecast.weather_traces import WeatherTraces
from phenocast.parameters import conditioning, film_words, films
from phenocast.season import Nursery, Season, Site, WeatherSource
from phenocast.simulation.setup import block_setup
from phenocast.weather import SeasonWeather
from tests.forecast.test_run import a_block, a_season

EARLY = "could have conditioned the plants"


def told(season: Season, name: str) -> str:
    return " ".join(block_warnings(season, block_setup(season, season.block(name))))


def two_blocks(planted: date, latitude: float = 29.3, blocks: tuple[str, ...] = ()) -> Season:
    season = a_season(a_block(name="East", transplant="bare-root", planting_date=planted))
    west = replace(season.blocks[0], name="West")
    site = Site("Here", latitude, -15.6, 35.0, "UTC")
    nursery = Nursery(site, date(planted.year, 7, 1), WeatherSource(("n.csv",)), blocks=blocks)
    return replace(season, site=site, blocks=(*season.blocks, west), nursery=nursery)


def test_a_nursery_of_some_blocks_says_nothing_of_the_others() -> None:
    season = two_blocks(date(2026, 9, 10), blocks=("East",))
    assert EARLY not in told(season, "East")
    assert EARLY in told(season, "West")


def test_a_nursery_that_names_no_block_supplies_all() -> None:
    season = two_blocks(date(2026, 9, 10))
    assert EARLY not in told(season, "East") + told(season, "West")


@pytest.mark.parametrize(
    ("planted", "latitude", "warned"),
    [
        (date(2026, 9, 19), 29.3, True),
        (date(2026, 9, 20), 29.3, False),
        (date(2028, 9, 19), 29.3, True),  # a leap year has the same date
        (date(2028, 9, 20), 29.3, False),
        (date(2026, 7, 2), 29.3, True),
        (date(2026, 7, 1), 29.3, False),  # another season
        (date(2026, 3, 19), -29.3, True),
        (date(2026, 3, 20), -29.3, False),
        (date(2026, 12, 31), -29.3, True),  # over New Year
        (date(2026, 9, 10), -29.3, False),
    ],
)
def test_the_days_that_are_warned_of(planted: date, latitude: float, warned: bool) -> None:
    season = replace(two_blocks(planted, latitude), nursery=None)
    assert (EARLY in told(season, "West")) is warned


def test_the_days_are_half_a_year_apart_and_common_practice() -> None:
    known = conditioning()
    assert known.value("earliest_north") - known.value("earliest_south") == pytest.approx(
        183, abs=3
    )
    assert "no source" in known["earliest_north"].where


def test_what_is_called_reflective() -> None:
    told = {name for name, film in films().items() if is_reflective(film)}
    assert {"white", "white-on-black", "silver", "metallised"} <= told
    assert not told & {"black", "clear", "bare-soil"}
    limit = film_words()["reflective_from"]
    assert limit.lower < limit.value < limit.upper


def test_every_answer_of_a_season_tells_of_crews_and_heat() -> None:
    traces = WeatherTraces((), None, 0, (), ())
    season = a_season(a_block())
    told = season_warnings(season, SeasonWeather(), traces, season.blocks[0].planting_date)
    assert CREWS_AND_HEAT in told
    assert NOT_VALIDATED in told
    assert "no safety programme" in CREWS_AND_HEAT
    assert not re.search(r"\bsafe\b", " ".join(told))
