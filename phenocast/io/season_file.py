"""A season file and the files it names, read whole or refused with reasons; and its weather.

The weather of a season is read with it, or given with it as data frames (`season_from_frames`).
"""

import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from phenocast.errors import (
    CAUTION,
    Fault,
    Gathering,
    InputError,
    cautions_first,
    raise_any,
    unknown_name,
)
from phenocast.io.files import InputFile, read_bytes, read_toml_file
from phenocast.io.raw_table import RawTable
from phenocast.io.weather.clock import Stated
from phenocast.io.weather.read import members_of_table
from phenocast.io.weather.season import SeasonWeatherRecords, checked_records, season_weather
from phenocast.parameters import ParameterSet, cultivars_from, film_from, transplants_from
from phenocast.season import CanopyReading, Season, named_files, season_from_mapping
from phenocast.tables import CANOPY_COVER, PAST_SEASONS
from phenocast.weather import MOST_MISSING_SHARE, SeasonWeather, season_tables


def read_season(path: str | os.PathLike[str]) -> Season:
    """Season of a file, with the cultivars, films and cover series of the files it names.

    Parameters
    ----------
    path : str or path
        A TOML file; the files it names are relative to its folder.

    Returns
    -------
    Season

    Raises
    ------
    InputError
        With every fault of the season and of the files it names.

    Examples
    --------
    >>> read_season("no/such/season.toml")
    Traceback (most recent call last):
    phenocast.errors.InputError: no/such/season.toml: no such file; check the path
    """
    place = Path(path)
    mapping = read_toml_file(place)
    named = named_files(mapping)
    faults = Gathering()
    own: dict[str, dict[str, ParameterSet]] = {"cultivar": {}, "transplant": {}, "film": {}}
    for name in named.cultivar_files:
        with faults.of_step():
            tables = read_toml_file(place.parent / name)
            for kind in ("cultivar", "transplant"):
                own[kind] |= _own_sets(kind, tables, place.parent / name)
    for film, name in named.film_files.items():
        with faults.of_step():
            own["film"][film] = read_film(place.parent / name, film)
    season: Season | None = None
    with faults.of_step():
        season = season_from_mapping(
            mapping, place.name, user_cultivars=own["cultivar"], user_films=own["film"],
            user_transplants=own["transplant"],
        )  # fmt: skip
    blocks = [] if season is None else list(season.blocks)
    for number, block in enumerate(blocks):
        if block.canopy_file is not None:
            with faults.of_step():
                canopy = read_canopy(place.parent / block.canopy_file)
                blocks[number] = replace(block, canopy=canopy)
    raise_any(faults)
    assert season is not None  # else there is a fault
    return replace(season, blocks=tuple(blocks))


def read_cultivars(path: str | os.PathLike[str]) -> dict[str, ParameterSet]:
    """Cultivars of a parameter file, each merged with what it is like, or with the species.

    A cultivar whose text ``draws = "FILE.parquet"`` names a table of draws beside the file (columns
    ``cultivar, draw`` and parameters, as a fit writes it) takes these before the spreads.

    Parameters
    ----------
    path : str or path
        TOML with tables ``[cultivar.NAME.PARAMETER]``, as a fit writes it.

    Returns
    -------
    dict of str to ParameterSet

    Raises
    ------
    InputError
        Where it holds no cultivar, or a parameter is faulty.

    Examples
    --------
    >>> from phenocast.parameters import shipped
    >>> "Basalt" in read_cultivars(shipped("calibration", "cultivars.toml"))
    True
    """
    return _own_sets("cultivar", read_toml_file(path), Path(path))


def read_transplants(path: str | os.PathLike[str]) -> dict[str, ParameterSet]:
    """Types of transplant in a cultivar file, as a fit found their state at planting.

    Parameters
    ----------
    path : str or path
        TOML; tables ``[transplant.NAME.PARAMETER]`` state what differs from the shipped type of
        that name. Most files have none.

    Returns
    -------
    dict of str to ParameterSet

    Raises
    ------
    InputError
        A type or a number that is not shipped, or a faulty certificate.

    Examples
    --------
    >>> from phenocast.parameters import shipped
    >>> sorted(read_transplants(shipped("calibration", "cultivars.toml")))[0]
    'bare-root'
    """
    return _own_sets("transplant", read_toml_file(path), Path(path))


