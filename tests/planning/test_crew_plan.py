"""A plan keeps its rules, costs less with more freedom, and says which rule is in the way."""

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from phenocast.errors import InputError, NoAnswerError
from phenocast.harvest.weeks import monday
from phenocast.planning.labour.crew_model import CrewTerms, crew_program, season_rows
from phenocast.planning.labour.crew_weeks import crew_weeks
from phenocast.planning.labour.milp import Program
from phenocast.planning.labour.overtime import ExtraHours
from phenocast.planning.labour.solve import (
    check_plan,
    conditional_value_at_risk,
    crew_hours,
    plan_crew,
)
from tests.planning.duality import dual_bound

WEEKS = 10
BASE = {"wage": 12.0, "contract_h": 40.0, "extra": (ExtraHours(8.0, 18.0),), "lost_value": 9.0,
        "crew_most": 60}  # fmt: skip


def season(seed=0, n=30):
    rng = np.random.default_rng(seed)
    shape = np.array([0.1, 0.3, 0.6, 0.9, 1.0, 1.0, 0.9, 0.6, 0.3, 0.1])
    trays = 4000.0 * shape * rng.lognormal(0.0, 0.25, (n, 1)) * rng.lognormal(0.0, 0.2, (n, WEEKS))
    return trays, np.full_like(trays, 0.2)


def planned(trays=None, each=None, /, scenarios=12, decided=None, **terms):
    if trays is None:
        trays, each = season()
    return plan_crew(CrewTerms(**{**BASE, **terms}), trays, each, scenarios=scenarios,
                     decided=decided, gap=1e-6)  # fmt: skip


@pytest.fixture(scope="module")
def free():
    return planned()


def test_no_fruit_appears_and_no_hour_is_worked_twice(free):
    trays, _ = season()
    kept = trays[free.reduction.kept]
    assert free.picked + free.lost + free.deferred == pytest.approx(kept, abs=1e-6)
    worked = 40.0 * free.crew + free.extra_h
    assert np.all(0.2 * free.picked <= worked + 1e-6)
    assert np.all(free.extra_h <= 8.0 * free.crew + 1e-6)


def test_values_of_knowing_and_hedging_are_not_negative(free):
    assert free.worth.stochastic_solution >= -1e-3 * free.expected_cost
    assert free.worth.perfect_information >= -1e-3 * free.expected_cost
    assert free.worth.wait_and_see <= free.expected_cost <= free.worth.mean_season


def test_cost_adds_up_and_its_worst_tenth_is_dearer(free):
    assert free.expected_cost == pytest.approx(free.worth.recourse)
    core = 12.0 * 40.0 * free.crew.sum()
    recourse = 18.0 * free.extra_h.sum(axis=1) + 9.0 * free.lost.sum(axis=1)
    assert free.costs == pytest.approx(core + recourse)
    assert free.cvar(0.9) >= free.expected_cost
    assert free.costs.max() >= free.cvar(0.9)


@pytest.mark.parametrize(
    "freedom",
    [{"crew_most": 12}, {"extra": ()}, {"contract_weeks": 6}, {"notice_weeks": 3},
     {"hiring_cost": 400.0}, {"line_trays": 2500.0}, {"cooler_trays": 2500.0},
     {"beginner_loss": (0.4, 0.15)}, {"crew_least": 8}],
    ids=str,
)  # fmt: skip
def test_a_tighter_rule_never_makes_the_plan_cheaper(free, freedom):
    assert planned(**freedom).expected_cost >= free.expected_cost * (1.0 - 1e-5)


@pytest.mark.parametrize(
    "freedom",
    [{"temporary_most": 20, "temporary_wage": 14.0, "temporary_h": 40.0, "temporary_rate": 0.8},
     {"deferral_share": 0.5, "deferral_loss": 0.1}],
    ids=str,
)  # fmt: skip
def test_more_freedom_never_makes_the_plan_dearer(free, freedom):
    assert planned(**freedom).expected_cost <= free.expected_cost * (1.0 + 1e-5)


