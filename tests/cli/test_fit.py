"""The fit command: its folder, its bad input, a fit that is cut off, and a forecast that takes it.

The records are the demo's, which are invented and made by the model itself.
"""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner

from phenocast.cli.group import cli
from phenocast.parameters import FIELD_SPREADS, shipped, transplants

RECORDS = shipped("calibration", "records")
YEARS = (2021, 2022)
HEADER = 3
LATE = "2023-06-20"  # a pick after the last day of its block


def season_text(year: int, keep: str = "Marl") -> str:
    """Season file of one demo year with the blocks of one cultivar, weather by its full path."""
    text = (RECORDS / f"low_quay_{year}.toml").read_text(encoding="utf-8")
    weather = shipped("demo_weather", "tamarind_coast.parquet").as_posix()
    text = text.replace("../../demo_weather/tamarind_coast.parquet", weather)
    head, *blocks = re.split(r"(?=\n\[\[block\]\])", text)
    return head + "".join(one for one in blocks if f'name = "{keep}' in one)


def record_lines(keep: str = "Marl") -> list[str]:
    """Header and records of one cultivar in two years."""
    lines = (RECORDS / "low_quay_records.csv").read_text(encoding="utf-8").splitlines()
    own = [
        line
        for line in lines[HEADER + 1 :]
        if line.split(",")[1].startswith(keep) and line[9:13] in map(str, YEARS)
    ]
    return [lines[HEADER], *own]


@pytest.fixture(scope="module")
def farm(tmp_path_factory):
    """Two seasons of one cultivar on two films, two planting dates; records, one too late."""
    folder = tmp_path_factory.mktemp("farm")
    for year in YEARS:
        (folder / f"low_quay_{year}.toml").write_text(season_text(year), encoding="utf-8")
    lines = record_lines()
    late = ",".join([*lines[-1].split(",")[:2], LATE, *lines[-1].split(",")[3:]])
    (folder / "records.csv").write_text("\n".join([*lines, late]) + "\n", encoding="utf-8")
    return folder


def arguments(folder: Path, out: str, records: str = "records.csv") -> list[str]:
    seasons = [str(folder / f"low_quay_{year}.toml") for year in YEARS]
    return ["fit", str(folder / records), *seasons, "--out", str(folder / out)]


def run(folder: Path, out: str, *more: str):
    return CliRunner().invoke(cli, [*arguments(folder, out), *more], prog_name="phenocast")


@pytest.fixture(scope="module")
def fitted(farm):
    done = run(farm, "whole", "--profile", "--bootstrap", "5")
    assert done.exit_code == 0, done.stderr
    return farm / "whole", done


def test_the_folder_holds_what_is_promised(fitted):
    folder, done = fitted
    names = {one.name for one in folder.iterdir()}
    assert names >= {"fit.json", "fit.txt", "cultivars.toml", "draws.parquet", "manifest.json",
                     "records_used.parquet", "transplant_draws.parquet"}  # fmt: skip
    document = json.loads((folder / "fit.json").read_text(encoding="utf-8"))
    assert document["schema_version"] == 2
    assert done.stdout == (folder / "fit.txt").read_text(encoding="utf-8")
    used = pd.read_parquet(folder / "records_used.parquet")
    assert len(used) == document["records"]["used"]
    draws = pd.read_parquet(folder / "draws.parquet")
    assert list(draws.columns[:2]) == ["cultivar", "draw"]
    assert len(draws) == 400


def test_every_record_is_used_or_listed_with_its_reason(fitted):
    folder, _ = fitted
    document = json.loads((folder / "fit.json").read_text(encoding="utf-8"))
    used = pd.read_parquet(folder / "records_used.parquet")
    told = {int(row) for rows in used["rows"] for row in str(rows).split(", ")}
    told |= {one["row"] for one in document["records"]["not_used"]}
    assert told == set(range(2, len(record_lines()) + 2))
    assert all(one["reason"] for one in document["records"]["not_used"])


