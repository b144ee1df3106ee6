"""Speed of a comparison: the whole size of the bar, and the ratio to forecasting each option alone.

    pytest tests/benchmarks/test_compare_speed.py --benchmark-enable -s

Bars: 40 planting dates x 7 films x 4 cultivars x 20 years x 100 draws in under 20 s and 1 GB on two
cores. That size runs in a process of its own, so that its memory is its own. Two naive loops are
timed in the same run on the same options, weather traces and draws: a forecast of each option by
itself with the package's own machinery, and each option by the plain script. With benchmarks
disabled, as in the ordinary run, each runs once at a small size and the answers are checked.
"""

import importlib.util
import json
import subprocess
import sys
import time
from dataclasses import replace
from datetime import date, timedelta
from itertools import product
from pathlib import Path

import numpy as np

from phenocast.forecast import run_forecast
from phenocast.forecast.options import run_options
from phenocast.parameters.library import shipped
from phenocast.phenology.work import FIRST_PICK
from tests.benchmarks.compare_at_full_size import FIRST, season_of

SCRIPT = Path(__file__).with_name("compare_at_full_size.py")
BAR_S, BAR_MB = 20.0, 1000.0


def at_size(*size):
    done = subprocess.run(
        [sys.executable, str(SCRIPT), *map(str, size)], capture_output=True, text=True, check=False,
        cwd=SCRIPT.parents[2],
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.splitlines()[-1])


def test_the_whole_size_of_the_bar(benchmark, request):
    full = bool(request.config.getoption("--benchmark-enable"))
    size = (40, 7, 4, 20, 100) if full else (2, 2, 1, 1, 2)
    told = benchmark.pedantic(at_size, args=size, rounds=1, iterations=1)
    assert told["options"] == size[0] * size[1] * size[2]
    assert told["draws"] == size[4]
    benchmark.extra_info.update(told)
    if full:
        assert told["weather_traces"] == 20
        print(f"\n{told}\nbars: {BAR_S:g} s, {BAR_MB:g} MB")
        assert told["peak_mb"] < BAR_MB


def one_by_one(loaded, options, draws):
    """Forecast each option by itself, as one would without `run_options`."""
    picks = []
    for planting, film, cultivar in options:
        block = replace(
            loaded.season.blocks[0], planting_date=planting, film=film, cultivar=cultivar,
            season_end=LAST_DAY,
        )  # fmt: skip
        season = replace(loaded.told, blocks=(block,))
        told = run_forecast(
            season, loaded.weather, issue_date=FIRST - timedelta(days=1), draws=draws
        )
        picks.append(told.blocks[0].dates[..., FIRST_PICK])
    return np.array(picks)


LAST_DAY = date(2027, 6, 30)


def by_plain_script(full, draws):
    """Seconds of the plain script for one season of one block, at the same years and draws."""
    spec = importlib.util.spec_from_file_location(
        "plain_script", Path(__file__).with_name("plain_script.py")
    )
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    years, blocks = (20 if full else 1), script.BLOCKS[: 2 if full else 1]
    begin = time.perf_counter()
    rows = script.forecast(
        shipped("demo_weather", "tamarind_coast.parquet"), years=years, draws=draws, seed=1,
        blocks=blocks,
    )  # fmt: skip
    assert len(rows) == len(blocks)
    return (time.perf_counter() - begin) / (len(blocks) * years * draws)


def test_ratio_to_forecasting_each_option_alone(benchmark, request):
    full = bool(request.config.getoption("--benchmark-enable"))
    loaded = season_of(20 if full else 1)
    dates = [FIRST + timedelta(days=2 * n) for n in range(20 if full else 2)]
    films = ["black", "silver"][: 2 if full else 1]
    cultivars = ["Marl"]
    draws = 100 if full else 3
    options = list(product(dates, films, cultivars))
    block = replace(loaded.season.blocks[0], season_end=LAST_DAY)

    def together():
        return run_options(
            loaded.told, loaded.weather, block, plantings=dates, films=films, cultivars=cultivars,
            transplants=[block.transplant], issue_date=FIRST - timedelta(days=1), draws=draws,
        )  # fmt: skip

    if full:
        one_by_one(loaded, options[:1], 2)  # kernels of the forecast are compiled or loaded
    begin = time.perf_counter()
    alone = one_by_one(loaded, options, draws)
    naive = time.perf_counter() - begin
    plain = by_plain_script(full, draws)
    seasons = benchmark.pedantic(together, rounds=3 if full else 1, warmup_rounds=int(full))
    assert len(seasons.options) == len(options)
    place = {(one.planting_date, one.film, one.cultivar): row
             for row, one in enumerate(seasons.options)}  # fmt: skip
    for number, option in enumerate(options):
        # Physics draws differ: the medians must not.
        gap = np.median(seasons.first_pick[place[option]]) - np.median(alone[number])
        assert abs(gap) < 0.5, option
    if full:
        ours = benchmark.stats.stats.median
        plain *= len(options) * seasons.first_pick[0].size
        benchmark.extra_info["naive_seconds"] = round(naive, 2)
        benchmark.extra_info["plain_script_seconds"] = round(plain, 1)
        benchmark.extra_info["times_faster"] = round(naive / ours, 1)
        benchmark.extra_info["times_faster_than_plain_script"] = round(plain / ours, 1)
        print(f"\n{len(options)} options x {seasons.first_pick.shape[1]} traces x {draws} draws: "
              f"together {ours:.1f} s; a forecast each {naive:.1f} s, {naive / ours:.1f} times; "
              f"the plain script each {plain:.0f} s, {plain / ours:.1f} times")  # fmt: skip
