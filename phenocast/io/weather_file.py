"""Any weather file to records: which format it is follows from its content, not its name."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from phenocast.errors import Fault, InputError
from phenocast.io.columns import TIME_KEYS
from phenocast.io.files import PARQUET_MAGIC, decode, read_bytes, reading
from phenocast.io.raw_table import RawTable, parse_table
from phenocast.io.stated import Impossible, Stated
from phenocast.season import Site
from phenocast.weather.records import WeatherRecords

MOST_MEMBERS = 1_000  # of an ensemble; the largest of a weather service has some hundred


def read_weather(
    path: str | os.PathLike[str],
    columns: Mapping[str, str] | None = None,
    units: Mapping[str, str] | None = None,
    *,
    time_zone: str | None = None,
    stamp: str | None = None,
    time_format: str | None = None,
    local_standard: bool = False,
    wind_height_m: float | None = None,
    impossible: Impossible = "refuse",
    site: Site | None = None,
) -> WeatherRecords:
    """Weather of one file: CSV of any kind, Parquet, EPW, TMY3, TMY2, GHCN-Daily or USCRN.

    Parameters
    ----------
    path : str or path
    columns : mapping of str to str, optional
        Quantity to header, such as ``{"air_c": "T1", "time": "Logged at"}``.
    units : mapping of str to str, optional
        Quantity (or header) to unit, where the file is silent.
    time_zone : str, optional
        IANA zone of the clock the stamps keep, or "UTC".
    stamp : "start" or "end", optional
        Whether stamps are the start or the end of their interval.
    time_format : str, optional
        strptime format of the stamps.
    local_standard : bool
        The clock never changes to summer time.
    wind_height_m : float, optional
        Height of the wind sensor. [m]
    impossible : "refuse" or "blank"
        What becomes of a value that cannot be: an error, or a missing value that is counted.
    site : Site, optional
        Where the weather is meant to be: its zone gives days and local standard time.

    Returns
    -------
    WeatherRecords

    Raises
    ------
    InputError
        With every fault of the file: file, row, column, value, what is allowed, what to do.

    Examples
    --------
    >>> from phenocast.parameters.library import shipped
    >>> weather = read_weather(shipped("demo_weather", "low_quay_observed.csv"), stamp="start")
    >>> weather.step, str(weather.table["time_utc"][0]), float(weather.table["air_c"][0])
    ('hourly', '2026-09-01 00:00:00', 23.0)
    """
    stated = Stated(
        columns or {}, units or {}, time_zone, stamp, time_format, local_standard, wind_height_m,
        impossible, site,
    )  # fmt: skip
    return read_weather_as(path, stated)


def read_weather_as(path: str | os.PathLike[str], stated: Stated) -> WeatherRecords:
    """Weather of one file under stated options; result and errors as `read_weather`."""
    with reading(path, "weather"):
        read = _opened(path, stated)
        if isinstance(read, WeatherRecords):
            return read
        if any(str(header).strip().lower() == "member" for header in read.frame.columns):
            raise InputError(
                Fault("the table has a column 'member', so it is an ensemble", read.source,
                      do="state it as the outlook: weather.outlook")
            )  # fmt: skip
        return _from_table(read, stated)


def read_weather_members(
    path: str | os.PathLike[str], stated: Stated
) -> tuple[WeatherRecords, ...]:
    """Members of an ensemble: a table with a column ``member``; a file without one is one member.

    Parameters
    ----------
    path : str or path
    stated : Stated

    Returns
    -------
    tuple of WeatherRecords
        In the order of the members' names, numbers as numbers.

    Raises
    ------
    InputError
        As `read_weather`, and where members cover different spans.

    Examples
    --------
    >>> from phenocast.parameters.library import shipped
    >>> path = shipped("demo_weather", "low_quay_outlook.csv")
    >>> members = read_weather_members(path, Stated(stamp="start"))
    >>> len(members), members[0].source
    (8, 'low_quay_outlook.csv (member 1)')
    """
    with reading(path, "weather"):
        read = _opened(path, stated)
        if isinstance(read, WeatherRecords):
            return (read,)
        headers = {str(header).strip().lower(): header for header in read.frame.columns}
        header = headers.get(stated.columns.get("member", "member").lower())
        if header is None:
            return (_from_table(read, stated),)
        return _members(read, header, stated)


def _members(table: RawTable, header: str, stated: Stated) -> tuple[WeatherRecords, ...]:
    """Members of an ensemble, told apart by a column of their names."""
    import numpy as np

    labels = table.frame[header].astype("str").str.strip()
    names = sorted(set(labels), key=_as_number)
    if len(names) > MOST_MEMBERS:
        raise InputError(
            Fault("the ensemble has too many members", table.source, len(names),
                  f"up to {MOST_MEMBERS}", f"check that '{header}' names the member of each row")
        )  # fmt: skip
    frame = table.frame.drop(columns=header)
    members = []
    for label in names:
        chosen = np.flatnonzero((labels == label).to_numpy())
        part = replace(
            table,
            frame=frame.iloc[chosen].reset_index(drop=True),
            rows=table.rows[chosen],
            source=f"{table.source} (member {label})",
        )
        members.append(_from_table(part, stated))
    spans = {
        (member.table["time_utc"].iloc[0], member.table["time_utc"].iloc[-1]) for member in members
    }
    if len(spans) > 1:
        ends = ", ".join(sorted({f"{start} to {end}" for start, end in spans})[:3])
        raise InputError(
            Fault("the members cover different spans", table.source, ends,
                  do="give all of one span")
        )  # fmt: skip
    return tuple(members)


def _as_number(label: str) -> tuple[float, str]:
    """Sort key of a member: by number where it is one."""
    digits = re.search(r"\d+", label)
    return (float(digits[0]) if digits else float("inf"), label)


def _opened(path: str | os.PathLike[str], stated: Stated) -> WeatherRecords | RawTable:
    """Weather of a file of a fixed format, else its table, once the options are in order."""
    name = Path(path).name
    faults = stated.faults(name)
    if faults:
        raise InputError(faults)
    content = read_bytes(path)
    if not content.startswith(PARQUET_MAGIC):
        known = _known_format(decode(content, str(path)).text, name, stated)
        if known is not None:
            return known
    return parse_table(content, path)


def _from_table(table: RawTable, stated: Stated) -> WeatherRecords:
    from phenocast.io.weather_table import weather_from_table

    return weather_from_table(table, stated)


def _known_format(text: str, name: str, stated: Stated) -> WeatherRecords | None:
    """Weather of a file in one of the fixed formats; None where it is none of them."""
    head = text[:4000].splitlines()
    first = head[0] if head else ""
    second = head[1] if len(head) > 1 else ""
    if first.startswith("LOCATION,"):
        from phenocast.io.typical_years import read_epw

        return _fixed(read_epw(text, name, stated), stated)
    if second.startswith("Date (MM/DD/YYYY)"):
        from phenocast.io.typical_years import read_tmy3

        return _fixed(read_tmy3(text, name, stated), stated)
    from phenocast.io.typical_years import TMY2_HEADER, read_tmy2

    if TMY2_HEADER.match(first):
        return _fixed(read_tmy2(text, name, stated), stated)
    from phenocast.io import ghcn_daily, uscrn

    if ghcn_daily.DLY_LINE.match(first):
        return _fixed(ghcn_daily.read_dly(text, name, stated), stated)
    if any(ghcn_daily.BY_STATION_LINE.match(line) for line in (first, second)):
        return _fixed(ghcn_daily.read_by_station(text, name, stated), stated)
    if ghcn_daily.is_access_header(first):
        return _fixed(ghcn_daily.read_access(text, name, stated), stated)
    if uscrn.is_uscrn(first):
        return _fixed(uscrn.read_uscrn(text, name, stated), stated)
    return None


def _fixed(records: WeatherRecords, stated: Stated) -> WeatherRecords:
    """Records of a fixed format, with a note on stated options that it makes needless."""
    stray = [
        name
        for name, value in (
            ("columns", {k: v for k, v in stated.columns.items() if k not in TIME_KEYS}),
            ("units", stated.units),
            ("time_zone", stated.time_zone),
            ("stamp", stated.stamp),
            ("time_format", stated.time_format),
        )
        if value
    ]
    if not stray:
        return records
    note = f"{records.source}: not used, for the format fixes it: {', '.join(stray)}"
    return replace(records, notes=(*records.notes, note))
