from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest

from phenocast.errors import InputError
from phenocast.season.model import ClockHours, Lighting
from phenocast.season.site import Site
from phenocast.thermal_time import felt_photoperiod_h, lit_hours, photoperiod_h, sun_passages_h

SITE = Site("Low Quay", 29.3, -15.6, 35.0, "Atlantic/Canary")


def test_dates_of_any_kind_and_shape():
    expected = photoperiod_h(np.array(["2026-03-01", "2026-03-02"], "datetime64[D]"), 40.0, 6.0)
    for dates in (
        [date(2026, 3, 1), date(2026, 3, 2)],
        pd.date_range("2026-03-01", periods=2),
        ["2026-03-01", "2026-03-02"],
    ):
        assert photoperiod_h(dates, 40.0, 6.0).tolist() == expected.tolist()
    square = np.array([["2026-03-02", "2026-03-01"]] * 2, "datetime64[D]")
    assert photoperiod_h(square, 40.0, 6.0).tolist() == [expected[::-1].tolist()] * 2
    assert photoperiod_h("2026-03-01", 40.0, 6.0).shape == ()


def test_hemispheres_mirror_half_a_year_apart():
    # the declinations of 21 June and 21 December differ in sign only, to 0.002 degrees
    june, december = photoperiod_h(["2025-06-21", "2025-12-21"], -36.0, 6.0)
    north_june, north_december = photoperiod_h(["2025-06-21", "2025-12-21"], 36.0, 6.0)
    assert june == pytest.approx(north_december, abs=0.01)
    assert december == pytest.approx(north_june, abs=0.01)


def test_passages_are_around_local_noon_everywhere():
    dates = np.arange("2026-01-01", "2027-01-01", dtype="datetime64[D]")
    for longitude in (-180.0, -75.0, 0.0, 120.0, 180.0):
        rise, sunset = sun_passages_h(dates, 30.0, 0.8333, longitude=longitude)
        noon = (rise + sunset) / 2 + longitude / 15
        assert np.all(np.abs(noon - 12) < 0.3)  # the equation of time is within 17 minutes
        assert np.all(sunset > rise)


def test_longitude_moves_the_day_by_its_share_of_a_days_change():
    dates = ["2026-03-20", "2026-03-21"]
    here, tomorrow = photoperiod_h(dates, 52.0, 6.0)
    west = photoperiod_h(dates[0], 52.0, 6.0, longitude=-90.0)
    assert float(west - here) == pytest.approx((tomorrow - here) / 4, rel=0.02)


def test_deeper_angle_lengthens_the_day():
    lengths = [float(photoperiod_h("2026-04-10", 45.0, angle)) for angle in (-1, 0, 0.8333, 6, 12)]
    assert lengths == sorted(lengths)
    assert len(set(lengths)) == 5


def test_poles_in_every_season():
    dates = np.arange("2026-01-01", "2027-01-01", dtype="datetime64[D]")
    for latitude in (90.0, -90.0, 89.0, 75.0):
        got = photoperiod_h(dates, latitude, 0.8333)
        assert np.all((got >= 0) & (got <= 24))
        assert {0.0, 24.0} <= set(got.tolist())


@pytest.mark.parametrize(
    "call",
    [
        lambda: photoperiod_h("2026-01-01", 91.0, 6.0),
        lambda: photoperiod_h("2026-01-01", float("nan"), 6.0),
        lambda: photoperiod_h("2026-01-01", 40.0, 50.0),
        lambda: photoperiod_h("2026-01-01", 40.0, 6.0, longitude=200.0),
        lambda: photoperiod_h(["2026-01-01", "NaT"], 40.0, 6.0),
    ],
)
def test_refusals(call):
    with pytest.raises(InputError):
        call()