def _own_sets(kind: str, tables: Mapping[str, Any], place: Path) -> dict[str, ParameterSet]:
    """Cultivars, or types of transplant, of a file, with the draws that they name."""
    if kind == "cultivar":
        own = cultivars_from({kind: tables.get(kind)}, place.name)
    else:
        own = transplants_from({kind: tables.get(kind, {})}, place.name)
    return {name: _with_draws(one, place.parent, kind) for name, one in own.items()}


def _with_draws(cultivar: ParameterSet, folder: Path, kind: str = "cultivar") -> ParameterSet:
    """Cultivar, or type of transplant, with the draws that it names."""
    name = cultivar.labels.get("draws")
    if name is None:
        return cultivar
    return with_draws(cultivar, read_draws(folder / name, kind), name, kind)


def with_draws(
    cultivar: ParameterSet, table: pd.DataFrame, name: str, kind: str = "cultivar"
) -> ParameterSet:
    """Cultivar, or type of transplant, with its rows of a table of draws.

    Parameters
    ----------
    cultivar : ParameterSet
    table : DataFrame
        As `read_draws` gives it.
    name : str
        Of the table's file, for messages.
    kind : str
        "cultivar" or "transplant".

    Raises
    ------
    InputError
        No draws, a parameter that is not known, or a draw that is missing or out of its bounds.
    """
    own = table[table[kind] == cultivar.name].sort_values("draw")
    columns = [str(c) for c in own if c not in (kind, "draw") and own[c].notna().any()]
    faults = []
    for column in columns:
        where = f"{name}, column {column}"
        if column not in cultivar:
            faults.append(unknown_name("parameter", column, cultivar, where))
            continue
        values, limits = own[column].to_numpy(), cultivar[column]
        if not np.all((values >= limits.lower) & (values <= limits.upper)):
            faults.append(
                Fault(
                    "a draw is missing or out of its bounds",
                    where,
                    allowed=f"{limits.lower} to {limits.upper} {limits.unit}",
                )
            )
    if not len(own) or not columns:
        faults.append(Fault(f"no draws of the {kind}", name, cultivar.name))
    raise_any(faults)
    joint = {column: own[column].to_numpy() for column in columns}
    return ParameterSet(cultivar.name, cultivar.parameters, cultivar.labels, joint)


def read_draws(path: Path, kind: str = "cultivar") -> pd.DataFrame:
    """Table of draws, columns ``cultivar`` or ``transplant``, ``draw`` and numbers.

    Raises
    ------
    InputError
        Where the file cannot be read, a column is missing or a cell is no number.
    """
    from phenocast.errors import Gathered
    from phenocast.io.raw_table import parse_parquet

    raw = parse_parquet(read_bytes(path), path.name)
    found = Gathered(path.name)
    for column in (kind, "draw"):
        if column not in raw.frame:
            found.add("a column is missing", column=column, do="write the draws by a fit")
    found.raise_any()
    table = raw.frame.copy()
    for name in map(str, table.columns):
        table[name] = table[name].astype("str") if name == kind else raw.numbers(name, found)[0]
    found.raise_any()
    return table


def read_film(path: str | os.PathLike[str], name: str) -> ParameterSet:
    """Film of a parameter file: the one of that name, or the only one.

    Parameters
    ----------
    path : str or path
        TOML with tables ``[film.NAME.PARAMETER]``, as a sensor fit writes it.
    name : str
        Name of the film in the season file.

    Returns
    -------
    ParameterSet

    Raises
    ------
    InputError
        Where it holds no such film, or a parameter is faulty.

    Examples
    --------
    >>> from phenocast.parameters import shipped
    >>> read_film(shipped("calibration", "films.toml"), "black").name
    'black'
    """
    return film_from({"film": read_toml_file(path).get("film")}, name, Path(path).name)


