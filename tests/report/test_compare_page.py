"""The page of a comparison: numbers of its document only, the best way named, names as text."""

from __future__ import annotations

import copy

import pytest

from phenocast.cli.commands.compare import Asked, comparison
from phenocast.parameters.library import shipped
from phenocast.report.compare import compare_parts
from phenocast.report.render import to_html
from tests.report.comparisons import comparison as by_hand
from tests.report.reading import WAYS, faults_of, numbers_allowed, numbers_on, page, read


@pytest.fixture(scope="module")
def document(loaded):
    """Four dates, two films and two cultivars of the demo's first block."""
    from datetime import date

    asked = Asked(
        None, date(2026, 9, 20), date(2026, 10, 20), 10, ["black", "silver"], ["Marl", "Gneiss"],
        None, {}, {}, None, None, None, 4, 0,
    )  # fmt: skip
    return comparison(loaded, shipped("demo_weather", "low_quay.toml"), asked)


def words_of(html: str) -> str:
    return " ".join(" ".join(read(html).words).split()).replace("\u00a0", " ")


@pytest.mark.parametrize(("language", "units"), WAYS)
def test_every_number_on_the_page_is_in_the_document(document, language, units) -> None:
    html = page(compare_parts, document, language=language, units=units)
    assert html == to_html(compare_parts, copy.deepcopy(document), language=language, units=units)
    assert numbers_on(html) - numbers_allowed(document, language, units) == set()
    assert len(numbers_on(html)) > 100
    assert faults_of(html) == []


def test_the_answer_is_the_best_way_and_what_comes_close(document) -> None:
    words = words_of(page(compare_parts, document))
    answer = words[words.index("The answer") : words.index("How sure it is")]
    ranked = sorted(document["options"], key=lambda one: -one["expected"])
    best = next(one for one in ranked if not one["flags"])
    assert f"Best on average: {best['cultivar']} planted" in answer
    assert f"on {best['film']}, with a mean margin of {best['expected']:,.0f} EUR" in answer
    near = [one for one in ranked if one["not_clearly_worse"] and one is not best]
    assert ("Not clearly worse" in answer) == bool(near)
    assert "Bias of the model: planting-date trials" in answer
    assert "Bias of the model: reflective film" in answer
    assert "Differences to the best are paired" in words
    assert words.count(" best ") >= 1


def test_a_map_for_each_cultivar_marks_the_best_once(document) -> None:
    html = page(compare_parts, document)
    assert html.count("<figure") == 2
    assert html.count("\u2605") == 1


def test_a_lone_winner_and_another_best_under_other_prices_are_told() -> None:
    made = by_hand(films=("black", "silver"), block="East")
    other = {name: made["options"][0][name] for name in made["best"]}
    made["price_tilt"]["tilts"][-1]["best"] = other
    words = words_of(to_html(compare_parts, made))
    assert "Every other option without a flag is clearly worse." in words
    assert (
        "Where early fruit is 50% dearer at the first week than stated, Marl planted 28 September "
        "2026 on black is best." in words
    )
    assert "Where late fruit" not in words


def test_without_prices_the_page_speaks_of_fruit() -> None:
    made = by_hand(money=False, films=("black", "silver"), block="East")
    words = words_of(to_html(compare_parts, made, units="us"))
    assert "Best on average" in words
    assert "lb per plant" in words
    assert "What the money is made of" not in words


def test_one_way_alone_is_a_page() -> None:
    made = by_hand(films=("black", "silver"), block="East")
    made["options"] = made["options"][-1:]
    made["reference"] = made["best"]
    assert faults_of(to_html(compare_parts, made)) == []


def test_names_are_text(nasty) -> None:
    made = by_hand(films=("black", nasty), block=nasty)
    made["warnings"] = [nasty]
    html = to_html(compare_parts, made)
    assert faults_of(html) == []
    assert "<script" not in html
    assert "\u202e" not in html.split("</header>")[0]


def test_the_table_shows_regret_and_what_nothing_beats(document) -> None:
    words = words_of(page(compare_parts, document))
    best = max(
        (one for one in document["options"] if not one["flags"]), key=lambda one: one["expected"]
    )
    assert best["undominated"]
    assert "best; undominated" in words
    assert "Regret [EUR]" in words
    assert f"{best['regret']:,.0f}" in words


def flagged(made, rows, **more):
    for row in rows:
        made["options"][row]["flags"] = ["date_too_early"]
    made.update(more)


def test_a_flagged_option_is_told_apart_and_never_starred() -> None:
    made = by_hand(films=("black", "silver"), block="East")
    named = ("planting_date", "film", "cultivar", "transplant")
    second, last = ({k: made["options"][row][k] for k in named} for row in (2, 3))
    flagged(made, [3], best=second, best_on_edge="earliest", highest_flagged=last,
            reference=last, biases=["early_planting", "film", "sprinkling"])  # fmt: skip
    for language in ("en", "es"):
        html = to_html(compare_parts, made, language=language)
        assert faults_of(html) == []
        assert html.count("\u2605") == 1
        assert html.count(">!2") == 1  # the mark in its field of the map
    words = words_of(to_html(compare_parts, made))
    answer = words[words.index("The answer") : words.index("How sure it is")]
    assert "Not recommended, though its mean is higher (23,000 EUR): Marl planted 12" in answer
    assert "The reference, Marl planted 12 October 2026 on silver, carries a flag itself" in answer
    assert "earliest of those compared: the true best may lie before it" in answer
    assert "no overhead sprinkling is stated" in answer
    assert "Flagged by the engine, not recommended" in words


def test_where_all_are_flagged_nothing_is_recommended() -> None:
    made = by_hand(films=("black", "silver"), block="East")
    last = dict(made["best"])
    flagged(made, range(4), best=None, highest_flagged=last)
    html = to_html(compare_parts, made)
    words = words_of(html)
    assert "\u2605" not in html
    assert "No option can be recommended, because the engine flags every one of them" in words
    assert "Best on average" not in words
    assert faults_of(to_html(compare_parts, made, language="es")) == []
