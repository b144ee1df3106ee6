"""The crown table of a season: every block under one course of weather."""

from __future__ import annotations

from datetime import date

import pandas as pd

from phenocast.forecast.futures import Future, futures_of
from phenocast.season import Season
from phenocast.simulation.bed_season import bed_season, spin_up_start
from phenocast.simulation.crown_table import crown_rows
from phenocast.simulation.setup import block_setup
from phenocast.weather import SeasonWeather


def one_course(season: Season, weather: SeasonWeather, issue_date: date) -> Future:
    """Return the course of weather that single runs use: observed days, then the latest past year.

    Raises
    ------
    NoAnswerError
        When the weather ends before the season does and there are no past years.
    """
    setups = [block_setup(season, block) for block in season.blocks]
    start = min(spin_up_start(setup) for setup in setups)
    end = max(setup.last_day for setup in setups)
    planted = min(block.planting_date for block in season.blocks)
    return futures_of(weather, season.site, start, end, issue_date, planted).futures[-1]


def crown_table(season: Season, weather: SeasonWeather, *, issue_date: date) -> pd.DataFrame:
    """Return the hourly crown table of every block, from planting to its last day.

    The columns are those of `phenocast.simulation.crown_table.COLUMNS`. The name of the course of
    weather stands in ``table.attrs["course"]``.
    """
    course = one_course(season, weather, issue_date)
    beds = [
        bed_season(block_setup(season, block), course.weather) for block in season.blocks
    ]
    table = crown_rows(beds)
    table.attrs["course"] = course.label
    return table
