"""The weather of a season: its files read, and held against what is planted when."""

import os
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import pandas as pd

from phenocast.errors import Fault, Gathering, broken, caution, cautions_first, raise_any
from phenocast.io.weather.clock import Stated
from phenocast.io.weather.read import read_weather_as, read_weather_members
from phenocast.season import Season, Site
from phenocast.season.site import standard_offset_h
from phenocast.weather.records import WeatherRecords

# Past years stand in for any year; so far from all of them a year was most likely mistyped.
PLANTED_APART = timedelta(days=731)

# A break between the end of the observed weather and the outlook that is more than a pause.
OUTLOOK_GAP = pd.Timedelta(hours=24)


@dataclass(frozen=True)
class SeasonWeatherRecords:
    """Weather records of a season, as the files hold them.

    Parameters
    ----------
    observed, history : tuple of WeatherRecords
        One a file, in the order stated.
    outlook : tuple of WeatherRecords
        One a member.
    nursery : tuple of WeatherRecords
        Of the nursery's own site.
    notes : tuple of str
        What the readers assumed, and what the user should check.
    """

    observed: tuple[WeatherRecords, ...] = ()
    history: tuple[WeatherRecords, ...] = ()
    outlook: tuple[WeatherRecords, ...] = ()
    nursery: tuple[WeatherRecords, ...] = ()
    notes: tuple[str, ...] = ()

    def parts(self) -> dict[str, tuple[WeatherRecords, ...]]:
        """Records by kind, as `phenocast.weather.season_tables` takes them."""
        return {
            "observed": self.observed,
            "history": self.history,
            "outlook": self.outlook,
            "nursery": self.nursery,
        }


def season_weather(season: Season, base_dir: str | os.PathLike[str]) -> SeasonWeatherRecords:
    """Weather files of a season, read and checked against its planting dates.

    Parameters
    ----------
    season : Season
    base_dir : str or path
        Folder that the names of the files are relative to: that of the season file.

    Returns
    -------
    SeasonWeatherRecords

    Raises
    ------
    InputError
        With the faults of every file, and of blocks planted outside the weather.

    Examples
    --------
    >>> from phenocast.io.season_file import read_season
    >>> from phenocast.io.templates import template, TEMPLATE_NAMES
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     for name in ("season.toml", "weather.csv"):
    ...         _ = Path(folder, name).write_text(template(name.split(".")[0]))
    ...     season = read_season(Path(folder, "season.toml"))
    ...     len(season_weather(season, folder).observed)
    1
    """
    folder = Path(base_dir)
    faults = Gathering()
    read: dict[str, Any] = {}
    for role, (source, site) in season.sources.items():
        records: list[WeatherRecords] = []
        stated = Stated.of(source, site)
        for name in source.files:
            with faults.of_step():
                if role == "outlook":
                    records += read_weather_members(folder / name, stated)
                else:
                    records.append(read_weather_as(folder / name, stated))
        read[role] = tuple(records)
    raise_any(faults)
    return checked_records(season, SeasonWeatherRecords(**read))


def checked_records(season: Season, weather: SeasonWeatherRecords) -> SeasonWeatherRecords:
    """Records held against what is planted when, with the notes of all readers.

    Raises
    ------
    InputError
    """
    raise_any([*_typical_faults(weather), *_order_faults(weather)])
    raise_any([*_planting_faults(season, weather), *_nursery_faults(season, weather)])
    return replace(weather, notes=_notes(season, weather))


def span_of(records: Iterable[WeatherRecords]) -> tuple[pd.Timestamp, pd.Timestamp]:
    """First instant and end of some records, UTC.

    Parameters
    ----------
    records : iterable of WeatherRecords
        At least one.

    Returns
    -------
    start, end : Timestamp
        The end is that of the last interval.
    """
    listed = list(records)
    starts = [one.table["time_utc"].iloc[0] for one in listed]
    ends = [one.table["time_utc"].iloc[-1] + _interval(one) for one in listed]
    return min(starts), max(ends)


def _interval(records: WeatherRecords) -> pd.Timedelta:
    """Length of an interval."""
    if records.step == "daily":
        return pd.Timedelta(days=1)
    if records.step == "hourly" or len(records.table) < 2:
        return pd.Timedelta(hours=1)
    return pd.Timedelta(records.table["time_utc"].diff().median())


