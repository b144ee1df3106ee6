import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from phenocast.cli.group import cli
from phenocast.parameters.library import shipped

ONE_BLOCK = """
[site]
name = "Home Field"
latitude = 29.3
longitude = -15.6
elevation_m = 35
time_zone = "Atlantic/Canary"

[weather]
observed = { file = "low_quay_observed.csv", time_zone = "UTC", stamp = "start", wind_height_m = 2 }
history = { file = "tamarind_coast.parquet", time_zone = "UTC", stamp = "start", wind_height_m = 2 }

[bed]
top_width_m = 0.7
height_m = 0.25
row_spacing_m = 1.5
soil = "sandy loam"

[[block]]
name = "East"
cultivar = "Marl"
film = "black"
planting_date = 2026-09-28
plants_per_ha = 50_000
area_ha = 1.2
transplant = "bare-root"
"""


@pytest.fixture
def call():
    """Run a command in this process; the result has exit_code, stdout, stderr."""

    def run(*arguments):
        return CliRunner().invoke(cli, [str(one) for one in arguments], prog_name="phenocast")

    return run


@pytest.fixture
def program():
    """Run a command as a program of its own, in a folder."""

    def run(*arguments, cwd, env=None):
        return subprocess.run(
            [sys.executable, "-m", "phenocast.cli", *(str(one) for one in arguments)],
            cwd=cwd, env=env or dict(os.environ), capture_output=True, text=True,
            encoding="utf-8", timeout=300, check=False,
        )  # fmt: skip

    return run


@pytest.fixture
def season(tmp_path):
    """Write a season of one block, changed as asked, beside the weather of the demo."""
    for name in ("low_quay_observed.csv", "tamarind_coast.parquet"):
        shutil.copy(shipped("demo_weather", name), tmp_path / name)

    def write(old="", new=""):
        assert old in ONE_BLOCK
        path = tmp_path / "season.toml"
        path.write_text(ONE_BLOCK.replace(old, new) if old else ONE_BLOCK, encoding="utf-8")
        return path

    return write


def entries(folder):
    """Names of everything in a folder, hidden and temporary names included."""
    return sorted(path.relative_to(folder).as_posix() for path in Path(folder).rglob("*"))


@pytest.fixture(name="entries")
def entries_fixture():
    return entries
