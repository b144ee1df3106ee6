"""No output takes the place of an input, however it is named; streams and folders that are gone."""

from __future__ import annotations

import importlib
import os
import subprocess
import sys

import click
import pytest

from phenocast.cli.apart import every_file
from phenocast.cli.group import COMMANDS, Command
from phenocast.cli.options import FilePath, OutPath
from phenocast.io import OutputFolder, read_season, season_inputs, write_manifest
from phenocast.io.files import InputFile
from phenocast.parameters.library import shipped

NAMED = {
    "season.toml": """
cultivar_file = ["own.toml", "more/fitted.toml"]
[weather]
observed = { file = ["east.csv", "west.csv"] }
history = { file = "../far.parquet" }
outlook = { file = "outlook.csv" }
[nursery]
weather = { file = "nursery.csv" }
[film.mine]
file = "film.toml"
[prices]
file = "prices.csv"
[labour]
tallies = "tallies.csv"
[[block]]
name = "folder"
canopy_file = "cover.csv"
""",
    "own.toml": "[cultivar.Own]",
    "more/fitted.toml": '[cultivar.Fitted]\ndraws = "draws.parquet"',
    **dict.fromkeys(
        ("more/draws.parquet", "east.csv", "west.csv", "../far.parquet", "outlook.csv",
         "nursery.csv", "film.toml", "prices.csv", "tallies.csv", "cover.csv"), "mine",
    ),
}  # fmt: skip


@pytest.fixture
def farm(tmp_path, monkeypatch):
    """Folder with a season file and one of every kind of file that it can name."""
    home = tmp_path / "farm"
    for name, text in NAMED.items():
        (home / name).parent.mkdir(parents=True, exist_ok=True)
        (home / name).write_text(text, encoding="utf-8")
    (home / "folder").mkdir()  # a block bears its name, which makes it no input
    monkeypatch.setattr("phenocast.cli.running.load", lambda path: pytest.fail("worked in vain"))
    return home


def refused(done, name):
    assert done.exit_code == 2, done.stderr
    assert "would take the place of" in " ".join(done.stderr.split())
    assert os.path.basename(name) in done.stderr


@pytest.mark.parametrize("force", [(), ("--force",)], ids=["", "force"])
@pytest.mark.parametrize("name", NAMED)
def test_no_page_takes_the_place_of_what_a_season_names(call, farm, name, force):
    text = (farm / name).read_text(encoding="utf-8")
    done = call("forecast", farm / "season.toml", "--report", farm / name, *force)
    refused(done, name)
    assert (farm / name).read_text(encoding="utf-8") == text


def test_every_file_that_a_manifest_would_hash_is_known_beforehand():
    for season in (
        shipped("demo_weather", "low_quay.toml"),
        *shipped("calibration", "records").glob("*.toml"),
    ):
        hashed = {one.path.resolve() for one in season_inputs(season, read_season(season))}
        assert {one.resolve() for one in every_file([season])} == hashed


CALLS = {
    "forecast --out": ("forecast", "S", "--out"),
    "forecast --report": ("forecast", "S", "--report"),
    "compare --out": ("compare", "S", *["--plant-from", "2026-09-20", "--plant-to", "2026-09-30"],
                      "--out"),
    "compare --explore": ("compare", "S",
                          *["--plant-from", "2026-09-20", "--plant-to", "2026-09-30"], "--explore"),
    "labour --out": ("labour", "S", "--out"),
    "crown --out": ("crown", "S", "--out"),
    "crown --report": ("crown", "S", "--report"),
    "trial --out": ("trial", "S", "--response", "x", "--out"),
    "fit --out": ("fit", "R", "S", "--out"),
    "fit --report": ("fit", "R", "S", "--out", "new", "--report"),
    "hindcast --out": ("hindcast", "R", "S", "--out"),
    "rank --out": ("rank", "F", "--season", "S", "--out"),
    "rank --csv": ("rank", "F", "--season", "S", "--csv"),
    "rerun --out": ("rerun", "M", "--out"),
}  # fmt: skip


@pytest.fixture
def filled(farm):
    """Give the arguments of a call, with a folder of records and that of a fit beside the season.

    The farm and the folder of the fit hold a manifest that lists every file in them, so that the
    rules of ``--force`` alone would let them be replaced.
    """
    (farm / "records.csv").write_text("mine", encoding="utf-8")
    inputs = [InputFile("records", farm / "records.csv"), InputFile("season", farm / "season.toml")]
    with OutputFolder(farm / "fit") as folder:
        folder.write("fit.json", "{}")
        write_manifest(folder, "fit", options={}, inputs=inputs)
    with OutputFolder(farm / "listed") as folder:
        for name in [*NAMED, "records.csv"]:
            if not name.startswith(".."):
                folder.write(name, (farm / name).read_bytes())
        write_manifest(
            folder, "forecast", options={},
            inputs=[InputFile("season", folder.path / "season.toml")],
        )  # fmt: skip
    listed = farm / "listed"
    places = {"S": listed / "season.toml", "R": listed / "records.csv", "F": farm / "fit",
              "M": listed / "manifest.json"}  # fmt: skip

    def arguments(what):
        return [places.get(one, one) for one in CALLS[what]]

    return arguments


