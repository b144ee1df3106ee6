"""The crown of a season under one weather trace: a table, and a document of days and weeks."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from phenocast import __version__
from phenocast._typing import FloatArray
from phenocast.forecast.draws import nursery_of
from phenocast.forecast.result import SCHEMA_VERSION, assumed_numbers
from phenocast.forecast.season_days import (
    TO_FIRST_BLOOM,
    HeatDays,
    heat_days,
    same_days,
    season_end,
)
from phenocast.forecast.weather_traces import WeatherTrace, weather_traces
from phenocast.harvest import iso_week
from phenocast.phenology import plant_records
from phenocast.phenology.work import ANTHESIS, FIRST_PICK
from phenocast.season import Block, Season
from phenocast.season.site import standard_offset_h
from phenocast.simulation.bed import BedSeason, bed_season, crown_rows, site_weather, spin_up_start
from phenocast.simulation.engine import DrawnBlock, run_blocks
from phenocast.simulation.nursery import nursery_plants
from phenocast.simulation.responses import induction_tables
from phenocast.simulation.setup import block_setup, flowers_on_film, physics_records
from phenocast.weather import HourlyWeather, SeasonWeather
from phenocast.weather.hourly import local_day_and_clock


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


HEAT_FROM_C = 30.0
COMPARED_DAYS = 28
"""Days over which the mean day is taken: the first four weeks that all blocks share."""
OF_THE_DAY = ("air_c", "film_surface_c", "crown_c", "soil_5cm_c", "soil_10cm_c")


def crown_document(
    season: Season,
    table: pd.DataFrame,
    *,
    issue_date: date,
    observed_until: date | None,
) -> dict[str, Any]:
    """Return the crown table of a season as plain values.

    Parameters
    ----------
    season : Season
    table : DataFrame
        From `phenocast.forecast.crown_table`: every block under one course of weather, at the
        central value of every parameter; the name of the course stands in its ``attrs``.
    issue_date : date
        Last day whose observed weather was used.
    observed_until : date or None
        Last observed day that was used.

    Returns
    -------
    dict
        ``compared`` has the days that the mean days are taken over, the same for every block; None
        where the blocks share no day. A block has ``crown`` (highest temperature and when in local
        standard time, hours and degree-hours above 30 degC: to first bloom, over the days in
        ``heat_compared``, and over the season as it ends on this course of weather), ``mean_day``
        (24 rows, the hours of local standard time; empty where no day is shared) and ``weekly``.
        [degC, h, degC h, 0 to 1]
    """
    blocks = {block.name: block for block in season.blocks}
    parts = dict(iter(table.groupby("block", sort=False)))
    days = {
        name: local_day_and_clock(
            part["time_utc"].to_numpy().astype("datetime64[h]"),
            standard_offset_h(season.site.time_zone, blocks[str(name)].planting_date.year),
        )
        for name, part in parts.items()
    }
    first = max(found[0][0] for found in days.values())
    last = min(*(found[0][-1] for found in days.values()), first + COMPARED_DAYS - 1)
    shared = bool(last >= first)
    site = season.site
    spans = {}
    for name in parts:
        plant = table.attrs["plants"][name]
        last_day = date.fromisoformat(plant["season_end"]["last_day"])
        setup = block_setup(season, replace(blocks[str(name)], season_end=last_day))
        spans[name] = heat_days(setup, plant["bloom_d"], plant["first_pick_d"])
    told, windows = same_days(
        list(spans.values()), [(one.planting, one.n_days) for one in spans.values()]
    )
    return {
        "schema_version": SCHEMA_VERSION,
        "kind": "crown",
        "engine_version": __version__,
        "issue_date": issue_date.isoformat(),
        "site": {
            "name": site.name,
            "latitude": site.latitude,
            "longitude": site.longitude,
            "elevation_m": site.elevation_m,
            "time_zone": site.time_zone,
        },
        "weather": {
            "course": str(table.attrs["course"]),
            "observed_until": observed_until.isoformat() if observed_until else None,
            "filled_hours": int((table["filled"] > 0).sum() // max(1, len(parts))),
        },
        "compared": {"from": str(first), "to": str(last)} if shared else None,
        "heat_compared": told,
        "blocks": [
            _block(
                blocks[str(name)],
                part,
                *days[name],
                (first, last),
                spans[name],
                window,
                table.attrs["plants"][name]["season_end"],
            )
            for (name, part), window in zip(parts.items(), windows, strict=True)
        ],
        "assumptions": [
            one
            for one in assumed_numbers([block_setup(season, block) for block in season.blocks])
            if one["set"].split()[0] in {"film", "bed", "soil"}
            or one["name"].startswith("season_end")
        ],
        "warnings": list(season.warnings),
    }


def _block(
    block: Block,
    part: pd.DataFrame,
    day: NDArray[np.datetime64],
    clock: FloatArray,
    compared: tuple[np.datetime64, np.datetime64],
    span: HeatDays,
    window: tuple[int, int],
    season_end: dict[str, Any],
) -> dict[str, Any]:
    """One bed: its heat and its highest hours, its mean day and its weeks."""
    crown = part["crown_c"].to_numpy()
    within = (day >= compared[0]) & (day <= compared[1])
    in_season = slice(0, 24 * span.n_days)
    name, headline = span.headline

    def heat_of(days: tuple[int, int], **more: Any) -> dict[str, Any]:
        return {**more, **_heat(crown, day, clock, *days)}

    return {
        "block": block.name,
        "cultivar": block.cultivar,
        "film": block.film,
        "planting_date": block.planting_date.isoformat(),
        "season_end": {key: told for key, told in season_end.items() if key != "last_day"},
        "last_day": season_end["last_day"],
        "crown": {
            "headline": name,
            TO_FIRST_BLOOM: heat_of(span.to_bloom, reached=span.bloom is not None),
            **({} if name == TO_FIRST_BLOOM else {name: heat_of(headline)}),
            "compared": heat_of(window),
            "season": heat_of((0, span.n_days)),
        },
        "mean_day": _mean_day(part[within], clock[within]) if within.any() else [],
        "weekly": _weeks(
            part.iloc[in_season], day[in_season], np.maximum(crown[in_season] - HEAT_FROM_C, 0.0)
        ),
    }


def _heat(
    crown: FloatArray, day: NDArray[np.datetime64], clock: FloatArray,
    first: int, stop: int,
) -> dict[str, Any]:  # fmt: skip
    """Heat and highest hour from one day since planting to another, the last left out."""
    hours = crown[24 * first : 24 * stop]
    heat = np.maximum(hours - HEAT_FROM_C, 0.0)
    hottest = 24 * first + int(np.argmax(hours)) if hours.size else None
    return {
        "days": stop - first,
        "from": str(day[0] + first),
        "to": str(day[0] + (stop - 1)),
        "max_c": None if hottest is None else round(float(crown[hottest]), 1),
        "max_day": None if hottest is None else str(day[hottest]),
        "max_hour": None if hottest is None else int(clock[hottest]),
        "hours_above_30c": int((heat > 0.0).sum()),
        "degree_hours_above_30c": round(float(heat.sum())),
    }


def _mean_day(part: pd.DataFrame, clock: FloatArray) -> list[dict[str, Any]]:
    """Mean temperature of each hour of local standard time."""
    means = part[list(OF_THE_DAY)].groupby(np.floor(clock).astype(int)).mean().round(1)
    return [
        {"hour": int(str(hour)), **{name: float(row[name]) for name in OF_THE_DAY}}
        for hour, row in means.iterrows()
    ]


def _weeks(
    part: pd.DataFrame, day: NDArray[np.datetime64], heat: FloatArray
) -> list[dict[str, Any]]:
    """What each ISO week brought."""
    days = np.unique(day)
    weeks = {str(one): iso_week(date.fromisoformat(str(one))) for one in days}
    labels = np.array([weeks[str(one)] for one in days])[np.searchsorted(days, day)]
    rows = []
    for label in dict.fromkeys(labels.tolist()):
        of_week = labels == label
        own = part[of_week]
        rows.append(
            {
                "week": label,
                "air_mean_c": _rounded(own["air_c"].mean()),
                "crown_mean_c": _rounded(own["crown_c"].mean()),
                "crown_max_c": _rounded(own["crown_c"].max()),
                "soil_10cm_mean_c": _rounded(own["soil_10cm_c"].mean()),
                "soil_10cm_max_c": _rounded(own["soil_10cm_c"].max()),
                "degree_hours_above_30c": round(float(heat[of_week].sum())),
                "canopy_cover": round(float(own["canopy_cover"].mean()), 2),
            }
        )
    return rows


def _rounded(value: float) -> float:
    return round(float(value), 1)