@given(st.integers(0, 1000), st.integers(0, 30), st.integers(1, 10))
def test_more_crew_never_raises_unmet_fruit(seed, crew, more):
    trays, each = season(seed, n=3)
    terms = CrewTerms(**{**BASE, "hiring_cost": 0.0})
    seasons = season_rows(terms, trays, each)
    lost = []
    for people in (crew, crew + more):
        program, numbers = crew_program(
            terms, seasons, np.full(3, 1.0 / 3.0), np.full(WEEKS, float(people))
        )
        lost.append(program.solve(gap=1e-9).values[numbers.lost].sum())
    assert lost[1] <= lost[0] + 1e-6


def test_notice_holds_the_crew_of_the_first_weeks():
    plan = planned(crew_now=5, notice_weeks=3)
    assert plan.crew[:3].tolist() == [5.0] * 3
    assert plan.crew[3] != 5.0


def test_contracts_hold_people_for_their_length():
    plan = planned(contract_weeks=4, hiring_cost=100.0)
    for week in range(WEEKS):
        hired = plan.hired[max(0, week - 3) : week + 1].sum()
        assert plan.crew[week] >= hired - 1e-6


def test_contracts_that_outlast_the_season_are_paid():
    trays = np.array([[400.0, 400.0]])
    short = planned(trays, np.full((1, 2), 0.2), extra=())
    long = planned(trays, np.full((1, 2), 0.2), extra=(), contract_weeks=6, lost_value=1e4)
    assert short.expected_cost == pytest.approx(2 * 2 * 480.0)
    assert long.expected_cost == pytest.approx(2 * 6 * 480.0)


def test_decided_weeks_stay_and_the_plan_goes_on_from_them():
    trays, each = season()
    decided = np.full(WEEKS, np.nan)
    decided[:4] = [3.0, 7.0, 11.0, 15.0]
    trays[:, :3] = 0.0
    plan = planned(trays, each, decided=decided, contract_weeks=3)
    assert plan.crew[:4].tolist() == [3.0, 7.0, 11.0, 15.0]
    assert plan.crew[4] >= plan.hired[2:5].sum() - 1e-6
    assert plan.lost[:, :3].max() == 0.0


def test_heat_takes_hours_from_the_crew():
    trays, each = season()
    each[:, 4] /= 0.5
    hot = planned(trays, each)
    assert hot.expected_cost > planned().expected_cost
    assert hot.crew[4] > planned().crew[4]


def test_deferral_moves_fruit_and_none_waits_after_the_last_week():
    trays = np.array([[1200.0, 0.0, 400.0]])
    plan = planned(trays, np.full((1, 3), 0.2), extra=(), deferral_share=0.5, deferral_loss=0.2,
                   contract_weeks=3)  # fmt: skip
    assert plan.deferred[0, 0] > 0.0
    assert plan.deferred[0, -1] == 0.0
    carried = 0.8 * plan.deferred[0, 0]
    assert plan.picked[0, 1] + plan.lost[0, 1] == pytest.approx(carried)


@pytest.mark.parametrize(
    ("terms", "rule"),
    [({"loss_limit": 0.0, "crew_most": 5}, "crew_most"),
     ({"loss_limit": 0.0, "line_trays": 500.0}, "line_trays_per_day"),
     ({"loss_limit": 0.0, "cooler_trays": 500.0}, "cooler_trays_per_day"),
     ({"loss_limit": 0.01, "notice_weeks": 8, "crew_now": 1}, "already decided")],
    ids=str,
)  # fmt: skip
def test_a_plan_that_cannot_be_names_the_rule_in_the_way(terms, rule):
    with pytest.raises(NoAnswerError) as told:
        planned(**terms)
    named = str(told.value)
    assert rule in named
    assert "loss_limit" in named
    assert told.value.exit_code == 4


def test_rules_that_contradict_each_other_in_pairs_are_all_told():
    program = Program()
    x = program.variables(1)
    program.rows("at least five", [(x, 1.0)], lower=5.0)
    program.rows("at most one", [(x, 1.0)], upper=1.0)
    program.rows("at most two", [(x, 1.0)], upper=2.0)
    with pytest.raises(NoAnswerError) as told:
        program.solve()
    assert [("at least five" in str(f)) for f in told.value.faults] == [True]


