"""Any weather file to records: its format follows from its content, its columns from headers."""

import os
import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

from phenocast.errors import Fault, Gathered, InputError, raise_any, refuse
from phenocast.io.files import PARQUET_MAGIC, decode, read_bytes, reading
from phenocast.io.raw_table import RawTable, parse_table
from phenocast.io.weather import networks, typical_years
from phenocast.io.weather.clock import STATE_CLOCK, Impossible, Stated, light_shift_h, unused_units
from phenocast.io.weather.quantities import (
    TIME_KEYS,
    allowed_units,
    find_columns,
    internal_unit,
    keep_possible,
    split_header,
    unit_for,
)
from phenocast.io.weather.stamp_columns import Times, read_times
from phenocast.season import Site
from phenocast.units import Unit, convert, parse_unit
from phenocast.weather.records import WeatherRecords

# Light that comes this much later or earlier than the sun: the clock is not what it is taken for.
CLOCK_WRONG_H = 1.6


def weather_from_table(table: RawTable, stated: Stated) -> WeatherRecords:
    r"""Weather of a table whose columns are found by header or by what the user states.

    Parameters
    ----------
    table : RawTable
    stated : Stated

    Returns
    -------
    WeatherRecords

    Raises
    ------
    InputError
        With every fault of the file: stamps, units, numbers, ranges, empty columns.

    Examples
    --------
    >>> from phenocast.io.raw_table import parse_delimited
    >>> text = "time [UTC, start],Air temp [degF]\n2026-10-05 00:00,50\n2026-10-05 01:00,59\n"
    >>> weather_from_table(parse_delimited(text, "a.csv"), Stated()).table["air_c"].tolist()
    [10.0, 15.0]
    """
    found = Gathered(table.source)
    found.extend(stated.faults(table.source))
    found.raise_any()
    times = read_times(table, stated, found)
    stamp_headers = times.columns if times else ()
    headers = [name for name in table.frame.columns if name not in stamp_headers]
    chosen, faults = find_columns(headers, stated.columns, table.source)
    found.extend(faults)
    found.extend(unused_units(stated, chosen, table.source))
    if not {"air_c", "air_max_c", "air_min_c"} & set(chosen) and not faults:
        found.add(
            "no air temperature is found", value=", ".join(headers)[:120],
            allowed="a column such as 'air [degC]', or 'air max [degC]' with 'air min [degC]'",
            do=f'say which: columns = {{ air_c = "{headers[0] if headers else "..."}" }}',
        )  # fmt: skip
    values, notes = _values(table, stated, chosen, times, found)
    if times is not None:
        _check_daily(values, chosen, times, table, found)
        if not found:
            _check_clock(values, times, stated, found)
    found.raise_any()
    assert times is not None  # its absence is a fault
    unused = [name for name in headers if name not in chosen.values() and name]
    if unused:
        notes.append(f"{table.source}: columns not used: {', '.join(unused)}")
    frame = pd.DataFrame({"time_utc": times.utc, "row": table.rows, **values})
    return WeatherRecords(
        frame,
        times.step,
        table.source,
        wind_height_m=stated.wind_height_m,
        notes=(*table.notes, *times.notes, *notes),
    )


def _values(
    table: RawTable, stated: Stated, chosen: dict[str, str], times: Times | None, found: Gathered
) -> tuple[dict[str, np.ndarray], list[str]]:
    """Columns in internal units, with notes on codes and impossible values."""
    values: dict[str, np.ndarray] = {}
    notes: list[str] = []
    for quantity, header in chosen.items():
        numbers, codes = table.numbers(header, found)
        if codes > 0:
            notes.append(f"{table.source}: {codes} codes for missing values in '{header}'")
        if not np.isfinite(numbers).any() and codes >= 0:
            found.add(
                "the column has no value at all", column=header,
                do="fill it, or take the column out so that it is estimated",
            )  # fmt: skip
            continue
        unit = _unit(table, stated, quantity, header, numbers, found)
        if unit is None:
            continue
        seconds = times.seconds if times is not None else 3600.0
        converted = to_internal(numbers, unit, quantity, seconds)
        values[quantity] = keep_possible(
            converted, quantity, header, table.rows, stated, found, notes,
            shown=numbers, unit=unit,
        )  # fmt: skip
    return values, notes


def _unit(
    table: RawTable,
    stated: Stated,
    quantity: str,
    header: str,
    numbers: np.ndarray,
    found: Gathered,
) -> Unit | None:
    """Unit of a column: stated by the user, in the header, or in a line of units."""
    in_file = split_header(header).unit or table.units.get(header)
    by_user = stated.unit_of(quantity, header)
    text = by_user or in_file
    if text is None:
        if quantity == "relative_humidity_pct" and np.nanmax(numbers) > 2.0:
            return parse_unit("%")  # as a fraction it could not pass 1
        name = split_header(header).name
        first = allowed_units(quantity).split(",", maxsplit=1)[0]
        found.add(
            "the unit is not stated", column=header, allowed=allowed_units(quantity),
            do=f"write the header as '{name} [{first}]', or state "
            f'units = {{ {quantity} = "{first}" }} in the season file',
        )  # fmt: skip
        return None
    unit = unit_for(quantity, text, found.place(column=header))
    if not isinstance(unit, Unit):
        found.extend([unit])
        return None
    if by_user is not None and in_file is not None:
        other = unit_for(quantity, in_file, found.place(column=header))
        if isinstance(other, Unit) and other != unit:
            found.add(
                "the season file states another unit than the file itself", column=header,
                value=by_user, allowed=in_file, do="correct the one that is wrong",
            )  # fmt: skip
            return None
    return unit


