"""The page of a forecast: numbers of its document only, every language and unit, names as text."""

from __future__ import annotations

import copy

import pytest

from phenocast.errors import InputError
from phenocast.report.forecast import forecast_parts
from phenocast.report.reader import Reader
from phenocast.report.render import to_html
from phenocast.report.seen import seen_words
from tests.report.reading import WAYS, faults_of, numbers_allowed, numbers_on, page, read


def words_of(html: str) -> str:
    return " ".join(" ".join(read(html).words).split()).replace("\u00a0", " ")


def never_picked(document, *places):
    """Document in which some blocks are never picked."""
    made = copy.deepcopy(document)
    for place in places:
        block = made["blocks"][place]
        block["first_pick"] |= {
            "median": None, "p10": None, "p90": None, "mean": None, "week_probabilities": [],
            "not_reached_probability": 1.0, "spread_from": None,
        }  # fmt: skip
        block["weekly"] = []
    return made


@pytest.mark.parametrize(("language", "units"), WAYS)
def test_every_number_on_the_page_is_in_the_document(forecast_document, language, units) -> None:
    html = page(forecast_parts, forecast_document, language=language, units=units)
    assert numbers_on(html) - numbers_allowed(forecast_document, language, units) == set()
    assert len(numbers_on(html)) > 500
    assert faults_of(html) == []


def test_a_number_that_is_not_in_the_document_would_be_found(forecast_document) -> None:
    html = page(forecast_parts, forecast_document)
    html = html.replace("</main>", "<p>98765.4 trays</p></main>")
    strange = numbers_on(html) - numbers_allowed(forecast_document, "en", "metric")
    assert strange == {"98765.4"}


def test_the_answer_names_the_first_and_the_last_block(forecast_document) -> None:
    words = words_of(page(forecast_parts, forecast_document))
    start = words.index("The answer")
    answer = words[start : words.index("How sure it is")]
    picks = {b["block"]: b["first_pick"]["median"] for b in forecast_document["blocks"]}
    assert f"{min(picks, key=picks.get)} is picked first, most likely in week" in answer
    assert f"{max(picks, key=picks.get)} last" in answer
    assert "All 6 blocks together fill most trays in week" in answer
    assert answer.count(". ") <= 2


def test_units_and_language_change_the_words_and_not_the_facts(forecast_document) -> None:
    metric = words_of(page(forecast_parts, forecast_document))
    us = words_of(page(forecast_parts, forecast_document, units="us"))
    spanish = words_of(page(forecast_parts, forecast_document, language="es"))
    highest = forecast_document["blocks"][0]["crown"]["to_first_bloom"]["max_c"]
    assert f"{highest:.1f} °C" in metric
    assert f"{highest * 1.8 + 32.0:.1f} °F" in us
    assert f"{highest:.1f} °C".replace(".", ",") in spanish
    assert "31 October 2026" in metric
    assert "October 31, 2026" in us
    assert "31 de octubre de 2026" in spanish
    assert "°C" not in us
    assert "advertencias en inglés" in spanish


def test_the_same_document_gives_the_same_bytes(forecast_document) -> None:
    again = copy.deepcopy(forecast_document)
    assert page(forecast_parts, forecast_document) == to_html(forecast_parts, again)


def test_a_name_stays_text_everywhere(forecast_document, nasty) -> None:
    made = copy.deepcopy(forecast_document)
    made["site"]["name"] = nasty
    made["blocks"] = made["blocks"][:2]
    made["blocks"][0] |= {"block": nasty, "film": nasty, "cultivar": nasty, "warnings": [nasty]}
    made["warnings"] = [nasty]
    html = to_html(forecast_parts, made)
    assert faults_of(html) == []
    assert "<script" not in html
    assert "\u202e" not in html
    assert "49 }}" not in html
    if nasty.startswith("x"):
        assert nasty in html
    else:
        assert nasty.replace("\u202e", "?") in " ".join(read(html).words)


def test_blocks_that_are_never_picked_are_told(forecast_document) -> None:
    some = words_of(to_html(forecast_parts, never_picked(forecast_document, 1)))
    name = forecast_document["blocks"][1]["block"]
    assert f"{name} does not reach a first pick in half of all cases or more." in some
    assert "Not reached" in some
    none = words_of(to_html(forecast_parts, never_picked(forecast_document, *range(6))))
    assert "None of the 6 blocks reaches a first pick" in none
    alone = never_picked(forecast_document, 0)
    alone["blocks"] = alone["blocks"][:1]
    alone["total"]["weekly"] = []
    told = words_of(to_html(forecast_parts, alone))
    assert "does not reach a first pick in 100% of all cases" in told


