"""A wrong model: truth with other response curves must make a fit say that it does not suit.

Records are simulated with a curve that the package does not have, and fitted with the package's.
What intervals hold then is in `calibration/fits/wrong_model.md`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from phenocast.calibration.cultivars import CultivarCalibrator
from phenocast.calibration.fit_document import fit_document
from phenocast.calibration.fit_residuals import (
    CHANCE,
    explained,
    lack_of_fit,
    pattern_of_blocks,
    pattern_of_records,
)
from phenocast.calibration.fit_rows import FitRows
from phenocast.calibration.fit_runs import Runs
from phenocast.phenology.daily import (
    AIR_DEVELOPMENT,
    AIR_MEAN,
    CROWN_HEAT_30,
    CROWN_HEAT_33,
)
from phenocast.simulation.responses import tabulate
from phenocast.thermal_time import trapezoid, yin_beta
from tests.benchmarks import synthetic_truth as truth_of

SEED = 2
NARROW = (5.0, 12.0, 18.0, 22.0)


@pytest.fixture(scope="module")
def trial():
    """Three cultivars in three seasons on two films, two planting dates."""
    return truth_of.trial_of(3, years=(2020, 2021, 2022))


def heat_as_a_step(blocks, above=36.0, strength=4.0):
    """Heat counts by hours above a threshold, not by degrees; its sum over blocks times 4."""
    hours = [
        (b.crown[b.first_hour : b.first_hour + 24 * b.n_days].reshape(-1, 24) > above).sum(axis=1)
        for b in blocks
    ]
    found = []
    for block, hot in zip(blocks, hours, strict=True):
        daily = block.daily.copy()
        for row in (CROWN_HEAT_30, CROWN_HEAT_33):
            whole = strength * sum(b.daily[row].sum() for b in blocks)
            daily[row] = hot * whole / sum(h.sum() for h in hours)
        found.append(replace(block, daily=daily))
    return found


def ripening_as_a_beta(blocks):
    """Flowers and fruit follow a steep beta of the day's mean; the same sum over blocks."""

    def curve(block):
        return np.asarray(yin_beta(block.daily[AIR_MEAN], 10.0, 24.0, 32.0, 1.5))

    scale = sum(b.daily[AIR_DEVELOPMENT].sum() for b in blocks) / sum(
        curve(b).sum() for b in blocks
    )
    found = []
    for block in blocks:
        daily = block.daily.copy()
        daily[AIR_DEVELOPMENT] = scale * curve(block)
        found.append(replace(block, daily=daily))
    return found


def fit_to(trial, *, blocks=None, induction=None, seed=SEED):
    """Fit to records that other blocks, or another response of induction, gave."""
    rng = np.random.default_rng([seed, 20260711])
    truth = truth_of.true_vector(trial, rng)
    rows = truth_of.weekly_rows(trial)
    block, kind, start, stop = (
        rows[name].to_numpy() for name in ("block", "kind", "start_d", "stop_d")
    )
    runs = Runs(
        trial.blocks if blocks is None else blocks, trial.layout, block.astype(np.int64),
        kind.astype(np.int64), start.astype(float), stop.astype(float),
    )  # fmt: skip
    if induction is not None:
        for part in runs.parts:
            assert not part.moves_induction  # or the table would be made again
            part.tables = tabulate(induction)[None, :]
    y = truth_of.picked(runs.predict(truth), rng)
    return CultivarCalibrator(trial.blocks, ladder=False, seeds=()).fit(rows, y)


def document_of(trial, fitted):
    """Document of a fit to the weekly rows of a trial."""
    X = truth_of.weekly_rows(trial)
    own = [trial.blocks[i] for i in X["block"]]
    used = pd.DataFrame(
        {name: [getattr(b, name) for b in own] for name in ("cultivar", "season", "film")}
    )
    y = fitted.problem_.observed
    rows = FitRows(X, y, used["season"].to_numpy(), used, pd.DataFrame())
    return fit_document(fitted, rows, trial.blocks, source="invented")


