"""Stamps of a raw table: which columns hold them, what clock they keep, and their UTC starts."""

import re
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from phenocast.errors import Fault, Gathered, nearest
from phenocast.io.raw_table import RawTable
from phenocast.io.weather.clock import (
    STATE_CLOCK,
    Stated,
    TimeHeader,
    clock_to_utc,
    days_to_utc,
    standard_to_utc,
    time_header,
)
from phenocast.io.weather.quantities import missing_column, split_header
from phenocast.io.weather.stamps import Stamps, parse_stamps, stamps_of
from phenocast.weather.records import Step

_TIME_NAMES = (
    "time_utc", "time", "timestamp", "datetime", "date_time", "date_and_time", "stamp", "date_utc",
    "time_start", "time_end", "hour_ending", "hour_beginning", "utc", "utc_time", "local_time",
    "valid_time",
)  # fmt: skip

_DATE_NAMES = ("date", "day", "day_date")

_CLOCK_NAMES = ("time", "hour", "clock", "time_of_day", "hh_mm")

_PARTS = ("year", "month", "day", "hour", "minute")

_LOOKS_LIKE_DATE = re.compile(r"^\d{1,4}[/.\-]\d{1,2}[/.\-]\d{1,4}")

STEP_SECONDS = {"hourly": 3600.0, "daily": 86400.0}


@dataclass(frozen=True)
class Times:
    """When each row begins.

    Parameters
    ----------
    utc : DatetimeIndex, [n]
        Naive UTC, start of the interval.
    step : "hourly", "subhourly" or "daily"
    seconds : float
        Length of an interval. [s]
    columns : tuple of str
        Headers that hold the stamps.
    clock_stated : bool
        The file or the user said which clock the stamps keep.
    notes : tuple of str
    """

    utc: pd.DatetimeIndex
    step: Step
    seconds: float
    columns: tuple[str, ...]
    clock_stated: bool
    notes: tuple[str, ...]


def read_times(table: RawTable, stated: Stated, found: Gathered) -> Times | None:
    r"""Start of every row in UTC; None, with the faults in ``found``, where it cannot be known.

    Parameters
    ----------
    table : RawTable
    stated : Stated
    found : Gathered
        Takes the faults.

    Returns
    -------
    Times or None

    Examples
    --------
    >>> from phenocast.io.raw_table import parse_delimited
    >>> table = parse_delimited("time [UTC, end],x\n2026-10-05 01:00,1\n2026-10-05 02:00,2", "a")
    >>> times = read_times(table, Stated(), Gathered("a"))
    >>> str(times.utc[0]), times.step
    ('2026-10-05 00:00:00', 'hourly')
    """
    columns = _stamp_columns(table, stated, found)
    if not columns:
        return None
    stamps = _stamps(table, columns, stated, found)
    if stamps is None:
        return None
    told = _told(columns, stated, found)
    name = " + ".join(columns)
    if stamps.dates_only:
        return _daily(stamps.time, table, stated, found, columns, told)
    notes: list[str] = []
    time = stamps.time
    if stamps.utc or told.time_zone in ("UTC", "Etc/UTC", "GMT", "Etc/GMT"):
        utc, clock_stated = time, True
    elif told.time_zone is not None and not told.local_standard:
        utc, notes = clock_to_utc(
            time, table.rows, told.time_zone, found, name, ends=told.stamp == "end"
        )
        clock_stated = True
    else:
        zone = told.time_zone or (stated.site.time_zone if stated.site else None)
        if zone is None:
            found.add("the clock of the stamps is not stated", column=name, do=STATE_CLOCK)
            return None
        utc, clock_stated = standard_to_utc(time, zone), told.local_standard
        if not clock_stated:
            notes.append(
                f"{table.source}: the clock of the stamps is not stated; taken as local standard "
                f"time of {zone}"
            )
    if found and utc.isna().any():
        return None
    seconds = _step_seconds(utc, table, found, name)
    if seconds is None:
        return None
    if seconds == STEP_SECONDS["daily"]:
        return _daily(stamps.time, table, stated, found, columns, told)
    if told.stamp is None:
        notes.append(
            f"{table.source}: whether stamps are the start or the end of their hour is not "
            "stated; taken as the start"
        )
    if told.stamp == "end":
        utc = pd.DatetimeIndex(utc - pd.Timedelta(seconds=seconds))
    step: Step = "hourly" if seconds == STEP_SECONDS["hourly"] else "subhourly"
    return Times(utc.as_unit("ns"), step, seconds, columns, clock_stated, tuple(notes))


