"""Speed of a cooperative's plan: 200 blocks, 30 weeks, 50 seasons, from fruit to people.

    pytest tests/benchmarks/test_labour_speed.py --benchmark-enable -s

The bar is 60 s with the gap printed. With benchmarks disabled, as in the ordinary run, a small plan
runs once and its figures are checked. The yardstick for the integer program is the naive way: one
program for each season and crew level tried in turn.
"""

import time

import numpy as np
import pytest

from phenocast.forecast.packout import packout_of
from phenocast.planning.labour.crew_model import CrewTerms, crew_program, season_rows
from phenocast.planning.labour.milp import reduce_seasons
from phenocast.planning.labour.overtime import example_rules, extra_hours
from phenocast.planning.labour.solve import plan_crew
from phenocast.planning.picking import picks_and_hours, shipped_rates

WEEKS = 30
TERMS = CrewTerms(
    wage=14.0, contract_h=40.0,
    extra=extra_hours(example_rules("example-day-and-week"), 14.0, 40.0, 6, 60.0),
    lost_value=9.0, crew_now=10, crew_most=1000, notice_weeks=3, contract_weeks=8,
    hiring_cost=300.0, release_cost=50.0, temporary_most=60, temporary_wage=22.0,
    temporary_h=40.0, temporary_rate=0.8, beginner_loss=(0.4, 0.15), deferral_share=0.3,
    deferral_loss=0.3, line_trays=90_000.0,
)  # fmt: skip


def fruit(blocks, seasons, rng):
    """Grams a plant of each block, ``[blocks, seasons, weeks]``; seasons are shared."""
    year = rng.lognormal(0.0, 0.2, (1, seasons, 1)) * rng.lognormal(0.0, 0.2, (1, seasons, WEEKS))
    peak = rng.normal(16.0, 2.0, (blocks, 1, 1))
    shape = np.exp(-0.5 * ((np.arange(WEEKS) - peak) / 6.0) ** 2)
    return 50.0 * shape * year * rng.lognormal(0.0, 0.1, (blocks, seasons, 1))


def cooperative(blocks, seasons, scenarios):
    grams = fruit(blocks, seasons, np.random.default_rng(0))
    chain, rates = packout_of(None, draws=seasons, seed=0), shipped_rates()
    trays, hours = np.zeros((seasons, WEEKS)), np.zeros((seasons, WEEKS))
    for block in grams:
        picked = chain.picked_g(block, 45_000.0)
        trays += picked * chain.trays_per_g(45_000.0 * 1.2)
        hours += 1.2 * picks_and_hours(rates, block, picked, 45_000.0)[1]
    each = np.divide(hours, trays, out=np.zeros_like(hours), where=trays > 0.0)
    return plan_crew(TERMS, trays, each, scenarios=scenarios, gap=1e-3), trays, each


@pytest.fixture
def size(request):
    asked = not request.config.getoption("benchmark_disable") or request.config.getoption(
        "benchmark_enable"
    )
    return (200, 2000, 50) if asked else (4, 60, 8)


def test_plan_of_two_hundred_blocks(benchmark, size):
    plan, trays, _ = benchmark.pedantic(cooperative, args=size, rounds=1, iterations=1)
    assert plan.worth.solution.proven
    assert plan.worth.solution.gap <= 1e-3
    assert plan.crew.shape == (WEEKS,)
    if benchmark.enabled:
        seconds = benchmark.stats.stats.max
        gap = 100 * plan.worth.solution.gap
        print(
            f"\n{size[0]} blocks, {len(trays)} seasons, {len(plan.shares)} kept: "
            f"{seconds:.1f} s, gap {gap:.3f} %, people at peak {plan.crew.max():.0f}"
        )


def test_whole_numbers_against_trying_one_level_after_another(benchmark, size):
    _, trays, each = cooperative(min(size[0], 20), 200, 10)
    kept = reduce_seasons(trays, 8)
    seasons = season_rows(TERMS, trays, each)[kept.kept]
    free = np.full(WEEKS, np.nan)

    def solve():
        program, numbers = crew_program(TERMS, seasons, kept.probabilities, free)
        return program.solve(gap=1e-3), numbers

    found, numbers = benchmark(solve)
    # The naive planner keeps one crew all season and tries every size.
    begin = time.perf_counter()
    costs = []
    sizes = range(0, int(found.values[numbers.crew].max()) + 10, 5)
    for people in sizes:
        fixed = np.full(WEEKS, float(people))
        program, _ = crew_program(TERMS, seasons, kept.probabilities, fixed)
        costs.append(program.solve(gap=1e-3).objective)
    seconds = time.perf_counter() - begin
    assert found.objective <= min(costs) * (1.0 + 1e-3)
    if benchmark.enabled:
        ratio = seconds / benchmark.stats.stats.median
        saved = 1.0 - found.objective / min(costs)
        print(
            f"\none crew all season, {len(costs)} sizes tried: {ratio:.1f} times as long, "
            f"{100 * saved:.1f} % dearer than the plan"
        )
