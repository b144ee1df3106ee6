"""What a further planting date of a block costs, as a share of the first (bar: 5 %).

    pytest tests/benchmarks/test_planting_date_cost.py --benchmark-enable -s

The bar is held by the command that a grower runs: the first date pays for the program's start, the
files, the futures and the beds, each further one for its plants. What the same share is inside the
program, without start and files, and for one year alone is told beside it: there the plants of a
date are dear against the bed that all dates share, and the bar is not met.
"""

import sys
import time
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from phenocast.cli.running import load
from phenocast.forecast.options import run_options
from phenocast.parameters.library import shipped
from phenocast.phenology import make_work, plant_records
from phenocast.simulation import block_setup
from phenocast.simulation.option_dates import date_covers, date_tables
from phenocast.simulation.options_kernel import N_RESULTS, option_seasons, ripe_times
from phenocast.simulation.planting_dates import node_beds, node_induction, span_bed
from phenocast.simulation.responses import induction_tables, tables_in_lanes
from phenocast.simulation.setup import physics_records
from phenocast.vector import lane_records
from tests.benchmarks.peak import run_and_see_peak

FIRST = date(2026, 9, 10)
DATES = 41
DRAWS = 100


@pytest.fixture(scope="module")
def loaded():
    return load(shipped("demo_weather", "low_quay.toml"))


@pytest.fixture
def full(request):
    return bool(request.config.getoption("--benchmark-enable"))


def test_of_the_command(benchmark, tmp_path, full):
    def run(dates, draws):
        last = FIRST + timedelta(days=dates - 1)
        command = [sys.executable, "-m", "phenocast.cli", "compare",
                   str(shipped("demo_weather", "low_quay.toml")),
                   "--plant-from", f"{FIRST}", "--plant-to", f"{last}", "--every", "1",
                   "--films", "black", "--cultivars", "Basalt", "--draws", str(draws),
                   "--json"]  # fmt: skip
        run_and_see_peak(command, tmp_path / "answer.json")
        assert (tmp_path / "answer.json").stat().st_size > 1000

    dates, draws, rounds = (DATES, DRAWS, 5) if full else (2, 2, 1)
    run(1, draws)
    first = seconds(lambda: run(1, draws), rounds)
    benchmark.pedantic(run, args=(dates, draws), rounds=rounds)
    if full:
        further = (benchmark.stats.stats.median - first) / (dates - 1)
        benchmark.extra_info["first_s"] = round(first, 3)
        benchmark.extra_info["share_of_the_first_date"] = round(further / first, 4)


def test_of_the_options_alone(benchmark, loaded, full):
    def run(dates, draws):
        options = run_options(
            loaded.season, loaded.weather, loaded.season.blocks[0],
            plantings=[FIRST + timedelta(days=i) for i in range(dates)],
            films=["black"], cultivars=["Basalt"], transplants=["bare-root"],
            issue_date=date(2026, 9, 1), draws=draws, seed=1,
        )  # fmt: skip
        assert len(options.options) == dates

    dates, draws, rounds = (DATES, DRAWS, 7) if full else (2, 2, 1)
    run(1, draws)
    first = seconds(lambda: run(1, draws), rounds)
    benchmark.pedantic(run, args=(dates, draws), rounds=rounds)
    if full:
        further = (benchmark.stats.stats.median - first) / (dates - 1)
        benchmark.extra_info["first_s"] = round(first, 3)
        benchmark.extra_info["share_of_the_first_date"] = round(further / first, 4)


@pytest.mark.parametrize("draws", [1, 100])
def test_of_one_year_and_one_physics(benchmark, loaded, full, draws):
    # The beds are shared between dates; each draw's plant season is not.
    season = loaded.season
    block = replace(season.blocks[0], season_end=date(2027, 5, 31))
    setup = block_setup(season, block)
    weather = loaded.weather.history.between("2021-08-15", "2022-06-10")
    weather = weather.restamped("2026-08-15")
    first, last = FIRST, date(2026, 10, 30)
    plants = plant_records(setup.cultivar, setup.transplant, n_draws=draws, seed=1)
    drawn = setup.cultivar.draw(1, draws)
    tables = induction_tables(
        *(drawn[name] for name in ("induction_base", "induction_optimum", "induction_ceiling"))
    )
    n_days = (block.season_end - first).days + 1
    week = np.arange(n_days) // 7
    weekly = np.zeros((1, draws, week[-1] + 1), dtype=np.float32)
    results = np.zeros((1, draws, N_RESULTS))
    groups, work = lane_records(plants), make_work(n_days)

    def bed_of_the_first_date():
        bed = span_bed(setup, weather, first)
        nodes = node_beds(bed, last, physics_records(setup)[0])
        return bed, nodes, node_induction(nodes, tables_in_lanes(tables)), ripe_times(bed, groups)

    def one_date(bed, nodes, induction, ripe_at, planting):
        dates = date_tables(nodes, date_covers(bed, [planting]), work)
        option_seasons(
            dates,
            np.ones((1, len(groups)), dtype=bool),
            induction,
            ripe_at,
            groups[np.newaxis],
            float(block.first_pick_g_per_plant),
            np.array([120]),
            week,
            work,
            results,
            weekly,
        )
        return float(results[0, 0, 0])

    made = bed_of_the_first_date()
    one_date(*made, first)
    started = time.perf_counter()
    for _ in range(20 if full else 1):
        one_date(*bed_of_the_first_date(), first)
    whole = (time.perf_counter() - started) / (20 if full else 1)
    pick = benchmark(one_date, *made, first + timedelta(days=20))
    assert 20.0 < pick < 200.0
    if full:
        share = benchmark.stats.stats.median / whole
        benchmark.extra_info["share_of_the_first_date"] = round(share, 4)


def seconds(job, rounds):
    """Median time of a job [s]."""
    times = []
    for _ in range(rounds):
        started = time.perf_counter()
        job()
        times.append(time.perf_counter() - started)
    return float(np.median(times))
