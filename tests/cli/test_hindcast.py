"""``phenocast hindcast`` from picks and past seasons to its folder, and its refusals."""

import json
import shutil

import pandas as pd
import pytest

from phenocast.report.hindcast import hindcast_parts
from phenocast.report.render import to_html
from tests.cli.past_seasons import shifted, write_seasons
from tests.report.reading import faults_of, numbers_allowed, numbers_on

DRAWS = ("--draws", "20")


@pytest.fixture(scope="module")
def home(answer):
    """Past seasons and their picks; nothing is changed here."""
    return answer("inputs").folder / "past"


@pytest.fixture(scope="module")
def made(answer):
    """One hindcast, for the tests that only read it."""
    return answer("hindcast")


@pytest.fixture
def asked(home):
    return home / "picks.csv", home / "2014.toml", home / "2016.toml", *DRAWS


def test_the_folder_holds_the_answer_and_comes_out_again(call, asked, tmp_path, entries):
    first, again = tmp_path / "first", tmp_path / "again"
    page = tmp_path / "page.html"
    done = call("hindcast", *asked, "--after", "30", "--after", "0", "--out", first, "--json",
                "--report", page)  # fmt: skip
    assert done.exit_code == 0, done.stderr
    assert page.read_bytes() == (first / "report.html").read_bytes()
    told = json.loads(done.stdout)
    assert [one["lead_d"] for one in told["leads"]] == [0, 30]
    assert told["block_seasons"] == 4 * 2
    assert told["leads"][0]["first_pick"]["scored"] == 8
    # the picks are the model's own at its central values
    assert told["leads"][0]["first_pick"]["mae_d"] < 6.0
    assert set(entries(first)) == {"hindcast.json", "hindcast.txt", "report.html", "manifest.json"}
    assert call("rerun", first / "manifest.json", "--out", again).exit_code == 0
    for name in entries(first):
        assert (again / name).read_bytes() == (first / name).read_bytes(), name


def test_only_years_before_the_season_are_used(made):
    for one in made.document("hindcast.json")["blocks"]:
        assert max(int(year.split(", ")[-1][:4]) for year in one["past_years"]) < int(one["season"])


def test_the_page_says_what_the_document_says(made):
    html = made.text("report.html")
    told = made.document("hindcast.json")
    mae = told["leads"][0]["first_pick"]["mae_d"]
    assert f"off by {mae:.1f} days on average" in " ".join(html.split())
    assert "next to nothing about how often" in html
    for language in ("en", "es"):
        html = to_html(hindcast_parts, told, language=language, units="us")
        # the ten slices of the PIT run from 0 to 100 percent
        strange = numbers_on(html) - numbers_allowed(told, language, "us") - {"0", "100"}
        assert strange == set()
        assert faults_of(html) == []


def test_a_page_without_any_date_is_whole(made):
    told = made.document("hindcast.json")
    told["leads"][0]["first_pick"] = {"scored": 0, "never_reached": 8}
    told["leads"][0]["weekly"] = {"weeks": 0}
    for row in told["leads"][0]["reliability"]:
        row["first_pick"] = row["weekly"] = None
    told["leads"][0]["pit"] |= {"first_pick": [0.0] * 10, "weekly": [0.0] * 10}
    html = to_html(hindcast_parts, told)
    assert "No first pick was reached" in html
    assert faults_of(html) == []


def test_blocks_without_weights_are_listed_and_not_dropped_silently(call, home, tmp_path):
    for name in ("2014.toml", "tamarind_coast.parquet"):
        shutil.copy(home / name, tmp_path)
    table = pd.read_csv(home / "picks.csv")
    table = table[table["season"] == 2014]
    none = table["block"] == "Marl black"
    table.loc[none, "marketable_g_per_plant"] = None
    table["open_flowers_per_plant"] = none * 1.0
    records = tmp_path / "picks.csv"
    table.to_csv(records, index=False)
    done = call("hindcast", records, tmp_path / "2014.toml", *DRAWS, "--out", tmp_path / "out",
                "--json")  # fmt: skip
    assert done.exit_code == 0, done.stderr
    told = json.loads(done.stdout)
    (left,) = told["records_not_used"]
    assert left["block"] == "Marl black"
    assert len(left["rows"]) == int(none.sum())
    assert "no marketable weight" in left["reason"]


def test_picks_before_planting_are_refused(call, home, tmp_path):
    for name in ("2014.toml", "2016.toml", "picks.csv", "tamarind_coast.parquet"):
        shutil.copy(home / name, tmp_path)
    shifted(tmp_path / "picks.csv", -60)
    done = call("hindcast", tmp_path / "picks.csv", tmp_path / "2014.toml", tmp_path / "2016.toml",
                "--out", tmp_path / "out")  # fmt: skip
    assert done.exit_code == 3
    assert "before planting" in " ".join(done.stderr.split())
    assert not (tmp_path / "out").exists()


def test_records_of_no_season_are_refused(call, home, tmp_path):
    done = call("hindcast", home / "picks.csv", home / "2014.toml", "--out", tmp_path / "out")
    assert done.exit_code == 3
    assert "no season file" in " ".join(done.stderr.split())


def test_a_season_is_asked_for(call, home, tmp_path):
    assert call("hindcast", home / "picks.csv", "--out", tmp_path / "out").exit_code == 2


def test_a_first_year_has_nothing_to_go_by(call, tmp_path):
    records, seasons = write_seasons(tmp_path, years=(2002,))
    done = call("hindcast", records, *seasons, *DRAWS, "--out", tmp_path / "out")
    assert done.exit_code == 4
    assert "no past year had ended" in " ".join(done.stderr.split())
    done = call("hindcast", records, *seasons, *DRAWS, "--past-years", "others", "--out",
                tmp_path / "out", "--json")  # fmt: skip
    assert done.exit_code == 0, done.stderr
    assert json.loads(done.stdout)["past_years"] == "others"


def test_a_folder_stands_for_its_season_files(call, home, tmp_path):
    done = call("hindcast", home / "picks.csv", home, *DRAWS, "--out", tmp_path / "out", "--json")
    assert done.exit_code == 0, done.stderr
    assert json.loads(done.stdout)["seasons"] == ["2014", "2016"]
    empty = tmp_path / "empty"
    empty.mkdir()
    done = call("hindcast", home / "picks.csv", empty, "--out", tmp_path / "again")
    assert done.exit_code == 3
    assert "the folder holds no season file" in " ".join(done.stderr.split())
