"""The crown table of a season: every block under one course of weather."""

from __future__ import annotations

from datetime import date
from typing import Any

import pandas as pd

from phenocast.forecast.draws import nursed
from phenocast.forecast.futures import Future, futures_of
from phenocast.forecast.season_end import fruit_by_week, season_end
from phenocast.phenology import plant_records
from phenocast.phenology.work import ANTHESIS, FIRST_PICK
from phenocast.season import Season
from phenocast.simulation.bed_season import BedSeason, bed_season, crown_daily, spin_up_start
from phenocast.simulation.crown_table import crown_rows
from phenocast.simulation.many import drawn_seasons
from phenocast.simulation.responses import induction_tables
from phenocast.simulation.setup import block_setup, flowers_on_film, physics_records
from phenocast.weather import HourlyWeather, SeasonWeather


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
    """Return the hourly crown table of every block, from planting to its last simulated day.

    The columns are those of `phenocast.simulation.crown_table.COLUMNS`. In ``table.attrs`` stand
    the name of the ``course`` of weather, and for each block under ``plants`` what its central
    plant does on it: ``bloom_d`` and ``first_pick_d`` since planting, and its ``season_end``.
    """
    course = one_course(season, weather, issue_date)
    beds = [bed_season(block_setup(season, block), course.weather) for block in season.blocks]
    table = crown_rows(beds)
    table.attrs["course"] = course.label
    table.attrs["plants"] = {
        bed.setup.block.name: _central_plant(season, bed, weather.nursery) for bed in beds
    }
    return table


def _central_plant(season: Season, bed: BedSeason, nursery: HourlyWeather | None) -> dict[str, Any]:
    """When the plant of central numbers blooms and is picked, and when its season ends."""
    setup = bed.setup
    cultivar, stated = setup.cultivar, setup.block.season_end
    crown, daily, _ = crown_daily(bed, physics_records(setup))
    plants = plant_records(cultivar, setup.transplant)
    plants["flowers_per_truss"] *= flowers_on_film(setup)
    base, optimum, ceiling = (
        plants[f"induction_{name}"] for name in ("base", "optimum", "ceiling")
    )
    tables = induction_tables(base, optimum, ceiling)
    plants = nursed(plants, tables, season, setup, nursery)
    grown = drawn_seasons(
        crown, daily, bed.days.first_hour, tables, plants, setup.block.first_pick_g_per_plant
    )
    weeks, fruit = fruit_by_week(setup.block.planting_date, grown.marketable)
    end = season_end(cultivar, stated, setup.last_day, fruit, weeks)
    return {
        "bloom_d": float(grown.dates[0, ANTHESIS]),
        "first_pick_d": float(grown.dates[0, FIRST_PICK]),
        "season_end": {"last_day": end.last_day.isoformat(), **end.to_dict()},
    }