def test_numbers_have_prior_interval_and_contraction(fitted):
    document = json.loads((fitted[0] / "fit.json").read_text(encoding="utf-8"))
    (cultivar,) = document["cultivars"]
    for one in cultivar["parameters"]:
        low, high = one["interval_80"]
        wide = one["interval_95"]
        assert wide[0] < low < one["value"] < high < wide[1]
        assert 0.0 < one["contraction"] <= 1.001
        assert one["prior"]["sd"] > 0.0


def test_what_bent_curves_make_of_the_intervals_is_told(fitted):
    folder, done = fitted
    document = json.loads((folder / "fit.json").read_text(encoding="utf-8"))
    found, (cultivar,) = document["curves"], document["cultivars"]
    assert found["gain"] <= found["by_chance"]  # invented with the model's own curves
    assert {one["name"] for one in cultivar["parameters"]} <= set(found["wider"])
    assert all(ratio >= 1.0 for ratio in found["wider"].values())
    told = " ".join(done.stdout.split())
    assert f"the log-likelihood would rise by {found['gain']:.1f}" in told


def test_one_cultivar_cannot_be_ranked(fitted):
    told = json.loads((fitted[0] / "fit.json").read_text(encoding="utf-8"))["identifiability"]
    assert told["rankable"] is False
    assert any("nothing to rank it against" in why for why in told["why_not"])


def test_three_methods_stand_side_by_side_where_heat_was_earned(fitted):
    found = json.loads((fitted[0] / "fit.json").read_text(encoding="utf-8"))["uncertainty"]
    for one in found["heat_sensitivity"]:
        assert one["laplace"][0] < one["laplace"][1]
        assert len(one["profile"]) == len(one["bootstrap"]) == 2


def test_a_forecast_takes_the_draws_of_the_fit(farm, fitted, call):
    text = (shipped("demo_weather", "low_quay.toml")).read_text(encoding="utf-8")
    weather = shipped("demo_weather", "low_quay.toml").parent.as_posix()
    text = re.sub(r'file = "', f'file = "{weather}/', text)
    first = text[: text.index("[[block]]", text.index("[[block]]") + 1)]
    season = farm / "next.toml"
    season.write_text('cultivar_file = "whole/cultivars.toml"\n' + first, encoding="utf-8")
    done = call("forecast", season, "--draws", "20", "--out", farm / "next")
    assert done.exit_code == 0, done.stderr
    manifest = json.loads((farm / "next" / "manifest.json").read_text(encoding="utf-8"))
    paths = {one["path"].rsplit("/")[-1] for one in manifest["inputs"]}
    assert {"cultivars.toml", "draws.parquet", "transplant_draws.parquet"} <= paths
    told = json.loads((farm / "next" / "forecast.json").read_text(encoding="utf-8"))
    assert "past_seasons.parquet" in paths
    assert "field_spread" not in told["blocks"][0]  # past seasons say how far seasons differ
    assert 0.0 <= told["blocks"][0]["leaning"]["past_share"] <= 1.0


def test_a_season_takes_the_state_at_planting_that_the_fit_found(farm, fitted):
    """First picks tell of the start and of the pace together: one draw has both of one world."""
    from phenocast.io import read_season

    document = json.loads((fitted[0] / "fit.json").read_text(encoding="utf-8"))
    of_fit = {one["name"]: one for one in document["transplants"]}
    assert set(of_fit) == {"truss_progress", "trusses_at_planting"}
    season = farm / "start.toml"
    season.write_text(
        'cultivar_file = "whole/cultivars.toml"\n' + season_text(2022), encoding="utf-8"
    )
    read = read_season(season)
    start, cultivar = read.transplant("bare-root"), read.cultivar("Marl")
    for name, one in of_fit.items():
        assert start[name].value == pytest.approx(one["value"], rel=1e-6)
        assert start[name].basis == "fitted"
    assert read.transplant("plug") == transplants()["plug"]
    assert start["crowns_at_planting"] == transplants()["bare-root"]["crowns_at_planting"]
    table = pd.read_parquet(fitted[0] / "transplant_draws.parquet")
    pace = pd.read_parquet(fitted[0] / "draws.parquet")
    name = "initiation_to_anthesis"
    pairs = set(zip(table["truss_progress"], pace[name], strict=True))
    drawn = start.draw(5, 100)["truss_progress"], cultivar.draw(5, 100)[name]
    assert set(zip(*drawn, strict=True)) <= pairs


