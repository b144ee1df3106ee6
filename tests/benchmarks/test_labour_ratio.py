"""A cooperative's plan against the loops that one would write instead, the same job in one run.

    pytest tests/benchmarks/test_labour_ratio.py --benchmark-enable -s

Trays and hours: whole arrays of seasons and weeks against a loop over blocks, seasons and weeks
with one pick reckoned at a time. Seasons that stand for all: the swap step against trying every
swap and adding up all distances again. With benchmarks disabled each runs once at a small size and
the answers are held against each other.
"""

import time

import numpy as np
import pytest
from scipy.spatial.distance import cdist

from phenocast.forecast.packout import packout_of
from phenocast.planning.labour.milp import reduce_seasons
from phenocast.planning.picking import (
    hours_per_pick,
    interval_d,
    picks_and_hours,
    shipped_rates,
)

WEEKS, PLANTS, AREA = 30, 45_000.0, 1.2


@pytest.fixture
def full(request):
    return bool(request.config.getoption("--benchmark-enable"))


def fruit(blocks, seasons):
    """Grams a plant of each block, season and week."""
    rng = np.random.default_rng(0)
    shape = np.exp(-0.5 * ((np.arange(WEEKS) - 16.0) / 6.0) ** 2)
    return 50.0 * shape * rng.lognormal(0.0, 0.3, (blocks, seasons, WEEKS))


def one_at_a_time(grams, chain, rates):
    """Fruit and hours of every week of all blocks, one block, season and week after another."""
    kg, hours = np.zeros(grams.shape[1:]), np.zeros(grams.shape[1:])
    for block in grams:
        for season, weeks in enumerate(block):
            for week, g in enumerate(weeks):
                ripe = float(g) * PLANTS / 1e6
                if ripe < chain.least_t_per_ha:
                    continue
                picks = 7.0 / float(interval_d(rates, ripe / 7.0))
                carried = ripe * (1.0 - chain.left_share[season])
                kg[season, week] += carried * AREA * 1e3
                hours[season, week] += picks * float(hours_per_pick(rates, carried / picks)) * AREA
    return kg, hours


def whole_arrays(grams, chain, rates):
    """The same on arrays of seasons and weeks."""
    kg, hours = np.zeros(grams.shape[1:]), np.zeros(grams.shape[1:])
    for block in grams:
        picked = chain.picked_g(block, PLANTS)
        kg += picked * PLANTS * AREA / 1e3
        hours += AREA * picks_and_hours(rates, block, picked, PLANTS)[1]
    return kg, hours


def test_trays_and_hours_against_one_pick_at_a_time(benchmark, full):
    grams, rates = fruit(*((10, 100) if full else (2, 3))), shipped_rates()
    chain = packout_of(None, draws=grams.shape[1], seed=0)
    begin = time.perf_counter()
    plain = one_at_a_time(grams, chain, rates)
    naive = time.perf_counter() - begin
    found = benchmark(whole_arrays, grams, chain, rates)
    for ours, theirs in zip(found, plain, strict=True):
        assert ours == pytest.approx(theirs, rel=1e-9)
    if full:
        ratio = naive / benchmark.stats.stats.median
        benchmark.extra_info["times_faster"] = round(ratio, 1)
        print(f"\npicks of 10 blocks, 100 seasons: {ratio:.0f} times as fast as one at a time")


def every_swap(seasons, k):
    """Seasons that stand for all, found by trying every swap until none helps."""
    distance = cdist(seasons, seasons)
    kept = [int(distance.sum(axis=1).argmin())]
    while len(kept) < k:
        costs = [distance[:, [*kept, one]].min(axis=1).sum() for one in range(len(seasons))]
        kept.append(int(np.argmin(costs)))
    best = distance[:, kept].min(axis=1).sum()
    better = True
    while better:
        better = False
        for place in range(k):
            for one in range(len(seasons)):
                tried = [*kept[:place], one, *kept[place + 1 :]]
                cost = distance[:, tried].min(axis=1).sum()
                if cost < best - 1e-9:
                    kept, best, better = tried, cost, True
    return best


def test_seasons_that_stand_for_all_against_every_swap(benchmark, full):
    n, k = (200, 12) if full else (25, 4)
    seasons = fruit(1, n)[0]
    begin = time.perf_counter()
    naive_cost = every_swap(seasons, k)
    naive = time.perf_counter() - begin
    found = benchmark(reduce_seasons, seasons, k)
    cost = cdist(seasons, seasons[found.kept]).min(axis=1).sum()
    # Both end where no swap helps; that place need not be the same one.
    assert cost <= 1.02 * naive_cost
    if full:
        ratio = naive / benchmark.stats.stats.median
        benchmark.extra_info["times_faster"] = round(ratio, 1)
        print(f"\n{k} of {n} seasons: {ratio:.0f} times as fast as every swap, distance "
              f"{cost / naive_cost:.4f} of its")  # fmt: skip