def test_one_block_is_answered_by_its_own_date_and_fruit(forecast_document) -> None:
    made = copy.deepcopy(forecast_document)
    made["blocks"] = made["blocks"][:1]
    words = words_of(to_html(forecast_parts, made))
    assert "Quay East is most likely picked for the first time in week" in words
    assert "Over the season it bears about" in words
    assert "All blocks together" not in words


def test_another_language_or_unit_is_refused(forecast_document) -> None:
    with pytest.raises(InputError, match=r"no such language.*en, es"):
        page(forecast_parts, forecast_document, language="fr")
    with pytest.raises(InputError, match=r"no such system of units.*metric, us"):
        page(forecast_parts, forecast_document, units="imperial")


def test_no_advice_is_dated_before_the_day_of_issue(forecast_document) -> None:
    made = copy.deepcopy(forecast_document)
    picks = sorted((b["first_pick"]["p10"], b["block"]) for b in made["blocks"])
    (early, first), (late, last) = picks[0], picks[-1]
    made["issue_date"] = late  # all but the last may have been picked
    words = words_of(to_html(forecast_parts, made))
    steps = words[words.index("What to do next") : words.index("Cautions, and what")]
    assert f"{int(early[-2:])} November" not in steps
    assert f"in one case of ten {last} is picked by then" in steps
    assert f"Look at the beds of {first}" in steps or f"{first}, " in steps
    assert "are picked before" in steps
    # nor are hands and boxes planned for a week that is over
    top = max(made["total"]["weekly"], key=lambda row: row["trays"]["p90"])
    assert f"week {int(top['week'][-2:])} (" in steps
    made["issue_date"] = "2027-06-14"
    made["total"]["weekly"] = [row for row in made["total"]["weekly"] if row["week"] < "2027-W24"]
    words = words_of(to_html(forecast_parts, made))
    assert "Plan most hands" not in words
    assert "Be ready by" not in words


SEEN = {
    "visits": 3, "last_visit": "2026-12-26",
    "weeks": [{"week": "2026-W51", "picks": 0, "g_per_plant": 0.0, "trays": 0},
              {"week": "2026-W52", "picks": 1, "g_per_plant": 12.3, "trays": 217}],
}  # fmt: skip


@pytest.mark.parametrize(("language", "units"), WAYS)
def test_weeks_that_were_picked_are_facts(forecast_document, language, units) -> None:
    made = copy.deepcopy(forecast_document)
    made["blocks"][0] |= {"seen": SEEN, "leaning": LEANING | {"past_share": 0.2, "later_d": -3.7}}
    html = to_html(forecast_parts, made, language=language, units=units)
    assert numbers_on(html) - numbers_allowed(made, language, units) == set()
    assert faults_of(html) == []
    words = words_of(html)
    assert "217 trays" in words or "217 bandejas" in words
    assert "(picked)" in words or "(recogida)" in words


def test_visits_without_a_pick_are_told(forecast_document) -> None:
    made = copy.deepcopy(forecast_document)
    made["blocks"][0]["seen"] = SEEN | {"weeks": []}
    told = words_of(to_html(forecast_parts, made))
    assert "Visits so far: 3, the last on 26 December 2026; no pick is recorded." in told


LEANING = {"model_share": 0.3, "past_share": 0.7, "own_past_seasons": 4, "later_d": 6.2,
           "overdue": False, "no_pick_assumed": False}  # fmt: skip


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        (
            {},
            "The model explains this block poorly; the forecast leans on your past seasons (70%).",
        ),
        ({}, "Your plants are 6 days later than expected."),
        ({"later_d": -2.8}, "Your plants are 3 days earlier than expected."),
        (
            {"model_share": 0.7, "past_share": 0.3},
            "leans on the model (70%) and on your past seasons (30%)",
        ),
        ({"overdue": True}, "picking should have begun about {pick}: enter a visit or the first"),
        ({"no_pick_assumed": True}, "it is assumed that nothing is picked yet"),
    ],
)
def test_a_block_says_what_its_forecast_leans_on(forecast_document, changed, words) -> None:
    block = copy.deepcopy(forecast_document["blocks"][0]) | {"leaning": LEANING | changed}
    pick = Reader().date(block["first_pick"]["median"])
    told = " ".join(seen_words(block, Reader()))
    assert words.format(pick=pick) in told


def test_what_says_nothing_is_left_out(forecast_document) -> None:
    silent = LEANING | {"past_share": 0.0, "later_d": None}
    assert seen_words(forecast_document["blocks"][0] | {"leaning": silent}, Reader()) == []


def test_a_block_that_is_picked_is_no_longer_waited_for(forecast_document) -> None:
    made = copy.deepcopy(forecast_document)
    made["blocks"] = made["blocks"][:1]
    assert "Be ready by" in words_of(to_html(forecast_parts, made))
    made["blocks"][0]["seen"] = SEEN
    assert "Be ready by" not in words_of(to_html(forecast_parts, made))
