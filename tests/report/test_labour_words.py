"""What a labour answer says of who it takes and what is lost: one result, no contradiction."""

from __future__ import annotations

import copy
import re

import numpy as np
import pytest

from phenocast.planning.labour.crew_model import CrewTerms
from phenocast.planning.labour.document import _checked
from phenocast.planning.labour.overtime import ExtraHours
from phenocast.planning.labour.solve import check_plan, plan_crew
from phenocast.report.labour import cover, labour_parts, labour_summary
from phenocast.report.reader import Reader, plain_text
from phenocast.report.render import to_html, to_text
from tests.report.plans import plan
from tests.report.reading import read

BASE = {"wage": 10.0, "contract_h": 40.0, "lost_value": 9.0, "crew_most": 2, "crew_now": 2,
        "extra": (), "hiring_cost": 9e9, "release_cost": 9e9}  # fmt: skip
OVERTIME = {"extra": (ExtraHours(10.0, 15.0),)}
HELP = {"temporary_most": 2, "temporary_wage": 12.0, "temporary_h": 40.0}
# Two people, two seasons of one week at 0.2 h a tray: their contract does 400 trays, with overtime
# 500, with two temporary workers 800 and 900.
CASES = {
    "core": ({}, (400.0, 300.0)),
    "overtime": (OVERTIME, (400.0, 480.0)),
    "temporary": (OVERTIME | HELP, (400.0, 700.0)),
    "some-lost": (OVERTIME | HELP, (400.0, 1000.0)),
    "always-lost": (OVERTIME | HELP, (950.0, 1000.0)),
    # a tray brings less than the overtime for it, so all of it stays though hands are there
    "always-lost by choice": (OVERTIME | {"lost_value": 1.0}, (450.0, 480.0)),
}


def document_of(case):
    """The page's document with the figures of a plan of the case."""
    more, trays = CASES[case]
    trays, each = np.array(trays)[:, None], np.full((2, 1), 0.2)
    made = plan_crew(CrewTerms(**{**BASE, **more}), trays, each, gap=1e-9)
    checked = check_plan(made, trays, each)
    document = copy.deepcopy(plan())
    document["figures"]["seasons_at_large"] = _checked(checked)
    core = float((trays * each > 80.0).mean())
    for row in document["weeks"]:
        row["short_of_core_probability"] = core
        row["short_of_all_probability"] = checked.short_share
    return document


@pytest.mark.parametrize("case", CASES)
def test_who_it_takes_is_one_of_five(case):
    assert document_of(case)["figures"]["seasons_at_large"]["cover"] == case.split(" ")[0]


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("case", CASES)
def test_no_sentence_speaks_against_another(case, language):
    document = document_of(case)
    figures = document["figures"]["seasons_at_large"]
    told = cover(document, Reader(language))
    every = " ".join(told)
    lost = {"en": "fruit is lost in", "es": "Se pierde algo de fruta"}[language]
    nothing = {"en": ("No fruit is lost", "no fruit is lost"), "es": ("No se pierde", "no se p")}
    assert any(words in every for words in nothing[language]) == (figures["cover"] in
               ("core", "overtime", "temporary"))  # fmt: skip
    some = lost in every.replace("No fruit is lost in", "")
    assert some == (figures["cover"] in ("some-lost", "always-lost"))
    # hands that are called enough are enough, and hands that are called short are short
    enough = {"en": "could do it in all of them", "es": "podrían con él en todas"}[language]
    every_week = {"en": "could pick the fruit of every week", "es": "recoger la fruta de cada sem"}
    scarce = {"en": "not even all overtime", "es": "ni todas las horas extra"}[language]
    short = figures["all_short_probability"] > 0.0
    assert not (short and (enough in every or every_week[language] in every))
    assert (scarce in every) == short
    if case == "core":
        assert len(told) == 1
    if case == "always-lost by choice":
        assert every_week[language] in every


@pytest.mark.parametrize("case", CASES)
def test_text_and_page_say_the_same(case):
    document = document_of(case)
    document["loading_h"] = document["loading_h"][:1]
    words = read(to_html(labour_parts, document)).words
    page = " ".join(" ".join(words).split()).replace("\u00a0", " ")
    text = " ".join(to_text(labour_parts, document).split()).replace("\u00a0", " ")
    for sentence in cover(document, Reader()):
        assert " ".join(sentence.split()).replace("\u00a0", " ") in page
        assert " ".join(plain_text(sentence).split()) in text
    old = ("suffice in every season of the plan", "then step in", "without any loss in")
    assert not any(words in page + text for words in old)
    # one cost, in both
    cost = f"{document['figures']['seasons_at_large']['expected_cost']:,.0f}"
    assert re.search(rf"\b{cost}\b", text)


def test_nothing_to_pick_needs_nobody():
    document = document_of("core")
    for row in document["weeks"]:
        row["need_people"] = {"p50": 0.0, "p90": 0.0}
    assert labour_summary(document, Reader()) == ["No week of the plan needs people."]


def test_overtime_in_the_heat_comes_before_the_answer():
    document = document_of("overtime")
    document["heat"]["hot_overtime"] = {"weeks": 3, "worst": "2027-W24", "hours": 4.5}
    for language, words in (("en", "Local heat rules may not allow"), ("es", "normas locales de")):
        first = labour_summary(document, Reader(language))[0]
        assert words in first
        assert "4.5" in first or "4,5" in first