def to_internal(numbers: np.ndarray, unit: Unit, quantity: str, seconds: float) -> np.ndarray:
    """Values in the internal unit; amounts per interval and rates are told apart.

    Parameters
    ----------
    numbers : array
        [unit]
    unit : Unit
    quantity : str
    seconds : float
        Length of an interval. [s]

    Returns
    -------
    array
        [internal unit of the quantity]

    Examples
    --------
    >>> to_internal(np.array([1.8]), parse_unit("MJ m-2"), "solar_w_m2", 3600.0).tolist()
    [500.0]
    >>> to_internal(np.array([6.0]), parse_unit("mm h-1"), "rain_mm", 600.0).tolist()
    [1.0]
    """
    if unit.kind == "radiant exposure":
        return np.asarray(convert(numbers, unit, "MJ m-2") * 1e6 / seconds)
    if unit.kind == "water depth per hour":
        return np.asarray(convert(numbers, unit, "mm h-1") * seconds / 3600.0)
    return np.asarray(convert(numbers, unit, internal_unit(quantity)))


def _check_daily(
    values: dict[str, np.ndarray],
    chosen: dict[str, str],
    times: Times,
    table: RawTable,
    found: Gathered,
) -> None:
    """Daily rows need both extremes, and a minimum not above the maximum."""
    extremes = {"air_max_c", "air_min_c"}
    if times.step == "daily" and not extremes <= set(chosen) and chosen:
        have = next((chosen[name] for name in chosen if name.startswith("air")), None)
        found.add(
            "daily values need both the maximum and the minimum of air temperature",
            column=have, do="add the column that is missing, or give hourly values",
        )  # fmt: skip
    if "air_max_c" in values and "air_min_c" in values:
        crossed = values["air_min_c"] > values["air_max_c"] + 1e-9
        if crossed.any():
            low, high = values["air_min_c"][crossed], values["air_max_c"][crossed]
            found.add_rows(
                "the minimum of air temperature is above the maximum",
                rows=table.rows[crossed], column=f"{chosen['air_min_c']}",
                values=[f"{a:.4g} above {b:.4g} degC" for a, b in zip(low, high, strict=True)],
                allowed="minimum at or below maximum",
                do="correct the row, or swap the columns if they are named the wrong way",
            )  # fmt: skip


def _check_clock(
    values: dict[str, np.ndarray], times: Times, stated: Stated, found: Gathered
) -> None:
    """Add a fault where nobody stated the clock and the light does not follow the site's sun.

    A clock that was stated, or that is less far off, is held against the sun by
    `phenocast.weather.to_hourly`, as that of every other format.
    """
    if "solar_w_m2" not in values or times.step == "daily" or stated.site is None:
        return
    shift = light_shift_h(
        times.utc, values["solar_w_m2"], stated.site.longitude, times.seconds / 3600.0
    )
    if shift is not None and abs(shift) >= CLOCK_WRONG_H and not times.clock_stated:
        found.add(
            f"the light comes {abs(shift):.1f} h {'later' if shift > 0 else 'earlier'} than the "
            "sun of the site, so the stamps do not keep local standard time",
            column=times.columns[0], do=STATE_CLOCK,
        )  # fmt: skip


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
        refuse(
            (
                any(str(header).strip().lower() == "member" for header in read.frame.columns),
                Fault(
                    "the table has a column 'member', so it is an ensemble",
                    read.source,
                    do="state it as the outlook: weather.outlook",
                ),
            )
        )
        return weather_from_table(read, stated)


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
        return members_of_table(read, stated)


def members_of_table(table: RawTable, stated: Stated) -> tuple[WeatherRecords, ...]:
    """Members of an ensemble in a table; one without a column of members is one."""
    headers = {str(header).strip().lower(): header for header in table.frame.columns}
    header = headers.get(stated.columns.get("member", "member").lower())
    if header is None:
        return (weather_from_table(table, stated),)
    return _members(table, header, stated)


def _members(table: RawTable, header: str, stated: Stated) -> tuple[WeatherRecords, ...]:
    """Members of an ensemble, told apart by a column of their names."""
    import numpy as np

    labels = table.frame[header].astype("str").str.strip()
    names = sorted(set(labels), key=_as_number)
    refuse(
        (
            len(names) > MOST_MEMBERS,
            Fault(
                "the ensemble has too many members",
                table.source,
                len(names),
                f"up to {MOST_MEMBERS}",
                f"check that '{header}' names the member of each row",
            ),
        )
    )
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
        members.append(weather_from_table(part, stated))
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
    raise_any(stated.faults(name))
    content = read_bytes(path)
    if not content.startswith(PARQUET_MAGIC):
        known = _known_format(decode(content, str(path)), name, stated)
        if known is not None:
            return known
    return parse_table(content, path)


def _known_format(text: str, name: str, stated: Stated) -> WeatherRecords | None:
    """Weather of a file in one of the fixed formats; None where it is none of them."""
    first, second, *_ = [*text[:4000].splitlines(), "", ""]
    formats = (
        (first.startswith("LOCATION,"), typical_years.read_epw),
        (second.startswith("Date (MM/DD/YYYY)"), typical_years.read_tmy3),
        (typical_years.TMY2_HEADER.match(first), typical_years.read_tmy2),
        (networks.DLY_LINE.match(first), networks.read_dly),
        (any(map(networks.BY_STATION_LINE.match, (first, second))), networks.read_by_station),
        (networks.is_access_header(first), networks.read_access),
        (networks.is_uscrn(first), networks.read_uscrn),
    )
    read = next((read for is_it, read in formats if is_it), None)
    return None if read is None else _fixed(read(text, name, stated), stated)


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
