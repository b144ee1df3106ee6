"""Folders of answers as the commands leave them, each made once for the whole session.

Both workers of a session share one place, which ``conftest.py`` makes and takes away. Whoever asks
first for an answer makes it; the other waits. A test that changes a folder copies it first.
"""

from __future__ import annotations

import json
import os
import time
import traceback
from contextlib import chdir
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from phenocast.io import template
from phenocast.parameters import shipped

PLACE = "PHENOCAST_TEST_ANSWERS"
SEASON = str(shipped("demo_weather", "low_quay.toml"))
RECORDS = f"{shipped('calibration', 'records')}/"
DATES = ("--plant-from", "2026-09-20", "--plant-to", "2026-10-20", "--every", "10")

COMMANDS: dict[str, list[str]] = {
    "phenocast-demo": ["demo", "--draws", "4"],
    "campo": ["forecast", SEASON, "--draws", "4", "--language", "es", "--units", "us"],
    "compare": ["compare", SEASON, *DATES, "--films", "black,silver", "--cultivars",
                "Marl,Gneiss", "--film-cost", "silver=900.5", "--draws", "4", "--seed", "5"],
    "compara": ["compare", SEASON, *DATES, "--films", "black,silver", "--draws", "4",
                "--language", "es", "--units", "us"],
    "labour": ["labour", SEASON, "--draws", "3", "--scenarios", "6", "--seed", "5"],
    "trial": ["trial", "inputs/trial.csv", "--response", "marketable_g_per_plant",
              "--language", "es"],
    "fit": ["fit", "inputs/picks.csv", RECORDS + "low_quay_2021.toml",
            RECORDS + "low_quay_2022.toml"],
    "film": ["fit", RECORDS + "low_quay_sensors.csv", RECORDS + "low_quay_2023.toml",
             "--language", "es"],
    "rank": ["rank", "inputs/past/fit"],
    "hindcast": ["hindcast", "inputs/past/picks.csv", "inputs/past/2014.toml",
                 "inputs/past/2016.toml", "--draws", "5"],
}  # fmt: skip
"""Folder by folder, what is run beside it to fill it (``--out`` is added)."""


@dataclass(frozen=True)
class Answer:
    """The folder of a command and what it printed."""

    folder: Path
    stdout: str
    stderr: str

    def document(self, name: str) -> dict[str, Any]:
        """A JSON document of the folder, made anew for each reader."""
        return json.loads((self.folder / name).read_text(encoding="utf-8"))

    def text(self, name: str) -> str:
        return (self.folder / name).read_text(encoding="utf-8")


def place() -> Path:
    return Path(os.environ[PLACE])


def _inputs(folder: Path) -> dict[str, Any]:
    """A trial, two seasons of picks of the demo, and past seasons with their fit."""
    from tests.cli.past_seasons import write_fit, write_seasons

    folder.mkdir()
    (folder / "trial.csv").write_text(template("trial"), encoding="utf-8")
    lines = Path(RECORDS, "low_quay_records.csv").read_text(encoding="utf-8").splitlines()
    late = ("low_quay_2023", "low_quay_2024")
    kept = [line for line in lines if not line.startswith(late)]
    (folder / "picks.csv").write_text("\n".join(kept) + "\n", encoding="utf-8")
    (folder / "past").mkdir()
    write_fit(folder / "past", *write_seasons(folder / "past"))
    return {"exit_code": 0, "stdout": "", "stderr": ""}


def _run(name: str) -> dict[str, Any]:
    from phenocast.cli.group import cli

    if any(one.startswith("inputs/") for one in COMMANDS[name]):
        answer("inputs")
    with chdir(place()):
        done = CliRunner().invoke(
            cli, [*COMMANDS[name], "--out", name], prog_name="phenocast", catch_exceptions=False
        )
    return {"exit_code": done.exit_code, "stdout": done.stdout, "stderr": done.stderr}


@cache
def answer(name: str) -> Answer:
    """The answer of that name: of ``COMMANDS``, or the folder of their ``inputs``."""
    folder, mark = place() / name, place() / f"{name}.done"
    try:
        (place() / f"{name}.begun").touch(exist_ok=False)
    except FileExistsError:
        while not mark.exists():
            time.sleep(0.05)
    else:
        told = {"exit_code": 1, "stdout": "", "stderr": ""}
        try:
            told = _inputs(folder) if name == "inputs" else _run(name)
        except Exception:
            told["stderr"] = traceback.format_exc()
        finally:
            beside = mark.with_suffix(".part")
            beside.write_text(json.dumps(told), encoding="utf-8")
            beside.rename(mark)
    told = json.loads(mark.read_text(encoding="utf-8"))
    assert told["exit_code"] == 0, f"{name}: {told['stderr']}"
    return Answer(folder, told["stdout"], told["stderr"])
