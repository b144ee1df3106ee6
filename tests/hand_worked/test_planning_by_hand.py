"""Picks, hours, people and money of a few weeks, worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from phenocast.forecast.packout import Tray
from phenocast.planning.comparison.judge import paired_error
from phenocast.planning.labour.crew_model import CrewTerms, season_rows
from phenocast.planning.labour.heat_stress import (
    direct_share,
    exposure_limit_c,
    heat_index_f,
    heat_index_regression_f,
    work_share_curves,
)
from phenocast.planning.labour.milp import weighted_quantile
from phenocast.planning.labour.overtime import ExtraHours, OvertimeRules, extra_hours
from phenocast.planning.labour.solve import (
    check_plan,
    conditional_value_at_risk,
    crew_hours,
    plan_crew,
)
from phenocast.planning.picking import (
    PickingRates,
    cooler_trays_per_day,
    experience,
    fit_tallies,
    hours_per_pick,
    interval_d,
    loading_hours,
    packing_hours,
    picks_and_hours,
)
from phenocast.planning.prices import (
    PriceCurve,
    curve_from_months,
    curve_from_table,
    draw_prices,
    shipped_week_sd,
)

RATES = PickingRates(
    walk_h_per_ha=10.0, reach_h_per_t=20.0, fruit_g=18.0, cull_share=0.2,
    shortest_d=2.0, longest_d=7.0, worth_t_per_ha=0.5,
)  # fmt: skip


def test_hours_of_a_pick():
    # 0.8 t marketable are 1 t reached for: 10 + 20; fruit of 12 g are half as many again: 10 + 30
    assert float(hours_per_pick(RATES, 0.8)) == pytest.approx(30.0)
    assert float(hours_per_pick(RATES, 0.8, 12.0)) == pytest.approx(40.0)
    assert float(RATES.rate_kg_h(0.8)) == pytest.approx(800.0 / 30.0)


def test_picks_of_three_weeks():
    # 20 000 plants ha-1. 0.7, 70 and 17.5 g per plant: 0.014 t ha-1, too little to send a
    # crew; 1.4 t, 0.2 a day, every 2.5 days, 2.8 picks; 0.35 t, 0.05 a day, once in 7 days, 1 pick.
    # A tenth stays, and all that nobody is sent for: 1.26 t in 2.8 picks of 0.45, 10 + 20 x 0.45 /
    # 0.8 = 21.25 h ha-1 each; 0.315 t, 10 + 7.875 h ha-1
    assert interval_d(RATES, [0.2, 0.05, 5.0, 0.0]).tolist() == [2.5, 7.0, 2.0, 7.0]
    ripe, picked = np.array([0.7, 70.0, 17.5]), np.array([0.0, 63.0, 15.75])
    picks, hours = picks_and_hours(RATES, ripe, picked, 20_000.0)
    assert picks == pytest.approx([0.0, 2.8, 1.0])
    assert hours == pytest.approx([0.0, 2.8 * 21.25, 17.875])


def test_beginners_learn():
    # beginner's rate 0.6, time of learning a week: 1 - 0.4 exp(-w)
    assert experience([0.0, 1.0, 3.0]) == pytest.approx([0.6, 0.8528482235, 0.9800851727])


def test_trays_and_their_hours():
    # 4 kg with 2.5 % above: 4.1 kg
    assert float(Tray("8 x 500 g", 4.0, 0.025).trays(820.0)) == pytest.approx(200.0)
    assert float(packing_hours(500.0, 5.0)) == pytest.approx(100.0)
    assert float(loading_hours(90.0, 60.0)) == pytest.approx(1.5)
    # loads of 40 + 20 min: 7 in 7.5 h; 3 pallets of 108 trays
    assert cooler_trays_per_day(3, 7.5, cooling_min=40.0) == 7 * 3 * 108


def test_overtime():
    # Above 8 h a day half as much again, above 10 h double; above 40 plain hours of a week half as
    # much again. 12, 9, 8, 8, 8 h: plain 8 x 5 = 40; the rest 2 x 1.5 + 2 x 2 and 1 x 1.5 = 8.5
    rules = OvertimeRules("ours", day=((8.0, 1.5), (10.0, 2.0)), week=((40.0, 1.5),))
    assert rules.pay_hours([12.0, 9.0, 8.0, 8.0, 8.0]) == pytest.approx(48.5)
    # 44 plain hours in six days: 4 of them at 1.5
    assert rules.pay_hours([8.0] * 5 + [4.0]) == pytest.approx(46.0)
    # 30 h in 5 days, up to 55: plain to 40, at 1.5 to 50, double to 55
    steps = extra_hours(rules, 10.0, 30.0, 5, 55.0)
    assert [(step.hours, step.cost) for step in steps] == [
        pytest.approx(pair) for pair in ((10.0, 10.0), (10.0, 15.0), (5.0, 20.0))
    ]


ONE_WEEK = {
    "wage": 10.0, "contract_h": 40.0, "extra": (ExtraHours(8.0, 15.0),), "lost_value": 9.0,
    "crew_most": 1, "hiring_cost": 50.0, "beginner_loss": (0.25,), "temporary_most": 1,
    "temporary_h": 20.0, "temporary_rate": 0.5,
}  # fmt: skip


def one_week(tray_h=0.4, **terms):
    return plan_crew(
        CrewTerms(**{**ONE_WEEK, **terms}), np.array([[100.0]]), np.array([[tray_h]]), gap=1e-9,
    )  # fmt: skip


def test_a_week_of_one_beginner():
    # 40 h less a quarter: 30 h, 75 trays of 0.4 h; 8 h more at 15: 20 trays, 6.00 each, less than
    # the 9.00 of a lost one. A temporary worker does 10 h, 25 trays: at 12 an hour 240, 9.60 each,
    # too dear: 5 are lost. 400 + 50 + 120 + 45
    plan = one_week(temporary_wage=12.0)
    assert plan.crew.tolist() == [1.0]
    assert (plan.extra_h[0, 0], plan.temporary[0, 0]) == pytest.approx((8.0, 0.0))
    assert (plan.picked[0, 0], plan.lost[0, 0]) == pytest.approx((95.0, 5.0))
    assert plan.expected_cost == pytest.approx(615.0)
    assert plan.fruit_share == pytest.approx(0.95)
    assert plan.full_share == 0.0
    seasons = season_rows(plan.terms, np.array([[100.0]]), np.array([[0.4]]))
    assert crew_hours(plan, seasons)[0] == pytest.approx(np.array([[30.0]]))
    # at 10 an hour 8.00 each: a fifth of a worker, 40
    cheap = one_week(temporary_wage=10.0)
    assert cheap.temporary[0, 0] == pytest.approx(0.2)
    assert cheap.expected_cost == pytest.approx(610.0)
    assert cheap.full_share == 1.0
    # heat leaves 0.8 of an hour, a tray takes 0.5 h: 60 trays; 8 h more, 16 trays; a temporary
    # worker 20 for 200, 10 each, too dear. 400 + 50 + 120 + 24 x 9
    hot = one_week(tray_h=0.5, temporary_wage=10.0)
    assert hot.lost[0, 0] == pytest.approx(24.0)
    assert hot.expected_cost == pytest.approx(786.0)
    # a line that takes 90 trays
    assert one_week(temporary_wage=12.0, line_trays=90.0).picked[0, 0] == pytest.approx(90.0)


def test_fruit_that_waits_a_week_and_none_beyond_the_last():
    # One person, 100 trays of 0.4 h a week. 120 and 50 trays: 20 wait at a loss of a fifth, so
    # 16 come and there are 66 in the second week. 2 x 400 + 20 x 0.2 x 9
    waiting = {
        "wage": 10.0, "contract_h": 40.0, "extra": (), "lost_value": 9.0, "crew_most": 1,
        "deferral_share": 0.5, "deferral_loss": 0.2,
    }  # fmt: skip
    trays, each = np.array([[120.0, 50.0]]), np.full((1, 2), 0.4)
    plan = plan_crew(CrewTerms(**waiting), trays, each, gap=1e-9)
    assert plan.crew.tolist() == [1.0, 1.0]
    assert plan.deferred[0] == pytest.approx([20.0, 0.0])
    assert plan.picked[0] == pytest.approx([100.0, 66.0])
    assert plan.expected_cost == pytest.approx(836.0)
    # picked 166, 4 lost in waiting
    assert plan.fruit_share == pytest.approx(166.0 / 170.0)
    told = check_plan(plan, trays, each)
    assert told.expected_cost == pytest.approx(836.0)
    # In a last week of 100 trays at 5.00 a person costs less (400) than the trays (500). If half of
    # them could wait for ever, 50 x 5 + 50 x 1 = 300 would look better still
    last = plan_crew(
        CrewTerms(**{**waiting, "lost_value": 5.0}), np.array([[100.0]]), each[:, :1], gap=1e-9
    )
    assert last.deferred[0, 0] == 0.0
    assert last.crew.tolist() == [1.0]
    assert last.expected_cost == pytest.approx(400.0)


def test_two_seasons_one_crew():
    # 100 or 200 trays of 0.4 h, one in four the larger: a second person costs 400 and saves 100 x 9
    # in a quarter of the seasons, 225. With one: 400 + 225
    plan = plan_crew(
        CrewTerms(wage=10.0, contract_h=40.0, extra=(), lost_value=9.0),
        np.array([[100.0], [100.0], [100.0], [200.0]]), np.full((4, 1), 0.4), gap=1e-9,
    )  # fmt: skip
    assert plan.crew.tolist() == [1.0]
    assert plan.expected_cost == pytest.approx(625.0)
    # each season known: 400 three times, 800 once
    assert plan.worth.wait_and_see == pytest.approx(500.0)
    assert plan.cvar(0.9) == pytest.approx(1300.0)
    # the worst 0.4: 9 with 0.1 and 0.3 of the 5
    shares = np.array([0.5, 0.4, 0.1])
    assert conditional_value_at_risk(np.array([1.0, 5.0, 9.0]), shares, 0.6) == pytest.approx(6.0)
    values = np.array([[5.0], [1.0], [9.0]])
    assert weighted_quantile(values, shares, 0.5).tolist() == [5.0]
    assert weighted_quantile(values, shares, 0.4).tolist() == [1.0]


def test_error_of_a_paired_difference():
    # Seasons 2 and 4 on average, draws 2 and 4: mean squares 2 x 2 and 2 x 2, nothing left over:
    # (4 + 4) / 4 = 2; freedom 8^2 / (16 + 16) = 2, t 4.302 653
    error, margin = paired_error([[1.0, 3.0], [3.0, 5.0]])
    assert (float(error), float(margin)) == pytest.approx((2.0**0.5, 6.0848698), rel=1e-6)
    # Seasons 2 and 6, draws 3 and 5: 16 + 4 over 4 = 5; freedom 400 / 272
    error, _ = paired_error([[1.0, 3.0], [5.0, 7.0]])
    assert float(error) == pytest.approx(5.0**0.5)
    # Seasons 3 and 6 on average, draws 4 and 5; left over -0.5, 0.5, 0.5, -0.5: mean squares 9, 1
    # and 1: (9 + 1 - 1) / 4 = 2.25; freedom 100 / 82
    error, _ = paired_error([[2.0, 4.0], [6.0, 6.0]])
    assert float(error) == pytest.approx(1.5)


def test_error_of_a_paired_difference_has_a_floor():
    # Seasons 2 and 3, draws 2 and 3: 1 and 1; left over -1.5, 1.5, 1.5, -1.5: 9. 1 + 1 - 9 is below
    # nothing: what seasons alone make of it, 1 / 4
    error, margin = paired_error([[0.0, 4.0], [4.0, 2.0]])
    assert (float(error), float(margin)) == pytest.approx((0.5, 2.1513264), rel=1e-6)
    # Seasons 2.5 and 3.5, draws 3 and 3: 1 and 0; the larger counts, and with one degree of freedom
    # t is 12.706 205; turned round it is the draws'
    for table in ([[0.0, 5.0], [6.0, 1.0]], [[0.0, 6.0], [5.0, 1.0]]):
        error, margin = paired_error(table)
        assert (float(error), float(margin)) == pytest.approx((0.5, 6.3531024), rel=1e-6)


def test_prices_of_weeks():
    # low 2 and high 2 x exp(2 x 1.281 552 x 0.25): a spread of 0.25 on the log scale, of which 0.2
    # belong to the season: 0.15
    curve = curve_from_table(["2026-W50"], [3.0], "EUR", low=[2.0], high=[3.7959], season_sd=0.2)
    assert curve.week_sd == pytest.approx([0.15], abs=1e-4)
    # 4 on 15 December, 2 on 15 January: the week of 28 December is 16 of 31 days on: 4 / 2^(16/31)
    months = curve_from_months({"dec": 4.0, "jan": 2.0}, ["2026-W53"], "EUR")
    assert months.per_kg == pytest.approx([2.7969820], rel=1e-7)
    # no spread: the stated price; a season's alone moves all weeks by one factor
    flat = replace(curve, season_sd=0.0, week_sd=0.0)
    assert draw_prices(flat, 3, 1).tolist() == [[3.0]] * 3
    shared = PriceCurve(("2026-W50", "2026-W51"), np.array([4.0, 2.0]), "EUR", 0.3, 0.0, 0.7)
    drawn = draw_prices(shared, 5, 1)
    assert drawn[:, 0] / drawn[:, 1] == pytest.approx(np.full(5, 2.0))
    # 0.25 in November, 0.12 from March on, a quarter of the way each month; October as November
    weeks = ["2026-W45", "2026-W50", "2027-W02", "2027-W11", "2026-W42"]
    assert shipped_week_sd(weeks) == pytest.approx([0.25, 0.2175, 0.185, 0.12, 0.25])


def test_a_line_through_five_picks():
    # 0.5 to 2.5 t ha-1, 30, 39, 52, 60, 74 h ha-1: products 54.5 over squares 2.5: 21.8 h t-1;
    # 51 - 1.5 x 21.8 = 18.3. Left over 0.8, -1.1, 1, -1.9, 1.2: 7.9 / 3, sd 1.622 755. Errors of
    # the slope 1.622 755 / sqrt(2.5) = 1.026 320, of the walk 1.622 755 x sqrt(0.2 + 0.9) =
    # 1.701 960; t 2.353 363
    yields, area = np.array([0.5, 1.0, 1.5, 2.0, 2.5]), np.array([1.0, 2.0, 1.0, 2.0, 4.0])
    fit = fit_tallies(np.array([30.0, 39.0, 52.0, 60.0, 74.0]) * area, 1000.0 * yields * area, area)
    assert (fit.walk, fit.reach, fit.residual_sd) == pytest.approx((18.3, 21.8, 1.6227549))
    assert fit.reach_interval == pytest.approx((21.8 - 2.4153046, 21.8 + 2.4153046), abs=1e-6)
    assert fit.walk_interval == pytest.approx((18.3 - 4.0053296, 18.3 + 4.0053296), abs=1e-6)
    assert fit.r_squared == pytest.approx(1.0 - 7.9 / 1196.0)
    assert fit.warnings == ()
    # the tallied reach holds culls: 21.8 x 0.8
    applied = fit.applied_to(RATES)
    assert (applied.walk_h_per_ha, applied.reach_h_per_t) == pytest.approx((18.3, 17.44))


def test_heat_figures():
    # 70 degF, 50 %: 0.5 x (0.5 x (70 + 61 + 2.4 + 4.7) + 70) = 69.525
    assert float(heat_index_f(70.0, 50.0)) == pytest.approx(69.525)
    # 82 degF, 95 %: a tenth of 10 x a fifth of 5 above the regression; 95 degF, 5 %: 8 / 4 below it
    moist_and_dry = heat_index_f([82.0, 95.0], [95.0, 5.0])
    plain = heat_index_regression_f([82.0, 95.0], [95.0, 5.0])
    assert moist_and_dry - plain == pytest.approx([1.0, -2.0])
    # clear 0.7: exp(3 - 0.938 - 2.357 143)
    assert float(direct_share(0.7 * 1367.0 * 0.5, 0.5)) == pytest.approx(0.7444252, rel=1e-6)
    # 100 W: log 2: 56.7 - 23, 59.9 - 28.2
    assert float(exposure_limit_c(100.0, acclimatised=True)) == pytest.approx(33.7)
    assert float(exposure_limit_c(100.0, acclimatised=False)) == pytest.approx(31.7)
    # 1000 W of work and 100 of rest, 27.95 degC: half of 22.2 and 33.7; at 10^2.5 W on average
    # 216.227 766 / 900; ISO 46 x 6.95 = 319.7: 219.7 / 900; 2.95^(2/3) = 2.056 943: 0.971 529
    curves = work_share_curves(27.95, 1000.0, 100.0)
    assert float(curves["limits"]) == pytest.approx(0.5)
    assert float(curves["time-weighted"]) == pytest.approx(0.2402530736)
    assert float(curves["iso"]) == pytest.approx(219.7 / 900.0)
    assert float(curves["dunne"]) == pytest.approx(0.9715, abs=1e-3)
