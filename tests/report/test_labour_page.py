"""The page of a labour plan: numbers of its document only, heat never praised, names as text."""

from __future__ import annotations

import copy
import re

import pytest

from phenocast.report.labour import labour_parts
from phenocast.report.reader import Reader
from phenocast.report.render import to_html
from tests.report.reading import WAYS, faults_of, numbers_allowed, numbers_on, page, read


@pytest.fixture(scope="module")
def document(answer):
    """A plan of the demo with few draws."""
    return answer("labour").document("labour.json")


def words_of(html: str) -> str:
    return " ".join(" ".join(read(html).words).split()).replace("\u00a0", " ")


@pytest.mark.parametrize(("language", "units"), WAYS)
def test_every_number_on_the_page_is_in_the_document(document, language, units) -> None:
    html = page(labour_parts, document, language=language, units=units)
    assert html == to_html(labour_parts, copy.deepcopy(document), language=language, units=units)
    start, end = document["heat"]["working_hours"]
    clock = {"06", "00", f"{int(end):02d}", f"{round(end % 1 * 60):02d}"}
    assert start == 6.0
    # the fruit that a block leaves over its season is the sum of its weeks
    left = {
        Reader(language, units).figure("mass", sum(row["left_in_field_kg"] for row in one["weeks"]))
        for one in document["blocks"]
    }
    assert numbers_on(html) - numbers_allowed(document, language, units) - clock - left == set()
    assert len(numbers_on(html)) > 300
    assert faults_of(html) == []


def test_the_answer_is_the_busiest_week_and_the_largest_crew(document) -> None:
    words = words_of(page(labour_parts, document))
    answer = words[words.index("The answer") : words.index("How sure it is")]
    top = max(document["weeks"], key=lambda row: row["need_people"]["p50"])
    crew = max(row["planned"] for row in document["weeks"])
    assert f"week {int(top['week'][-2:])} (" in answer
    assert f"has {crew} people in the core crew" in answer
    large = document["figures"]["seasons_at_large"]
    assert f"{large['expected_cost']:,.0f} EUR" in answer


def test_open_decisions_are_told_with_their_days(document) -> None:
    words = words_of(page(labour_parts, document))
    open_ones = [row for row in document["weeks"] if row["change"] and row["decide_by"]]
    assert open_ones
    first = min(open_ones, key=lambda row: row["decide_by"])
    assert f"so that the core crew has {first['planned']}" in words
    made = copy.deepcopy(document)
    for row in made["weeks"]:
        row["decide_by"] = None
    told = words_of(to_html(labour_parts, made))
    assert "No change of the core crew is left to decide." in told
    assert "Changes of the core crew that can still be decided" not in told


@pytest.mark.parametrize("language", ["en", "es"])
def test_no_hour_is_called_safe_and_the_caution_is_printed(document, language) -> None:
    words = words_of(page(labour_parts, document, language=language)).lower()
    assert re.findall(r"\b(safe|safely|harmless hour|segur[oa]s?)\b", words) == []
    for caution in document["heat"]["cautions"]:
        assert caution.lower() in words
    aid = {"en": "a planning aid, not a safety programme", "es": "una ayuda para planear"}
    assert words.count(aid[language]) >= 2  # among the cautions and beside the hours


def test_a_shed_has_its_column_and_tallies_their_interval(document) -> None:
    made = copy.deepcopy(document)
    assert "Of these in the shed" not in words_of(to_html(labour_parts, made))
    made["packed_in"] = "shed"
    made["picking"] |= {
        "from": "your tallies",
        "tallies": {"picks": 14, "walk_interval": [11.5, 19.25], "reach_interval": [18.0, 31.5],
                    "level": 0.9, "r_squared": 0.8, "yields_t_per_ha": [0.2, 1.1]},
    }  # fmt: skip
    made["figures"] |= {"value_of_hedging": None, "gap_reached": False}
    words = words_of(to_html(labour_parts, made))
    assert "Of these in the shed" in words
    assert "(18.0 to 31.5), from 14 picks of your own" in words
    assert "The search ended at its time limit" in words
    assert "to know the season beforehand" not in words


def test_names_are_text(document, nasty) -> None:
    made = copy.deepcopy(document)
    made["site"] = nasty
    made["blocks"][0]["block"] = nasty
    made["warnings"] = [nasty]
    html = to_html(labour_parts, made)
    assert faults_of(html) == []
    assert "<script" not in html
    assert "\u202e" not in html.split("</header>")[0]
