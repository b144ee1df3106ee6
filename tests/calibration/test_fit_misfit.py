"""What bends add to the spread of a fit: against a case worked out whole, and at its ends."""

from __future__ import annotations

import numpy as np
import pytest

from phenocast.calibration.cultivar import discrepancy
from phenocast.calibration.cultivar.discrepancy import (
    PRIOR_SCALES,
    SHIFT_COUNTS,
    bends_of,
    model_discrepancy,
    prior_scales,
)
from tests.benchmarks import wrong_model


@pytest.fixture(scope="module")
def trial():
    return wrong_model.trial_of()


@pytest.fixture(scope="module")
def fitted(trial):
    return wrong_model.fit_to(trial, 2, **wrong_model.TRUTHS["ripening"][1])


def test_strengths_of_drawn_bends_are_found_again():
    """40 bends of spread 0.3 and 40 of none, each seen with an error of 0.1."""
    rng = np.random.default_rng(4)
    group = np.repeat([0, 1], 40)
    seen = np.where(group == 0, 0.3, 0.0) * rng.standard_normal(80)
    seen += 0.1 * rng.standard_normal(80)
    found, gain = prior_scales(100.0 * np.eye(80), 100.0 * seen, group)
    assert found[0] == 0.3
    assert found[1] <= 0.04
    assert gain > 20.0


def test_no_pull_means_no_strength_and_no_gain():
    found, gain = prior_scales(np.eye(3), np.zeros(3), np.array([0, 0, 1]))
    assert found.tolist() == [0.0, 0.0]
    assert gain == 0.0
    assert prior_scales(np.empty((0, 0)), np.empty(0), np.empty(0, dtype=np.int64))[1] == 0.0


def test_shift_and_spread_are_those_of_numbers_and_bends_solved_together(fitted):
    problem, point, free = fitted.problem_, fitted.point_, fitted.free_
    found = model_discrepancy(problem, point, free)
    parts = problem.runs.parts
    bends = bends_of(parts, point.vector)
    keep = [k for k, name in enumerate(bends.group) if found.strength[name] > 0.0]
    moving = np.zeros(len(point.vector), dtype=bool)
    moving[free] = True
    expected, slopes = problem.runs.slopes(point.vector, moving)
    size = free.size + len(keep)
    curve, pull = np.zeros((size, size)), np.zeros(size)
    for part, jacobian, bent in zip(parts, slopes, bends.slopes, strict=True):
        whole = np.zeros((len(part.kind), len(moving)))
        whole[:, part.entries] = jacobian
        both = np.column_stack([whole[:, free], bent[:, keep]])
        terms = discrepancy.part_terms(problem, part, expected[part.rows][None, :])
        curve += both.T @ (terms.information[:, None] * both)
        pull += both.T @ terms.slope
    at = slice(0, free.size)
    curve[at, at] += problem.prior[np.ix_(free, free)]
    pull[at] -= (problem.prior @ point.vector)[free]
    bare = np.linalg.inv(curve[at, at])
    curve[free.size :, free.size :] += np.diag([found.strength[bends.group[k]] ** -2 for k in keep])
    moved = np.linalg.solve(curve, pull)[at] - bare @ pull[at]
    assert found.shift[free] == pytest.approx(moved, abs=1e-6)
    spread = np.linalg.inv(curve)[at, at] - bare + SHIFT_COUNTS * np.outer(moved, moved)
    assert found.covariance[np.ix_(free, free)] == pytest.approx(spread, abs=1e-6)


def test_the_covariance_only_adds_and_only_where_numbers_are_free(fitted):
    found = fitted.discrepancy_
    assert np.linalg.eigvalsh(found.covariance).min() > -1e-9
    held = np.setdiff1d(np.arange(len(found.shift)), fitted.free_)
    assert not found.covariance[held].any()
    assert not found.shift[held].any()


def test_bends_that_are_not_let_in_add_nothing(fitted, monkeypatch):
    monkeypatch.setattr(discrepancy, "PRIOR_SCALES", PRIOR_SCALES[:1])
    found = model_discrepancy(fitted.problem_, fitted.point_, fitted.free_)
    assert found.gain == 0.0
    assert not found.covariance.any()
    assert not found.shift.any()
