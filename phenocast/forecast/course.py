"""The crown table of a season: every block under one course of weather."""

from __future__ import annotations

from datetime import date
from typing import Any

import pandas as pd

from phenocast.forecast.draws import nursery_of
from phenocast.forecast.season_end import season_end
from phenocast.forecast.weather_traces import WeatherTrace, weather_traces
from phenocast.phenology import plant_records
from phenocast.phenology.work import ANTHESIS, FIRST_PICK
from phenocast.season import Season
from phenocast.simulation.bed import BedSeason, bed_season, crown_rows, site_weather, spin_up_start
from phenocast.simulation.engine import DrawnBlock, run_blocks
from phenocast.simulation.nursery import nursery_plants
from phenocast.simulation.responses import induction_tables
from phenocast.simulation.setup import block_setup, flowers_on_film, physics_records
from phenocast.weather import HourlyWeather, SeasonWeather


def one_course(season: Season, weather: SeasonWeather, issue_date: date) -> WeatherTrace:
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
    return weather_traces(weather, season.site, start, end, issue_date, planted).traces[-1]


def crown_table(season: Season, weather: SeasonWeather, *, issue_date: date) -> pd.DataFrame:
    """Return the hourly crown table of every block, from planting to its last simulated day.

    The columns are those of `phenocast.simulation.bed.COLUMNS`. In ``table.attrs`` stand
    the name of the ``course`` of weather, and for each block under ``plants`` what its central
    plant does on it: ``bloom_d`` and ``first_pick_d`` since planting, and its ``season_end``.
    """
    course = one_course(season, weather, issue_date)
    of_site = site_weather(course.weather, season.site)
    beds = [bed_season(block_setup(season, block), of_site) for block in season.blocks]
    table = crown_rows(beds)
    table.attrs["course"] = course.label
    table.attrs["plants"] = {
        bed.setup.block.name: _central_plant(season, bed, weather.nursery) for bed in beds
    }
    return table


def _central_plant(season: Season, bed: BedSeason, nursery: HourlyWeather | None) -> dict[str, Any]:
    """When the plant of central numbers blooms and is picked, and when its season ends."""
    setup = bed.setup
    plants = plant_records(setup.cultivar, setup.transplant)
    plants["flowers_per_truss"] *= flowers_on_film(setup)
    names = ("induction_base", "induction_optimum", "induction_ceiling")
    tables = induction_tables(*(plants[name] for name in names))
    origin = nursery_of(season, setup.block, nursery)
    if origin is not None:
        plants = nursery_plants(*origin, setup, plants, tables)
    central = DrawnBlock(setup, plants, tables, physics_records(setup), 1)
    ((_, grown),) = run_blocks([central], [bed.of_site], early_days=[0], detailed=False)
    end = season_end(
        setup.cultivar, setup.block.season_end, setup.last_day, grown.weekly_g[0], grown.weeks
    )
    return {
        "bloom_d": float(grown.dates[0, 0, ANTHESIS]),
        "first_pick_d": float(grown.dates[0, 0, FIRST_PICK]),
        "season_end": {"last_day": end.last_day.isoformat(), **end.to_dict()},
    }
