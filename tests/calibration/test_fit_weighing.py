"""Weighted draws against what can be had without them: a grid, and priors cut at their bounds."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from phenocast.calibration.cultivar import uncertainty
from phenocast.calibration.cultivar.likelihood import Scatter
from phenocast.calibration.cultivar.optimise import Point, Problem, covariance, search
from phenocast.calibration.cultivar.parameters import CULTIVAR
from phenocast.calibration.cultivar.uncertainty import WEIGHED_DRAWS, importance_weighted
from tests.benchmarks import synthetic_truth as truth_of


@pytest.fixture(scope="module")
def problem():
    """Two cultivars on two films in one season; the truth goes with it."""
    trial = truth_of.trial_of(n_cultivars=2, years=(2021,), planted=((9, 20),))
    rows = truth_of.weekly_rows(trial)
    rng = np.random.default_rng(3)
    truth = truth_of.true_vector(trial, rng)
    y = truth_of.picked(truth_of.expected(trial, rows, truth), rng)
    _, kind, start, _ = truth_of.columns_of(rows)
    made = Problem(truth_of.runs_of(trial, rows), kind, start, y, Scatter())
    made.truth = truth
    return made


def one_number(problem, name):
    """The search with one number free and the others true, and its posterior on a grid."""
    own = problem.layout.where(CULTIVAR, names=(name,))[:1]
    point = search(problem, problem.truth, own)
    spread = covariance(problem, point, own)
    i = int(own[0])
    sd = float(np.sqrt(spread[i, i]))
    grid = np.linspace(max(point.vector[i] - 7.0 * sd, problem.low[i]),
                       min(point.vector[i] + 7.0 * sd, problem.high[i]), 401)  # fmt: skip
    costs = []
    for value in grid:
        vector = point.vector.copy()
        vector[i] = value
        costs.append(problem.cost(vector))
    share = np.exp(min(costs) - np.array(costs))
    share /= share.sum()
    middle = float(share @ grid)
    return own, point, spread, middle, float(np.sqrt(share @ (grid - middle) ** 2))


@pytest.mark.parametrize(
    "name", ["anthesis_to_ripe", "initiation_to_anthesis", "induction_requirement"]
)
def test_one_free_number_has_the_middle_and_spread_that_a_grid_gives(problem, name):
    own, point, spread, middle, sd = one_number(problem, name)
    found = importance_weighted(problem, point, spread, own)
    i = int(own[0])
    assert found.vector[i] == pytest.approx(middle, abs=0.15 * sd)
    assert np.sqrt(found.covariance[i, i]) == pytest.approx(sd, rel=0.12)
    assert max(found.worth.values()) <= WEIGHED_DRAWS * (1.0 + 1e-9)
    others = np.delete(np.arange(len(point.vector)), i)
    assert np.array_equal(found.vector[others], point.vector[others])


def prior_alone(problem):
    """A problem whose records say nothing, at the middle of its priors."""
    silent = problem.reweighted(1e-12 * problem.weight)
    size = len(problem.low)
    nothing = Point(np.zeros(size), 0.0, 0.0, np.zeros(size), np.zeros((size, size)))
    return silent, nothing, np.linalg.inv(silent.prior)


def test_without_records_numbers_follow_their_priors_inside_their_bounds(problem):
    silent, nothing, spread = prior_alone(problem)
    found = importance_weighted(silent, nothing, spread, np.arange(len(spread)))
    for i in problem.layout.where(CULTIVAR):
        one = problem.layout.entries[int(i)]
        cut = stats.truncnorm(one.low, one.high)
        assert found.vector[i] == pytest.approx(cut.mean(), abs=0.2)
        assert np.sqrt(found.covariance[i, i]) == pytest.approx(cut.std(), rel=0.2)


def test_draws_worth_too_little_are_not_used(problem, monkeypatch):
    monkeypatch.setattr(uncertainty, "LEAST_EFFECTIVE", 2.0 * WEIGHED_DRAWS)
    silent, nothing, spread = prior_alone(problem)
    found = importance_weighted(silent, nothing, spread, np.arange(len(spread)))
    assert np.array_equal(found.vector, nothing.vector)
    assert found.covariance == pytest.approx(spread)


def test_a_number_pressed_against_its_bound_is_not_made_more_certain(problem):
    silent, nothing, spread = prior_alone(problem)
    vector = nothing.vector.copy()
    pinned = int(problem.layout.where(CULTIVAR)[0])
    vector[pinned] = problem.high[pinned]
    at_bound = Point(vector, 0.0, 0.0, 50.0 * vector, nothing.information)
    found = importance_weighted(silent, at_bound, spread, np.arange(len(spread)))
    owner = problem.layout.entries[pinned].owner
    own = [i for i, one in enumerate(problem.layout.entries) if one.owner == owner]
    assert found.worth[owner] == 0.0
    assert np.array_equal(found.vector[own], vector[own])
    assert np.diag(found.covariance)[own] == pytest.approx(np.diag(spread)[own])


def test_weighing_is_the_same_each_time(problem):
    own, point, spread, *_ = one_number(problem, "phyllochron")
    first, again = (importance_weighted(problem, point, spread, own) for _ in range(2))
    assert np.array_equal(first.covariance, again.covariance)
