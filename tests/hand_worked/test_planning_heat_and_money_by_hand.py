"""Hours of heat on a clock, money of two plantings and seasons that stand for others, by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from types import SimpleNamespace

import numpy as np
import pytest

from phenocast.forecast.options import Option
from phenocast.forecast.packout import Packout, Tray
from phenocast.planning.comparison.judge import beats, undominated, worst_mean
from phenocast.planning.comparison.money import fixed_cost, money_of, tilted
from phenocast.planning.labour.crew_model import (
    EXTRA,
    NEW,
    NEW_OVERTIME,
    TEMPORARY,
    CrewTerms,
    season_rows,
    terms_of,
)
from phenocast.planning.labour.crew_weeks import crew_weeks, heat_of_plan, work_shares
from phenocast.planning.labour.heat_stress import wbgt_c
from phenocast.planning.labour.heat_weeks import (
    Start,
    WeekHeat,
    WorkDay,
    better_start,
    site_wbgt_c,
)
from phenocast.planning.labour.milp import reduce_seasons
from phenocast.planning.labour.overtime import ExtraHours
from phenocast.planning.labour.solve import check_plan, crew_hours, plan_crew
from phenocast.planning.prices import PriceCurve
from phenocast.season import Block, Costs, Labour, Site
from phenocast.weather.hourly import constant_weather

CLOCK = np.tile(np.arange(24.0), 2)


def two_days(week="2027-W24"):
    """Two days at 300 W, limits 28.21 and 24.97 degC: 26 from 10 to 18 h and 30 from 13 to 15 h on
    the first, 20 else. The index is 10 more; it is light from 7 to 18 h."""
    wbgt = np.full(48, 20.0)
    wbgt[10:18], wbgt[13:15] = 26.0, 30.0
    light = (CLOCK >= 7.0) & (CLOCK < 18.0)
    return WeekHeat(week, CLOCK, light, wbgt[None, :], wbgt[None, :] + 10.0, 300.0, 117.0)


def test_hours_above_the_limits_on_the_clock():
    # 6:30 to 14:30 on one day of two: 10 to 14:30 above the lower limit, 4.5 h; 13 to 14:30 above
    # the higher, 1.5 h; five days of two, half of them: 2.5 times
    week = two_days()
    assert week.above_h(6.5, 8.0, 5, acclimatised=False) == pytest.approx([11.25])
    assert week.above_h(6.5, 8.0, 5, acclimatised=True) == pytest.approx([3.75])
    # a span within an hour, and one over midnight
    assert week.above_h(10.25, 0.5, 2, acclimatised=False) == pytest.approx([0.5])
    assert week.above_h(17.5, 16.0, 2, acclimatised=False) == pytest.approx([0.5])
    # 6:30 to 7 is dark, of each day
    assert week.dark_h(6.5, 8.0) == pytest.approx(0.5)
    assert week.dark_h(17.5, 2.0) == pytest.approx(1.5)
    assert [one.tolist() for one in week.highest(6.5, 6.0)] == [[26.0], [36.0]]
    assert [one.tolist() for one in week.highest(6.5, 6.75)] == [[30.0], [40.0]]


def test_what_heat_leaves_of_a_span():
    # At 27.95 degC the curves of 1000 W over 100 W leave 0.240 253 to 0.9715; 13 to 14:30 of 8 h
    hot = np.where((CLOCK >= 13.0) & (CLOCK < 15.0), 27.95, 0.0)[None, :]
    week = replace(two_days(), wbgt_c=hot, work_w=1000.0, rest_w=100.0)
    low, high = week.share(6.5, 8.0, acclimatised=True)
    assert low == pytest.approx([(6.5 + 1.5 * 0.2402530736) / 8.0])
    assert high == pytest.approx([(6.5 + 1.5 * 0.9715) / 8.0], abs=1e-4)
    # new to the heat: 10^((59.9 - 27.95) / 14.1) = 184.4835 W on average: 0.093 871
    low, _ = week.share(13.0, 1.0, acclimatised=False)
    assert low == pytest.approx([0.0938705], rel=1e-5)


def test_other_starts_of_a_working_day():
    # 40 h in five days and half an hour of breaks: 8.5 h. Between 6 and 16 h starts to 7:30
    week, day = two_days(), WorkDay(8.0, 40.0, 0.5, 5, earliest=6.0, latest=16.0)
    assert day.span_h(40.0) == 8.5
    assert WorkDay(0.0, 168.0, 0.5, 5).span_h(168.0) == 24.0
    starts = week.starts(day, 40.0)
    assert [one.clock_h for one in starts] == [8.0, 6.0, 6.5, 7.0, 7.5]
    # to 16:30, 14:30, 15, 15:30 and 16 h; times 2.5
    assert [one.above_new_h for one in starts] == pytest.approx([16.25, 11.25, 12.5, 13.75, 15.0])
    assert [one.above_acclimatised_h for one in starts] == pytest.approx([5.0, 3.75, 5.0, 5.0, 5.0])
    assert [one.dark_h for one in starts] == pytest.approx([0.0, 1.0, 0.5, 0.0, 0.0])
    # from midnight on where only the end is stated, to the end of the day where only the start is
    open_end = replace(day, latest=None, earliest=15.0)
    assert [one.clock_h for one in week.starts(open_end, 40.0)] == [8.0, 15.0, 15.5]
    early = replace(day, earliest=None, latest=9.0)
    assert [one.clock_h for one in week.starts(early, 40.0)] == [8.0, 0.0, 0.5]
    # in daylight, 7 to 18 h, where nothing is stated
    light = week.starts(replace(day, earliest=None, latest=None), 40.0)
    assert [one.clock_h for one in light] == [8.0, 7.0, 7.5, 8.5, 9.0, 9.5]


def test_a_start_is_better_by_half_an_hour():
    now, new = Start(8.0, 2.0, 9.0, 0.0), Start(7.0, 2.0, 8.5, 0.0)
    assert better_start([now, new]) == new
    assert better_start([now, replace(new, above_new_h=8.6)]) is None
    # as good for new people: fewer hours of the others, then the earlier
    assert better_start([now, replace(new, clock_h=9.0, above_acclimatised_h=3.0), new]) == new
    assert better_start([now]) is None


def test_wbgt_and_heat_index_of_a_site():
    # 25 degC is 77 degF; half of saturation: 0.5 x (0.5 x (77 + 61 + 10.8 + 4.7) + 77) = 76.875,
    # 24.930 556 degC. Saturated 0.6108 x exp(17.27 x 25 / 262.3) = 3.167 77 kPa
    site = Site("Sea Level", 29.3, -15.6, 0.0, "Etc/GMT")
    weather = constant_weather(
        site, 24, 25.0, start="2027-06-21", vapour_pressure_kpa=0.5 * 3.1677777, wind_m_s=2.0
    )
    wbgt, index, elevation = site_wbgt_c(weather)
    assert index == pytest.approx(np.full(24, 24.9305556), abs=1e-4)
    # Noon of the sun is 15.6 degrees, 62 minutes, and 2 more after noon of the clock: 13:04. The
    # sun stands 29.3 - 23.44 degrees off the zenith; at 13:30, the middle of its hour, 26 minutes
    # later, cos 6.5 = sin 29.3 sin 23.44 + cos 29.3 cos 23.44 cos 6.5
    assert elevation.argmax() in (12, 13)
    assert elevation[13] == pytest.approx(81.8, abs=0.3)
    cosine = np.sin(np.radians(elevation[:3]))
    still = wbgt_c(25.0, 50.0, 2.0, 0.0, 0.0, cosine, 1013.0)
    assert wbgt[:3] == pytest.approx(still, abs=2e-3)


THREE = ((10.0, 0.0), (100.0, 40.0))


def money(prices=(4.0, 2.0), **costs):
    """Two options of 2000 plants on two hectares, in two weeks, one scenario."""
    grid = np.asarray(THREE, dtype=np.float32)[:, None, None, :]
    options = tuple(Option(date(2026, 10, day), "black", "Marl", "plug") for day in (1, 8))
    block = Block("East", "Marl", "black", "plug", date(2026, 10, 1), 1000.0, 2.0)
    seasons = SimpleNamespace(
        options=options, weeks=("2026-W50", "2026-W51"), weekly_g=grid, block=block,
        season_g=grid.sum(axis=-1, dtype=float),
    )  # fmt: skip
    # a tenth stays in the field; a tray of 2 kg holds a quarter more
    packout = Packout(Tray("box", 2.0, 0.25), np.array([0.1]), 0.0)
    curve = PriceCurve(seasons.weeks, np.asarray(prices), "EUR")
    return money_of(seasons, packout, curve, Costs("EUR", **costs), 0, 0)


def test_money_of_two_plantings():
    # 2000 plants: 9 g are 18 kg picked, 14.4 kg paid at 4. 90 and 36 g: 180 and 72 kg, 144 and
    # 57.6 kg paid at 4 and 2: 576 + 115.2
    earned = money(
        harvest_per_kg=0.5, film_per_ha={"black": 20.0}, transplant_each={"plug": 0.01},
        planting_per_ha=3.0,
    )  # fmt: skip
    assert earned.revenue.ravel() == pytest.approx([57.6, 691.2])
    # 0.5 a kg of 18 and 252 kg picked
    assert earned.harvest_means() == pytest.approx([9.0, 126.0])
    # film 2 x 20, transplants 2000 x 0.01, planting 2 x 3
    assert [one.total for one in earned.fixed] == pytest.approx([66.0, 66.0])
    assert earned.margins().ravel() == pytest.approx([57.6 - 9.0 - 66.0, 691.2 - 126.0 - 66.0])
    # a whole tilt adds the price in the first week and takes it off in the last
    assert earned.lean.ravel() == pytest.approx([57.6, 576.0 - 115.2])
    (one,) = tilted(earned.revenue, earned.lean, earned.margins(), tilts=(-0.5,))
    assert one.revenue_mean == pytest.approx([28.8, 691.2 - 230.4])
    assert one.told.expected == pytest.approx([28.8 - 75.0, 460.8 - 192.0])
    nothing = fixed_cost(Costs("EUR"), Block("E", "M", "b", "p", date(2026, 10, 1), 9.0, 2.0), "b",
                         "p")  # fmt: skip
    assert (nothing.film, nothing.transplants, nothing.planting) == (0.0, 0.0, 0.0)


def test_shares_of_scenarios():
    # better in two of four, level in one
    assert beats(np.array([[2.0, 3.0, 5.0, 1.0]]), np.array([1.0, 1.0, 5.0, 5.0])) == [0.625]
    # the lowest tenth of 25 values: round(2.5) = 2
    assert worst_mean(np.arange(25.0)[None, :]) == [0.5]
    assert worst_mean(np.arange(30.0)[None, :]) == [1.0]
    assert worst_mean(np.arange(3.0)[None, :]) == [0.0]
    assert undominated([2.0, 2.0, 1.0], [1.0, 2.0, 2.0]).tolist() == [False, True, False]


def test_two_seasons_that_stand_for_five():
    # 5.1 stands for 5, 5.1 and 5.2, 1 for 1 and 1.1: off by 0.1 in three, 0.06 on average; the mean
    # 3.48 is off by 9.72 / 5 = 1.944. Mean 0.4 x 1 + 0.6 x 5.1 = 3.46, 0.02 less. Nine tenths lie
    # below 5.1 + 0.6 x 0.1 = 5.16; of the kept below 5.1
    found = reduce_seasons(np.array([[1.0], [1.1], [5.0], [5.2], [5.1]]), 2)
    assert (found.kept.tolist(), found.probabilities.tolist()) == ([0, 4], [0.4, 0.6])
    assert found.distance_share == pytest.approx(0.06 / 1.944)
    assert found.mean_error == pytest.approx(0.02 / 3.48)
    assert found.p90_error == pytest.approx(0.06 / 5.16)
    # The middle of all is taken first and given up for the middle of the right
    swapped = reduce_seasons(np.array([[0.0], [0.1], [0.2], [4.8], [9.8], [9.9], [10.0]]), 2)
    assert swapped.kept.tolist() == [1, 5]
    assert swapped.probabilities == pytest.approx([4 / 7, 3 / 7])
    # distance over both weeks: 3, 4 and 5
    both = reduce_seasons(np.array([[0.0, 0.0], [3.0, 4.0], [0.0, 0.0]]), 1)
    assert both.kept.tolist() == [0]
    assert both.distance_share == pytest.approx((5.0 / 3.0) / (20.0 / 9.0))
    nothing = reduce_seasons(np.zeros((3, 2)), 1)
    assert (nothing.distance_share, nothing.mean_error, nothing.p90_error) == (0.0, 0.0, 0.0)


TERMS = CrewTerms(wage=10.0, contract_h=40.0, extra=(), lost_value=9.0, crew_most=1)


def test_a_week_of_the_plan_and_when_it_falls_short():
    # One person, 40 h. Of three seasons the first takes half a millionth more than that, which is
    # none; the second 44 h; the third 20
    trays, each = np.array([[100.0], [110.0], [50.0]]), np.full((3, 1), 0.4)
    plan = plan_crew(TERMS, trays, each, gap=1e-9)
    told = check_plan(plan, trays, each)
    [week] = crew_weeks(plan, told, ["2027-W03"], trays, each * (1.0 + 5e-7), date(2027, 1, 18))
    assert (week.planned, week.change) == (1, 1)
    assert week.trays == pytest.approx((60.0, 100.0, 108.0))
    assert week.need_h == pytest.approx((40.0, 43.2), rel=1e-5)
    assert week.need_people == pytest.approx((1.0, 1.08), rel=1e-5)
    assert week.short_of_core == pytest.approx(1 / 3)
    assert week.short_of_all == pytest.approx(1 / 3)
    # Monday 18 January 2027, the day of the plan itself
    assert week.decide_by == date(2027, 1, 18)
    notice = replace(plan, terms=replace(TERMS, notice_weeks=1, crew_now=3))
    [week] = crew_weeks(notice, told, ["2027-W03"], trays, each, date(2027, 1, 11))
    assert (week.change, week.decide_by) == (-2, date(2027, 1, 11))
    [late] = crew_weeks(notice, told, ["2027-W03"], trays, each, date(2027, 1, 12))
    assert late.decide_by is None


def test_new_people_of_the_fifth_week():
    # Hired in weeks 1, 3, 4 and 5; new are those of the last two weeks, 2 + 1, of 12
    names = [f"2027-W{number}" for number in range(22, 27)]
    trays, each = np.full((1, 5), 100.0), np.full((1, 5), 0.4)
    terms = replace(TERMS, crew_most=20, new_weeks=2)
    plan = plan_crew(terms, trays, each, gap=1e-9)
    plan = replace(
        plan, crew=np.array([5.0, 5.0, 9.0, 11.0, 12.0]), hired=np.array([5.0, 0.0, 4.0, 2.0, 1.0])
    )
    day = WorkDay(6.5, 40.0, 0.0, 5)
    heat = [two_days(name) for name in names]
    shares = work_shares(heat, names, day, terms, seasons=1)
    rows = heat_of_plan(heat, names, day, plan, check_plan(plan, trays, each), shares)
    assert [row.new_people for row in rows] == [5, 5, 4, 6, 3]
    # no hour beyond the contract: 6:30 to 14:30 as above
    last = rows[-1]
    assert last.hours_a_person == pytest.approx((40.0, 40.0, 40.0))
    assert last.above_acclimatised_h == pytest.approx((3.75, 3.75))
    assert last.above_new_h == pytest.approx((11.25, 11.25))
    assert last.overtime_above_h == pytest.approx((0.0, 0.0))
    assert last.highest_wbgt_c == pytest.approx((30.0, 30.0))
    assert last.highest_heat_index_c == pytest.approx((40.0, 40.0))
    # 24 hours beyond the contract in the last week: 2 each, or of the 9 who may where new people
    # must not
    told = replace(check_plan(plan, trays, each), extra_h=np.array([[0.0, 0.0, 0.0, 0.0, 24.0]]))
    for allowed, hours in ((1.0, 42.0), (0.0, 40.0 + 24.0 / 9.0)):
        shares.rows[NEW_OVERTIME - NEW] = allowed
        last = heat_of_plan(heat, names, day, plan, told, shares)[-1]
        assert last.hours_a_person == pytest.approx((hours, hours, hours))


def test_hours_of_a_crew_of_ten_of_whom_three_are_new():
    # Heat leaves the new 0.6 of an hour: 10 - 0.4 x 3 = 8.8 people of 40 h. A quarter of them may
    # work on: 10 - 0.75 x 3 = 7.75 people for 8 h at 0.8. Two temporary workers of 20 h do half of
    # an hour, and half of that in the heat
    terms = replace(
        TERMS, crew_most=20, extra=(ExtraHours(8.0, 15.0),), new_weeks=1, temporary_most=2,
        temporary_h=20.0, temporary_rate=0.5, temporary_wage=12.0,
    )  # fmt: skip
    trays, each = np.array([[100.0]]), np.array([[0.4]])
    plan = replace(
        plan_crew(terms, trays, each, gap=1e-9), crew=np.array([10.0]), hired=np.array([3.0])
    )
    rows = np.ones((EXTRA - NEW + 1, 1, 1))
    rows[0], rows[NEW_OVERTIME - NEW], rows[TEMPORARY - NEW], rows[EXTRA - NEW] = (
        0.6,
        0.25,
        0.5,
        0.8,
    )
    core, everyone = crew_hours(plan, season_rows(terms, trays, each, rows))
    assert core == pytest.approx(np.array([[352.0]]))
    assert everyone == pytest.approx(np.array([[352.0 + 10.0 + 49.6]]))


def test_a_millionth_of_the_fruit_is_no_loss():
    plan = plan_crew(TERMS, np.array([[100.0]]), np.array([[0.4]]), gap=1e-9)
    assert replace(plan, lost=np.array([[5e-5]])).full_share == 1.0
    assert replace(plan, lost=np.array([[2e-4]])).full_share == 0.0


def test_other_starts_are_told_where_one_season_in_ten_is_hot():
    # One or three hot hours in the hottest of ten seasons are 2.5 or 7.5 of a week; nine tenths of
    # the seasons have up to a tenth of that, and half an hour is where starts are told
    for hours, told in ((1, False), (3, True)):
        wbgt = np.full((10, 48), 20.0)
        wbgt[9, 10 : 10 + hours] = 26.0
        week = replace(two_days(), wbgt_c=wbgt, index_c=wbgt)
        terms, day = replace(TERMS, crew_most=20), WorkDay(6.5, 40.0, 0.0, 5)
        trays, each = np.full((10, 1), 100.0), np.full((10, 1), 0.4)
        plan = plan_crew(terms, trays, each, gap=1e-9)
        shares = work_shares([week], [week.week], day, terms, seasons=10)
        checked = check_plan(plan, trays, each)
        (row,) = heat_of_plan([week], [week.week], day, plan, checked, shares)
        assert row.above_new_h == pytest.approx((0.0, 0.25 * hours))
        assert bool(row.starts) is told


def test_terms_of_what_a_season_states():
    # 50 h at most and 40 by contract in five days: ten at the plain wage where no rule is stated.
    # Beginners lose 0.4, a week later 0.4 / e; temporary workers stay beginners of the same hours
    labour = Labour(
        "EUR", 12.0, 40.0, 30, 5, most_hours_per_week=50.0, line_trays_per_day=200.0,
        cooler_trays_per_day=90.0, temporary_most=3, temporary_wage_per_h=14.0,
    )  # fmt: skip
    terms = terms_of(labour, 9.0)
    assert (terms.wage, terms.contract_h, terms.crew_most) == (12.0, 40.0, 30)
    assert [(step.hours, step.cost) for step in terms.extra] == [(10.0, pytest.approx(12.0))]
    assert terms.beginner_loss == pytest.approx((0.4, 0.1471518, 0.0541341, 0.0199148), abs=1e-6)
    assert (terms.temporary_h, terms.temporary_rate) == (40.0, pytest.approx(0.6))
    assert terms.temporary_cost == pytest.approx(560.0)
    # five days a week
    assert (terms.line_trays, terms.cooler_trays) == (1000.0, 450.0)
    plain = terms_of(Labour("EUR", 12.0, 40.0, 30, 5), 9.0)
    assert plain.extra == ()
    assert (plain.line_trays, plain.cooler_trays, plain.temporary_cost) == (np.inf, np.inf, 0.0)
    some = terms_of(replace(labour, temporary_rate=0.8, temporary_hours_per_week=20.0), 9.0)
    assert (some.temporary_h, some.temporary_rate) == (20.0, 0.8)
