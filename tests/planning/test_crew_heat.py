"""Heat of the crew in the hours that the plan works: rest is paid, overtime counts, new is new."""

import numpy as np
import pytest

from phenocast.planning.labour.crew_model import (
    EXTRA,
    NEW,
    NEW_OVERTIME,
    TEMPORARY,
    CrewTerms,
    still_there,
)
from phenocast.planning.labour.crew_weeks import (
    heat_of_plan,
    hour_warnings,
    work_shares,
    working_day,
)
from phenocast.planning.labour.heat_weeks import WeekHeat, WorkDay
from phenocast.planning.labour.overtime import ExtraHours
from phenocast.planning.labour.solve import check_plan, plan_crew
from phenocast.season import ClockHours, Labour

DAY = WorkDay(6.0, 40.0, 0.0, 5)  # 6 to 14 h
BASE = {"wage": 10.0, "contract_h": 40.0, "extra": (), "lost_value": 1e4, "crew_most": 100}
# By hand, at a WBGT of 30 degC and from rest (117 W) to moderate work (300 W): the limit of NIOSH
# 2016-106 for acclimatised people holds for M = 10^((56.7 - 30) / 11.5) = 209.8 W, which leaves
# (209.8 - 117) / 183 = 0.507 of the hour; that for others for 10^((59.9 - 30) / 14.1) = 132.0 W,
# which leaves 0.082. No other published curve leaves less.
USED, UNUSED = 0.5069, 0.0819


def week_of(*by_clock, cool=10.0, name="2027-W24"):
    """A week that is cool save for some hours of the clock, one season each mapping."""
    clock = np.arange(168) % 24.0
    wbgt = np.array([[hot.get(hour, cool) for hour in clock] for hot in by_clock])
    return WeekHeat(name, clock, (clock >= 7) & (clock < 20), wbgt, wbgt, 300.0, 117.0)


def hot(wbgt, *spans):
    return {float(hour): wbgt for start, end in spans for hour in range(start, end)}


def shares_of(week, terms, **more):
    return work_shares([week], [week.week], DAY, terms, seasons=len(week.wbgt_c), **more)


def planned(week, trays, each_h, decided=None, **terms):
    """A plan of one week that needs so many hours a tray without heat."""
    made = CrewTerms(**{**BASE, **terms})
    shares = shares_of(week, made)
    trays = np.full((len(week.wbgt_c), 1), trays)
    return plan_crew(made, trays, each_h / shares.core, heat=shares.rows, gap=1e-9,
                     decided=None if decided is None else np.array([decided]))  # fmt: skip


def test_rest_is_paid_and_picks_nothing_so_more_people_are_needed():
    # 800 trays of 0.2 h are 160 h: 4 people of 40 h. At a share of 0.507 they take 315.6 h: 8.
    heat = week_of(hot(30.0, (6, 14)))
    assert shares_of(heat, CrewTerms(**BASE)).core[0, 0] == pytest.approx(USED, abs=2e-4)
    assert planned(week_of({}), 800.0, 0.2, crew_now=8).crew.tolist() == [4.0]
    used = planned(heat, 800.0, 0.2, crew_now=8)
    assert (used.crew.tolist(), used.lost.sum()) == ([8.0], 0.0)
    assert used.expected_cost == pytest.approx(8 * 40.0 * 10.0)  # rest is paid


def test_people_hired_within_two_weeks_work_to_the_limit_of_new_ones():
    # 160 h at 0.0819 of the hour are 1954 h: 49 people, all hired for the week.
    heat = week_of(hot(30.0, (6, 14)))
    assert planned(heat, 800.0, 0.2).crew.tolist() == [49.0]
    new = shares_of(heat, CrewTerms(**BASE)).rows[0]
    assert new[0, 0] == pytest.approx(UNUSED / USED, abs=3e-4)
    # after two weeks they count as acclimatised
    terms = CrewTerms(**{**BASE, "contract_weeks": 3, "hiring_cost": 1.0})
    rows = np.ones((3, 1, 3))
    rows[0] = UNUSED / USED
    crew = plan_crew(terms, np.array([[0.0, 0.0, 800.0]]), np.full((1, 3), 0.2 / USED), heat=rows,
                     gap=1e-9).crew  # fmt: skip
    # eight hired two weeks before cost 24 weeks of pay, 49 in the week itself 49 and to its end
    assert crew.tolist() == [8.0, 8.0, 8.0]


