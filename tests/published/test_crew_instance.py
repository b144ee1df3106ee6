"""A small crew problem whose answer was found by another program and by trying every crew.

Demand 3000, 6000, 9000 or 12000 trays with probability .2, .3, .3, .2; a core worker costs 120 a
day and picks 60 trays; overtime up to 15 trays each at 3.00 a tray; up to 20 agency workers, whole,
at 200 for 60 trays; a lost tray costs 4. Best: 104 workers at 19,220.0; wait-and-see 15,000; value
of perfect information 4,220; the plan for mean demand (125 workers) costs 19,415, so hedging is
worth 195. Computed by another library, no publication; exact, tolerance 1e-6 of rounding.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from phenocast.planning.labour.crew_model import CrewTerms, crew_program, season_rows
from phenocast.planning.labour.overtime import ExtraHours
from phenocast.planning.labour.solve import plan_crew
from tests.planning.duality import dual_bound

DEMAND = np.array([3000.0] * 2 + [6000.0] * 3 + [9000.0] * 3 + [12000.0] * 2)[:, None]
TERMS = CrewTerms(
    wage=120.0, contract_h=1.0, extra=(ExtraHours(0.25, 180.0),), lost_value=4.0,
    temporary_most=20, temporary_wage=200.0, temporary_h=1.0, whole_temporary=True,
)  # fmt: skip
EACH = np.full_like(DEMAND, 1.0 / 60.0)


def by_hand(crew: int, demand: float) -> float:
    """Least cost of one day, by trying every number of agency workers."""
    costs = []
    for agency in range(21):
        short = max(0.0, demand - 60.0 * crew - 60.0 * agency)
        overtime = min(short, 15.0 * crew)
        costs.append(200.0 * agency + 3.0 * overtime + 4.0 * (short - overtime))
    return 120.0 * crew + min(costs)


@pytest.fixture(scope="module")
def plan():
    return plan_crew(TERMS, DEMAND, EACH, scenarios=10, gap=1e-9)


def test_best_crew_and_cost(plan):
    assert plan.crew == pytest.approx([104.0])
    assert plan.expected_cost == pytest.approx(19_220.0, abs=1e-6)
    assert plan.worth.solution.proven


def test_values_of_knowing_and_of_hedging(plan):
    assert plan.worth.wait_and_see == pytest.approx(15_000.0, abs=1e-6)
    assert plan.worth.perfect_information == pytest.approx(4_220.0, abs=1e-6)
    assert plan.worth.mean_season == pytest.approx(19_415.0, abs=1e-6)
    assert plan.worth.stochastic_solution == pytest.approx(195.0, abs=1e-6)


@pytest.mark.parametrize(("crew", "cost"), [(103, 19_227.5), (104, 19_220.0), (105, 19_229.0)])
def test_neighbouring_crews_cost_more(crew, cost):
    program, _ = crew_program(
        TERMS, season_rows(TERMS, DEMAND, EACH), np.full(10, 0.1),
        np.array([float(crew)]),
    )  # fmt: skip
    assert program.solve(gap=1e-9).objective == pytest.approx(cost, abs=1e-6)


def test_trying_every_crew_agrees(plan):
    costs = {n: np.mean([by_hand(n, float(d)) for d in DEMAND[:, 0]]) for n in range(201)}
    assert min(costs, key=costs.__getitem__) == 104
    assert costs[104] == pytest.approx(plan.expected_cost, abs=1e-6)


def test_relaxed_program_and_its_dual_have_one_value():
    program, _ = crew_program(
        TERMS, season_rows(TERMS, DEMAND, EACH), np.full(10, 0.1), np.array([np.nan])
    )
    primal, dual = dual_bound(program)
    assert dual == pytest.approx(primal, rel=1e-9)
    assert primal == pytest.approx(program.solve(relaxed=True).objective, rel=1e-9)
    assert primal <= 19_220.0


@pytest.mark.parametrize("seed", range(6))
def test_trying_every_plan_of_three_weeks(seed):
    # Core crew of 0 to 4 in each of three weeks, contracts of two weeks, no notice.
    rng = np.random.default_rng(seed)
    trays = rng.integers(0, 9, size=(3, 3)) * 10.0
    terms = CrewTerms(
        wage=7.0, contract_h=1.0, extra=(ExtraHours(0.5, 11.0),), lost_value=2.0, crew_most=4,
        contract_weeks=2, hiring_cost=3.0, release_cost=1.0, crew_now=int(rng.integers(0, 3)),
    )  # fmt: skip
    each = np.full_like(trays, 0.1)
    found = plan_crew(terms, trays, each, scenarios=3, gap=1e-9)
    best = np.inf
    for crew in itertools.product(range(5), repeat=3):
        before = (terms.crew_now, *crew[:-1])
        hired = [max(0, now - was) for now, was in zip(crew, before, strict=True)]
        if any(crew[w] < hired[w] + (hired[w - 1] if w else 0) for w in range(3)):
            continue
        gone = [max(0, was - now) for now, was in zip(crew, before, strict=True)]
        cost = 7.0 * sum(crew) + 3.0 * sum(hired) + 1.0 * sum(gone) + 7.0 * hired[2]
        for season in trays:
            for people, ripe in zip(crew, season, strict=True):
                short = max(0.0, ripe - 10.0 * people)
                more = min(short, 5.0 * people)
                cost += (1.1 * more + 2.0 * (short - more)) / 3.0
        best = min(best, cost)
    assert found.expected_cost == pytest.approx(best, abs=1e-6)