# Lamps and blackout. Natural day 7:30 to 16:30 unless said.
@pytest.mark.parametrize(
    ("lamps", "blackouts", "expected"),
    [
        ([], [], 9.0),
        ([(16.5, 20.5)], [], 13.0),  # day extension in the evening
        ([(4.0, 8.0)], [], 12.5),  # before dawn, overlapping the day
        ([(16.5, 7.5)], [], 24.0),  # all night
        ([(6.0, 6.0)], [], 24.0),  # the whole day round
        ([(22.5, 1.5)], [], 18.0),  # night break amid the night: two dark spells of 6 h
        ([(20.0, 21.0)], [], 13.5),  # off the middle: the longer spell, 21:00 to 7:30, is left
        ([(23.5, 0.25)], [], 9.0),  # 45 minutes do not break a night
        ([(0.0, 1.0)], [], 24 - 7.5),  # exactly the shortest that does
        ([], [(15.0, 9.0)], 6.0),  # cloth over both ends of the day
        ([], [(11.0, 13.0)], 9.0),  # dark at midday is no night
        ([], [(0.0, 24.0)], 0.0),  # always under cloth
        ([(8.0, 16.0)], [(0.0, 24.0)], 8.0),  # lamps under the cloth do light
        ([(16.5, 18.5), (18.4, 20.5)], [], 13.0),  # overlapping lamps
    ],
)
def test_photoperiod_felt(lamps, blackouts, expected):
    got = felt_photoperiod_h(7.5, 16.5, lamps=lamps, blackouts=blackouts, shortest_break_h=1.0)
    assert float(got) == pytest.approx(expected)


def test_spells_in_use_on_some_days_only():
    on = np.array([np.nan, 22.5, 22.5])
    off = np.array([np.nan, 1.5, 1.5])
    got = felt_photoperiod_h(
        [7.5, 7.5, np.nan], [16.5, 16.5, 16.5], lamps=[(on, off)], shortest_break_h=1.0
    )
    assert got == pytest.approx([9.0, 18.0, np.nan], nan_ok=True)


def test_sun_that_never_sets_and_never_rises():
    assert float(felt_photoperiod_h(0.0, 24.0, shortest_break_h=1.0)) == 24.0
    assert float(felt_photoperiod_h(12.0, 12.0, shortest_break_h=1.0)) == 0.0
    under_cloth = felt_photoperiod_h(0.3, 24.3, blackouts=[(18, 8)], shortest_break_h=1.0)
    assert float(under_cloth) == pytest.approx(10.0)
    lamps_alone = felt_photoperiod_h(12.0, 12.0, lamps=[(8, 18)], shortest_break_h=1.0)
    assert float(lamps_alone) == pytest.approx(10.0)


def test_lighting_acts_between_its_dates_in_local_standard_time():
    breaks = Lighting("light", date(2026, 12, 5), date(2026, 12, 6), ClockHours(22.5, 1.5))
    dates = np.arange("2026-12-04", "2026-12-08", dtype="datetime64[D]")
    natural = lit_hours(dates, SITE, 6.0, (), 1.0)
    felt = lit_hours(dates, SITE, 6.0, (breaks,), 1.0)
    assert natural.tolist() == photoperiod_h(dates, 29.3, 6.0, longitude=-15.6).tolist()
    assert felt[[0, 3]] == pytest.approx(natural[[0, 3]])
    rise, sunset = sun_passages_h(dates, 29.3, 6.0, longitude=-15.6)  # zone: UTC in winter
    longest_dark = np.maximum(22.5 - sunset, rise - 1.5)
    assert felt[1:3] == pytest.approx(24 - longest_dark[1:3])


def test_cloth_hours_do_not_follow_summer_time():
    # blackout of 17:00 to 8:00 standard time leaves 9 h in July as in January
    cloth = Lighting("dark", date(2026, 1, 1), date(2026, 12, 31), ClockHours(17.0, 8.0))
    assert float(lit_hours("2026-07-15", SITE, 6.0, (cloth,), 1.0)) == pytest.approx(9.0)


@pytest.mark.parametrize(
    "arguments",
    [{"lamps": [(25.0, 1.0)], "shortest_break_h": 1.0}, {"shortest_break_h": -1.0}],
)
def test_bad_lighting_is_refused(arguments):
    with pytest.raises(InputError):
        felt_photoperiod_h(7.5, 16.5, **arguments)