def test_temporary_workers_count_as_new():
    heat = week_of(hot(30.0, (6, 14)))
    terms = CrewTerms(**{**BASE, "temporary_most": 5, "temporary_wage": 12.0, "temporary_h": 40.0})
    rows = shares_of(heat, terms).rows
    assert rows[TEMPORARY - NEW, 0, 0] == pytest.approx(UNUSED / USED, abs=3e-4)


def test_overtime_in_the_heat_yields_what_heat_leaves_of_it():
    # Cool to 14 h and hot after it: 4 people do 160 h within the contract, and 20.3 h beyond it
    # take 20.3 / 0.507 = 40 h of overtime, the most they may work.
    heat = week_of(hot(30.0, (14, 16)))
    more = {"crew_now": 4, "crew_most": 4, "extra": (ExtraHours(10.0, 15.0),)}
    plan = planned(heat, 1000.0, 0.2, **more)
    assert plan.picked.sum() == pytest.approx((160.0 + 40.0 * USED) / 0.2, rel=2e-4)
    assert plan.extra_h.sum() == pytest.approx(40.0)
    assert planned(week_of({}), 1000.0, 0.2, **more).picked.sum() == pytest.approx(1000.0)


def test_a_step_beyond_the_contract_counts_with_its_worst_part():
    # Its first hour is hot, its second is not: half of them might be bought.
    terms = CrewTerms(**{**BASE, "extra": (ExtraHours(10.0, 15.0),)})
    rows = shares_of(week_of(hot(30.0, (14, 15))), terms).rows
    assert rows[EXTRA - NEW, 0, 0] == pytest.approx(USED, abs=2e-4)
    # later hours that are cooler never count for more than those of the contract
    rows = shares_of(week_of(hot(30.0, (6, 14))), terms).rows
    assert rows[EXTRA - NEW, 0, 0] == 1.0


def test_new_people_work_no_overtime_in_hours_above_their_limit():
    # 27 degC is above the limit of new people (25.0) and below that of the others (28.2)
    heat = week_of(hot(27.0, (14, 16)))
    more = {"extra": (ExtraHours(10.0, 15.0),), "crew_most": 4}
    old = planned(heat, 1000.0, 0.2, crew_now=4, **more)
    new = planned(heat, 1000.0, 0.2, crew_now=0, decided=4.0, **more)
    assert (old.extra_h.sum(), new.extra_h.sum()) == (pytest.approx(40.0), pytest.approx(0.0))
    assert planned(week_of({}), 1000.0, 0.2, decided=4.0, **more).extra_h.sum() > 39.9
    # in the first weeks with fruit everybody is new
    terms = CrewTerms(**{**BASE, **more})
    rows = shares_of(heat, terms, new_until=1).rows
    assert (rows[NEW_OVERTIME - NEW, 0, 0], rows[EXTRA - NEW, 0, 0]) == (0.0, 0.0)


def test_hours_above_the_limit_are_those_that_the_plan_works():
    # Two seasons; the second is hot from 14 to 16 h, after the contract's last hour. 4 people with
    # 36 h of overtime work 49 h a week, 9.8 a day: to 15:48, 1.8 h of each of five days above.
    heat = week_of({}, hot(30.0, (14, 16)))
    terms = CrewTerms(**{**BASE, "crew_now": 4, "crew_most": 4, "extra": (ExtraHours(10.0, 15.0),)})
    trays, each = np.full((2, 1), 980.0), np.full((2, 1), 0.2)
    plan = plan_crew(terms, trays, each, gap=1e-9)
    checked = check_plan(plan, trays, each)
    [row] = heat_of_plan([heat], [heat.week], DAY, plan, checked, shares_of(heat, terms))
    assert row.hours_a_person == pytest.approx((49.0, 49.0, 49.0))
    low, high = 0.0, 9.0  # P50 and P90 of two seasons lie between them
    assert row.above_acclimatised_h == pytest.approx(((low + high) / 2, 0.9 * high))
    assert row.overtime_above_h == row.above_acclimatised_h
    assert row.above_new_h == (0.0, 0.0)  # they work to 14 h
    assert row.new_people == 0
    assert row.highest_wbgt_c[1] == pytest.approx(10.0 + 0.9 * 20.0)


