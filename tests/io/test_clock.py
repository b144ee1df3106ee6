"""Stamps to UTC: standard time, summer time, offsets, ends of intervals, dates in every order."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from phenocast.errors import Gathered, InputError
from phenocast.io import read_weather
from phenocast.io.weather.clock import clock_to_utc, light_shift_h, standard_to_utc
from phenocast.io.weather.stamps import parse_stamps
from phenocast.season import Site
from phenocast.season.site import standard_offset_h
from phenocast.weather import to_hourly

MADRID = Site("inland", 40.4, -3.7, 650.0, "Europe/Madrid")


def parse(*texts, time_format=None):
    found = Gathered("a.csv")
    stamps = parse_stamps(pd.Series(texts), np.arange(2, 2 + len(texts)), "t", found, time_format)
    found.raise_any()
    return stamps


@pytest.mark.parametrize(
    "text",
    ["2026-10-13 07:05", "2026-10-13T07:05", "2026/10/13 07:05:00", "13/10/2026 07:05",
     "13.10.2026 7:05", "13-10-26 07:05", "10/13/2026 7:05 AM", "10/13/2026 07:05 a.m.",
     "20261013 0705", "202610130705", "13 Oct 2026 07:05", "13-Oct-26 07:05",
     "2026-10-13 07:05:00.000", "2026-10-13, 07:05"],
)  # fmt: skip
def test_one_instant_in_many_ways(text):
    assert parse(text).time[0] == pd.Timestamp("2026-10-13 07:05")
    assert not parse(text).utc


@pytest.mark.parametrize(
    "text", ["2026-10-13T07:05Z", "2026-10-13 09:05+02:00", "2026-10-13T02:05:00-0500",
             "2026-10-13 07:05 UTC", "13/10/2026 09:05 +02"]
)  # fmt: skip
def test_offsets(text):
    assert parse(text).time[0] == pd.Timestamp("2026-10-13 07:05")
    assert parse(text).utc


def test_midnight_as_24():
    assert parse("2026-12-31 24:00").time[0] == pd.Timestamp("2027-01-01")
    assert parse("31/12/2026 24:00:00").time[0] == pd.Timestamp("2027-01-01")
    assert parse("20261231 2400").time[0] == pd.Timestamp("2027-01-01")


def test_order_of_day_and_month_follows_the_whole_column():
    assert parse("03/10/2026", "14/10/2026").time[0] == pd.Timestamp("2026-10-03")
    assert parse("03/10/2026", "03/14/2026").time[0] == pd.Timestamp("2026-03-10")
    assert parse("03/10/2026", time_format="%d/%m/%Y").time[0] == pd.Timestamp("2026-10-03")


@pytest.mark.parametrize(
    ("texts", "words"),
    [
        (("03/10/2026", "04/10/2026"), "day first or month first"),
        (("14/10/2026", "10/14/2026"), "some dates have the day first and others the month"),
        (("2026-02-30",), "no such day"),
        (("2026-10-13 25:10",), "no such day or time"),
        (("soon",), "not a date and time"),
        (("",), "not a date and time"),
        (("2026-10-13T07:05Z", "2026-10-13T08:05"), "some stamps state their offset"),
    ],
)
def test_what_cannot_be_read_in_one_way_is_refused(texts, words):
    with pytest.raises(InputError) as caught:
        parse(*texts)
    assert words in str(caught.value)
    assert "row 2" in str(caught.value) or "row 3" in str(caught.value)


def test_ambiguous_dates_say_how_to_state_the_order():
    with pytest.raises(InputError, match=r'time_format = "%d/%m/%Y %H:%M"'):
        parse("03/10/2026 01:00")


def test_stated_format_that_does_not_fit():
    with pytest.raises(InputError, match="does not follow the stated time_format"):
        parse("2026-10-13", time_format="%d/%m/%Y")


# Europe/Madrid, 2026: summer time begins 29 March 02:00 -> 03:00, ends 25 October 03:00 -> 02:00.
def local_clock(utc, zone="Europe/Madrid"):
    return pd.DatetimeIndex(utc.tz_localize("UTC").tz_convert(zone).tz_localize(None))


@pytest.mark.parametrize("freq", ["h", "30min", "15min"])
@pytest.mark.parametrize("start", ["2026-03-28 20:00", "2026-10-24 20:00"])
def test_clock_with_summer_time_comes_back_to_utc(start, freq):
    utc = pd.date_range(start, periods=60, freq=freq)
    found = Gathered("a.csv")
    back, notes = clock_to_utc(local_clock(utc), np.arange(60), "Europe/Madrid", found, "t")
    assert back.tolist() == utc.tolist()
    assert not found
    assert notes == []


def test_southern_summer_time_comes_back_too():
    utc = pd.date_range("2026-04-04 10:00", periods=20, freq="h")
    local = local_clock(utc, "Australia/Sydney")
    back, _ = clock_to_utc(local, np.arange(20), "Australia/Sydney", Gathered("a"), "t")
    assert back.tolist() == utc.tolist()


def test_an_hour_that_the_clock_skips_is_a_fault():
    found = Gathered("a.csv")
    time = pd.DatetimeIndex(["2026-03-29 01:00", "2026-03-29 02:00", "2026-03-29 03:00"])
    clock_to_utc(time, np.array([2, 3, 4]), "Europe/Madrid", found, "t")
    assert "row 3" in str(found.error())
    assert "local_standard = true" in str(found.error())


def test_the_hour_that_ends_as_the_clock_jumps_may_carry_either_name():
    for last in ("2026-03-29 02:00", "2026-03-29 03:00"):
        time = pd.DatetimeIndex(["2026-03-29 01:00", last, "2026-03-29 04:00"])
        found = Gathered("a.csv")
        utc, _ = clock_to_utc(time, np.arange(3), "Europe/Madrid", found, "t", ends=True)
        assert not found
        assert utc.strftime("%H:%M").tolist() == ["00:00", "01:00", "02:00"]


def test_a_repeated_hour_that_comes_once_is_said():
    time = pd.DatetimeIndex(["2026-10-25 01:00", "2026-10-25 02:00", "2026-10-25 03:00"])
    utc, notes = clock_to_utc(time, np.arange(3), "Europe/Madrid", Gathered("a"), "t")
    assert utc.strftime("%H:%M").tolist() == ["23:00", "00:00", "02:00"]
    assert "taken as summer time" in notes[0]


def test_local_standard_time_knows_no_summer():
    time = pd.DatetimeIndex(["2026-01-15 12:00", "2026-07-15 12:00"])
    assert standard_to_utc(time, "Europe/Madrid").hour.tolist() == [11, 11]
    assert standard_to_utc(time, "America/New_York").hour.tolist() == [17, 17]
    assert standard_offset_h("Europe/Madrid", 2026) == 1.0


def write(tmp_path, times, header="time", solar=None):
    rows = ["20.0" if solar is None else f"20.0,{value:.0f}"
            for value in (solar if solar is not None else np.zeros(len(times)))]  # fmt: skip
    names = f"{header},air_c" + ("" if solar is None else ",solar_w_m2")
    cells = [f"{t:%Y-%m-%d %H:%M},{r}" for t, r in zip(times, rows, strict=True)]
    text = "\n".join([names, *cells])
    place = tmp_path / "w.csv"
    place.write_text(text + "\n")
    return place


UTC = pd.date_range("2026-10-20 00:00", periods=240, freq="h")


@pytest.mark.parametrize(
    ("header", "clock", "stated"),
    [
        ("time", UTC + pd.Timedelta(hours=1), {"local_standard": True, "stamp": "start"}),
        ("time [local standard time, start]", UTC + pd.Timedelta(hours=1), {}),
        ("time", UTC, {"time_zone": "UTC", "stamp": "start"}),
        ("time", UTC + pd.Timedelta(hours=1), {"time_zone": "UTC", "stamp": "end"}),
        ("time_utc", UTC, {"stamp": "start"}),
        ("time [UTC, end of hour]", UTC + pd.Timedelta(hours=1), {}),
        ("time", local_clock(UTC), {"time_zone": "Europe/Madrid", "stamp": "start"}),
        ("time [Europe/Madrid]", local_clock(UTC), {"stamp": "start"}),
        ("hour_ending [UTC]", UTC + pd.Timedelta(hours=1), {}),
    ],
)
def test_every_statement_of_the_clock_gives_the_same_hours(tmp_path, header, clock, stated):
    records = read_weather(write(tmp_path, clock, header), site=MADRID, **stated)
    assert records.table["time_utc"].tolist() == UTC.tolist()
    assert records.notes == ()


def test_clock_that_is_not_stated_is_standard_time_and_is_said(tmp_path):
    records = read_weather(write(tmp_path, UTC + pd.Timedelta(hours=1)), site=MADRID)
    assert records.table["time_utc"].tolist() == UTC.tolist()
    assert any("not stated; taken as local standard" in note for note in records.notes)
    assert any("taken as the start" in note for note in records.notes)


def test_clock_that_cannot_be_known_is_refused(tmp_path):
    with pytest.raises(InputError, match=r"clock of the stamps is not stated.*time \[UTC\]"):
        read_weather(write(tmp_path, UTC))


def test_contradiction_of_header_and_season_is_refused(tmp_path):
    with pytest.raises(InputError) as caught:
        read_weather(write(tmp_path, UTC, "time [UTC, end]"), time_zone="Europe/Madrid",
                     stamp="start")  # fmt: skip
    assert "states another time_zone" in str(caught.value)
    assert "states another stamp" in str(caught.value)


def sun(utc, longitude):
    """Light that is highest at mean solar noon. [W m-2]"""
    hour = np.asarray(utc.hour + 0.5 + longitude / 15.0)
    return np.clip(900 * np.cos((hour - 12) / 12 * np.pi), 0, None)


def test_light_tells_of_a_wrong_clock(tmp_path):
    place = Site("far west", 39.0, -120.0, 100.0, "America/Los_Angeles")
    light = sun(UTC, place.longitude)
    # Mean solar noon is up to 16 min off the true one, which is what the equation of time gives.
    assert abs(light_shift_h(UTC, light, place.longitude, 1.0)) < 0.35
    with pytest.raises(InputError, match=r"light comes 8\.\d h later than the sun"):
        read_weather(write(tmp_path, UTC, solar=light), site=place, stamp="start")
    fine = read_weather(write(tmp_path, UTC, "time_utc", light), site=place, stamp="start")
    assert fine.notes == ()
    odd = read_weather(write(tmp_path, UTC + pd.Timedelta(hours=1), "time_utc", light),
                       site=place, stamp="start")  # fmt: skip
    odd.table["air_c"] = np.resize([14.0, 15.0, 16.0], len(UTC))  # one value for days is taken out
    told = [one for one in to_hourly(odd, place).warnings if "the sun of the file" in one]
    assert len(told) == 1
    assert "h late" in told[0]


@pytest.mark.parametrize(
    ("text", "time_format"),
    [
        ("2026-10-05 13:00:60", None),
        ("2026-10-05T13:00:60Z", None),
        ("20261005130060", None),
        ("5 Oct 2026 13:00:60", None),
        ("05.10.2026 13:00:60", "%d.%m.%Y %H:%M:%S"),
    ],
)
def test_a_second_of_60_is_refused_and_not_moved_to_the_next_minute(text, time_format):
    found = Gathered("a.csv")
    before = text.replace("60", "00") if "0060" not in text else text.replace("0060", "0000")
    stamps = parse_stamps(pd.Series([before, text]), np.array([2, 3]), "time", found, time_format)
    assert stamps is None
    assert "row 3, column 'time': a minute has no second 60" in str(found.error())
    assert text in str(found.error())
    fine = parse_stamps(pd.Series([before]), np.array([2]), "time", found, time_format)
    assert str(fine.time[0]) == "2026-10-05 13:00:00"
