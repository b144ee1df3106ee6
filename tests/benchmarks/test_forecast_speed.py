"""Speed of the forecast: 6 blocks, 20 years, 200 draws, as a command and alone; the plain script.

    pytest tests/benchmarks/test_forecast_speed.py --benchmark-enable -s

Bars: the warm command under 3 s and 600 MB. The ratios to ``plain_script.py`` and
``plain_numba.py``, which one would write instead, are of processor time for a block-season, in one
run. With benchmarks disabled, as in the ordinary run, each job runs once at a small size and its
answer is checked; nothing is timed.
"""

import resource
import shutil
import sys
import time
from dataclasses import replace
from datetime import date

import pandas as pd
import pytest

from phenocast.cli.running import load
from phenocast.forecast import run_forecast
from phenocast.parameters.library import shipped
from tests.benchmarks import plain_numba, plain_script
from tests.benchmarks.peak import run_and_see_peak

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
    assert len(result.traces.past_years) >= YEARS - 1
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
    benchmark.extra_info["weather_traces"] = len(result.traces.traces)
    benchmark.extra_info["peak_mb_of_the_test_process"] = round(peak_mb)


def test_the_warm_command(benchmark, tmp_path, sizes):
    folder = tmp_path / "demo"
    shutil.copytree(shipped("demo_weather"), folder)
    history = pd.read_parquet(folder / "tamarind_coast.parquet")
    history.iloc[-24 * 366 * (YEARS + 1) :].to_parquet(folder / "tamarind_coast.parquet")
    command = [sys.executable, "-m", "phenocast.cli", "forecast", str(folder / "low_quay.toml"),
               "--draws", str(sizes[0]), "--json"]  # fmt: skip
    peaks = []

    def run():
        answer = tmp_path / "answer.json"
        peaks.append(run_and_see_peak(command, answer))
        assert answer.stat().st_size > 1000

    benchmark.pedantic(run, rounds=5 if sizes[1] else 1, warmup_rounds=1 if sizes[1] else 0)
    benchmark.extra_info["peak_mb"] = round(max(peaks))


@pytest.mark.parametrize("script", [plain_script, plain_numba])
def test_ratio_to_plain_scripts(benchmark, loaded, sizes, script):
    # The same job for both: the scripts work on whole arrays, so at a smaller size their fixed cost
    # would make them look slower than they are.
    years, draws = (YEARS, 200) if sizes[1] else (1, 2)
    blocks = plain_script.BLOCKS if sizes[1] else plain_script.BLOCKS[:2]
    history = shipped("demo_weather", "tamarind_coast.parquet")
    script.forecast(history, years=1, draws=2, seed=1, blocks=blocks[:1])  # compiles
    started = time.process_time()
    rows = script.forecast(history, years=years, draws=draws, seed=1, blocks=blocks)
    plain = (time.process_time() - started) / (len(blocks) * years * draws)
    assert len(rows) == len(blocks)

    def run():
        before = time.process_time()
        return run_forecast(
            loaded.told, loaded.weather, issue_date=ISSUED, draws=sizes[0]
        ), time.process_time() - before

    result, took = benchmark.pedantic(run, rounds=1, warmup_rounds=1 if sizes[1] else 0)
    seasons = len(result.blocks) * YEARS * sizes[0]
    if sizes[1]:
        benchmark.extra_info["plain_seconds_per_block_season"] = round(plain, 7)
        benchmark.extra_info["times_faster"] = round(plain / (took / seasons), 2)
