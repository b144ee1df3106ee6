"""A season with its hourly weather: from the files of a season, or from data frames alone."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from phenocast.errors import CAUTION, cautions_first
from phenocast.io.files import InputFile
from phenocast.io.raw_table import RawTable
from phenocast.io.season_file import read_season, season_inputs
from phenocast.io.weather.clock import Stated
from phenocast.io.weather.read import members_of_table
from phenocast.io.weather.season import SeasonWeatherRecords, checked_records, season_weather
from phenocast.season import Season, season_from_mapping
from phenocast.weather import MOST_MISSING_SHARE, SeasonWeather, season_tables


@dataclass(frozen=True)
class Loaded:
    """A season with its weather.

    Parameters
    ----------
    season : Season
        As the file states it.
    notes : tuple of str
        What the weather readers assumed, and what the user should check.
    weather : SeasonWeather
        Weather as hourly tables, checked and filled.
    inputs : tuple of InputFile
        Every file that was read.
    records : Path or None
        File of what was seen in the season; read when the day of issue is known.
    """

    season: Season
    notes: tuple[str, ...]
    weather: SeasonWeather
    inputs: tuple[InputFile, ...]
    records: Path | None = None

    @property
    def told(self) -> Season:
        """Season whose warnings hold the notes of the readers and cautions about its weather."""
        tables = self.weather.tables()
        doubts = [text for one in tables for text in one.warnings if text.startswith(CAUTION)]
        told = [*self.season.warnings, *self.notes, *doubts]
        return replace(self.season, warnings=cautions_first(told, self.season.checked))


def load_season(path: str | os.PathLike[str]) -> Loaded:
    """Season of a file, with the weather of the files that it names.

    Raises
    ------
    InputError
        With every fault of the season and of the files it names.
    NoAnswerError
        Where more weather is missing than may be filled.

    Examples
    --------
    >>> from phenocast.parameters import shipped
    >>> loaded = load_season(shipped("demo_weather", "low_quay.toml"))
    >>> loaded.season.blocks[0].cultivar, loaded.weather.history.site.name
    ('Marl', 'Low Quay Growers, Tamarind Coast')
    """
    place = Path(path)
    season = read_season(place)
    records = season_weather(season, place.parent)
    inputs = season_inputs(place, season)
    seen = None if season.records_file is None else place.parent / season.records_file
    return Loaded(season, records.notes, hourly(season, records), inputs, seen)


def season_from_frames(
    tables: Mapping[str, Any],
    blocks: pd.DataFrame,
    weather: Mapping[str, pd.DataFrame],
    **stated: Any,
) -> Loaded:
    """Season of data frames, without a file.

    Parameters
    ----------
    tables : mapping
        Tables and keys of a season file but its blocks and weather: site, bed and so on.
    blocks : DataFrame
        One row a block, columns as the keys of a block; an empty cell is a key left out.
    weather : mapping of str to DataFrame
        Frames as "observed", "history" (past years), "outlook" (with a column ``member`` where
        there are several). Columns and units as in a weather file: ``air [degC]``, ``RH [%]``,
        and a column or an index of times.
    **stated
        What the frames do not say, as the options of `phenocast.io.read_weather`.

    Raises
    ------
    InputError, NoAnswerError
        As `load_season`.

    Examples
    --------
    >>> site = {"name": "Home Field", "latitude": 29.3, "longitude": -15.6, "elevation_m": 35.0,
    ...         "time_zone": "Atlantic/Canary"}
    >>> bed = {"top_width_m": 0.7, "height_m": 0.25, "row_spacing_m": 1.5, "soil": "sandy loam"}
    >>> blocks = pd.DataFrame({"name": ["East"], "cultivar": "Marl", "film": "black",
    ...     "planting_date": "2026-09-28", "plants_per_ha": 50_000, "area_ha": 1.0,
    ...     "transplant": "bare-root"})
    >>> hours = pd.date_range("2026-09-01", periods=2000, freq="h", tz="UTC", name="time")
    >>> weather = pd.DataFrame({"air [degC]": 15.0 + hours.hour / 2}, index=hours)
    >>> tables = {"site": site, "bed": bed}
    >>> loaded = season_from_frames(tables, blocks, {"observed": weather}, stamp="start")
    >>> loaded.season.blocks[0].name, len(loaded.weather.observed)
    ('East', 2000)
    """
    rows = [
        {key: value for key, value in row.items() if not pd.isna(value)}
        for row in blocks.astype(object).to_dict("records")
    ]
    files = {kind: {"file": kind} for kind in weather}  # a name is asked for; nothing opens it
    season = season_from_mapping({**tables, "weather": files, "block": rows}, "data frames")
    records: dict[str, Any] = {}
    for kind, frame in weather.items():
        own = frame.reset_index(drop=not isinstance(frame.index, pd.DatetimeIndex))
        table = RawTable(own, np.arange(1, len(own) + 1), kind)
        records[kind] = members_of_table(table, Stated(site=season.site, **stated))
    read = checked_records(season, SeasonWeatherRecords(**records))
    return Loaded(season, read.notes, hourly(season, read), ())


def hourly(season: Season, records: SeasonWeatherRecords) -> SeasonWeather:
    """Weather records of a season as hourly tables."""
    nursery = None if season.nursery is None else season.nursery.site
    most = season.weather.most_missing
    return season_tables(
        records.parts(), season.site, nursery,
        max_missing_share=MOST_MISSING_SHARE if most is None else most,
    )  # fmt: skip