@pytest.mark.parametrize(
    ("terms", "words"),
    [({"crew_most": 0}, "no workers at all"), ({"wage": 0.0}, "wage"),
     ({"crew_least": 70}, "larger than the largest"), ({"lost_value": 0.0}, "lost tray"),
     ({"temporary_most": 3}, "temporary_wage"), ({"line_trays": 0.0}, "packing line"),
     ({"notice_weeks": -1}, "below zero"), ({"loss_limit": 1.5}, "no share")],
    ids=str,
)  # fmt: skip
def test_terms_that_make_no_sense(terms, words):
    with pytest.raises(InputError, match=words):
        CrewTerms(**{**BASE, **terms})


def test_all_faults_of_terms_are_told_at_once():
    with pytest.raises(InputError) as told:
        CrewTerms(**{**BASE, "wage": -1.0, "contract_h": 0.0, "lost_value": -2.0})
    assert len(told.value.faults) == 3


def test_a_plan_after_the_season_is_refused():
    with pytest.raises(NoAnswerError, match="no fruit left"):
        planned(np.zeros((5, 3)), np.zeros((5, 3)))


def test_trays_that_are_no_numbers_are_refused():
    with pytest.raises(InputError, match="not numbers"):
        planned(np.full((2, 2), np.nan), np.zeros((2, 2)))


def test_the_relaxed_plan_and_its_dual_have_one_value():
    trays, each = season(n=4)
    terms = CrewTerms(**{**BASE, "contract_weeks": 3, "hiring_cost": 50.0, "deferral_share": 0.3,
                         "deferral_loss": 0.3, "line_trays": 4000.0})  # fmt: skip
    program, _ = crew_program(terms, season_rows(terms, trays, each), np.full(4, 0.25),
                              np.full(WEEKS, np.nan))  # fmt: skip
    primal, dual = dual_bound(program)
    assert dual == pytest.approx(primal, rel=1e-9)
    whole = program.solve(gap=1e-6)
    assert primal <= whole.objective * (1.0 + 1e-9)
    assert whole.bound <= whole.objective * (1.0 + 1e-9)
    assert whole.gap <= 1e-6


def test_rows_of_the_plan(free):
    trays, each = season()
    labels = [f"2027-W{w:02d}" for w in range(3, 3 + WEEKS)]
    rows = crew_weeks(free, check_plan(free, trays, each), labels, trays, each, date(2027, 1, 25))
    assert [row.planned for row in rows] == free.crew.astype(int).tolist()
    assert np.cumsum([row.change for row in rows]).tolist() == free.crew.astype(int).tolist()
    need = trays * each
    for number, row in enumerate(rows):
        assert row.need_people[1] == pytest.approx(np.quantile(need[:, number], 0.9) / 40.0)
        assert 0.0 <= row.short_of_all <= row.short_of_core <= 1.0
        held = np.mean(need[:, number] > 40.0 * free.crew[number] + 1e-3)
        assert row.short_of_core == pytest.approx(held)
        assert (row.decide_by is None) == (monday(row.week) < date(2027, 1, 25))


def test_beginners_work_less_in_their_first_weeks():
    plan = planned(beginner_loss=(0.4, 0.15), crew_now=0)
    full = 40.0 * plan.crew
    trays, each = season()
    (able, *_), _ = crew_hours(plan, season_rows(plan.terms, trays, each))
    assert able[0] == pytest.approx(full[0] - 40.0 * 0.4 * plan.hired[0])
    assert np.all(able <= full + 1e-9)


def test_worst_share_of_costs():
    costs, shares = np.array([1.0, 2.0, 10.0]), np.array([0.5, 0.4, 0.1])
    assert conditional_value_at_risk(costs, shares, 0.9) == 10.0
    assert conditional_value_at_risk(costs, shares, 0.5) == pytest.approx((1.0 + 0.8) / 0.5)
