"""Speed of the biology: microseconds a block-season, from planting to ripe fruit.

    pytest tests/benchmarks/test_biology_speed.py --benchmark-enable -s

The bar is 30 microseconds for 300 days. The loop over seasons is compiled, as in the forecast. With
benchmarks disabled, as in the ordinary run, the seasons run once and nothing is timed.
"""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from numba import njit

from phenocast.harvest import bear, grow
from phenocast.parameters import cultivars, transplants
from phenocast.phenology import develop, make_work, plant_records
from phenocast.phenology.work import MARKETABLE_G
from phenocast.vector import LANES, lane_records
from tests.phenology.stations import season_at

N_DRAWS = 500


@njit(nogil=True, error_model="numpy")
def many_seasons(daily, groups, work, fruit):
    for group in range(groups.shape[0]):
        develop(daily, groups[group], work)
        bear(daily, groups[group], 3.0, work)
        first = group * LANES
        for draw in range(first, min(first + LANES, fruit.shape[0])):
            for day in range(daily.shape[1]):
                fruit[draw] += work.rows[MARKETABLE_G, day, draw - first]


@pytest.mark.parametrize("cultivar", ["Marl", "Tuff"])
@pytest.mark.parametrize("station", ["Miami", "Greensboro"])
def test_block_season(benchmark, station, cultivar):
    season = season_at(
        station, date(2025, 10, 1), cultivar=cultivar, transplant="bare-root", days=300
    )
    daily = season.daily
    plants = plant_records(
        cultivars()[cultivar], transplants()["bare-root"], n_draws=N_DRAWS, seed=1
    )
    work, groups = make_work(daily.shape[1]), lane_records(plants)
    fruit = np.zeros(N_DRAWS)
    many_seasons(daily, groups[:1], work, fruit[:1])
    fruit[:] = 0.0
    many_seasons(daily, groups, work, fruit)
    assert fruit[7] == pytest.approx(grow(daily, plants[7]).marketable_g.sum(), rel=1e-9)
    benchmark(many_seasons, daily, groups, work, fruit)
    if benchmark.enabled:
        each = benchmark.stats.stats.median / N_DRAWS * 1e6
        benchmark.extra_info["us_per_block_season"] = round(each, 1)
        print(f"\n{station} {cultivar}: {each:.1f} microseconds a block-season of 300 days")
