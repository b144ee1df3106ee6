"""Data that are most likely wrong are told on top of an answer, and how to call them right."""

import json

import pandas as pd
import pytest

from phenocast.errors import CAUTION
from phenocast.parameters.library import shipped
from tests.cli.past_seasons import write_seasons


def told(call, path, *options, command="check"):
    """Warnings of the JSON document of a season."""
    done = call(command, path, "--json", *options)
    assert done.exit_code == 0, done.stderr
    document = json.loads(done.stdout)
    if command == "check":
        document = document["files"][0]["understood"]["forecast"]
    return document["warnings"], done


def cautions(warnings):
    found = [one for one in warnings if one.startswith(CAUTION)]
    assert warnings[: len(found)] == found  # first in the list
    return found


@pytest.mark.parametrize(
    ("old", "new", "words", "kind"),
    [
        (
            "planting_date = 2026-09-28",
            "planting_date = 2036-09-28",
            "on 2036-09-28, more than two years from the weather, which runs from 2002-07-01 to ",
            "planting date",
        ),
        (
            "latitude = 29.3",
            "latitude = -29.3",
            "tamarind_coast.parquet: the sunlight does not fit latitude -29.3 (it does fit 29.3)",
            "sun",
        ),
        ("longitude = -15.6", "longitude = 5.6", "the sun of the file is 1.4 h late", "sun"),
    ],
)
def test_a_slip_is_told_first_until_it_is_called_right(call, season, old, new, words, kind):
    path = season(old, new)
    found = cautions(told(call, path)[0])
    assert any(words in one for one in found), found
    assert all(f'checked = ["{kind}"]' in one for one in found)
    path.write_text(f'checked = ["{kind}"]\n' + path.read_text(encoding="utf-8"), encoding="utf-8")
    warnings, _ = told(call, path)
    assert cautions(warnings) == []
    assert any(one.startswith(f"stated as right ({kind}): ") for one in warnings)


def test_a_sound_season_has_no_caution(call, season):
    warnings, _ = told(call, season())
    assert cautions(warnings) == []


def test_a_logger_gone_wrong_is_told_in_check_and_in_what_is_built_on_it(call, season):
    path = season()
    place = path.parent / "low_quay_observed.csv"
    table = pd.read_csv(place)
    table["Humidity [%]"] = 0.7 + 0.1 * (table.index % 3)
    table.loc[400:520, "wind_m_s"] = 3.7
    table.drop(columns="dew_point_c").to_csv(place, index=False)
    found = cautions(told(call, path)[0])
    assert any("lies between 0.7 and 0.9 % in all 1464 rows" in one for one in found)
    # row 402 is that of index 400, for the header is row 1
    assert any("stands at 3.7 for 121 hours from 2026-09-17T16:00 UTC (row 402)" in one
               for one in found)  # fmt: skip
    # and by itself
    done = call("check", place, "--stamp", "start")
    assert done.stdout.index(f"! {CAUTION}") < done.stdout.index("hourly, 1464 rows")


@pytest.mark.parametrize(
    ("as_of", "words"),
    [
        ("2025-10-20", "before the observed weather begins (2026-09-01)"),
        ("2027-12-20", "after the season, which is over by 2027-09-28"),
    ],
)
def test_an_as_of_in_another_year_is_told(call, season, as_of, words):
    warnings, done = told(call, season(), "--as-of", as_of, "--draws", 2, command="forecast")
    (found,) = cautions(warnings)
    assert f"as of {as_of}, which is {words}" in found
    assert "is the year right?" in " ".join(done.stderr.split())


def test_forecast_text_and_pages_show_a_caution_on_top(call, season, tmp_path):
    path = season("plants_per_ha = 50_000", "plants_per_ha = 344")
    page = tmp_path / "page.html"
    done = call("forecast", path, "--draws", 2, "--report", page, "--language", "es")
    assert done.exit_code == 0, done.stderr
    assert done.stdout.index("! CAUTION: block 'East'") < done.stdout.index("Precauciones")
    html = page.read_text(encoding="utf-8")
    assert html.index("Mire esto primero") < html.index("plants_per_ha = 344")
    assert html.index("plants_per_ha = 344") < html.index('id="answer"')
    assert html.count('<ul>\n<li><span lang="en">CAUTION') == 2  # on top, and in the list of all


def test_coordinates_of_a_typical_year_out_of_range_are_told(call, tmp_path):
    text = shipped("demo_weather", "san_francisco_tmy3.epw").read_text(encoding="utf-8")
    place = tmp_path / "far.epw"
    place.write_text(text.replace(",37.62,", ",137.62,", 1), encoding="utf-8")
    done = call("check", place, "--json")
    assert done.exit_code == 0, done.stderr
    (answer,) = json.loads(done.stdout)["files"]
    (found,) = cautions(answer["understood"]["notes"])
    assert "far.epw is for latitude 137.62, longitude -122.4, which is no place" in found


@pytest.mark.parametrize("zone", ["localtime", "right/Europe/Madrid"])
def test_a_zone_of_the_machine_is_refused_for_site_and_weather(call, season, zone):
    done = call("check", season('time_zone = "Atlantic/Canary"', f'time_zone = "{zone}"'))
    assert done.exit_code == 3
    assert "its clock differs from machine to machine" in " ".join(done.stderr.split())
    done = call("check", shipped("demo_weather", "low_quay_observed.csv"), "--time-zone", zone)
    assert done.exit_code == 3
    assert "differs from machine to machine" in " ".join(done.stderr.split())


@pytest.mark.parametrize("command", ["hindcast", "fit"])
def test_rows_pasted_twice_are_refused_by_both(call, tmp_path, command):
    records, paths = write_seasons(tmp_path, (2014,))
    table = pd.read_csv(records)
    pd.concat([table, table]).to_csv(records, index=False)
    done = call(command, records, *paths, "--out", tmp_path / "out")
    assert done.exit_code == 3
    assert "a plot is recorded twice on one day" in " ".join(done.stderr.split())


def test_a_hindcast_lists_a_pick_ten_times_too_large_before_and_above_its_answer(call, tmp_path):
    records, paths = write_seasons(tmp_path, (2014,))
    table = pd.read_csv(records)
    grams = "marketable_g_per_plant"
    row = int((table[grams] > table[grams].median()).to_numpy().nonzero()[0][10])
    table.loc[row, grams] *= 10.0
    table.to_csv(records, index=False)
    done = call("hindcast", records, *paths, "--out", tmp_path / "out", "--draws", 2)
    assert done.exit_code == 0, done.stderr
    words = f"1 pick is far larger than those before and after it: row {row + 2} (2014: "
    assert words in " ".join(done.stderr.split())
    text = " ".join(done.stdout.split())
    assert text.index(f"! {CAUTION}picks.csv: {words}") < text.index("Cautions")
    document = json.loads((tmp_path / "out" / "hindcast.json").read_text(encoding="utf-8"))
    (found,) = cautions(document["warnings"])
    assert words in found


def test_a_crown_table_does_not_call_observed_what_came_later(call, season, tmp_path):
    done = call("crown", season(), "--as-of", "2025-10-20", "--out", tmp_path / "crown.csv")
    assert done.exit_code == 0, done.stderr
    assert "before the observed weather begins" in " ".join(done.stderr.split())
    assert "observed to" not in done.stderr
