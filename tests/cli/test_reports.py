"""Pages that commands leave: where they are asked for, in which language and units, and again."""

from __future__ import annotations

import pytest

from phenocast.cli import pages
from phenocast.report.reader import LANGUAGES, SYSTEMS

FAST = ("--draws", "3")


def test_the_options_offer_every_language_and_unit_there_is():
    assert pages.LANGUAGES == LANGUAGES
    assert pages.UNITS == SYSTEMS


def test_report_writes_the_page_that_out_leaves(call, season, tmp_path, entries):
    page, out = tmp_path / "page.html", tmp_path / "out"
    done = call("forecast", season(), *FAST, "--report", page, "--out", out)
    assert done.exit_code == 0, done.stderr
    assert page.read_bytes() == (out / "report.html").read_bytes()
    assert "page.html" in done.stderr
    html = page.read_text(encoding="utf-8")
    assert html.startswith('<!doctype html>\n<html lang="en">')
    assert "East" in html


def test_a_page_in_the_way_is_kept_and_nothing_is_run(call, season, tmp_path):
    page = tmp_path / "page.html"
    page.write_text("mine", encoding="utf-8")
    done = call("forecast", season(), *FAST, "--report", page)
    assert done.exit_code == 3
    assert "--force" in done.stderr
    assert page.read_text(encoding="utf-8") == "mine"
    done = call("forecast", season(), *FAST, "--report", page, "--force")
    assert done.exit_code == 3
    assert "no mark of phenocast" in " ".join(done.stderr.split())
    assert page.read_text(encoding="utf-8") == "mine"


def test_a_page_of_ours_is_replaced_where_that_is_asked_for(call, season, tmp_path):
    page = tmp_path / "page.html"
    assert call("forecast", season(), *FAST, "--report", page).exit_code == 0
    before = page.read_bytes()
    done = call("forecast", season(), *FAST, "--seed", "9", "--report", page, "--force")
    assert done.exit_code == 0, done.stderr
    assert page.read_bytes() != before


def test_language_and_units_are_kept_for_a_rerun(call, season, tmp_path):
    out, again = tmp_path / "out", tmp_path / "again"
    made = call("forecast", season(), *FAST, "--out", out, "--language", "es", "--units", "us")
    assert made.exit_code == 0, made.stderr
    html = (out / "report.html").read_text(encoding="utf-8")
    assert '<html lang="es">' in html
    assert "°F" in html
    done = call("rerun", out / "manifest.json", "--out", again)
    assert done.exit_code == 0, done.stderr
    assert (again / "report.html").read_bytes() == (out / "report.html").read_bytes()


@pytest.mark.parametrize("option", [("--language", "fr"), ("--units", "imperial")])
def test_another_language_or_unit_is_wrong_usage(call, season, option):
    done = call("forecast", season(), *option)
    assert done.exit_code == 2
    assert option[1] in done.stderr


def test_crown_leaves_a_page_and_the_document_behind_it(call, season, tmp_path, entries):
    import json

    page = tmp_path / "crown.html"
    done = call("crown", season(), "--report", page, "--json", "--language", "es")
    assert done.exit_code == 0, done.stderr
    document = json.loads(done.stdout)
    assert document["kind"] == "crown"
    assert document["weather"]["observed_until"] == "2026-10-31"
    assert [row["hour"] for row in document["blocks"][0]["mean_day"]] == list(range(24))
    assert '<html lang="es">' in page.read_text(encoding="utf-8")
    assert [name for name in entries(tmp_path) if name.endswith(".csv")] == [
        "low_quay_observed.csv"
    ]


def test_crown_with_nothing_to_leave_is_wrong_usage(call, season):
    done = call("crown", season())
    assert done.exit_code == 2
    assert "--report" in done.stderr
