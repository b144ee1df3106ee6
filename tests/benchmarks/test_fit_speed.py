"""What a fit costs: 12 cultivars in 16 block-seasons each, and against a plain global search.

The plain way runs the whole chain, bed included, for every trial and leaves the search to
differential evolution (Storn and Price 1997, as scipy has it). To run that for hours would tell no
more than its parts do: how many trials it needs is counted on the fast runs, and what one trial
costs the plain way is timed; the product is the time it would take.

    pytest tests/benchmarks/test_fit_speed.py --benchmark-enable

Bars: under 60 s and 1 GB, and 50 times as fast. With benchmarks disabled a small trial is fitted
once and nothing is timed.
"""

from __future__ import annotations

import resource
import time
from dataclasses import replace

import numpy as np
import pytest
from scipy import optimize

from phenocast.calibration.cultivar.estimator import CultivarCalibrator
from phenocast.calibration.cultivar.parameters import CULTIVAR
from phenocast.simulation import block_setup, simulate_block
from tests.benchmarks import synthetic_truth as case_of

SMALL = {"n_cultivars": 2, "years": case_of.YEARS[:2]}


@pytest.fixture(scope="module")
def full(request):
    return bool(request.config.getoption("--benchmark-enable"))


@pytest.fixture(scope="module")
def case(full):
    """Trial, rows and records of the full size; of a small one where nothing is timed."""
    trial = case_of.trial_of() if full else case_of.trial_of(**SMALL)
    rng = np.random.default_rng(11)
    truth = case_of.true_vector(trial, rng)
    rows = case_of.weekly_rows(trial)
    return trial, rows, case_of.picked(case_of.expected(trial, rows, truth), rng)


@pytest.mark.parametrize("select", [False, True], ids=["with intervals", "with selection"])
def test_a_fit_of_twelve_cultivars(benchmark, case, full, select):
    trial, rows, y = case
    if select and not full:
        pytest.skip("model selection is timed, and tested elsewhere")

    def fit():
        settings = {} if select else {"select": False, "seeds": (1,)}
        return CultivarCalibrator(trial.blocks, **settings).fit(rows, y)

    fitted = benchmark.pedantic(fit, rounds=1)
    assert fitted.converged_
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
    benchmark.extra_info["block_seasons"] = len(trial.blocks)
    benchmark.extra_info["records"] = len(rows)
    benchmark.extra_info["peak_mb_of_the_test_process"] = round(peak_mb)


def test_ratio_to_a_plain_global_search(benchmark, case, full):
    trial, rows, y = case
    if not full:
        pytest.skip("a global search takes half a minute")
    name = trial.blocks[0].cultivar
    own = np.array([block.cultivar == name for block in trial.blocks])
    some = own[rows["block"]]

    def fit():
        return CultivarCalibrator(trial.blocks, select=False, seeds=()).fit(rows[some], y[some])

    fitted = benchmark.pedantic(fit, rounds=3, warmup_rounds=1)
    fast = benchmark.stats.stats.median
    problem = fitted.problem_
    moving = fitted.layout_.where(CULTIVAR)
    vector = fitted.vector_.copy()
    trials = [0]

    def cost(values):
        trials[0] += 1
        vector[moving] = values
        return problem.cost(vector)

    bounds = [(max(problem.low[i], -3.0), min(problem.high[i], 3.0)) for i in moving]
    found = optimize.differential_evolution(cost, bounds, seed=1, tol=1e-4, polish=False)

    season, weather = case_of.tamarind_weather()
    blocks = [block for block in trial.blocks if block.cultivar == name]
    begun = time.perf_counter()
    for block in blocks[:8]:
        stated = replace(
            season.blocks[0],
            name=block.name,
            cultivar="Basalt",
            film=block.film,
            planting_date=block.planting,
            season_end=block.planting.replace(year=block.planting.year + 1, month=4, day=20),
        )
        simulate_block(block_setup(season, stated), weather.observed)
    plain_trial = (time.perf_counter() - begun) / 8 * len(blocks)
    plain = plain_trial * trials[0]
    # the fast search is no worse
    assert problem.cost(fitted.vector_) < found.fun + 1.0
    benchmark.extra_info["trials_of_the_plain_search"] = trials[0]
    benchmark.extra_info["seconds_a_plain_trial"] = round(plain_trial, 3)
    benchmark.extra_info["times_faster"] = round(plain / fast)