@pytest.fixture(scope="module")
def right(trial):
    return fit_to(trial)


def test_the_right_model_is_told_nothing(trial, right):
    assert lack_of_fit(right) == []
    assert not any("stray" in text for text in document_of(trial, right)["warnings"])


def test_another_response_of_induction_is_told(trial, right):
    wrong = fit_to(trial, induction=lambda t: np.asarray(trapezoid(t, *NARROW)))
    assert any(text.startswith("records stray") for text in lack_of_fit(wrong))
    found, before = pattern_of_records(wrong), pattern_of_records(right)
    assert found.share > 2.0 * found.by_chance
    assert before.share < 2.0 * before.by_chance


def test_another_response_of_ripening_is_told(trial):
    wrong = fit_to(trial, blocks=ripening_as_a_beta(trial.blocks))
    found = pattern_of_records(wrong)
    assert found.probability < CHANCE**3
    assert found.share > 4.0 * found.by_chance
    assert f"{found.share:.0%} of their scatter" in lack_of_fit(wrong)[0]
    assert set(lack_of_fit(wrong)) <= set(document_of(trial, wrong)["warnings"])


@pytest.mark.slow
def test_heat_as_a_step_is_told_more_often_than_not(trial):
    """One fit in several goes unnoticed: heat sensitivity takes much of a step over."""
    blocks = heat_as_a_step(trial.blocks)
    told = []
    for seed in range(1, 7):
        wrong = fit_to(trial, blocks=blocks, seed=seed)
        told.append(bool(lack_of_fit(wrong)))
        found = pattern_of_blocks(wrong)
        assert found.worst_factor < 1.0
        assert found.worst == ("black", "September")
    assert sum(told) > len(told) / 2, told


@pytest.mark.slow
def test_the_right_model_is_seldom_told_anything(trial):
    told = [bool(lack_of_fit(fit_to(trial, seed=seed))) for seed in range(11, 21)]
    assert sum(told) <= 1  # 1 in 50 by chance, at most


def test_one_season_shows_no_pattern_but_may_speak_of_a_curve(trial):
    blocks = [block for block in trial.blocks if block.season == "2020"]
    alone = truth_of.Trial(
        tuple(blocks),
        truth_of.layout_of(blocks, truth_of.NUMBERS, truth_of.AT_PLANTING),
    )
    fitted = fit_to(alone, blocks=ripening_as_a_beta(blocks))
    assert pattern_of_records(fitted) is None
    assert pattern_of_blocks(fitted) is None
    (told,) = lack_of_fit(fitted)
    assert told.startswith("records would be likelier if the response of flowers and fruit")
    assert lack_of_fit(fit_to(alone)) == []


def test_cells_of_chance_explain_what_chance_gives():
    rng = np.random.default_rng(8)
    cells = np.repeat(np.arange(20), 15).tolist()
    found = [explained(cells, rng.gamma(16.0, size=300) - 16.0, np.empty((300, 0)))
             for _ in range(400)]  # fmt: skip
    share, chance, probability = (np.array(column) for column in zip(*found, strict=True))
    assert chance[0] == pytest.approx(20 / 300)
    assert share.mean() == pytest.approx(chance[0], rel=0.1)
    assert np.mean(probability < 0.05) == pytest.approx(0.05, abs=0.035)  # 3 errors of 400


def test_what_is_shared_is_taken_out_first():
    season = np.repeat(np.eye(4), 10, axis=0)
    rng = np.random.default_rng(3)
    values = season @ np.array([5.0, -3.0, 1.0, -3.0]) + 0.1 * rng.standard_normal(40)
    cells = np.tile(["black", "white"], 20).tolist()
    share, chance, probability = explained(cells, values, season)
    assert share < 0.2
    assert chance == pytest.approx(1 / 36)
    assert probability > CHANCE
