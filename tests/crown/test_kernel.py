"""The compiled kernel is the plain Python function and that of one lane, to rounding."""

import json
import os
import subprocess
import sys

import numpy as np
import pytest

SCRIPT = """
import json, warnings
import numpy as np
warnings.simplefilter("ignore")
from tests.crown.test_kernel import a_week
print(json.dumps(a_week().tolist()))
"""


def a_week():
    """Temperatures of a striped and a bare bed over a week with sun, nights, rain of sprinklers."""
    from tests.crown.bedside import record, run, weather

    rng = np.random.default_rng(11)
    n = 24 * 7
    hour = np.arange(n) % 24
    air = 18 + 7 * np.sin(2 * np.pi * (hour - 9) / 24) + rng.normal(0, 1, n)
    hours = weather(
        n,
        air=air,
        vapour=1.3,
        wind=rng.uniform(0, 5, n),
        cover=np.linspace(0, 0.6, n),
        solar=np.maximum(0, 700 * np.sin(np.pi * (hour - 6) / 12)),
        deep=19.0,
        estimated=1.0,
        sky=300 + rng.uniform(0, 60, n),
        sprinkling=np.where(hour == 12, 2.5, 0.0),
    )
    live = {"wind_stable": 0.5, "stable_damping": 4.7}
    striped = record(
        striped=1.0,
        shoulder_solar_reflectance=0.04,
        shoulder_solar_transmittance=0.01,
        shoulder_longwave_emittance=0.85,
        shoulder_longwave_transmittance=0.1,
        weight_top=0.9,
        weight_10cm=0.6,
        weight_air=0.7,
        solar_reflectance=0.6,
        reflectance_loss=0.05,
        emittance_rise=0.05,
        longwave_emittance=0.5,
        sky_offset=8.0,
        **live,
    )
    bare = record(contact_conductance=1e5, surface_wetness=0.2, **live)
    return np.stack([run(hours, striped)[0], run(hours, bare)[0]])


@pytest.mark.parametrize("way", [{"NUMBA_DISABLE_JIT": "1"}, {"PHENOCAST_LANES": "1"}])
def test_eight_lanes_uncompiled_and_one_lane_agree(way):
    plain = subprocess.run(
        [sys.executable, "-c", SCRIPT],
        check=True,
        capture_output=True,
        text=True,
        env={**os.environ, **way, "PYTHONPATH": os.pathsep.join(sys.path)},
    )
    expected = np.array(json.loads(plain.stdout))
    assert a_week() == pytest.approx(expected, abs=1e-9)
    assert np.ptp(expected) > 10.0
