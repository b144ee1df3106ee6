"""``phenocast rank`` from the folder of a fit to its table, page and folder, and its refusals."""

import json
import shutil

import pandas as pd
import pytest

from phenocast.report.rank import rank_figure, rank_parts
from phenocast.report.render import to_html
from tests.cli.past_seasons import read_json, write_fit, write_seasons
from tests.report.reading import faults_of, numbers_allowed, numbers_on, read


@pytest.fixture(scope="module")
def home(answer):
    """Past seasons, their picks and their fit; nothing is changed here."""
    return answer("inputs").folder / "past"


@pytest.fixture(scope="module")
def document(answer):
    """One ranking, for the tests that only read it."""
    return answer("rank").document("rank.json")


def test_the_tender_cultivar_comes_last(document):
    assert [one["cultivar"] for one in document["cultivars"]] == ["Gneiss", "Marl"]
    assert not document["cultivars"][1]["may_be_best"]
    assert document["cultivars"][0]["p_best"] > 0.95


def test_the_scenario_is_the_first_block_and_its_past_years(document):
    scenario = document["scenario"]
    assert (scenario["block"], scenario["warming_c"], scenario["days"]) == ("Gneiss black", 3.0, 60)
    assert scenario["season_file"] == "2014.toml"
    assert len(scenario["years"]) > 20


def test_raw_yields_have_both_regimes(document):
    regimes = document["raw"]["regimes"]
    assert [pair["hot"][:4] for pair in regimes["pairs"]] == ["2014", "2016"]
    ssi = {one["cultivar"]: one["indices"]["ssi"] for one in regimes["cultivars"]}
    assert ssi["Marl"] > 1.0 > ssi["Gneiss"]


def test_two_seasons_earn_no_left_over(document):
    splits = document["films"]["splits"]
    assert {one["film"] for one in splits} == {"silver"}
    assert not any(one["earned"] for one in splits)
    # the picks are the model's own, so the crown explains all that the parameters' spread allows
    low, high = splits[0]["left_over"]["interval_95"]
    assert low < 0.0 < high


def test_a_cultivar_without_fitted_numbers_is_told(document):
    assert any("not ranked" in text and "Tuff" in text for text in document["warnings"])


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("units", ["metric", "us"])
def test_every_number_on_the_page_is_in_the_document(document, language, units):
    html = to_html(rank_parts, document, language=language, units=units)
    found = numbers_on(html)
    if units == "us":
        # slopes and variances are quotients of two units; the last digits of their own test
        found -= set(_quotients(document, language))
    assert found - numbers_allowed(document, language, units) == set()
    assert len(found) > 40
    assert faults_of(html) == []


def _quotients(document, language):
    """Slope of 1 g for 100 degC h: 1 / 453.59237 lb for 180 degF h."""
    from phenocast.report.reader import FORMATS

    form = FORMATS[language]
    for one in document["raw"]["responses"]["cultivars"]:
        for key in ("slope_g_per_100_degree_hours", "slope_error"):
            yield form.number(abs(one[key]) / 453.59237 / 1.8, 4)
        if one["stability_variance"] is not None:
            yield form.number(abs(one["stability_variance"]) / 453.59237**2, 4)
        if one["first_axis_score"] is not None:  # the square root of a yield
            yield form.number(abs(one["first_axis_score"]) / 453.59237**0.5, 2)


def test_the_page_says_what_cannot_be_told_apart(document):
    words = " ".join(" ".join(read(to_html(rank_parts, document)).words).split())
    assert "Worse than the best on average: Marl." in words
    assert "the records can tell" in words or "cannot be told from chance" in words


def test_the_folder_comes_out_again_byte_for_byte(call, home, tmp_path, entries):
    first, again = tmp_path / "first", tmp_path / "again"
    done = call("rank", home / "fit", "--warming", "4", "--by", "delay", "--out", first,
                "--language", "es")  # fmt: skip
    assert done.exit_code == 0, done.stderr
    assert set(entries(first)) == {
        "rank.json", "rank.txt", "rank.csv", "caterpillar.svg", "report.html", "manifest.json",
    }  # fmt: skip
    assert read_json(first / "rank.json")["scenario"]["warming_c"] == 4.0
    assert 'lang="es"' in (first / "report.html").read_text(encoding="utf-8")
    assert call("rerun", first / "manifest.json", "--out", again).exit_code == 0
    for name in entries(first):
        assert (again / name).read_bytes() == (first / name).read_bytes(), name