def test_a_start_of_a_type_that_is_not_shipped_is_refused(tmp_path):
    from phenocast.errors import InputError
    from phenocast.io.season_file import read_transplants

    place = tmp_path / "own.toml"
    number = (
        'value = 0.2, unit = "1", lower = 0, upper = 1, sd = 0.1, basis = "fitted", conditions = '
        '"", source = "own records", where = "", read = true'
    )
    place.write_text(
        f'[cultivar.A]\nlike = "Marl"\n[transplant.bare-rot]\ntruss_progress = {{ {number} }}\n'
        f"[transplant.plug]\ntrus_progress = {{ {number} }}\n", encoding="utf-8",
    )  # fmt: skip
    with pytest.raises(InputError) as told:
        read_transplants(place)
    assert "did you mean 'bare-root'" in str(told.value)
    assert "did you mean 'truss_progress'" in str(told.value)
    place.write_text('transplant = 3\n[cultivar.A]\nlike = "Marl"\n', encoding="utf-8")
    with pytest.raises(InputError, match="the file holds no transplant"):
        read_transplants(place)
    place.write_text('transplant.plug = 3\n[cultivar.A]\nlike = "Marl"\n', encoding="utf-8")
    with pytest.raises(InputError, match=r"own.toml: transplant.plug"):
        read_transplants(place)


@pytest.mark.slow
def test_a_fit_that_is_killed_goes_on_and_ends_the_same(farm, fitted):
    """The checkpoint of a killed fit is taken over, and the outcome is that of a whole one."""
    out, mark = "cut", farm / ".cut.checkpoint.jsonl"
    process = subprocess.Popen(
        [sys.executable, "-m", "phenocast.cli", *arguments(farm, out)],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=dict(os.environ),
    )  # fmt: skip
    while process.poll() is None:
        if mark.exists() and len(mark.read_text(encoding="utf-8").splitlines()) >= 4:
            break
        time.sleep(0.02)
    process.send_signal(signal.SIGKILL)
    process.wait()
    assert mark.exists(), "the fit was over before it could be cut off"
    assert not (farm / out).exists()
    done = run(farm, out)
    assert done.exit_code == 0, done.stderr
    assert "going on after" in " ".join(done.stderr.split())
    assert not mark.exists()
    for name in ("cultivars.toml", "draws.parquet"):
        assert (farm / out / name).read_bytes() == (fitted[0] / name).read_bytes()


def changed(folder: Path, name: str, change) -> str:
    lines = change((folder / "records.csv").read_text(encoding="utf-8").splitlines())
    (folder / name).write_text("\n".join(lines) + "\n", encoding="utf-8")
    return name


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda lines: [*lines, lines[3]], ["a plot is recorded twice on one day", "rows 4"]),
        (lambda lines: [lines[0], lines[1].replace("-10-", "-08-"), *lines[2:]],
         ["picked before planting", "2021-09-06 or later"]),
        (lambda lines: [lines[0], lines[1].replace(",0,", ",-4,"), *lines[2:]],
         ["out of range", "marketable"]),
        (lambda lines: [lines[0], lines[1].replace("Marl black", "Marl blck"), *lines[2:]],
         ["row 2", "block"]),
        (lambda lines: [lines[0].replace(" [kg]", ""), *lines[1:]], ["has no unit"]),
    ],
)  # fmt: skip
def test_bad_records_are_refused_with_their_rows(farm, call, change, words):
    name = changed(farm, "bad.csv", change)
    done = call(*arguments(farm, "bad", name))
    assert done.exit_code == 3, done.stderr
    for word in words:
        assert word in " ".join(done.stderr.split())
    assert not (farm / "bad").exists()


