"""Weather traces of a season: what was observed, then an outlook, then past years.

Up to the issue date the weather is known.  Members of an outlook follow where there are any, and
past years, aligned by calendar date, run from there to the end.  Where both exist each past year
is joined to one member in turn, so the number of traces is that of the larger set.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from phenocast.errors import Fault, NoAnswerError
from phenocast.season import Site
from phenocast.weather import HourlyWeather, SeasonWeather
from phenocast.weather.hourly import local_midnight_utc
from phenocast.weather.traces import year_traces


@dataclass(frozen=True)
class WeatherTrace:
    """One possible course of the season's weather, complete from its first to its last hour."""

    label: str
    weather: HourlyWeather


@dataclass(frozen=True)
class WeatherTraces:
    """All weather traces of a season and what the reader must know of them."""

    traces: tuple[WeatherTrace, ...]
    observed_until: date | None
    outlook_members: int
    past_years: tuple[str, ...]
    warnings: tuple[str, ...]


def weather_traces(
    weather: SeasonWeather,
    site: Site,
    start: date,
    end: date,
    issue_date: date,
    latest_start: date | None = None,
) -> WeatherTraces:
    """Return the weather traces of the days ``start`` to ``end`` (both included).

    Parameters
    ----------
    weather : what the season file names.
    site : for local days.
    start, end : first and last local day that the simulation needs.
    issue_date : last day whose observed weather may be used; later observations are ignored, so a
        forecast for a past date sees only what was known then.
    latest_start : day up to which the traces may begin later than ``start``, where the observed
        weather does: the first planting, for only the soil needs the days before it.

    Raises
    ------
    NoAnswerError
        When neither the observed weather nor history reaches the end.
    """
    first = local_midnight_utc(start, site.time_zone)
    stop = local_midnight_utc(end + timedelta(days=1), site.time_zone)
    known_stop = min(stop, local_midnight_utc(issue_date + timedelta(days=1), site.time_zone))
    told: list[str] = []
    if weather.observed is not None and latest_start is not None:
        begun = _first_whole_day(weather.observed, site)
        if start < begun <= min(latest_start, issue_date):
            told.append(
                f"the observed weather begins on {begun}: the soil has only the days from there to "
                "planting to settle"
            )
            start, first = begun, local_midnight_utc(begun, site.time_zone)
    known = None
    if weather.observed is not None:
        known = _whole_days(weather.observed, first, known_stop)
    if weather.observed is not None and known is None and known_stop > first:
        told.append(
            f"the observed weather starts after {start}; it is not used, past years stand in"
        )
    reached = first if known is None else known.time_utc[-1] + np.timedelta64(1, "h")
    if reached >= stop:
        assert known is not None
        return WeatherTraces((WeatherTrace("observed", known),), end, 0, (), tuple(told))

    members = _outlook_parts(weather, reached, stop)
    longest = max((len(part) for part in members.values()), default=0)
    tail_start = reached + np.timedelta64(longest, "h")
    heads = [(f"member {key}", part) for key, part in members.items() if len(part) == longest]
    if len(heads) < len(members):
        told.append(
            f"{len(members) - len(heads)} outlook members end before the others and are left out"
        )
    tail_day = end - timedelta(days=int((stop - tail_start).astype(int)) // 24 - 1)
    traces, left_out = _past_parts(weather, tail_day, end)
    told.extend(left_out)
    if not traces and tail_start < stop:
        raise NoAnswerError(
            Fault(
                what="the weather ends before the season does",
                where="weather",
                value=f"known until {tail_start} UTC",
                allowed=f"until {stop} UTC",
                do="give past years or a typical year as `history` in the season file",
            )
        )
    combined = _combine(known, heads, traces)
    if weather.history is not None and weather.history.typical_year and tail_start < stop:
        told.append(
            "a typical-year file is one possible year: the spread between years is missing from "
            "every interval"
        )
    elif len(traces) == 1 and tail_start < stop:
        told.append("there is one past year: the spread between years is missing")
    observed_until = None if known is None else start + timedelta(days=len(known) // 24 - 1)
    past_years = tuple(label for label, _ in traces)
    return WeatherTraces(tuple(combined), observed_until, len(heads), past_years, tuple(told))


def _first_whole_day(weather: HourlyWeather, site: Site) -> date:
    """Return the first local day whose every hour the weather holds from its start."""
    day = date.fromisoformat(str(weather.time_utc[0])[:10]) - timedelta(days=1)
    while local_midnight_utc(day, site.time_zone) < weather.time_utc[0]:
        day += timedelta(days=1)
    return day


def _whole_days(
    weather: HourlyWeather, first: np.datetime64, stop: np.datetime64
) -> HourlyWeather | None:
    """Return the whole days of the weather from ``first`` up to ``stop``; None for none."""
    if len(weather) == 0 or weather.time_utc[0] > first:
        return None
    begin = int((first - weather.time_utc[0]).astype(int))
    end = min(len(weather), int((stop - weather.time_utc[0]).astype(int)))
    days = (end - begin) // 24
    return weather.slice(begin, begin + 24 * days) if days > 0 else None


def _outlook_parts(
    weather: SeasonWeather, reached: np.datetime64, stop: np.datetime64
) -> dict[int, HourlyWeather]:
    parts = {key: _whole_days(member, reached, stop) for key, member in weather.outlook.items()}
    return {key: part for key, part in parts.items() if part is not None}


def _past_parts(
    weather: SeasonWeather, start: date, end: date
) -> tuple[list[tuple[str, HourlyWeather]], list[str]]:
    if weather.history is None or start > end:
        return [], []
    traces, left_out = year_traces(weather.history, start, end)
    told = []
    if left_out:
        told.append(f"past years that do not cover the season are left out: {', '.join(left_out)}")
    return [(trace.label, trace.weather) for trace in traces], told


def _combine(
    known: HourlyWeather | None,
    heads: list[tuple[str, HourlyWeather]],
    traces: list[tuple[str, HourlyWeather]],
) -> list[WeatherTrace]:
    count = max(len(heads), len(traces), 1)
    combined = []
    for i in range(count):
        parts: list[HourlyWeather] = [] if known is None else [known]
        names = []
        if heads:
            name, part = heads[i % len(heads)]
            parts.append(part)
            names.append(name)
        if traces:
            name, part = traces[i % len(traces)]
            parts.append(part)
            names.append(name)
        whole = parts[0]
        for part in parts[1:]:
            whole = whole.joined(part)
        combined.append(WeatherTrace(", ".join(names) or "observed", whole))
    return combined