@pytest.mark.parametrize("what", CALLS)
def test_no_output_of_any_command_is_an_input_or_holds_one(call, farm, filled, what, entries):
    before = {name: (farm / name).stat().st_mtime_ns for name in entries(farm)}
    for out in (farm / "listed", farm / "listed" / "season.toml", farm, farm.parent, "/"):
        refused(call(*filled(what), out, "--force"), "")
    assert {name: (farm / name).stat().st_mtime_ns for name in entries(farm)} == before


def test_what_a_fit_was_made_of_is_an_input_of_its_ranking(call, farm, filled):
    for name in ("records.csv", "season.toml", "east.csv", "fit/fit.json", "fit/manifest.json"):
        refused(call("rank", farm / "fit", "--csv", farm / name, "--force"), name)


def test_links_and_long_ways_round_are_seen_through(call, farm, monkeypatch):
    season = farm / "season.toml"
    os.link(farm / "prices.csv", farm / "hard.html")
    (farm / "soft.html").symlink_to(farm / "prices.csv")
    (farm.parent / "other").symlink_to(farm)
    (farm.parent / "elsewhere.toml").symlink_to(season)
    monkeypatch.chdir(farm / "more")
    for out in (
        "../hard.html",
        "../soft.html",
        "../../farm/more/../prices.csv",
        "../../other/prices.csv",
        "draws.parquet",
        "../../other",
        ".",
        "..",
    ):
        refused(call("forecast", "../season.toml", "--report", out, "--force"), "")
    # a season that is a link counts as lying in both folders
    (farm / "more" / "link.toml").symlink_to(season)
    for out in (farm, farm / "more"):
        refused(call("forecast", "link.toml", "--out", out, "--force"), "")


def test_what_lies_beside_an_input_is_no_input(call, farm, monkeypatch):
    monkeypatch.setattr("phenocast.cli.running.load", lambda *_: 1 / 0)
    for option, out in (("--out", "folder"), ("--out", "more/new"), ("--report", "new.html")):
        done = call("forecast", farm / "season.toml", option, farm / out)
        assert isinstance(done.exception, SystemExit)
        assert done.exit_code == 1
        assert "division by zero" in " ".join(done.stderr.split())  # it had begun to work


def test_outputs_lie_apart(call, farm):
    season = farm / "season.toml"
    for first, second in (("x.html", "x.html"), ("x", "x/y.html"), ("x", "x/../x/y.html")):
        done = call("forecast", season, "--out", farm / first, "--report", farm / second)
        assert done.exit_code == 2
        assert "keep them apart" in " ".join(done.stderr.split())


@pytest.mark.parametrize("option", ["--out", "--report"])
def test_an_empty_name_is_wrong_usage(call, farm, option):
    done = call("forecast", farm / "season.toml", option, "")
    assert done.exit_code == 2
    assert "the name is empty" in " ".join(done.stderr.split())


def test_the_root_is_no_place_for_results(call):
    for force in ((), ("--force",)):
        done = call("demo", "--out", "/", *force)
        assert done.exit_code == 3
        assert "/: the" in " ".join(done.stderr.split())


def test_every_path_of_every_command_is_read_or_written():
    written = set()
    for name in COMMANDS:
        command = importlib.import_module(f"phenocast.cli.commands.{name}").command
        assert isinstance(command, Command)  # which keeps them apart
        for param in command.params:
            if isinstance(param.type, click.Path):
                assert isinstance(param.type, FilePath), (name, param.name)
            if isinstance(param.type, OutPath):
                written.add(param.opts[0])
    assert written == {"--out", "--report", "--explore", "--csv"}


# ---- streams and folders that are gone ----------------------------------------------------------


def shell(command, cwd):
    program = f"{sys.executable} -m phenocast.cli"
    return subprocess.run(
        ["bash", "-o", "pipefail", "-c", command.replace("phenocast", program)],
        cwd=cwd, capture_output=True, text=True, check=False, timeout=600,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("command", "code", "said"),
    [
        ("phenocast template season >&-", 0, "stdout is closed"),
        ("phenocast --help >&-", 0, "stdout is closed"),
        ("phenocast template season >&- 2>&-", 0, ""),
        ("phenocast rerun no.json --out x 2>&-", 3, ""),
        ("phenocast template season --out made.toml >&- <&- 2>&-", 0, ""),
        ("phenocast template season | true", 0, ""),
        ("phenocast --help | true", 0, ""),
        ("phenocast no-command 2>&1 | true", 2, ""),
        ("phenocast rerun no.json --out x 2>&1 >/dev/null | true", 3, ""),
        ("phenocast template season >/dev/full", 3, "standard output: No space left"),
        ("phenocast rerun no.json --out x 2>/dev/full", 3, ""),
        ("mkdir gone && cd gone && rmdir ../gone && phenocast template season", 3,
         "is no longer there"),
        ("mkdir gone && cd gone && rmdir ../gone && phenocast demo --out /no/x", 3,
         "is no longer there"),
    ],
)  # fmt: skip
def test_streams_and_folders_that_are_gone(tmp_path, command, code, said):
    done = shell(command, tmp_path)
    assert done.returncode == code, done.stderr
    assert said in " ".join(done.stderr.split())
    assert "Traceback" not in done.stderr
    assert "fault of phenocast" not in done.stderr
    if "made.toml" in command:
        assert (tmp_path / "made.toml").read_text().startswith("# One season")
