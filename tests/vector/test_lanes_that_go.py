"""One lane at a time gives what eight give, and is chosen where eight do not compile."""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from dataclasses import astuple
from pathlib import Path

import numpy as np
import pytest

from phenocast.errors import InputError
from phenocast.simulation import simulate_block
from phenocast.vector import LANES, llvm
from phenocast.vector.width import VARIABLE, lanes_that_go
from phenocast.weather import HourlyWeather, SeasonWeather
from tests.forecast.test_run import PLANTED, a_block, a_season, forecast, year_of
from tests.simulation.conftest import a_setup, miami

__all__ = ["miami"]

ROOT = Path(__file__).resolve().parents[2]


def child(*arguments: object, lanes: str) -> str:
    done = subprocess.run(
        [sys.executable, *map(str, arguments)], cwd=ROOT, capture_output=True, text=True,
        env=os.environ | {VARIABLE: lanes, "PYTHONPATH": str(ROOT)}, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_eight_lanes_go_where_the_compiler_takes_them_and_else_one(monkeypatch) -> None:
    assert lanes_that_go(None) == 8
    monkeypatch.setattr(llvm, "probe", lambda rows: None)  # compiles, and does the wrong thing
    assert lanes_that_go("") == 1

    def refused(rows: object) -> None:
        raise NotImplementedError

    monkeypatch.setattr(llvm, "probe", refused)
    assert lanes_that_go(None) == 1
    with pytest.raises(InputError, match=r"PHENOCAST_LANES.*'4'.*1, 8"):
        lanes_that_go("4")


def test_compiled_for_one_lane_the_operations_are_those_on_arrays() -> None:
    told = child("-m", "pytest", "-q", "-p", "no:cacheprovider", "tests/vector/test_ops.py",
                 "-k", "compiled_operations", lanes="1")  # fmt: skip
    assert "1 passed" in told


def answers(weather: HourlyWeather) -> list[np.ndarray]:
    """Dates, fruit and heat of a small forecast, and in full precision all that one plant does."""
    blocks = a_season(a_block(), a_block("B", film="clear", cultivar="Tuff"))
    told = forecast(blocks, SeasonWeather(history=year_of(weather)), draws=9)
    found = [
        one for block in told.blocks for one in (block.dates, block.weekly_g, block.initiation_heat)
    ]
    plant = simulate_block(a_setup(planting=PLANTED, cultivar="Marl"), weather).plant
    return [np.asarray(one) for one in (*found, *astuple(plant))]


@pytest.mark.slow
def test_one_lane_at_a_time_answers_as_eight_do(miami: HourlyWeather, tmp_path: Path) -> None:
    (tmp_path / "weather").write_bytes(pickle.dumps(miami))
    child(__file__, tmp_path, lanes="1")
    lanes, found = pickle.loads((tmp_path / "answers").read_bytes())
    assert (lanes, LANES) == (1, 8)
    for one, eight in zip(found, answers(miami), strict=True):
        exact = 1e-12 if eight.dtype == np.float64 else np.finfo(np.float32).eps
        np.testing.assert_allclose(one, eight, rtol=exact, atol=1e-12)


if __name__ == "__main__":
    folder = Path(sys.argv[1])
    told = answers(pickle.loads((folder / "weather").read_bytes()))
    (folder / "answers").write_bytes(pickle.dumps((LANES, told)))
