"""Thermal time of a day or three, worked out by hand.

The response curves, closed-form degree-days, chilling and day lengths are pinned in
`tests/published/` and `tests/thermal_time/`; here they are put together as a season would.
"""

from __future__ import annotations

from datetime import date

import pytest

from phenocast.season import Site
from phenocast.season.model import ClockHours, Lighting
from phenocast.thermal_time import (
    chill_hours,
    crossing_time,
    degree_days,
    degree_hours,
    degree_hours_above,
    felt_photoperiod_h,
    hours_above,
    lit_hours,
    prefix_sums,
    trapezoid,
    wang_engel,
    yan_hunt,
    yin_beta,
)


def test_responses_of_whole_numbers():
    # Wang-Engel, 0 / 16 / 64: exponent ln 2 / ln(64/16) = 1/2. At 9, x = sqrt(9/16) = 3/4 and
    # x (2 - x) = 15/16; at 36, x = 6/4 and x (2 - x) = 3/4
    assert wang_engel([9.0, 36.0], 0.0, 16.0, 64.0) == pytest.approx([0.9375, 0.75], rel=1e-12)
    # beta, 2 / 14 / 20, power (20-14)/(14-2) = 1/2: at 18.5 the rise is 16.5/12 = 1.375, the fall
    # 1.5/6 = 0.25, its root 0.5: 0.6875; with shape 2 its square
    assert yin_beta(18.5, 2.0, 14.0, 20.0) == pytest.approx(0.6875, rel=1e-12)
    assert yin_beta(18.5, 2.0, 14.0, 20.0, 2.0) == pytest.approx(0.47265625, rel=1e-12)
    # base 0, optimum 20, ceiling 30, power 20/10 = 2: at 15 the fall is 1.5, the rise 0.75:
    # 1.5 x 0.5625; at 25 it is 0.5 x 1.5625
    assert yan_hunt([15.0, 25.0], 20.0, 30.0) == pytest.approx([0.84375, 0.78125], rel=1e-12)
    # 3 / 23 / 28 / 36: 8 is a quarter of the way up, 34 a quarter of the way from the end
    assert trapezoid([8.0, 25.0, 34.0], 3.0, 23.0, 28.0, 36.0).tolist() == [0.25, 1.0, 0.25]


def test_three_days_of_six_hours_each_to_a_requirement():
    # Above 5, at most 25, in steps of 4 h. Degrees that count, step by step:
    days = [
        [3.0, 7.0, 15.0, 25.0, 20.0, 10.0],  # 0 2 10 20 15 5 = 52
        [4.0, 9.0, 20.0, 28.0, 30.0, 12.0],  # 0 4 15 20 20 7 = 66
        [8.0, 13.0, 26.0, 35.0, 24.0, 11.0],  # 3 8 20 20 19 6 = 76
    ]
    sums = degree_hours(days, 5.0, 25.0, "horizontal", step_h=4.0)
    assert sums.tolist() == [208.0, 264.0, 304.0]
    # falling again above 25: day 2 has 17 and 15 in place of 20 and 20, day 3 has 19 and 10
    fallen = degree_hours(days, 5.0, 25.0, "intermediate", step_h=4.0)
    assert fallen.tolist() == [208.0, 232.0, 260.0]
    # nothing above 25: day 2 loses 40, day 3 loses 40
    assert degree_hours(days, 5.0, 25.0, "vertical", step_h=4.0).tolist() == [208.0, 104.0, 144.0]
    assert degree_hours(days, 5.0, step_h=4.0).tolist() == [208.0, 296.0, 348.0]
    # 400 of 208 + 264 + 304: 192 of the second day's 264 are needed, 1 + 8/11 days
    daily = prefix_sums(sums)
    assert float(crossing_time(daily, 400.0)) == pytest.approx(1.0 + 8.0 / 11.0, rel=1e-12)
    # from half of the first day (104) on: 104 + 400 = 504, 32 into the third day's 304
    assert float(crossing_time(daily, 400.0, start=0.5)) == pytest.approx(2.0 + 2.0 / 19.0)