def test_overtime_is_of_those_who_may_work_it():
    # 6 people, 2 of them new and barred from the hot hours after the contract: 40 h of overtime
    # are 10 h for each of the other four.
    heat = week_of(hot(27.0, (14, 16)))
    more = {"crew_now": 4, "crew_most": 6, "extra": (ExtraHours(10.0, 15.0),)}
    terms = CrewTerms(**{**BASE, **more})
    plan = planned(heat, 2000.0, 0.2, decided=6.0, **more)
    shares = shares_of(heat, terms)
    checked = check_plan(plan, np.array([[2000.0]]), 0.2 / shares.core, heat=shares.rows)
    [row] = heat_of_plan([heat], [heat.week], DAY, plan, checked, shares)
    assert checked.extra_h.sum() == pytest.approx(40.0)
    assert (row.new_people, row.hours_a_person[2]) == (2, pytest.approx(50.0))


def test_the_new_of_a_week_are_those_hired_within_two():
    weeks = [f"2027-W{n}" for n in (20, 21, 22, 23)]
    terms = CrewTerms(**{**BASE, "crew_now": 3})
    decided = np.array([5.0, 5.0, 5.0, 4.0])
    plan = plan_crew(terms, np.full((1, 4), 10.0), np.full((1, 4), 0.2), decided=decided)
    checked = check_plan(plan, np.full((1, 4), 10.0), np.full((1, 4), 0.2))
    cool = [week_of({}, name=week) for week in weeks]
    shares = work_shares(cool, weeks, DAY, terms, seasons=1)
    rows = heat_of_plan(cool, weeks, DAY, plan, checked, shares)
    assert [row.new_people for row in rows] == [2, 2, 0, 0]


def test_those_longest_there_go_first():
    share = still_there(np.array([6.0, 10.0, 7.0, 3.0, np.nan]), 2)
    # 2 of before, 4 hired first, 4 second; 3 go (2 of before, 1 of the first), then 4 more
    assert share[0].tolist() == pytest.approx([1.0, 1.0, 0.75, 0.0, 0.0])
    assert share[1, 1:].tolist() == pytest.approx([1.0, 1.0, 0.75, 0.75])
    assert np.all(share[2:] == 1.0)


def test_a_crew_that_fell_is_a_fact_and_no_rule_that_is_broken():
    # 12 people came and went: their contracts are over, whatever contract_weeks says.
    terms = CrewTerms(**{**BASE, "contract_weeks": 8, "beginner_loss": (0.4, 0.15, 0.05)})
    decided = np.array([12.0, 0.0, np.nan, np.nan])
    trays = np.array([[0.0, 0.0, 400.0, 400.0]])
    plan = plan_crew(terms, trays, np.full((1, 4), 0.2), decided=decided, gap=1e-9)
    assert plan.crew.tolist() == [12.0, 0.0, 4.0, 4.0]  # 80 h of new people at 0.6 of 40 h


def test_breaks_are_what_the_contract_leaves_of_stated_hours():
    stated = working_day(Labour("EUR", 9.5, 40.0, 30, 5, work_hours=ClockHours(6.0, 15.0)))
    assert (stated.start, stated.breaks_h, stated.span_h(50.0)) == (6.0, 1.0, 11.0)
    shipped = working_day(Labour("EUR", 9.5, 40.0, 30, 5, earliest=7.5))
    assert (shipped.start, shipped.breaks_h) == (7.5, 0.5)


def test_a_day_that_ends_after_the_latest_hour_is_told():
    labour = Labour("EUR", 9.5, 40.0, 30, 5, work_hours=ClockHours(6.0, 14.0), latest=15.0)
    terms = CrewTerms(**{**BASE, "extra": (ExtraHours(10.0, 15.0),)})
    [told] = hour_warnings(labour, working_day(labour), [], terms)
    assert "ends at 16:00, after latest (15:00)" in told
    unstated = Labour("EUR", 9.5, 40.0, 30, 5)
    [told] = hour_warnings(unstated, working_day(unstated), [week_of({})], terms)
    assert "assumed to start at 06:00 by the local clock; in 1 weeks that is before sunrise" in told
