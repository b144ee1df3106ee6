"""Bends of response curves: what they keep, and that their slopes are those of real changes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from phenocast.calibration.cultivar import discrepancy
from phenocast.calibration.cultivar.discrepancy import (
    CURVES,
    INDUCTION,
    INDUCTION_NODES,
    SHARED,
    STEP,
    basis_functions,
    bends_of,
)
from phenocast.calibration.cultivar.model import FIRST_PICKED, Runs
from phenocast.phenology.daily import AIR_DEVELOPMENT, AIR_MEAN
from phenocast.simulation.responses import table_temperatures
from tests.benchmarks import synthetic_truth as truth_of


@pytest.fixture(scope="module")
def trial():
    return truth_of.trial_of(2, years=(2020, 2021))


@pytest.fixture(scope="module")
def runs(trial):
    dates = pd.DataFrame(
        {"block": range(len(trial.blocks)), "kind": FIRST_PICKED, "start_d": 0.0, "stop_d": 0.0}
    )
    return truth_of.runs_of(trial, pd.concat([truth_of.weekly_rows(trial), dates]))


@pytest.fixture(scope="module")
def vector(trial):
    return truth_of.true_vector(trial, np.random.default_rng(5))


@pytest.fixture(scope="module")
def bends(runs, vector):
    return bends_of(runs.parts, vector)


@given(st.lists(st.floats(-60.0, 90.0), min_size=1, max_size=20))
def test_hats_share_every_value_out_wholly(values):
    weights = basis_functions(np.array(values), INDUCTION_NODES)
    assert weights.sum(axis=0) == pytest.approx(1.0)
    assert np.all((weights >= 0.0) & (weights <= 1.0))


def test_every_curve_and_what_records_share_can_bend(bends, runs):
    assert set(bends.group) == {*(curve.name for curve in CURVES), INDUCTION, SHARED}
    assert all(one.shape == (len(part.kind), len(bends.group))
               for part, one in zip(runs.parts, bends.slopes, strict=True))  # fmt: skip
    assert all(np.any([np.any(one[:, k]) for one in bends.slopes])
               for k in range(len(bends.group)))  # fmt: skip


def test_bending_everywhere_alike_changes_nothing(runs, vector, monkeypatch):
    """The weights of one curve sum to 1, and a bend keeps the sum: together they are no change."""
    monkeypatch.setattr(
        discrepancy, "STEP", 0.01
    )  # or each bend would have its own curvature in it
    bends = bends_of(runs.parts, vector)
    own = [k for k, name in enumerate(bends.group) if name == CURVES[0].name]
    size = max(np.abs(one[:, own]).max() for one in bends.slopes)
    left = np.concatenate([np.abs(one[:, own].sum(axis=1)) for one in bends.slopes])
    assert np.mean(left < 0.01 * size) > 0.95  # whole days leave a jump in a record or two


def test_a_slope_is_that_of_a_curve_that_was_changed_and_kept_its_sum(trial, runs, vector, bends):
    curve = CURVES[0]
    node = curve.nodes.index(20.0)
    weights = [basis_functions(b.daily[AIR_MEAN], curve.nodes)[node] for b in trial.blocks]
    whole = sum(float(b.daily[AIR_DEVELOPMENT].sum()) for b in trial.blocks)
    middle = sum(float(w @ b.daily[AIR_DEVELOPMENT])
                 for w, b in zip(weights, trial.blocks, strict=True)) / whole  # fmt: skip
    raised = []
    for share in (STEP, -STEP):
        changed = []
        for block, weight in zip(trial.blocks, weights, strict=True):
            daily = block.daily.copy()
            daily[AIR_DEVELOPMENT] *= 1.0 + share * (weight - middle)
            changed.append(replace(block, daily=daily))
        assert sum(b.daily[AIR_DEVELOPMENT].sum() for b in changed) == pytest.approx(whole)
        raised.append(changed)
    k = bends.group.index(curve.name) + node
    for number, part in enumerate(runs.parts):
        ends = [
            Runs([one[number]], _alone(trial, number), np.zeros(len(part.kind), dtype=np.int64),
                 part.kind, part.start, part.stop).parts[0].predict(vector[None, :])[0]
            for one in raised
        ]  # fmt: skip
        slope = (ends[0] - ends[1]) / (2.0 * STEP)
        assert bends.slopes[number][:, k] == pytest.approx(slope, abs=1e-9)


def _alone(trial, number):
    layout = trial.layout
    return replace(layout, of_block=(layout.of_block[number],), runs=(layout.runs[number],))


def test_induction_stays_one_at_its_optimum(trial):
    optimum = float(trial.blocks[0].base[0]["induction_optimum"])
    at = int(np.argmin(np.abs(table_temperatures() - optimum)))
    weights = basis_functions(table_temperatures(), INDUCTION_NODES)
    moved = weights - basis_functions(np.array([optimum]), INDUCTION_NODES)
    assert np.abs(moved[:, at]).max() < 0.03


def test_a_shared_deviation_moves_its_own_records_alone_and_no_date(runs, vector, bends):
    own = [k for k, name in enumerate(bends.group) if name == SHARED]
    for part, slopes in zip(runs.parts, bends.slopes, strict=True):
        expected = part.predict(vector[None, :])[0]
        dates = part.kind == FIRST_PICKED
        assert not slopes[np.ix_(dates, own)].any()
        assert slopes[np.ix_(~dates, own)].sum(axis=1) == pytest.approx(expected[~dates])


def test_runs_are_left_as_they_were(runs, vector, bends):
    again = bends_of(runs.parts, vector)
    for one, other in zip(bends.slopes, again.slopes, strict=True):
        assert np.array_equal(one, other)