def test_the_figure_is_a_file_of_its_own(document):
    from xml.etree import ElementTree as ET

    for by in ("season", "delay"):
        text = rank_figure({**document, "by": by})
        root = ET.fromstring(text)  # well-formed, prefixes declared
        assert root.tag == "{http://www.w3.org/2000/svg}svg"
        assert float(root.get("width")) > 300.0
        assert "var(" not in text  # colours that programs beside browsers know
        targets = {one.get("id") for one in root.iter()}
        links = [value for one in root.iter() for name, value in one.items() if "href" in name]
        assert links
        assert {one.removeprefix("#") for one in links} <= targets
        for one in document["cultivars"]:
            assert one["cultivar"] in text


@pytest.mark.slow
def test_a_folder_that_was_named_from_inside_comes_out_again_too(call, home, tmp_path, monkeypatch):
    monkeypatch.chdir(home / "fit")
    done = call("rank", ".", "--season", "../2016.toml", "--out", tmp_path / "first")
    assert done.exit_code == 0, done.stderr
    assert read_json(tmp_path / "first" / "rank.json")["fit"]["folder"] == "fit"
    monkeypatch.chdir(tmp_path)
    again = call("rerun", "first/manifest.json", "--out", "again")
    assert again.exit_code == 0, again.stderr


def test_table_and_page_are_written_and_not_overwritten(call, home, tmp_path):
    table, page = tmp_path / "ranks.csv", tmp_path / "ranks.html"
    arguments = ("rank", home / "fit", "--csv", table, "--report", page, "--days", "30")
    assert call(*arguments).exit_code == 0
    assert pd.read_csv(table)["cultivar"].tolist() == ["Gneiss", "Marl"]
    assert page.read_text(encoding="utf-8").startswith("<!doctype html>")
    before = table.read_bytes()
    refused = call(*arguments)
    assert refused.exit_code == 3
    assert "not overwritten" in " ".join(refused.stderr.split())
    assert table.read_bytes() == before


def test_another_block_is_another_scenario(call, home):
    done = call("rank", home / "fit", "--season", home / "2016.toml", "--block", "Marl silver",
                "--json")  # fmt: skip
    assert json.loads(done.stdout)["scenario"]["film"] == "silver"


def test_an_unknown_block_is_refused_with_the_nearest(call, home):
    done = call("rank", home / "fit", "--block", "Marl silvr")
    assert done.exit_code == 3
    assert "did you mean 'Marl silver'" in " ".join(done.stderr.split())


def test_a_fit_that_cannot_rank_ends_with_4_and_says_what_would_settle_it(call, home, tmp_path):
    place = write_fit(
        tmp_path, home / "picks.csv", [home / "2014.toml"], rankable=False,
        why_not=["dates alone say nothing about heat"],
        records_that_would_settle_it=["weekly weights from the same blocks"],
    )  # fmt: skip
    done = call("rank", place)
    said = " ".join(done.stderr.split())
    assert done.exit_code == 4
    assert done.stdout == ""
    assert "dates alone say nothing about heat" in said
    assert "weekly weights from the same blocks" in said


def test_a_folder_that_is_no_fit_is_refused(call, tmp_path):
    done = call("rank", tmp_path)
    assert done.exit_code == 3
    assert "not the folder of a fit" in " ".join(done.stderr.split())


def test_a_damaged_table_of_draws_is_refused(call, home, tmp_path):
    place = tmp_path / "fit"
    shutil.copytree(home / "fit", place)
    (place / "draws.parquet").write_bytes(b"PAR1 and then nothing")
    done = call("rank", place)
    assert done.exit_code == 3
    assert "the Parquet file is cut off" in " ".join(done.stderr.split())


def test_seasons_that_moved_away_are_named(call, tmp_path):
    records, seasons = write_seasons(tmp_path, years=(2014,))
    place = write_fit(tmp_path, records, seasons)
    away = tmp_path / "moved.toml"
    seasons[0].rename(away)
    done = call("rank", place)
    assert done.exit_code == 3
    assert "--season" in done.stderr
    # the block can be named; what needs the records says why it is missing
    done = call("rank", place, "--season", away, "--json")
    assert done.exit_code == 0, done.stderr
    told = json.loads(done.stdout)
    assert "is not where it was" in told["raw"]["regimes"]["why_not"]
    assert "is not where it was" in told["films"]["why_not"]


@pytest.mark.parametrize("option", [("--warming", "0"), ("--days", "2"), ("--by", "colour")])
def test_a_scenario_that_cannot_be_is_a_usage_error(call, home, option):
    assert call("rank", home / "fit", *option).exit_code == 2
