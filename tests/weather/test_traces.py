from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from phenocast.season.site import Site, standard_offset_h
from phenocast.weather import HourlyWeather, constant_weather, year_traces
from phenocast.weather.hourly import local_midnight_utc

CANARY = Site("north", 29.3, -15.6, 35.0, "Atlantic/Canary")
SYDNEY = Site("south", -33.9, 151.2, 30.0, "Australia/Sydney")
NEW_YORK = Site("west", 40.7, -74.0, 10.0, "America/New_York")


def numbered(site, start, end, typical=False) -> HourlyWeather:
    """Return a history whose air tells its hour: hours since 2000-01-01 00 UTC."""
    n = int((np.datetime64(end, "h") - np.datetime64(start, "h")).astype(int))
    weather = constant_weather(site, n, 0.0, start=start)
    first = int((np.datetime64(start, "h") - np.datetime64("2000-01-01T00", "h")).astype(int))
    air_c = first + np.arange(n, dtype=float)
    return replace(weather, air_c=air_c, typical_year=typical)


def source_of(trace):
    """Return the stamps that the hours of a trace had in the history."""
    return np.datetime64("2000-01-01T00", "h") + trace.weather.air_c.astype(int).astype(
        "timedelta64[h]"
    )


def test_each_year_starts_on_the_same_local_date_under_the_stamps_of_the_season():
    history = numbered(CANARY, "2001-01-01", "2005-01-01")
    traces, left_out = year_traces(history, date(2026, 3, 1), date(2026, 5, 31))
    assert [t.label for t in traces] == ["2001", "2002", "2003", "2004"]
    assert left_out == []
    for trace, year in zip(traces, range(2001, 2005), strict=True):
        assert len(trace.weather) == 24 * 92
        assert str(trace.weather.time_utc[0]) == "2026-03-01T00"
        assert str(source_of(trace)[0]) == f"{year}-03-01T00"
        assert (np.diff(trace.weather.air_c) == 1.0).all()


def test_local_midnight_counts_not_utc():
    history = numbered(SYDNEY, "2001-01-01", "2004-01-01")
    traces, _ = year_traces(history, date(2026, 3, 1), date(2026, 3, 31))
    assert str(traces[0].weather.time_utc[0]) == "2026-02-28T14"
    assert str(source_of(traces[0])[0]) == "2001-02-28T14"


def test_a_southern_season_across_new_year_and_the_incomplete_years_by_name():
    history = numbered(SYDNEY, "2001-01-01", "2005-01-01")
    traces, left_out = year_traces(history, date(2026, 4, 1), date(2027, 2, 28))
    assert [t.label for t in traces] == ["2001/02", "2002/03", "2003/04"]
    assert left_out == ["2000/01", "2004/05"]
    for trace in traces:
        assert len(trace.weather) == 24 * ((date(2027, 2, 28) - date(2026, 4, 1)).days + 1)
        assert (np.diff(trace.weather.air_c) == 1.0).all()


def test_leap_days_neither_skip_nor_double_an_hour():
    history = numbered(CANARY, "2003-01-01", "2006-01-01")
    # from 29 February: a common year starts on the 28th
    traces, _ = year_traces(history, date(2028, 2, 29), date(2028, 3, 10))
    starts = {t.label: str(source_of(t)[0])[:10] for t in traces}
    assert starts == {"2003": "2003-02-28", "2004": "2004-02-29", "2005": "2005-02-28"}
    # over 29 February of the past year: hours follow on
    over, _ = year_traces(history, date(2026, 2, 20), date(2026, 3, 10))
    of_2004 = next(t for t in over if t.label == "2004")
    assert str(source_of(of_2004)[-1]) == "2004-03-09T23"


@pytest.mark.parametrize(
    ("start", "end"),
    [
        (date(2026, 10, 1), date(2027, 5, 31)),
        (date(2026, 1, 1), date(2026, 12, 31)),
        (date(2026, 12, 31), date(2027, 1, 1)),
        (date(2026, 6, 1), date(2028, 7, 1)),
    ],
)
@pytest.mark.parametrize("site", [CANARY, SYDNEY, NEW_YORK], ids=lambda s: s.name)
def test_a_typical_year_wraps_round_its_end(site, start, end):
    begin = local_midnight_utc(date(2001, 1, 1), site.time_zone)
    year = numbered(site, begin, begin + np.timedelta64(8760, "h"), typical=True)
    traces, left_out = year_traces(year, start, end)
    assert left_out == []
    (trace,) = traces
    assert trace.label == "typical year"
    assert len(trace.weather) == 24 * ((end - start).days + 1)
    assert trace.weather.time_utc[0] == local_midnight_utc(start, site.time_zone)
    change = np.diff(trace.weather.air_c)
    assert set(np.unique(change)) <= {1.0, -8759.0}
    offset = np.timedelta64(int(standard_offset_h(site.time_zone, 2001)), "h")
    local = source_of(trace)[0] + offset
    assert str(local)[5:] == f"{start:%m-%d}T00"


def test_a_history_that_holds_no_whole_season_gives_no_trace_and_says_which():
    history = numbered(CANARY, "2001-01-01", "2001-03-01")
    traces, left_out = year_traces(history, date(2026, 2, 1), date(2026, 5, 1))
    assert traces == []
    assert left_out == ["2001"]


def test_traces_share_the_memory_of_the_history():
    history = numbered(CANARY, "2001-01-01", "2004-01-01")
    traces, _ = year_traces(history, date(2026, 3, 1), date(2026, 5, 31))
    assert all(np.shares_memory(t.weather.air_c, history.air_c) for t in traces)