def _told(columns: tuple[str, ...], stated: Stated, found: Gathered) -> TimeHeader:
    """Clock and stamp from the season file and the headers; a contradiction is a fault."""
    headers = [time_header(column) for column in columns]
    unknown = next((h.unknown for h in headers if h.unknown), None)
    if unknown is not None:
        found.add("unknown time zone in the header", column=columns[0], value=unknown)
    file = TimeHeader(
        next((h.time_zone for h in headers if h.time_zone), None),
        any(h.local_standard for h in headers),
        next((h.stamp for h in headers if h.stamp), None),
    )
    for what, ours, theirs in (
        ("time_zone", stated.time_zone, file.time_zone),
        ("stamp", stated.stamp, file.stamp),
    ):
        if ours is not None and theirs is not None and ours != theirs:
            found.add(
                f"the season file states another {what} than the header", column=columns[0],
                value=ours, allowed=theirs, do="correct the one that is wrong",
            )  # fmt: skip
    return replace(
        file,
        time_zone=stated.time_zone or file.time_zone,
        stamp=stated.stamp or file.stamp,
        local_standard=stated.local_standard or file.local_standard,
    )


def _stamp_columns(table: RawTable, stated: Stated, found: Gathered) -> tuple[str, ...]:
    """Header of the stamps, or of date and clock where they stand apart."""
    headers = [str(header) for header in table.frame.columns]
    named = {split_header(header).name: header for header in headers} | {h: h for h in headers}
    chosen = []
    for key in ("time", "time_utc", "date", "clock"):
        if key in stated.columns:
            wanted = stated.columns[key].strip()
            if wanted not in named:
                found.extend([missing_column(wanted, headers, table.source)])
                return ()
            chosen.append(named[wanted])
    if chosen:
        return tuple(dict.fromkeys(chosen))
    plain = {  # without unit, case and punctuation
        re.sub(r"[^a-z]+", "_", split_header(header).name.lower()).strip("_"): header
        for header in reversed(headers)
    }
    if {"year", "month", "day"} <= set(plain):
        return tuple(plain[name] for name in _PARTS if name in plain)
    date = next((plain[name] for name in _DATE_NAMES if name in plain), None)
    clock = next((plain[name] for name in _CLOCK_NAMES if name in plain), None)
    if date is not None and clock is not None and clock != date:
        return (date, clock)
    for name in (*_TIME_NAMES, *_DATE_NAMES):
        if name in plain:
            return (plain[name],)
    for header in headers:
        column = table.frame[header]
        if pd.api.types.is_datetime64_any_dtype(column) or _LOOKS_LIKE_DATE.match(
            str(column.iloc[0]).strip()
        ):
            return (header,)
    close = nearest("time", headers)
    found.extend(
        [
            Fault(
                "no column of stamps is found",
                table.source,
                ", ".join(headers)[:80],
                "a column 'time' with stamps such as 2026-10-05 13:00",
                f'say which: columns = {{ time = "{close or headers[0]}" }}',
            )
        ]
    )
    return ()


def _stamps(
    table: RawTable, columns: tuple[str, ...], stated: Stated, found: Gathered
) -> Stamps | None:
    """Stamps of one column, or of a date beside a clock."""
    column = table.frame[columns[0]]
    if len(columns) == 1:
        stamps = stamps_of(column, table.rows, columns[0], found, stated.time_format)
        missing = np.zeros(0, bool) if stamps is None else np.asarray(stamps.time.isna())
        if found.add_rows("the stamp is missing", rows=table.rows[missing], column=columns[0]):
            return None
        return stamps
    texts = column.astype("str").where(column.notna(), "")
    if len(columns) > 2:
        texts = _from_parts(table, columns)
    else:
        clock = table.frame[columns[1]].astype("str").str.strip()
        whole = clock.str.fullmatch(r"\d{1,2}").all()
        digits = clock.str.fullmatch(r"\d{3,4}").all()
        if whole:
            clock = clock.str.zfill(2) + ":00"
        elif digits:
            clock = clock.str.zfill(4).str.replace(r"^(\d\d)(\d\d)$", r"\1:\2", regex=True)
        texts = texts.str.strip() + " " + clock
    return parse_stamps(texts, table.rows, " + ".join(columns), found, stated.time_format)