def test_two_spellings_of_a_cultivar_are_refused(farm, call, tmp_path):
    own = tmp_path / "own.toml"
    own.write_text('[cultivar.marl]\nlike = "Marl"\n', encoding="utf-8")
    for year in YEARS:
        text = season_text(year)
        if year == YEARS[0]:
            text = 'cultivar_file = "own.toml"\n' + text.replace('= "Marl"', '= "marl"')
        (tmp_path / f"low_quay_{year}.toml").write_text(text, encoding="utf-8")
    (tmp_path / "records.csv").write_text("\n".join(record_lines()), encoding="utf-8")
    done = call(*arguments(tmp_path, "out"))
    assert done.exit_code == 3
    assert "two spellings of one cultivar" in " ".join(done.stderr.split())


def test_pounds_and_kilograms_come_to_the_same(farm, call):
    def in_pounds(lines):
        found = [lines[0].replace("[kg]", "[lb]")]
        for line in lines[1:]:
            cells = line.split(",")
            cells[3] = repr(float(cells[3]) / 0.45359237)
            found.append(",".join(cells))
        return found

    from phenocast.io import read_harvest_records, read_season

    name = changed(farm, "pounds.csv", in_pounds)
    seasons = {f"low_quay_{y}": read_season(farm / f"low_quay_{y}.toml") for y in YEARS}
    kilos, pounds = (
        read_harvest_records(farm / one, seasons).table["marketable_g_per_plant"]
        for one in ("records.csv", name)
    )
    assert pounds.to_numpy() == pytest.approx(kilos.to_numpy())


def test_records_after_the_weather_are_listed_not_dropped(fitted):
    """A block whose picks go on after its season has its late rows in the list of what is left."""
    document = json.loads((fitted[0] / "fit.json").read_text(encoding="utf-8"))
    left = document["records"]["not_used"]
    assert [one["row"] for one in left] == [len(record_lines()) + 1]
    assert "after the last day" in left[0]["reason"]


@pytest.fixture(scope="module")
def thin(tmp_path_factory):
    """One season, one film, and a second cultivar without a pick."""
    folder = tmp_path_factory.mktemp("thin")
    head, *blocks = re.split(r"(?=\n\[\[block\]\])", season_text(2021))
    black = [one for one in blocks if 'film = "black"' in one]
    idle = [one.replace("Marl", "Gneiss") for one in black]
    (folder / "s2021.toml").write_text(head + "".join(black + idle), encoding="utf-8")
    first, *rows = record_lines()
    own = [row.replace("low_quay_2021", "s2021") for row in rows
           if row.startswith("low_quay_2021") and "black" in row]  # fmt: skip
    (folder / "records.csv").write_text("\n".join([first, *own]) + "\n", encoding="utf-8")
    asked = [str(folder / one) for one in ("records.csv", "s2021.toml")]
    done = CliRunner().invoke(cli, ["fit", *asked, "--out", str(folder / "out")])
    assert done.exit_code == 0, done.stderr
    return json.loads((folder / "out" / "fit.json").read_text(encoding="utf-8")), folder / "out"


def test_one_season_one_film_and_a_cultivar_without_picks_are_each_told(thin):
    document, _ = thin
    told = " | ".join(document["warnings"])
    assert "one season: no season could be left out" in told
    assert "one film only (black)" in told
    assert "no usable record of any block of Gneiss: left as before the fit" in told
    assert "no usable record of s2021: Gneiss black 02 Oct" in told
    assert "season_shift_sd stays as assumed before the fit: 1 season tells no spread" in told
    assert not document["identifiability"]["rankable"]
    (idle,) = [one for one in document["cultivars"] if one["cultivar"] == "Gneiss"]
    assert (idle["records"], idle["parameters"]) == (0, [])
    assert document["records"]["not_used"] == []


def test_a_cultivar_without_picks_keeps_its_numbers_and_takes_the_spread_of_the_field(thin):
    from phenocast.io import read_cultivars
    from phenocast.parameters import cultivars

    read = read_cultivars(thin[1] / "cultivars.toml")
    before = cultivars()["Gneiss"]
    assert {name: read["Gneiss"][name] for name in before} == dict(before)
    for name in FIELD_SPREADS:
        assert read["Gneiss"][name] == read["Marl"][name]
    assert read["Gneiss"]["season_shift_sd"].basis == "assumed"
    assert read["Gneiss"]["plot_level_sd"].basis == "assumed" or (
        "from 2 blocks" in read["Gneiss"]["plot_level_sd"].where
    )
    assert "plot_level_sd" in read["Marl"].joint
    assert "plot_level_sd" not in read["Gneiss"].joint


