"""Speed of the crown's kernel: nanoseconds an hour and film, and the ratio to a plain script.

    pytest tests/benchmarks/test_crown_speed.py --benchmark-enable -s

With benchmarks disabled, as in the ordinary run, the functions run once and their results are
compared; nothing is timed.
"""

import time

import numpy as np
import pytest

from phenocast.crown import CROWN, N_OUT, SOIL_10CM, run_into
from tests.benchmarks.plain_crown import crown_hours
from tests.crown.stations import bed_of, station

HOURS = 8760


@pytest.fixture(scope="module")
def year():
    forcing, _ = station("miami")
    return forcing, np.full(HOURS, 0.3), np.zeros(HOURS), np.empty((N_OUT, HOURS))


@pytest.mark.parametrize(
    "film", ["black", "clear", "metallised", "bare-soil", "metallised-striped", "white-striped"]
)
def test_kernel_year(benchmark, year, film):
    forcing, cover, dry, out = year
    bed = bed_of(film)
    benchmark(run_into, forcing, cover, dry, bed, 0.0, out)
    assert np.all(np.isfinite(out))
    if benchmark.enabled:
        per_hour = benchmark.stats.stats.median / HOURS * 1e9
        benchmark.extra_info["ns_per_hour"] = round(per_hour, 1)
        print(f"\n{film}: {per_hour:.0f} ns an hour")


def test_ratio_to_a_plain_script(benchmark, year):
    forcing, cover, dry, out = year
    bed = bed_of("black", wind_stable=6.0, stable_damping=0.0, water_held=0.0)
    arrays = (
        forcing.air_c,
        forcing.wind_m_s,
        forcing.solar_w_m2,
        forcing.longwave_down_w_m2,
        forcing.deep_c + 1.0,
        cover,
    )
    begin = time.perf_counter()
    plain = crown_hours(*arrays)
    seconds = time.perf_counter() - begin
    benchmark(run_into, forcing, cover, dry, bed, 0.0, out)
    # The same job: the yardstick has no light or longwave through the film and other soil numbers.
    late = slice(24 * 30, None)
    assert np.abs(plain - out)[CROWN, late].mean() < 0.5
    assert np.abs(plain - out)[SOIL_10CM, late].mean() < 0.5
    if benchmark.enabled:
        ratio = seconds / benchmark.stats.stats.median
        benchmark.extra_info["plain_script_over_kernel"] = round(ratio)
        print(f"\nplain script takes {ratio:.0f} times as long")
