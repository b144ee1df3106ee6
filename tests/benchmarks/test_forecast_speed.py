"""Speed of the forecast: 6 blocks, 20 years, 200 draws; a further planting date; the plain script.

    pytest tests/benchmarks/test_forecast_speed.py --benchmark-enable -s

Bars: the warm forecast under 3 s and 600 MB, a further planting date under 5 % of the first, and
the ratio to ``plain_script.py``, the loop that one would write instead, per block-season in one
run. With benchmarks disabled, as in the ordinary run, each job runs once at a small size and its
answer is checked; nothing is timed.
"""

import importlib.util
import resource
import time
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from phenocast.cli.running import load
from phenocast.forecast import run_forecast
from phenocast.parameters.location import shipped
from phenocast.phenology import plant_records
from phenocast.simulation import block_setup
from phenocast.simulation.options_kernel import option_seasons, planting_cover
from phenocast.simulation.planting_dates import node_beds, node_induction, span_bed
from phenocast.simulation.responses import induction_tables
from phenocast.simulation.setup import physics_records

ISSUED = date(2026, 9, 10)
YEARS = 20


@pytest.fixture(scope="module")
def loaded():
    season = load(shipped("demo_weather", "low_quay.toml"))
    # 20 whole seasons: 21 calendar years, since a season runs across New Year.
    history = season.weather.history
    first = len(history) - 24 * (366 * (YEARS + 1))
    weather = replace(season.weather, history=history.slice(max(0, first), len(history)))
    return replace(season, weather=weather)


@pytest.fixture
def sizes(request):
    full = bool(request.config.getoption("--benchmark-enable"))
    return (200, True) if full else (5, False)


def test_forecast_of_six_blocks(benchmark, loaded, sizes):
    draws, full = sizes
    result = benchmark.pedantic(
        run_forecast, args=(loaded.told, loaded.weather),
        kwargs={"issue_date": ISSUED, "draws": draws},
        rounds=5 if full else 1, warmup_rounds=1 if full else 0,
    )  # fmt: skip
    assert len(result.blocks) == 6
    assert len(result.futures.past_years) >= YEARS - 1
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
    benchmark.extra_info["futures"] = len(result.futures.futures)
    benchmark.extra_info["peak_mb_of_the_test_process"] = round(peak_mb)


@pytest.mark.parametrize("draws", [1, 100])
def test_a_further_planting_date(benchmark, loaded, sizes, draws):
    # The beds are shared between dates; each draw's plant season is not.
    full = sizes[1]
    season = loaded.season
    block = replace(season.blocks[0], season_end=date(2027, 5, 31))
    setup = block_setup(season, block)
    weather = loaded.weather.history.between("2021-08-15", "2022-06-10")
    weather = weather.restamped("2026-08-15")
    first, last = date(2026, 9, 10), date(2026, 10, 30)
    plants = plant_records(setup.cultivar, setup.transplant, n_draws=draws, seed=1)
    table = induction_tables(
        *(
            np.array([setup.cultivar.value(name)])
            for name in ("induction_base", "induction_optimum", "induction_ceiling")
        )
    )[0]
    n_days = (block.season_end - first).days + 1
    week = np.arange(n_days) // 7
    weekly = np.zeros((draws, week[-1] + 1), dtype=np.float32)
    results = np.zeros((draws, 5))
    rows = np.arange(draws)

    def bed_of_the_first_date():
        bed = span_bed(setup, weather, first)
        nodes = node_beds(bed, last, physics_records(setup)[0])
        return bed, nodes, np.stack([node_induction(nodes, table[np.newaxis])[0]] * draws)

    def one_date(bed, nodes, induction, planting):
        cover = planting_cover(bed, planting)
        option_seasons(
            nodes, induction, planting, setup, plants, cover, 120, week, results, weekly, rows
        )
        return float(results[0, 0])

    bed, nodes, induction = bed_of_the_first_date()
    one_date(bed, nodes, induction, first)
    started = time.perf_counter()
    for _ in range(20 if full else 1):
        one_date(*bed_of_the_first_date(), first)
    whole = (time.perf_counter() - started) / (20 if full else 1)
    pick = benchmark(one_date, bed, nodes, induction, first + timedelta(days=20))
    assert 20.0 < pick < 200.0
    if full:
        share = benchmark.stats.stats.median / whole
        benchmark.extra_info["share_of_the_first_date"] = round(share, 4)


def test_ratio_to_the_plain_script(benchmark, loaded, sizes):
    path = Path(__file__).with_name("plain_script.py")
    spec = importlib.util.spec_from_file_location("plain_script", path)
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    # The same job for both: the script works on whole arrays, so at a smaller size its fixed cost
    # would make it look slower than it is.
    years, draws = (YEARS, 200) if sizes[1] else (1, 2)
    blocks = script.BLOCKS if sizes[1] else script.BLOCKS[:2]
    started = time.perf_counter()
    rows = script.forecast(
        shipped("demo_weather", "tamarind_coast.parquet"), years=years, draws=draws, seed=1,
        blocks=blocks,
    )  # fmt: skip
    plain = (time.perf_counter() - started) / (len(blocks) * years * draws)
    assert len(rows) == len(blocks)
    result = benchmark.pedantic(
        run_forecast, args=(loaded.told, loaded.weather),
        kwargs={"issue_date": ISSUED, "draws": sizes[0]}, rounds=1,
        warmup_rounds=1 if sizes[1] else 0,
    )  # fmt: skip
    seasons = len(result.blocks) * len(result.futures.futures) * sizes[0]
    if sizes[1]:
        ours = benchmark.stats.stats.median / seasons
        benchmark.extra_info["plain_seconds_per_block_season"] = round(plain, 5)
        benchmark.extra_info["times_faster"] = round(plain / ours, 1)
