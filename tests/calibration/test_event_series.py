"""Rows of an event series hold their own site's and year's weather, or the reason they cannot."""

from __future__ import annotations

import numpy as np
import pytest

from phenocast.calibration.events.series import event_series
from phenocast.errors import InputError


def _days(first, last):
    return np.arange(first, last, dtype="datetime64[D]")


def _given(**changed):
    clock = np.concatenate([_days("2022-09-01", "2025-01-01")] * 2)
    half = clock.size // 2
    given = {
        "site": ["low", "high", "low"],
        "year": [2023, 2023, 2024],
        "date": np.array(["2023-03-05", "2023-03-20", "2024-03-01"], dtype="datetime64[D]"),
        "weather_site": ["low"] * half + ["high"] * half,
        "weather_time": clock,
        "temperature_c": np.arange(clock.size, dtype=float),
        "start": (1, 1),
        "window_days": 120,
    }
    return given | changed


def _made(**changed):
    given = _given(**changed)
    return event_series(given.pop("site"), given.pop("year"), given.pop("date"), **given)


def test_each_row_has_its_own_weather():
    made = _made()
    first = int((np.datetime64("2023-01-01") - np.datetime64("2022-09-01")).astype(int))
    half = _days("2022-09-01", "2025-01-01").size
    assert made.temperature_c.shape == (3, 120)
    assert made.temperature_c[:, 0].tolist() == [first, half + first, first + 365]
    # the leap year of 2024: 1 March is day 60 of the count, not 59
    assert made.event_day.tolist() == [63.5, 78.5, 60.5]
    assert made.step_h == 24.0
    assert made.dates(made.event_day).astype(str).tolist()[0] == "2023-03-05T12:00"
    assert np.isnat(made.dates([np.nan, 1.0, 2.0])[0])


def test_counting_from_the_autumn_before():
    made = _made(start=(10, 1), years_back=1, window_days=200)
    assert made.start.astype(str).tolist() == ["2022-10-01T00:00"] * 2 + ["2023-10-01T00:00"]
    assert made.temperature_c[0, 0] == 30.0


def test_hourly_weather_and_an_event_with_its_hour():
    clock = np.arange("2023-01-01", "2023-02-01", dtype="datetime64[h]")
    made = event_series(
        ["a"], [2023], np.array(["2023-01-10T18"], dtype="datetime64[h]"),
        weather_site=["a"] * clock.size, weather_time=clock,
        temperature_c=np.arange(clock.size, dtype=float), start=(1, 2), window_days=20,
    )  # fmt: skip
    assert made.step_h == 1.0
    assert made.event_day.tolist() == [8.75]
    assert made.temperature_c[0, [0, -1]].tolist() == [24.0, 24.0 + 20 * 24 - 1]


def _without(day):
    given = _given()
    keep = given["weather_time"] != np.datetime64(day)
    return {
        "weather_site": np.array(given["weather_site"])[keep],
        "weather_time": given["weather_time"][keep],
        "temperature_c": given["temperature_c"][keep],
    }


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"start": (3, 10)}, r"record 1 \(low, 2023\): event is before the start"),
        ({"window_days": 61}, r"record 1 \(low, 2023\): event is after the window"),
        (_without("2023-02-03"), "missing for 1 of 120 steps, from 2023-02-03"),
        ({"year": [2023, 2023, 2023]}, "recorded twice"),
        ({"site": ["low", "peak", "low"]}, r"\(peak, 2023\): weather is missing for 120 of 120"),
        ({"year": [2023, 2023]}, "differ in number"),
        ({"temperature_c": [1.0]}, "differ in number"),
        ({"start": (2, 30)}, "no such day"),
        ({"window_days": 0}, "window_days"),
        ({"date": np.array([64.0, 78.0, 60.0])}, "not dates"),
        ({"date": np.array(["2023-03-05", "NaT", "2024-03-01"], "M8[D]")}, "date is missing"),
        ({"weather_time": _given()["weather_time"][::-1]}, "do not rise"),
    ],
)
def test_what_cannot_be_used_is_refused_with_its_record(changed, message):
    with pytest.raises(InputError, match=message):
        _made(**changed)


def test_a_missing_temperature_is_missing_weather():
    air = _given()["temperature_c"].copy()
    air[140] = np.nan
    with pytest.raises(InputError, match="weather is missing for 1 of 120 steps"):
        _made(temperature_c=air)