def cut_weather(folder: Path, change) -> None:
    """Seasons of the farm in a folder, the later with weather that was changed."""
    weather = pd.read_parquet(shipped("demo_weather", "tamarind_coast.parquet"))
    change(weather).to_parquet(folder / "cut.parquet")
    for year in YEARS:
        text = season_text(year)
        if year == YEARS[1]:
            text = re.sub(r'file = "[^"]*"', 'file = "cut.parquet"', text, count=1)
        (folder / f"low_quay_{year}.toml").write_text(text, encoding="utf-8")
    (folder / "records.csv").write_text("\n".join(record_lines()), encoding="utf-8")


@pytest.mark.parametrize(
    ("first", "words"),
    [("2022-09-12", "planted before the weather of cut.parquet begins"),
     (None, "ends before the planting date")],
)  # fmt: skip
def test_a_season_without_its_weather_is_refused_block_by_block(call, tmp_path, first, words):
    def change(weather):
        at = weather["time"] >= pd.Timestamp(first or "2022-08-01", tz="UTC")
        return weather[at if first else ~at]

    cut_weather(tmp_path, change)
    done = call(*arguments(tmp_path, "out"))
    assert done.exit_code == 3
    assert words in " ".join(done.stderr.split())
    assert "Marl black 06 Sep" in " ".join(done.stderr.split())
    assert not (tmp_path / "out").exists()


def test_weeks_whose_air_nobody_measured_are_told(tmp_path):
    from phenocast.cli.commands.fit import prepared

    def change(weather):
        at = weather["time"].between(
            pd.Timestamp("2022-11-01", tz="UTC"), pd.Timestamp("2022-11-20", tz="UTC"),
            inclusive="left",
        )  # fmt: skip
        return weather.assign(air_c=weather["air_c"].where(~at))

    cut_weather(tmp_path, change)
    seasons = tuple(tmp_path / f"low_quay_{year}.toml" for year in YEARS)
    told = prepared(tmp_path / "records.csv", seasons)[4]
    (gap,) = [one for one in told if "no air was measured" in one]
    assert f"for {19 * 24} h between planting and the end" in gap
    assert gap.count("low_quay_2022: Marl") == 4
    assert "low_quay_2021" not in gap


@pytest.mark.slow
def test_chamber_trials_are_taken_and_made_again_from_the_manifest(farm, fitted, call):
    text = "cultivar,temperature_c,photoperiod_h,days,plants,flowering\n"
    treatments = (10, 7, 1), (10, 14, 6), (10, 21, 11), (16, 14, 3), (18, 21, 2)
    rows = [f"Marl,16,{light},{days},12,{count}" for light, days, count in treatments]
    (farm / "chamber.csv").write_text(text + "\n".join(rows) + "\n", encoding="utf-8")
    done = run(farm, "chambered", "--chamber", str(farm / "chamber.csv"))
    assert done.exit_code == 0, done.stderr
    again = call("rerun", farm / "chambered" / "manifest.json", "--out", farm / "chambered-again")
    assert again.exit_code == 0, again.stderr
    with_trials, without = (
        {n["name"]: n for n in json.loads((farm / one / "fit.json").read_text())["cultivars"][0]
         ["parameters"]}
        for one in ("chambered", "whole")
    )  # fmt: skip
    name = "induction_requirement"
    assert with_trials[name]["contraction"] < without[name]["contraction"]


def test_chamber_trials_of_an_unknown_cultivar_are_refused(farm, call):
    text = "cultivar,temperature_c,photoperiod_h,days,plants,flowering\nMarle,16,10,14,12,5\n"
    (farm / "unknown.csv").write_text(text, encoding="utf-8")
    done = call(*arguments(farm, "unknown"), "--chamber", farm / "unknown.csv")
    assert done.exit_code == 3
    assert "Marl" in done.stderr
    assert "row 2" in " ".join(done.stderr.split())
