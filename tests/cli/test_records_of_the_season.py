"""Records of the season on the command line: in the answer, in the manifest and in a rerun."""

import json

import pytest

from phenocast.errors import CAUTION

FAST = ("--draws", "4", "--as-of", "2026-11-29")
VISITS = """\
block,date,plants_seen,plants_in_bloom,marketable_g_per_plant,not_picked
East,2026-11-01,40,3,,
East,2026-11-20,,,5.5,
East,2026-11-24,,,7,
East,2026-11-28,,,,rain
west,2026-11-28,,,4,
"""


@pytest.fixture
def visits(tmp_path):
    place = tmp_path / "visits.csv"
    place.write_text(VISITS)
    return place


def test_picks_stand_in_the_answer_and_what_is_not_used_is_told(call, season, visits):
    done = call("forecast", season(), "--records", visits, *FAST, "--json")
    assert done.exit_code == 0, done.stderr
    document = json.loads(done.stdout)
    seen = document["blocks"][0]["seen"]
    assert seen["visits"] == 4
    assert seen["last_visit"] == "2026-11-28"
    assert [(row["week"], row["picks"], row["g_per_plant"]) for row in seen["weeks"]] == [
        ("2026-W47", 1, 5.5), ("2026-W48", 1, 7.0),
    ]  # fmt: skip
    assert seen["weeks"][1]["trays"] == round(7.0 * 60_000 / 3701.274)
    assert next(text for text in document["warnings"] if text.startswith(CAUTION)).endswith(
        "row 6, column 'block': no block of the season has this name (value 'west'); the season "
        "has East"
    )


def test_the_key_of_the_season_file_does_the_same(call, season, visits):
    by_option = call("forecast", season(), "--records", visits, *FAST, "--json")
    path = season("\n[site]", 'records = "visits.csv"\n\n[site]')
    by_key = call("forecast", path, *FAST, "--json")
    assert by_key.stdout == by_option.stdout
    assert "no block of the season has this name" in call("check", path).stdout
    other = visits.with_name("other.csv")
    other.write_text(VISITS.replace("5.5", "6.5"))
    before = json.loads(call("forecast", path, "--records", other, *FAST, "--json").stdout)
    assert before["blocks"][0]["seen"]["weeks"][0]["g_per_plant"] == 6.5


@pytest.mark.parametrize("key", [True, False])
def test_a_rerun_reads_the_same_records(call, season, visits, tmp_path, key):
    path = season("\n[site]", 'records = { file = "visits.csv" }\n\n[site]') if key else season()
    option = () if key else ("--records", visits)
    assert call("forecast", path, *option, *FAST, "--out", tmp_path / "a").exit_code == 0
    manifest = json.loads((tmp_path / "a" / "manifest.json").read_text())
    assert [one["role"] for one in manifest["inputs"]].count("records") == 1
    again = call("rerun", tmp_path / "a" / "manifest.json", "--out", tmp_path / "b")
    assert again.exit_code == 0, again.stderr
    visits.write_text(VISITS.replace("5.5", "6.5"))
    changed = call("rerun", tmp_path / "a" / "manifest.json", "--out", tmp_path / "c")
    assert changed.exit_code == 3
    assert "visits.csv" in changed.stderr


def test_a_plan_of_labour_holds_the_picks(call, season, visits):
    labour = '[labour]\ncurrency = "EUR"\nwage_per_h = 10\nhours_per_week = 40\ncrew_most = 60\n'
    path = season("[bed]", f"{labour}value_per_tray = 9\n\n[bed]")
    done = call("labour", path, "--records", visits, *FAST, "--scenarios", "4", "--json")
    assert done.exit_code == 0, done.stderr
    (block,) = json.loads(done.stdout)["blocks"]
    assert [row["picks"] for row in block["seen"]["weeks"]] == [1, 1]
    text = call("labour", path, "--records", visits, *FAST, "--scenarios", "4").stdout
    assert "East: Visits so far: 4" in text


def test_records_of_which_nothing_can_be_used_are_refused(call, season, visits):
    visits.write_text("block,date,marketable_g_per_plant\nwest,2026-11-28,4\n")
    done = call("forecast", season(), "--records", visits, *FAST)
    assert done.exit_code == 3
    assert "row 2, column 'block'" in done.stderr


def test_compare_says_that_it_does_not_use_them(call, season, visits):
    path = season("\n[site]", 'records = "visits.csv"\n\n[site]')
    done = call("compare", path, "--plant-from", "2026-09-28", "--plant-to", "2026-09-28",
                "--draws", "2")  # fmt: skip
    assert done.exit_code == 0, done.stderr
    assert "not planted yet" in done.stderr
