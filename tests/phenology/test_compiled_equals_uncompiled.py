"""The compiled kernels against the same functions run as plain Python, without numba."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from phenocast.harvest import grow
from phenocast.parameters import cultivars
from tests.phenology.chamber import plant_of
from tests.phenology.climates import climate_days

ROOT = Path(__file__).parents[2]
COLD_C = [6.0, 7.0, 11.0, 15.0, 19.0, 24.0, 27.0, 27.0, 23.0, 16.0, 10.0, 7.0]
CASES = [
    ("Basalt", "plug"),
    ("Marl", "bare-root"),
    ("Tuff", "conditioned-plug"),
    ("Schist", "cold-stored"),
]

PLAIN = (
    "import json; from tests.phenology.test_compiled_equals_uncompiled import seasons; "
    "print(json.dumps(seasons(), default=float))"
)


def seasons():
    """Numbers of four seasons that pass through heat, rest and frost."""
    found = {}
    for cultivar, transplant in CASES:
        days = climate_days(
            COLD_C,
            14.0,
            36.0,
            date(2025, 9, 10),
            270,
            cultivars()[cultivar],
            crown_above_c=2.0,
            sun_on_crown_c=6.0,
        )
        season = grow(days, plant_of(cultivar, transplant))
        found[f"{cultivar} {transplant}"] = [
            *(
                getattr(season, name)
                for name in (
                    "flower_initiation",
                    "emergence",
                    "anthesis",
                    "first_ripe",
                    "first_pick",
                    "rest_release",
                    "surviving_share",
                )
            ),
            *season.marketable_g,
            *season.ripe_fruit,
            *season.resting_share,
            *season.vigour,
        ]
    return found


def test_same_numbers():
    done = subprocess.run(
        [sys.executable, "-c", PLAIN],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
        env={**os.environ, "NUMBA_DISABLE_JIT": "1", "PYTHONPATH": str(ROOT)},
    )
    plain = json.loads(done.stdout)
    compiled = seasons()
    assert plain.keys() == compiled.keys()
    for name, values in compiled.items():
        np.testing.assert_allclose(
            plain[name], np.array(values, float), rtol=1e-9, atol=1e-12, err_msg=name
        )


def test_the_seasons_compared_are_not_trivial():
    rested = [values[5] for values in seasons().values()]
    assert np.isfinite(rested).all()
    assert all(values[6] < 0.999 for values in seasons().values())


def test_the_kernels_were_compiled():
    from phenocast.phenology import develop

    grow(
        climate_days(COLD_C, 14.0, 36.0, date(2025, 9, 10), 40, cultivars()["Basalt"]),
        plant_of("Basalt", "plug"),
    )
    if os.environ.get("NUMBA_DISABLE_JIT") == "1":
        pytest.skip("numba is off")
    assert len(develop.signatures) == 1
