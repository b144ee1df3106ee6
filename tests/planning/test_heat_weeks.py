"""Heat by week: counts of hours above limits, ranges, starts in words, and no word of comfort."""

import re
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from phenocast.errors import InputError, NoAnswerError
from phenocast.planning import heat as heat_module
from phenocast.planning.heat import (
    CAUTIONS,
    HeatLibraryMissingError,
    exposure_limit_c,
    wbgt_c,
    work_share_range,
)
from phenocast.planning.heat_weeks import (
    available_share,
    heat_weeks,
    season_shares,
    site_wbgt_c,
)
from phenocast.season import ClockHours, Site
from phenocast.weather.hourly import constant_weather

pytest.importorskip("thermofeel")

SITE = Site("Low Quay", 29.3, -15.6, 35.0, "Atlantic/Canary")
ROOT = Path(heat_module.__file__).resolve().parents[1]


def warm_days(top_c, days=14, start="2027-05-31"):
    """Two weeks of the same day: warmest at 15 h local, sun from 6 to 19 h."""
    base = constant_weather(SITE, 24 * days, 20.0, start=start, vapour_pressure_kpa=2.2)
    hour = np.arange(24 * days) % 24
    air = top_c - 5.0 + 5.0 * np.cos((hour - 15.0) / 24.0 * 2.0 * np.pi)
    sun = 950.0 * np.maximum(np.sin((hour - 6.0) / 13.0 * np.pi), 0.0) * (hour >= 6) * (hour <= 19)
    return replace(base, air_c=air, solar_w_m2=sun)


def weeks_of(top_c, hours=(8.0, 16.0), **more):
    return heat_weeks([warm_days(top_c)], ["2027-W22", "2027-W23"], ClockHours(*hours), **more)


def test_hours_above_the_limits_by_counting():
    weather = warm_days(31.0)
    wbgt, _, _ = site_wbgt_c(weather)
    hour = np.arange(len(wbgt)) % 24
    shift = (hour >= 8) & (hour < 16)
    week = slice(0, 168)
    for known, key in ((True, "above_acclimatised_h"), (False, "above_new_h")):
        limit = float(exposure_limit_c(300.0, acclimatised=known))
        counted = np.count_nonzero(wbgt[week][shift[week]] > limit) * 6 / 7
        assert getattr(weeks_of(31.0)[0], key) == pytest.approx((counted, counted))


def test_a_cool_week_has_no_hours_and_no_other_starts():
    week, _ = weeks_of(18.0)
    assert week.above_new_h == (0.0, 0.0)
    assert week.starts == ()
    assert week.suggestion() == ""
    assert week.work_share[1] == pytest.approx(1.0, abs=0.01)


def test_hotter_days_never_have_fewer_hours_above():
    counts = [weeks_of(top)[0].above_new_h[0] for top in (20.0, 25.0, 28.0, 31.0, 36.0)]
    assert counts == sorted(counts)
    assert counts[-1] > 30.0


def test_new_crews_have_more_hours_above_and_less_of_the_hour():
    week, _ = weeks_of(31.0)
    assert week.above_new_h[0] >= week.above_acclimatised_h[0]
    assert week.work_share_new[0] <= week.work_share[0]
    assert week.work_share[0] < week.work_share[1]


def test_an_earlier_start_is_told_as_hours_above_the_limit():
    week, _ = weeks_of(29.0)
    told = week.suggestion()
    assert re.search(r"start at 0[4-7]:00 instead of 08:00: \d+ instead of \d+ hours above", told)
    assert "dark" in told


def test_the_same_heat_over_another_number_of_days_scales():
    six, five = (weeks_of(31.0, days_a_week=d)[0].above_new_h[0] for d in (6, 5))
    assert five == pytest.approx(six * 5 / 6)


def test_seasons_spread_the_counts():
    futures = [warm_days(top) for top in (20.0, 24.0, 27.0, 31.0)]
    week, _ = heat_weeks(futures, ["2027-W22", "2027-W23"], ClockHours(8.0, 16.0))
    assert week.above_new_h[1] > week.above_new_h[0]


def test_weeks_without_weather_are_left_out_or_refused():
    assert [w.week for w in heat_weeks([warm_days(25.0)], ["2027-W22", "2028-W01"],
                                       ClockHours(8.0, 16.0))] == ["2027-W22"]  # fmt: skip
    with pytest.raises(NoAnswerError, match="no hour"):
        heat_weeks([warm_days(25.0)], ["2028-W01"], ClockHours(8.0, 16.0))


def test_share_of_hours_takes_the_new_crew_in_the_first_weeks():
    weeks = weeks_of(33.0)
    low, high = available_share(weeks, ["2027-W21", "2027-W22", "2027-W23"], new_until=2)
    assert low[0] == high[0] == 1.0
    assert low[1] < low[2]
    assert np.all(low <= high)


def test_a_hot_season_leaves_fewer_hours_than_a_cool_one():
    futures = [warm_days(22.0), warm_days(30.0), warm_days(36.0)]
    weeks = heat_weeks(futures, ["2027-W22", "2027-W23"], ClockHours(8.0, 16.0))
    shares = season_shares(weeks, ["2027-W21", "2027-W22", "2027-W23"], 3, new_until=2)
    assert shares.shape == (3, 3)
    assert shares[:, 0].tolist() == [1.0, 1.0, 1.0]  # no heat figures
    assert shares[0, 2] == pytest.approx(1.0, abs=0.01)
    assert shares[0, 2] > shares[1, 2] > shares[2, 2] > 0.0
    assert np.all(shares[1:, 1] < shares[1:, 2])  # the crew is new in the first weeks
    low, _ = available_share(weeks, ["2027-W21", "2027-W22", "2027-W23"], new_until=2)
    assert np.median(shares, axis=0) == pytest.approx(low)


def test_without_the_library_the_message_says_how_to_get_it(monkeypatch):
    monkeypatch.setitem(sys.modules, "thermofeel", None)
    with pytest.raises(HeatLibraryMissingError, match=r"phenocast\[planning\]") as told:
        wbgt_c([25.0], [50.0], [1.0], [500.0], [0.5], [0.8])
    assert isinstance(told.value, InputError)


def test_more_wind_cools_and_more_sun_warms():
    still, windy = (wbgt_c([32.0], [50.0], [w], [800.0], [0.7], [0.8])[0] for w in (0.5, 5.0))
    dark, sunny = (wbgt_c([32.0], [50.0], [2.0], [s], [0.7], [0.8])[0] for s in (100.0, 900.0))
    assert windy < still
    assert dark < sunny


def test_work_share_is_one_when_cool_and_falls_with_heat():
    low, high = work_share_range(np.linspace(10.0, 40.0, 61))
    assert low[0] == pytest.approx(1.0)
    assert np.all(np.diff(low) <= 1e-12)
    assert np.all(np.diff(high) <= 1e-12)
    assert np.all((low >= 0.0) & (high <= 1.0))


def test_no_hour_is_called_safe():
    shown = [*(ROOT / "planning").glob("*.py"), ROOT / "report" / "labour_text.py",
             ROOT / "cli" / "commands" / "labour.py"]  # fmt: skip
    assert len(shown) > 15
    found = [
        (path.name, line.strip())
        for path in shown
        for line in path.read_text(encoding="utf-8").splitlines()
        if re.search(r"\b(un)?safe(r|st|ly)?\b", line, re.IGNORECASE)
    ]
    assert found == []
    assert "planning aid, not a safety programme" in CAUTIONS[0]
    assert "local codes, licensed safety staff" in CAUTIONS[0]
