r"""Speed of the crown's kernel: nanoseconds an hour and draw, and the ratio to plain scripts.

    pytest tests/benchmarks/test_crown_speed.py --benchmark-enable \
        --benchmark-timer=time.process_time -s

With benchmarks disabled, as in the ordinary run, the functions run once and their results are
compared; nothing is timed.
"""

import time

import numpy as np
import pytest
from numba import njit

from phenocast.crown import CROWN, N_OUT, SOIL_10CM, BedRun, run_beds
from tests.benchmarks.plain_crown import bed_hours, crown_hours
from tests.crown.stations import bed_of, station

HOURS = 8760
DRAWS = 8
HOUR = np.arange(HOURS) % 24
WATER = {"dry": np.zeros(HOURS), "sprinkled": np.where((HOUR > 9) & (HOUR < 16), 2.5, 0.0)}


def draws_of(film, cover, water, **physics):
    records = np.repeat(np.atleast_1d(bed_of(film, **physics)), DRAWS)
    return BedRun(0, cover, water, 10.0, records)


@pytest.mark.parametrize("water", WATER)
@pytest.mark.parametrize(
    "film", ["black", "clear", "metallised", "bare-soil", "metallised-striped", "white-striped"]
)
def test_kernel_year(benchmark, film, water):
    forcing, _ = station("miami")
    bed = draws_of(film, np.full(HOURS, 0.3), WATER[water])
    runs = benchmark(lambda: list(run_beds(forcing, [bed])))
    assert all(np.all(np.isfinite(temperatures)) for _, _, temperatures in runs)
    if benchmark.enabled:
        per_hour = benchmark.stats.stats.min / HOURS / DRAWS * 1e9
        benchmark.extra_info["ns_per_hour"] = round(per_hour, 1)
        print(f"\n{film}, {water}: {per_hour:.1f} ns an hour and draw")


def test_ratio_to_plain_scripts(benchmark):
    """A batch of draws in NumPy, and a loop that numba compiles, against the kernel."""
    forcing, _ = station("miami")
    cover = np.full(HOURS, 0.3)
    bed = draws_of(
        "black", cover, WATER["dry"], wind_stable=6.0, stable_damping=0.0, water_held=0.0
    )
    arrays = (
        forcing.air_c,
        forcing.wind_m_s,
        forcing.solar_w_m2,
        forcing.longwave_down_w_m2,
        forcing.deep_c + 1.0,
        cover,
    )
    runs = benchmark(lambda: list(run_beds(forcing, [bed], kept=range(N_OUT))))
    compiled = njit(error_model="numpy")(bed_hours)
    ways = {
        "a batch in NumPy": lambda: crown_hours(bed_hours, np.full(DRAWS, 0.95), *arrays),
        "a plain numba loop": lambda: [crown_hours(compiled, 0.95, *arrays) for _ in range(DRAWS)],
    }
    for name, way in ways.items():
        plain = way()[0]
        begin = time.process_time()
        way()
        seconds = time.process_time() - begin
        # The same job: the scripts have no light or longwave through the film, other soil numbers.
        late = slice(24 * 30, None)
        for row in (CROWN, SOIL_10CM):
            assert np.abs(plain[row] - runs[0][2][row])[late].mean() < 0.5
        if benchmark.enabled:
            ratio = seconds / benchmark.stats.stats.min
            benchmark.extra_info[f"{name} over kernel"] = round(ratio, 1)
            print(f"\n{name} takes {ratio:.1f} times as long")