def test_stress_and_chilling_in_steps():
    # steps of half an hour: three above 30 by 1, 2.5 and 5
    afternoon = [29.0, 31.0, 32.5, 35.0, 30.0]
    assert float(hours_above(afternoon, 30.0, step_h=0.5)) == 1.5
    assert float(degree_hours_above(afternoon, 30.0, step_h=0.5)) == 4.25
    # 0 to 7.2: -1 and 8 do not count
    assert float(chill_hours([-1.0, 0.0, 3.0, 7.2, 8.0], step_h=2.0)) == 6.0
    assert float(chill_hours([2.0, 4.0, 9.0, 12.0], 3.0, 10.0)) == 2.0
    # steps of an hour where none is stated
    assert float(hours_above(afternoon, 30.0)) == 3.0
    assert float(degree_hours_above(afternoon, 30.0)) == 8.5
    assert float(degree_hours(afternoon, 31.0)) == 5.5


def test_a_day_in_fahrenheit_by_its_triangle():
    # 40 to 80 over 50: the triangle is above 50 for 3/4 of the day, there 15 on average: 11.25;
    # over 70 for 1/4 of it, 5 on average: 1.25; next night 60: 60 to 80, always over 50, 20 on
    # average, and over 70 for 1/2, 5 on average: 2.5
    first = degree_days(40.0, 80.0, 50.0, 70.0, method="single-triangle", cutoff="horizontal")
    both = degree_days(
        40.0, 80.0, 50.0, 70.0, method="double-triangle", cutoff="horizontal", next_tmin=60.0
    )
    assert float(first) == pytest.approx(10.0)
    assert float(both) == pytest.approx((10.0 + 17.5) / 2.0)
    # vertical: 20 x 1/4 less again; intermediate: 11.25 - 2 x 1.25 (none above 90)
    upright = degree_days(40.0, 80.0, 50.0, 70.0, method="single-triangle", cutoff="vertical")
    fallen = degree_days(40.0, 80.0, 50.0, 70.0, method="single-triangle", cutoff="intermediate")
    assert float(upright) == pytest.approx(5.0)
    assert float(fallen) == pytest.approx(8.75)


def test_a_night_with_a_lamp_of_three_hours_and_cloth():
    # day 6:15 to 17:45; lamp 21:00 to 24:00 leaves 3.25 h and 6.25 h of darkness: 24 - 6.25
    lamp = felt_photoperiod_h(6.25, 17.75, lamps=[(21.0, 24.0)], shortest_break_h=2.0)
    assert float(lamp) == pytest.approx(17.75)
    # cloth from 16:00 to 7:00 as well: dark 16 to 21 and 0 to 7
    cloth = felt_photoperiod_h(
        6.25, 17.75, lamps=[(21.0, 24.0)], blackouts=[(16.0, 7.0)], shortest_break_h=2.0
    )
    assert float(cloth) == pytest.approx(17.0)


def test_lamps_and_cloth_on_the_clock_of_a_site():
    # At the equator on 20 March the day goes from 6:07 to 18:07, five hours behind Greenwich at
    # 75 degrees west. A lamp from 22 to 23 h on the 20th: the longer darkness is 23 to 6:07; the
    # day after it is not in use
    site = Site("Equator", 0.0, -75.0, 10.0, "Etc/GMT+5")
    days, used = ["2026-03-20", "2026-03-21"], (date(2026, 3, 20), date(2026, 3, 20))
    lamp = Lighting("light", *used, ClockHours(22.0, 23.0))
    assert lit_hours(days, site, 0.0, [lamp], 1.0) == pytest.approx([16.875, 12.0], abs=0.02)
    # cloth from 16 to 8 h: light from 8 on; both: dark 16 to 22 and 23 to 8 h
    cloth = Lighting("dark", *used, ClockHours(16.0, 8.0))
    assert lit_hours(days, site, 0.0, [cloth], 1.0) == pytest.approx([8.0, 12.0], abs=0.02)
    assert lit_hours(days, site, 0.0, [cloth, lamp], 1.0) == pytest.approx([15.0, 12.0], abs=0.02)


def test_lamps_about_midnight_and_cloth_all_day():
    # day 5 to 20; lamp 21 to 22: the longer darkness is 22 to 5
    evening = felt_photoperiod_h(5.0, 20.0, lamps=[(21.0, 22.0)], shortest_break_h=1.0)
    assert float(evening) == pytest.approx(17.0)
    # lamp 23:30 to 0:30: dark 20 to 23:30 and 0:30 to 5
    midnight = felt_photoperiod_h(5.0, 20.0, lamps=[(23.5, 0.5)], shortest_break_h=1.0)
    assert float(midnight) == pytest.approx(19.5)
    dark = felt_photoperiod_h(5.0, 20.0, blackouts=[(0.0, 24.0)], shortest_break_h=1.0)
    assert float(dark) == 0.0
