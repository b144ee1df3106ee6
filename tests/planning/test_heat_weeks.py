"""Heat by week: counts of hours above limits, ranges, starts in words, and no word of comfort."""

import re
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from phenocast.errors import NoAnswerError
from phenocast.planning.labour.heat_stress import (
    CAUTIONS,
    exposure_limit_c,
    wbgt_c,
    work_share_range,
)
from phenocast.planning.labour.heat_weeks import WorkDay, better_start, heat_weeks, site_wbgt_c
from phenocast.season import Site
from phenocast.weather.hourly import constant_weather

SITE = Site("Low Quay", 29.3, -15.6, 35.0, "Atlantic/Canary")
ROOT = Path(__file__).resolve().parents[2]


def warm_days(top_c, days=14, start="2027-05-31"):
    """Two weeks of the same day: warmest at 15 h local, sun from 6 to 19 h."""
    base = constant_weather(SITE, 24 * days, 20.0, start=start, vapour_pressure_kpa=2.2)
    hour = np.arange(24 * days) % 24
    air = top_c - 5.0 + 5.0 * np.cos((hour - 15.0) / 24.0 * 2.0 * np.pi)
    sun = 950.0 * np.maximum(np.sin((hour - 6.0) / 13.0 * np.pi), 0.0) * (hour >= 6) * (hour <= 19)
    return replace(base, air_c=air, solar_w_m2=sun)


EIGHT = WorkDay(8.0, 48.0, 0.0, 6)  # 8 to 16 h


def weeks_of(*tops_c, weeks=("2027-W22", "2027-W23")):
    return heat_weeks([warm_days(top) for top in tops_c], weeks)


def above(week, known, start=8.0, length=8.0, days=6):
    return week.above_h(start, length, days, acclimatised=known)


def test_hours_above_the_limits_by_counting():
    weather = warm_days(31.0)
    wbgt, _, _ = site_wbgt_c(weather)
    hour = (np.arange(len(wbgt)) + 1) % 24  # the clock of the Canaries is an hour ahead in June
    shift = (hour >= 8) & (hour < 16)
    week = slice(0, 168)
    [row, _] = weeks_of(31.0)
    for known in (True, False):
        limit = float(exposure_limit_c(300.0, acclimatised=known))
        counted = np.count_nonzero(wbgt[week][shift[week]] > limit) * 6 / 7
        assert counted > 20.0
        assert above(row, known) == pytest.approx([counted])


def test_parts_of_an_hour_and_spans_over_midnight_count_in_full():
    [row, _] = weeks_of(45.0)
    hot = row.above_h(0.0, 24.0, 7, acclimatised=False)
    assert hot > 100.0
    pieces = [(22.5, 3.25), (1.75, 10.0), (11.75, 10.75)]
    assert sum(row.above_h(*piece, 7, acclimatised=False) for piece in pieces) == pytest.approx(hot)


def test_a_cool_week_has_no_hours_above_and_all_of_its_work():
    week, _ = weeks_of(18.0)
    assert above(week, known=False) == [0.0]
    assert week.share(8.0, 8.0, acclimatised=True)[1] == pytest.approx([1.0], abs=0.01)


def test_hotter_days_never_have_fewer_hours_above():
    counts = [float(above(weeks_of(top)[0], False)[0]) for top in (20.0, 25.0, 28.0, 31.0, 36.0)]
    assert counts == sorted(counts)
    assert counts[-1] > 30.0


def test_new_crews_have_more_hours_above_and_less_of_the_hour():
    week, _ = weeks_of(31.0)
    assert above(week, False) > above(week, True)
    new, used = (week.share(8.0, 8.0, acclimatised=known) for known in (False, True))
    assert new[0] < used[0] < used[1]


def test_a_hot_season_leaves_fewer_hours_than_a_cool_one():
    week, _ = weeks_of(22.0, 30.0, 36.0)
    low, _ = week.share(8.0, 8.0, acclimatised=True)
    assert low[0] == pytest.approx(1.0, abs=0.01)
    assert low[0] > low[1] > low[2] > 0.0


def test_other_starts_lie_in_daylight_where_no_hours_are_stated():
    week, _ = weeks_of(29.0)
    now, *others = week.starts(EIGHT, 48.0)
    assert (now.clock_h, now.dark_h) == (8.0, 0.0)
    # sunrise at 7:04 and sunset at 20:55 of the summer clock, breaks and all within
    assert [start.clock_h for start in others] == [8.5, 9.0, 9.5, 10.0, 10.5, 11.0, 11.5, 12.0]
    assert week.starts(replace(EIGHT, breaks_h=1.0), 48.0)[-1].clock_h == 11.0


def test_other_starts_keep_to_the_hours_stated():
    week, _ = weeks_of(29.0)
    _, *others = week.starts(replace(EIGHT, earliest=5.75, latest=15.5), 48.0)
    assert [start.clock_h for start in others] == [6.0, 6.5, 7.0, 7.5]
    assert others[0].dark_h == 2.0
    best = better_start(week.starts(replace(EIGHT, earliest=5.75, latest=15.5), 48.0))
    assert best.clock_h == 6.0
    # a day that does not fit between them has no other start
    assert len(week.starts(replace(EIGHT, earliest=8.0, latest=15.5), 48.0)) == 1


def test_the_clock_is_that_of_people_in_summer_too():
    site = Site("Far Quay", 40.0, -75.0, 20.0, "America/New_York")
    base = constant_weather(site, 216, 20.0, start="2027-07-11", vapour_pressure_kpa=2.0)
    hour = np.arange(216) % 24
    noon = replace(base, air_c=np.where(hour == 17, 45.0, 20.0))  # 17 UTC: 13 h by the clock
    [week] = heat_weeks([noon], ["2027-W28"])
    assert above(week, True, 13.0, 1.0, 7) == pytest.approx([7.0])
    assert above(week, True, 12.0, 1.0, 7) == pytest.approx([0.0])


def test_the_same_heat_over_another_number_of_days_scales():
    six, five = (above(weeks_of(31.0)[0], False, days=d) for d in (6, 5))
    assert five == pytest.approx(six * 5 / 6)


def test_a_last_week_of_a_few_hours_is_left_out():
    site = Site("Far Quay", 35.0, 139.0, 20.0, "Asia/Tokyo")
    base = constant_weather(site, 24 * 7, 35.0, start="2027-05-31", vapour_pressure_kpa=2.2)
    weeks = heat_weeks([base], ["2027-W22", "2027-W23"])  # of the second week 0 to 9 h of Monday
    assert [week.week for week in weeks] == ["2027-W22"]


def test_the_heat_library_comes_with_the_package():
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    project = settings["project"]
    assert any(name.startswith("thermofeel") for name in project["dependencies"])
    assert "planning" not in project["optional-dependencies"]


def test_weeks_without_weather_are_left_out_or_refused():
    assert [w.week for w in weeks_of(25.0, weeks=["2027-W22", "2028-W01"])] == ["2027-W22"]
    with pytest.raises(NoAnswerError, match="no hour"):
        weeks_of(25.0, weeks=["2028-W01"])


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
    package = ROOT / "phenocast"
    shown = [
        *(package / "planning").rglob("*.py"),
        *(package / "report" / f"{name}.py" for name in ("labour", "stress")),
        package / "cli" / "commands" / "labour.py",
    ]
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
