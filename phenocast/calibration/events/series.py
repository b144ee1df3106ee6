"""A dated event of many years beside the temperatures that led to it, cut to one common window."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from phenocast._typing import FloatArray
from phenocast.errors import Fault, InputError

Stamps = NDArray[np.datetime64]


@dataclass(frozen=True)
class EventSeries:
    """One row per site and year, all counted from the same calendar day.

    Parameters
    ----------
    temperature_c : array ``[row, step]``
        Temperature from the start day on. [degC]
    event_day : array ``[row]``
        Event, days since midnight of the start day. [d]
    site : array of str ``[row]``
    year : array of int ``[row]``
        Year of the record.
    start : array of datetime64 ``[row]``
        Midnight of the start day.
    step_h : float
        Length of a step: 1 or 24. [h]
    """

    temperature_c: FloatArray
    event_day: FloatArray
    site: NDArray[np.str_]
    year: NDArray[np.int64]
    start: Stamps
    step_h: float

    def dates(self, event_day: ArrayLike) -> Stamps:
        """Instants of days since the start, one per row, to the minute; NaN becomes NaT."""
        days = np.asarray(event_day, dtype=np.float64)
        minutes = np.where(np.isfinite(days), np.round(days * 1440.0), 0.0).astype("timedelta64[m]")
        return np.where(np.isfinite(days), self.start + minutes, np.datetime64("NaT"))


def event_series(
    site: Sequence[str],
    year: ArrayLike,
    date: ArrayLike,
    *,
    weather_site: Sequence[str],
    weather_time: ArrayLike,
    temperature_c: ArrayLike,
    start: tuple[int, int],
    window_days: int,
    years_back: int = 0,
) -> EventSeries:
    """Rows of an event series, each with the temperatures of its own site and year.

    Parameters
    ----------
    site, year, date : one entry per record, shape ``[m]``; `date` is datetime64, local standard
        time. A date without an hour counts as its noon.
    weather_site, weather_time, temperature_c : one entry per step of weather, shape ``[n]``, sites
        one after the other or mixed, times rising inside a site; times are local standard and open
        their hour or day. Daily steps carry daily means, which understate warmth near the base:
        hours are better. [datetime64, degC]
    start : month and day from which warmth is counted.
    window_days : days of weather kept after the start, beyond the latest event. [d]
    years_back : 1 where the count starts in the year before `year`, else 0.

    Returns
    -------
    EventSeries

    Raises
    ------
    InputError : with every fault: records repeated, an event before the start or after the window,
        weather that is missing inside the window, stamps that do not rise by an hour or a day.

    Examples
    --------
    >>> days = np.arange("2024-01-01", "2024-01-06", dtype="datetime64[D]")
    >>> found = event_series(["a"], [2024], np.array(["2024-01-03"], dtype="datetime64[D]"),
    ...     weather_site=["a"] * 5, weather_time=days, temperature_c=[1, 2, 3, 4, 5],
    ...     start=(1, 2), window_days=3)
    >>> found.temperature_c.tolist(), found.event_day.tolist(), found.step_h
    ([[2.0, 3.0, 4.0]], [1.5], 24.0)
    >>> str(found.dates([2.25])[0])
    '2024-01-04T06:00'
    """
    names, years = np.asarray(site, dtype=np.str_), np.asarray(year, dtype=np.int64)
    when = _instants(date)
    places, air = np.asarray(weather_site, dtype=np.str_), np.asarray(temperature_c, np.float64)
    clock = np.asarray(weather_time).astype("datetime64[m]")
    if not (names.shape == years.shape == when.shape and names.ndim == 1 and names.size > 0):
        raise InputError(Fault("records differ in number, or there is none", "site, year, date",
                               (names.shape, years.shape, when.shape)))  # fmt: skip
    if not (places.shape == clock.shape == air.shape and places.ndim == 1):
        raise InputError(Fault("steps of weather differ in number", "weather",
                               (places.shape, clock.shape, air.shape)))  # fmt: skip
    if window_days < 1:
        raise InputError(Fault("no day in the window", "window_days", window_days, ">= 1"))
    step = _step(places, clock)
    first = _starts(years - years_back, start)
    count = int(window_days * (np.timedelta64(1, "D") // step))
    rows, faults = [], []
    seen: set[tuple[str, int]] = set()
    for i, (name, record_year) in enumerate(zip(names.tolist(), years.tolist(), strict=True)):
        where = f"record {i + 1} ({name}, {record_year})"
        if (name, record_year) in seen:
            faults.append(Fault("recorded twice", where, do="keep one date for a site and year"))
        seen.add((name, record_year))
        since = (when[i] - first[i]) / np.timedelta64(1, "D")
        if np.isnan(since):
            faults.append(Fault("date is missing", where, do="leave the record out"))
        elif since <= 0.0:
            faults.append(
                Fault(
                    "event is before the start of the count",
                    where,
                    str(when[i]),
                    f"after {first[i]}",
                    "start earlier, or set years_back",
                )
            )
        elif since >= window_days:
            faults.append(
                Fault(
                    "event is after the window",
                    where,
                    str(when[i]),
                    f"within {window_days} d of {first[i]}",
                    "widen window_days",
                )
            )
        values = _window(clock[places == name], air[places == name], first[i], step, count)
        missing = int(np.isnan(values).sum())
        if missing:
            at = first[i] + int(np.argmax(np.isnan(values))) * step
            faults.append(Fault(f"weather is missing for {missing} of {count} steps, from {at} on",
                                where, do="fill the gap, or leave the record out"))  # fmt: skip
        rows.append(values)
    if faults:
        raise InputError(faults)
    event_day = (when - first) / np.timedelta64(1, "D")
    step_h = float(step / np.timedelta64(1, "h"))
    return EventSeries(np.stack(rows), np.asarray(event_day, float), names, years, first, step_h)


def _instants(date: ArrayLike) -> Stamps:
    """Dates to the minute; those without an hour at noon, the middle of what they can mean."""
    dates = np.asarray(date)
    if dates.dtype.kind != "M":
        raise InputError(Fault("not dates", "date", str(dates.dtype), "datetime64"))
    if dates.dtype == np.dtype("datetime64[D]"):
        return np.asarray(dates.astype("datetime64[h]") + 12, dtype="datetime64[m]")
    return np.asarray(dates, dtype="datetime64[m]")


def _starts(years: NDArray[np.int64], start: tuple[int, int]) -> Stamps:
    month, day = start
    try:
        text = [f"{int(one):04d}-{month:02d}-{day:02d}T00:00" for one in years]
        return np.array(text, dtype="datetime64[m]")
    except ValueError as error:
        raise InputError(
            Fault("no such day in one of the years", "start", start, "month, day")
        ) from error


def _step(places: NDArray[np.str_], clock: Stamps) -> np.timedelta64:
    """The hour or the day by which the stamps of every site rise; gaps are whole steps."""
    hour, day = np.timedelta64(60, "m"), np.timedelta64(1440, "m")
    rises = [np.diff(clock[places == name]) for name in np.unique(places)]
    rise = np.concatenate(rises) if rises else np.array([], dtype="timedelta64[m]")
    if rise.size == 0 or rise.min() not in (hour, day) or np.any(rise % rise.min() != 0 * hour):
        raise InputError(
            Fault(
                "stamps do not rise by an hour or by a day",
                where="weather_time",
                value=str(rise.min()) if rise.size else None,
                allowed="hourly or daily, rising inside a site",
            )
        )
    return np.timedelta64(rise.min())


def _window(
    clock: Stamps, air: FloatArray, first: np.datetime64, step: np.timedelta64, count: int
) -> FloatArray:
    values = np.full(count, np.nan)
    place = (clock - first) // step
    inside = (place >= 0) & (place < count) & ((clock - first) % step == np.timedelta64(0, "m"))
    values[place[inside].astype(np.intp)] = air[inside]
    return np.where(np.isfinite(values), values, np.nan)
