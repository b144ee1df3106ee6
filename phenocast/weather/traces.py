"""Past years as weather traces of a season.

A trace is the weather of one past year under the stamps of the season that is forecast. It starts
on the same local calendar date as the season (29 February starts on 28 February of a common year)
and then takes the hours as they followed, so that no day is skipped or doubled inside it. A
typical-year file is one year without an end: after its last hour its first one follows.
"""

from dataclasses import dataclass
from datetime import date

import numpy as np

from phenocast.weather.hourly import HourlyWeather, local_midnight_utc


@dataclass(frozen=True)
class Trace:
    """One possible course: its past year and the weather under the season's stamps."""

    label: str
    weather: HourlyWeather


def year_traces(history: HourlyWeather, start: date, end: date) -> tuple[list[Trace], list[str]]:
    """Return each past year as a possible course of the days ``start`` to ``end``.

    Parameters
    ----------
    history : HourlyWeather
        Past years, or one typical year.
    start, end : date
        First and last local standard day wanted, both included.

    Returns
    -------
    traces : list of Trace
        In order of time, each from the first hour of ``start`` to the last hour of ``end``.
    left_out : list of str
        Years in which the history begins or ends inside the season.

    Examples
    --------
    >>> from phenocast.season.site import Site
    >>> from phenocast.weather.hourly import constant_weather
    >>> site = Site("Low Quay", 29.3, -15.6, 35.0, "Atlantic/Canary")
    >>> past = constant_weather(site, 3 * 8760, 15.0, start="2001-01-01")
    >>> traces, left_out = year_traces(past, date(2026, 10, 1), date(2027, 3, 31))
    >>> [t.label for t in traces], left_out
    (['2001/02', '2002/03'], ['2000/01', '2003/04'])
    """
    zone = history.site.time_zone
    first = local_midnight_utc(start, zone)
    n_hours = 24 * ((end - start).days + 1)
    if history.typical_year:
        return [Trace("typical year", _wrapped(history, start, n_hours, first))], []
    across = end.year > start.year
    traces, left_out = [], []
    first_year = int(str(history.time_utc[0])[:4]) - 1
    last_year = int(str(history.time_utc[-1])[:4])
    for year in range(first_year, last_year + 1):
        begin = local_midnight_utc(_same_day(start, year), zone)
        offset = int((begin - history.time_utc[0]).astype(int))
        held = min(offset + n_hours, len(history)) - max(offset, 0)
        if held <= 0:
            continue
        label = f"{year}/{(year + 1) % 100:02d}" if across else str(year)
        if held < n_hours:
            left_out.append(label)
            continue
        part = history.slice(offset, offset + n_hours)
        traces.append(Trace(label, part.restamped(first)))
    return traces, left_out


def _same_day(day: date, year: int) -> date:
    try:
        return day.replace(year=year)
    except ValueError:  # 29 February in a common year
        return day.replace(year=year, day=28)


def _wrapped(year: HourlyWeather, start: date, n_hours: int, first: np.datetime64) -> HourlyWeather:
    zone = year.site.time_zone
    nominal = (year.time_utc[0] + np.timedelta64(len(year) // 2, "h")).astype("datetime64[Y]")
    begin = local_midnight_utc(_same_day(start, int(str(nominal))), zone)
    offset = int((begin - year.time_utc[0]).astype(int)) % len(year)
    whole = year.restamped(first)
    left = n_hours
    joined = whole.slice(offset, min(len(year), offset + left)).restamped(first)
    left -= len(joined)
    while left > 0:
        after = joined.time_utc[-1] + np.timedelta64(1, "h")
        joined = joined.joined(whole.slice(0, min(left, len(year))).restamped(after))
        left = n_hours - len(joined)
    return joined
