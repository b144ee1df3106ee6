"""Folders of compare, labour and trial, and the same files again, byte for byte."""

import json
import shutil
from functools import partial

import pytest
from click.testing import CliRunner

from phenocast.cli.group import cli
from phenocast.parameters.library import shipped
from tests.answers import COMMANDS

DEMO = shipped("demo_weather", "low_quay.toml")
CASES = {
    "compare": (
        "--block", "Quay West", "--plant-from", "2026-09-20", "--plant-to", "2026-09-30",
        "--every", "10", "--films", "black,silver", "--film-cost", "silver=900.5", "--draws", "3",
        "--seed", "5",
    ),
    "labour": ("--draws", "2", "--scenarios", "4", "--seed", "5"),
    "trial": ("--response", "marketable_g_per_plant"),
}  # fmt: skip


def arguments_of(command, home):
    """The arguments of a command, with its input in a folder of its own."""
    if command == "trial":
        records = home / "trial.csv"
        done = CliRunner().invoke(cli, ["template", "trial", "--out", str(records)])
        assert done.exit_code == 0
        return command, records, *CASES[command]
    for name in ("low_quay_observed.csv", "low_quay_outlook.csv", "tamarind_coast.parquet"):
        shutil.copy(shipped("demo_weather", name), home)
    season = home / "season.toml"
    shutil.copy(DEMO, season)
    return command, season, *CASES[command]


@pytest.fixture
def asked(tmp_path):
    return partial(arguments_of, home=tmp_path)


@pytest.mark.parametrize("command", list(CASES))
def test_the_folder_holds_the_answer_and_comes_out_again(call, answer, tmp_path, entries, command):
    first, again = answer(command).folder, tmp_path / "again"
    assert {f"{command}.json", f"{command}.txt", "manifest.json"} <= set(entries(first))
    done = call("rerun", first / "manifest.json", "--out", again)
    assert done.exit_code == 0, done.stderr
    assert entries(again) == entries(first)
    for name in entries(first):
        assert (again / name).read_bytes() == (first / name).read_bytes(), name


@pytest.mark.parametrize("command", list(CASES))
def test_what_is_printed_is_what_the_folder_holds(call, answer, monkeypatch, command):
    made = answer(command)
    assert made.stdout == made.text(f"{command}.txt")
    monkeypatch.chdir(made.folder.parent)
    assert call(*COMMANDS[command], "--json").stdout == made.text(f"{command}.json")


@pytest.mark.parametrize("command", list(CASES))
def test_nothing_is_overwritten_without_being_asked(call, asked, tmp_path, command):
    out = tmp_path / "first"
    out.mkdir()
    (out / "mine.txt").write_text("mine", encoding="utf-8")
    arguments = asked(command)
    assert call(*arguments, "--out", out).exit_code == 3
    assert call(*arguments, "--out", out, "--force").exit_code == 3
    assert (out / "mine.txt").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("films", "black"),
        ("films", []),
        ("film_costs", {"black": -1}),
        ("film_costs", None),
        ("planting_cost", "much"),
        ("plant_from", "soon"),
        ("every", 0),
        ("block", ""),
        ("draws", True),
        ("language", "fr"),
        ("units", None),
    ],
)
def test_an_option_that_cannot_be_is_refused(call, answer, tmp_path, name, value):
    document = answer("compare").document("manifest.json")
    document["options"][name] = value
    path = tmp_path / "manifest.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    done = call("rerun", path, "--out", tmp_path / "again")
    assert done.exit_code == 3
    assert f"options.{name}" in done.stderr
    assert not (tmp_path / "again").exists()


def test_records_that_changed_are_refused(call, asked, tmp_path):
    first = tmp_path / "first"
    assert call(*asked("trial"), "--out", first).exit_code == 0
    with (tmp_path / "trial.csv").open("a", encoding="utf-8") as file:
        file.write("\n")
    done = call("rerun", first, "--out", tmp_path / "again")
    assert done.exit_code == 3
    assert "the records file has changed" in " ".join(done.stderr.split())


def test_a_plan_that_cannot_be_leaves_nothing_and_loses_nothing(
    call, asked, answer, tmp_path, entries
):
    command, season, *options = asked("labour")
    first = shutil.copytree(answer("labour").folder, tmp_path / "first")
    before = {name: (first / name).read_bytes() for name in entries(first) if "." in name}
    text = season.read_text(encoding="utf-8")
    assert "crew_most = 120" in text
    season.write_text(
        text.replace("crew_most = 120", "crew_most = 2\nloss_limit = 0.0"), encoding="utf-8"
    )
    listed = entries(tmp_path)
    done = call(command, season, *options, "--out", first, "--force")
    assert done.exit_code == 4
    assert "loss_limit" in done.stderr
    assert done.stdout == ""
    assert entries(tmp_path) == listed
    assert {name: (first / name).read_bytes() for name in before} == before