def _days(records: Iterable[WeatherRecords], site: Site) -> tuple[date, date]:
    """First and last local day of records."""
    start, end = span_of(records)
    first, last = (
        (moment + pd.Timedelta(hours=standard_offset_h(site.time_zone, moment.year))).date()
        for moment in (start, end - pd.Timedelta(seconds=1))
    )
    return first, last


def _typical_faults(weather: SeasonWeatherRecords) -> list[Fault]:
    """Typical years where real ones are wanted."""
    return [
        Fault(
            "a typical year is not weather that was observed",
            where=f"weather.{role}",
            value=records.source,
            do="state it as history: weather.history",
        )
        for role in ("observed", "outlook")
        for records in getattr(weather, role)
        if records.typical_year
    ]


def _order_faults(weather: SeasonWeatherRecords) -> list[Fault]:
    """Files of the observed weather that overlap, and an outlook that does not follow it."""
    listed = sorted(weather.observed, key=lambda one: one.table["time_utc"].iloc[0])
    spans = [(one.source, *span_of([one])) for one in listed]
    faults = [
        Fault("two files of observed weather overlap", "weather.observed",
              f"{source} ends {end}, {later} starts {start}", do="cut one of them")
        for (source, _, end), (later, start, _) in pairwise(spans)
        if start < end
    ]  # fmt: skip
    if weather.observed and weather.outlook:
        end, start = span_of(weather.observed)[1], span_of(weather.outlook)[0]
        faults += broken(
            (start - end > OUTLOOK_GAP,
             Fault("the outlook does not follow the observed weather", "weather.outlook",
                   f"starts {start} UTC", f"by {end + OUTLOOK_GAP} UTC",
                   "bring the observed weather up to date")),
        )  # fmt: skip
    return faults


def _planting_faults(season: Season, weather: SeasonWeatherRecords) -> list[Fault]:
    """Blocks planted before the weather begins, or after it ends where no past years follow."""
    if not weather.observed:
        return broken(
            (not weather.history,
             Fault("no weather is stated", "weather", allowed="observed, history, or both",
                   do='state weather.history = { file = "..." } for past years')),
        )  # fmt: skip
    # The first day counts where the file begins within it by an hour or so, as loggers do.
    first, _ = _days(weather.observed, season.site)
    _, last = _days([*weather.observed, *weather.outlook], season.site)
    names = ", ".join(dict.fromkeys(one.source for one in weather.observed))
    faults = []
    for number, block in enumerate(season.blocks):
        where = f"{season.source_name}: block[{number}].planting_date ({block.name})"
        faults += broken(
            (block.planting_date < first,
             Fault(f"planted before the weather of {names} begins", where,
                   block.planting_date.isoformat(), f"{first} or later",
                   "give observed weather from the planting date on")),
            (block.planting_date > last and not weather.history,
             Fault(f"the weather of {names} ends before the planting date", where,
                   block.planting_date.isoformat(), f"{last} or earlier",
                   "give later weather, or past years as weather.history")),
        )  # fmt: skip
    return faults


def _nursery_faults(season: Season, weather: SeasonWeatherRecords) -> list[Fault]:
    """Nursery weeks outside the nursery's weather."""
    if season.nursery is None or any(one.typical_year for one in weather.nursery):
        return []
    first, last = _days(weather.nursery, season.nursery.site)
    return [
        Fault("a nursery day outside the nursery's weather", f"{season.source_name}: nursery",
              day.isoformat(), f"{first} to {last}", "give weather of the nursery for these weeks")
        for day in (season.nursery.first_day, season.nursery.last_day)
        if day is not None and not first <= day <= last
    ]  # fmt: skip


def _notes(season: Season, weather: SeasonWeatherRecords) -> tuple[str, ...]:
    """Notes of all readers, and on blocks planted long before or after any of the weather."""
    notes = [note for part in weather.parts().values() for one in part for note in one.notes]
    dated = [one for one in (*weather.observed, *weather.history) if not one.typical_year]
    if dated:
        first, last = _days(dated, season.site)
        notes += [
            caution(
                f"block '{block.name}' is planted on {block.planting_date}, more than two years "
                f"from the weather, which runs from {first} to {last}: is the year right",
                "planting date",
            )
            for block in season.blocks
            if not first - PLANTED_APART <= block.planting_date <= last + PLANTED_APART
        ]
    return cautions_first(notes, season.checked)
