"""The page of a crown table: numbers of its document only, in every language and unit."""

from __future__ import annotations

import copy
from datetime import date

import pytest

from phenocast.cli import running
from phenocast.report.crown import crown_parts
from phenocast.report.render import to_html
from tests.report.reading import WAYS, faults_of, numbers_allowed, numbers_on, page, read


@pytest.fixture(scope="module")
def document(loaded):
    issued = date(2026, 10, 31)
    return running.crown_beds(loaded, issued, running.crown_rows(loaded, issued))


def words_of(html: str) -> str:
    return " ".join(" ".join(read(html).words).split()).replace("\u00a0", " ")


@pytest.mark.parametrize(("language", "units"), WAYS)
def test_every_number_on_the_page_is_in_the_document(document, language, units) -> None:
    html = page(crown_parts, document, language=language, units=units)
    assert numbers_on(html) - numbers_allowed(document, language, units) == set()
    assert len(numbers_on(html)) > 200
    assert faults_of(html) == []
    assert html == to_html(crown_parts, copy.deepcopy(document), language=language, units=units)


def test_the_answer_names_the_beds_with_most_and_least_heat(document) -> None:
    words = words_of(page(crown_parts, document))
    heat = {
        b["block"]: b["crown"]["compared"]["degree_hours_above_30c"] for b in document["blocks"]
    }
    most, least = max(heat, key=heat.get), min(heat, key=heat.get)
    told = f"({most}) the crown carries most heat: {heat[most]:,} °C·h above 30 °C over the first"
    assert told in words
    assert f"({least}): {heat[least]:,} °C·h." in words


def test_one_bed_and_beds_that_share_no_day_have_a_page(document) -> None:
    alone = copy.deepcopy(document)
    alone["blocks"] = alone["blocks"][:1]
    alone["compared"] = None
    alone["blocks"][0]["mean_day"] = []
    alone["weather"] = {"course": "observed", "observed_until": None, "filled_hours": 12}
    words = words_of(to_html(crown_parts, alone))
    days = alone["blocks"][0]["crown"]["to_first_bloom"]["days"]
    assert f"from planting to first bloom ({days} days)" in words
    assert "In these days it spends" in words
    assert "Over the day" not in words
    assert "Weather observed to the last day." in words
    assert "In 12 hours of the season" in words


def test_many_beds_are_drawn_in_several_figures(document) -> None:
    many = copy.deepcopy(document)
    many["blocks"] = [
        {**block, "block": f"{block['block']} {copied}"}
        for copied in ("one", "two")
        for block in many["blocks"]
    ]
    html = to_html(crown_parts, many)
    assert html.count("<svg") == 4
    assert faults_of(html) == []


def test_a_name_stays_text_everywhere(document, nasty) -> None:
    made = copy.deepcopy(document)
    made["blocks"][0] |= {"block": nasty, "film": nasty}
    made["warnings"] = [nasty]
    made["weather"]["course"] = nasty
    html = to_html(crown_parts, made)
    assert faults_of(html) == []
    assert "<script" not in html
    assert "\u202e" not in html
