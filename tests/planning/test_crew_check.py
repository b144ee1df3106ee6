"""A finished plan held against seasons that it was not made from."""

import numpy as np
import pytest

from phenocast.planning.labour.crew_model import CrewTerms
from phenocast.planning.labour.overtime import ExtraHours
from phenocast.planning.labour.solve import check_plan, plan_crew

WEEKS = 8
BASE = {
    "wage": 12.0, "contract_h": 40.0, "extra": (ExtraHours(10.0, 18.0),), "lost_value": 9.0,
    "crew_most": 60, "contract_weeks": 3, "hiring_cost": 80.0, "beginner_loss": (0.4, 0.15),
    "deferral_share": 0.3, "deferral_loss": 0.3, "temporary_most": 5, "temporary_wage": 16.0,
    "temporary_h": 40.0, "temporary_rate": 0.8,
}  # fmt: skip


def seasons(n, seed=0):
    rng = np.random.default_rng(seed)
    shape = 2000.0 * np.exp(-0.5 * ((np.arange(WEEKS) - 4.0) / 2.0) ** 2)
    trays = shape * rng.lognormal(0.0, 0.25, (n, 1)) * rng.lognormal(0.0, 0.15, (n, WEEKS))
    return trays, np.full((n, WEEKS), 0.25)


def test_over_its_own_seasons_a_plan_costs_what_it_says():
    trays, each = seasons(6)
    plan = plan_crew(CrewTerms(**BASE), trays, each, scenarios=6, gap=1e-9)
    told = check_plan(plan, trays, each)
    assert told.seasons == 6
    assert told.expected_cost == pytest.approx(plan.expected_cost, rel=1e-6)
    assert told.cvar_90 == pytest.approx(plan.cvar(0.9), rel=1e-6)
    assert told.fruit_share == pytest.approx(plan.fruit_share, rel=1e-6)
    assert told.full_share == pytest.approx(plan.full_share)
    assert told.over_loss_limit is None


def test_a_plan_for_few_seasons_is_too_good_for_all():
    # The optimum over a sample is below the cost of its own plan at large: known of all such plans.
    trays, each = seasons(300, seed=2)
    few = plan_crew(CrewTerms(**BASE), trays, each, scenarios=3)
    many = plan_crew(CrewTerms(**BASE), trays, each, scenarios=60)
    at_large = [check_plan(plan, trays, each).expected_cost for plan in (few, many)]
    assert few.expected_cost < at_large[0]
    assert abs(many.expected_cost / at_large[1] - 1.0) < abs(few.expected_cost / at_large[0] - 1.0)
    assert at_large[1] <= at_large[0] * 1.001


def test_a_limit_of_loss_is_held_against_all_seasons():
    trays, each = seasons(200, seed=4)
    plan = plan_crew(CrewTerms(**BASE, loss_limit=0.02), trays, each, scenarios=3)
    told = check_plan(plan, trays, each)
    assert 0.0 < told.over_loss_limit < 1.0
    lax = plan_crew(CrewTerms(**BASE, loss_limit=1.0), trays, each, scenarios=3)
    assert check_plan(lax, trays, each).over_loss_limit == 0.0


def test_seasons_are_taken_evenly():
    trays, each = seasons(40)
    plan = plan_crew(CrewTerms(**BASE), trays, each, scenarios=4)
    assert check_plan(plan, trays, each, most=10).seasons == 10
    assert check_plan(plan, trays, each, most=1000).seasons == 40