def _from_parts(table: RawTable, columns: tuple[str, ...]) -> pd.Series:
    """Stamps as text from columns of year, month, day and perhaps hour and minute."""
    parts = [
        table.frame[column].astype("str").str.strip().str.replace(r"\.0+$", "", regex=True)
        for column in columns
    ]
    texts = parts[0] + "-" + parts[1].str.zfill(2) + "-" + parts[2].str.zfill(2)
    if len(parts) > 3:
        minute = parts[4].str.zfill(2) if len(parts) > 4 else "00"
        texts = texts + " " + parts[3].str.zfill(2) + ":" + minute
    return texts


def _step_seconds(
    utc: pd.DatetimeIndex, table: RawTable, found: Gathered, column: str
) -> float | None:
    """Length of the interval; duplicate and backward stamps are faults. [s]"""
    gaps = np.diff(utc.to_numpy()).astype("timedelta64[ns]").astype(np.int64) / 1e9
    check_order(utc, table.rows, found, column)
    if not (gaps > 0.0).any():
        return STEP_SECONDS["hourly"]
    # Loggers drift by seconds, so the usual distance is one of whole minutes.
    seconds = _usual(np.round(gaps / 60.0) * 60.0 if np.median(gaps) >= 60.0 else gaps)
    if 3600.0 < seconds < 86400.0 or seconds > 86400.0:
        found.add(
            "the rows are neither daily nor hourly nor shorter", column=column,
            value=f"{seconds / 3600.0:g} h between most rows",
            allowed="1 h or less, or one row a day", do="give hourly or daily values",
        )  # fmt: skip
        return None
    return seconds


def check_order(time: pd.DatetimeIndex, rows: np.ndarray, found: Gathered, column: str) -> None:
    """Refuse stamps that come twice or run backwards."""
    again = np.asarray(time.duplicated())
    found.add_rows(
        "the stamp comes twice", rows=rows[again], column=column,
        values=[str(moment) for moment in time[again]],
        do="remove one of the rows; where summer time ended, state time_zone so that the "
        "repeated hour can be told",
    )  # fmt: skip
    back = np.append(False, np.diff(time.to_numpy()) < np.timedelta64(0))[: len(time)]
    found.add_rows(
        "the stamps run backwards", rows=rows[back], column=column,
        values=[str(moment) for moment in time[back]],
        do="sort the rows by time; if dates are misread, state time_format",
    )  # fmt: skip


def _daily(
    time: pd.DatetimeIndex,
    table: RawTable,
    stated: Stated,
    found: Gathered,
    columns: tuple[str, ...],
    told: TimeHeader,
) -> Times | None:
    """Rows of one day each: the day is that of local standard time, whatever clock wrote it."""
    days = time.floor("D")
    has_clock = re.search(r"\d[T ]\d{1,2}:", str(table.frame[columns[0]].iloc[0]))
    if told.stamp == "end" and bool((time == days).all()) and has_clock:
        days = days - pd.Timedelta(days=1)
    gaps = np.diff(days.to_numpy()).astype("timedelta64[D]").astype(np.int64)
    name = " + ".join(columns)
    check_order(pd.DatetimeIndex(days), table.rows, found, name)
    if len(gaps) and _usual(gaps) > 1:
        found.add(
            "the rows are neither daily nor hourly nor shorter", column=name,
            value=f"{_usual(gaps):g} days between most rows", allowed="one row a day",
            do="give hourly or daily values",
        )  # fmt: skip
    utc, notes = days_to_utc(pd.DatetimeIndex(days), stated, table.source)
    return Times(utc, "daily", STEP_SECONDS["daily"], columns, True, tuple(notes))


def _usual(gaps: np.ndarray) -> float:
    """Most frequent distance of two stamps that run forward."""
    lengths, times = np.unique(gaps[gaps > 0], return_counts=True)
    return float(lengths[times.argmax()]) if len(lengths) else 0.0
