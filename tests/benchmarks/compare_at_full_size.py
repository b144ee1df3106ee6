"""A comparison at a stated size in a process of its own: seconds of each part, and peak memory.

    python tests/benchmarks/compare_at_full_size.py DATES FILMS CULTIVARS YEARS DRAWS

prints one JSON object. Kernels are taken from numba's cache on disk where it has them; a first
small run takes the loading off the figure.
"""

import gc
import json
import resource
import sys
import time
from dataclasses import replace
from datetime import date, timedelta

from phenocast.cli.running import load
from phenocast.forecast.options import OptionSeasons, run_options
from phenocast.forecast.packout import packout_of
from phenocast.io import plain_data, plain_to_json, read_prices
from phenocast.parameters.library import shipped
from phenocast.planning.comparison.digest import Digest, digest_of
from phenocast.planning.comparison.document import compare_document
from phenocast.report.compare import compare_parts
from phenocast.report.render import to_text

FILMS = (
    "black", "white", "white-on-black", "silver", "metallised", "white-striped",
    "metallised-striped",
)  # fmt: skip
CULTIVARS = ("Marl", "Gneiss", "Basalt", "Tuff")
FIRST = date(2026, 9, 10)


def season_of(years: int):
    """The demo's season with so many past seasons; one runs across New Year."""
    loaded = load(shipped("demo_weather", "low_quay.toml"))
    history = loaded.weather.history
    first = max(0, len(history) - 24 * 366 * (years + 1))
    weather = replace(loaded.weather, history=history.slice(first, len(history)))
    return replace(loaded, weather=weather)


def job(loaded, dates: int, films: int, cultivars: int, draws: int) -> OptionSeasons:
    """Run every option of a size."""
    return run_options(
        loaded.told, loaded.weather, loaded.season.blocks[0],
        plantings=[FIRST + timedelta(days=day) for day in range(dates)],
        films=FILMS[:films], cultivars=CULTIVARS[:cultivars], transplants=["bare-root"],
        issue_date=FIRST - timedelta(days=1), draws=draws,
    )  # fmt: skip


def digest(loaded, seasons: OptionSeasons) -> Digest:
    """Sum up the weeks of the options, with the prices and costs of the demo."""
    folder = shipped("demo_weather", "low_quay.toml").parent
    curve = read_prices(loaded.season, folder, seasons.weeks)
    packout = packout_of(loaded.told.labour, draws=seasons.season_g.shape[2], seed=0)
    return digest_of(seasons, packout, seed=0, curve=curve, costs=loaded.season.costs)


def document(loaded, summed: Digest):
    """Judge the options."""
    return plain_data(
        compare_document(
            loaded.told, summed, weather=loaded.weather, issue_date=FIRST - timedelta(days=1)
        )
    )


def peak_mb() -> float:
    """Largest memory that the process has held so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3


def main(dates: int, films: int, cultivars: int, years: int, draws: int) -> dict[str, float]:
    """Return the figures of one size."""
    gc.set_threshold(200_000, 50, 50)  # as `phenocast.cli.main` sets it for every command
    loaded = season_of(years)
    small = job(loaded, 2, min(films, 7), 1, 2)
    document(loaded, digest(loaded, small))
    before = peak_mb()
    worked = time.process_time()
    started = time.perf_counter()
    seasons = job(loaded, dates, films, cultivars, draws)
    ran = time.perf_counter()
    after_options = peak_mb()
    summed = digest(loaded, seasons)
    size = len(seasons.options), len(seasons.traces.traces)
    del seasons
    told = document(loaded, summed)
    judged = time.perf_counter()
    text = plain_to_json(told) + to_text(compare_parts, told)
    done = time.perf_counter()
    return {
        "options": size[0],
        "weather_traces": size[1],
        "draws": draws,
        "seconds": round(done - started, 2),
        # Of all threads together: what the job takes where other jobs share the cores.
        "seconds_of_processors": round(time.process_time() - worked, 2),
        "seconds_options": round(ran - started, 2),
        "seconds_judging": round(judged - ran, 2),
        "seconds_writing": round(done - judged, 2),
        "characters": len(text),
        "peak_mb": round(peak_mb()),
        "peak_mb_before": round(before),
        "peak_mb_after_options": round(after_options),
    }


if __name__ == "__main__":
    print(json.dumps(main(*(int(text) for text in sys.argv[1:6]))))