def past_table(path: str | os.PathLike[str]) -> pd.DataFrame | None:
    """Past seasons that the cultivar files of a season name, as a fit left them; None for none.

    Parameters
    ----------
    path : str or path
        Of the season file.

    Raises
    ------
    InputError
        Where a table is missing or its columns cannot be.
    """
    from phenocast.io.tables import read_table

    place = Path(path)
    named = named_files(read_toml_file(place)).cultivar_files
    tables = [read_table(one, PAST_SEASONS)
              for one in dict.fromkeys(_tables_named(place.parent, named, "past"))]  # fmt: skip
    return pd.concat(tables, ignore_index=True) if tables else None


def _tables_named(folder: Path, names: Iterable[str], label: str) -> list[Path]:
    """Tables of draws, or of past seasons, that the cultivars of some files name."""
    found = []
    for name in names:
        place = folder / name
        found += [
            place.parent / table[label]
            for kind in ("cultivar", "transplant")
            for table in read_toml_file(place).get(kind, {}).values()
            if isinstance(table, Mapping) and isinstance(table.get(label), str)
        ]
    return found


def read_canopy(path: str | os.PathLike[str]) -> tuple[CanopyReading, ...]:
    """Measured canopy cover of a table with columns ``date`` and ``cover``, in order of days.

    Parameters
    ----------
    path : str or path
        CSV or Parquet.

    Returns
    -------
    tuple of CanopyReading

    Raises
    ------
    InputError
        With every fault; a day that comes twice is one.
    """
    from phenocast.io.tables import read_table

    frame = read_table(path, CANOPY_COVER).sort_values("date")
    twice = frame["date"].duplicated()
    if twice.any():
        row = int(frame.loc[twice, "row"].iloc[0])
        raise InputError(
            Fault("a day comes twice", f"{Path(path).name}, row {row}",
                  str(frame.loc[twice, "date"].iloc[0].date()), do="remove one of the rows")
        )  # fmt: skip
    return tuple(
        CanopyReading(day.date(), float(cover))
        for day, cover in zip(frame["date"], frame["cover"], strict=True)
    )


def season_inputs(path: str | os.PathLike[str], season: Season) -> tuple[InputFile, ...]:
    """Every file that a season reads: itself, parameters, cover series and weather.

    Parameters
    ----------
    path : str or path
        Of the season file.
    season : Season

    Returns
    -------
    tuple of InputFile
        In the order of the file; none twice.
    """
    place = Path(path)
    folder = place.parent
    named = named_files(read_toml_file(place))
    listed = [InputFile("season", place)]
    listed += [InputFile("cultivars", folder / name) for name in named.cultivar_files]
    for role in ("draws", "past"):
        files = _tables_named(folder, named.cultivar_files, role)
        listed += [InputFile(role, one) for one in files]
    listed += [InputFile("film", folder / name) for name in named.film_files.values()]
    listed += [
        InputFile("cover", folder / block.canopy_file)
        for block in season.blocks
        if block.canopy_file is not None
    ]
    for role, (source, _) in season.sources.items():
        listed += [InputFile(role, folder / name) for name in source.files]
    tables = {
        "prices": season.prices and season.prices.file,
        "tallies": season.labour and season.labour.tallies,
        "records": season.records_file,
    }
    listed += [InputFile(role, folder / name) for role, name in tables.items() if name]
    return tuple(dict.fromkeys(listed))


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
    past : DataFrame or None
        Past seasons of the farm, as the fit left them whose cultivars the season names.
    """

    season: Season
    notes: tuple[str, ...]
    weather: SeasonWeather
    inputs: tuple[InputFile, ...]
    records: Path | None = None
    past: pd.DataFrame | None = None

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
    return Loaded(season, records.notes, hourly(season, records), inputs, seen, past_table(place))


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
