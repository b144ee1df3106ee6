"""The page to play with: its numbers are the document's, and names stay text."""

from __future__ import annotations

import json
import re
from html import unescape

import pytest

from phenocast.errors import InputError
from phenocast.report.explore import AXES, PARTS, SCRIPTS, explore_data, explore_parts
from phenocast.report.reader import Reader
from phenocast.report.render import to_html
from tests.report.comparisons import FILMS, TILTS, comparison

LEVELS = ("p10", "p50", "p90")


def data_in(html: str) -> dict:
    return json.loads(
        re.search(r'<script type="application/json" id="page-data">(.*?)</script>', html, re.S)[1]
    )


def listed(quantiles: dict) -> list[float]:
    return [quantiles[level] for level in LEVELS]


def of_money(amounts: dict) -> list[float]:
    return [amounts["p10"], amounts["mean"], amounts["p90"]]


def test_every_number_of_the_script_is_the_one_of_the_document() -> None:
    document = comparison()
    data = data_in(to_html(explore_parts, document))
    none = data["no_tilt"]
    assert data["tilts"][none] == 0.0
    for one, told in zip(document["options"], data["options"], strict=True):
        pick = one["first_pick"]
        assert told["pick"] == [pick["p10"], pick["median"], pick["p90"]]
        assert told["never"] == pick["not_reached_probability"]
        assert told["early"] == listed(one["early_g_per_plant"])
        assert told["season"] == listed(one["season_g_per_plant"])
        assert told["heat"] == listed(one["crown_degree_hours_above_30c"])
        assert told["alive"] == listed(one["plants_alive_share"])
        assert told["trays"] == [listed(row["trays"]) for row in one["weekly"]]
        assert data["weeks"][told["from_week"]] == one["weekly"][0]["week"]
        assert told["cost"] == one["cost"]
        assert told["revenue"][none] == of_money(one["revenue"])
        assert told["margin"][none] == of_money(one["margin"])
        mean, worst, sentence, cell, near = told["standing"][none]
        assert (mean, worst, near) == (
            one["expected"], one["worst_tenth"], one["not_clearly_worse"],
        )  # fmt: skip
        found = one["difference_to_best"]
        assert f"{abs(found['low_95']):,.0f}" in cell
        assert f"{abs(found['mean']):,.0f}\u00a0EUR" in sentence
        for number, row in enumerate(one["tilted"]):
            assert told["margin"][number] == of_money(row["margin"])
            assert told["revenue"][number] == of_money(row["revenue"])


def test_the_grid_leads_to_each_option() -> None:
    document = comparison()
    data = explore_data(document, Reader())
    sizes = [len(data["axes"][axis]) for axis in AXES]
    for number, one in enumerate(document["options"]):
        place = 0
        for axis, size in zip(AXES, sizes, strict=True):
            place = place * size + data["axes"][axis].index(one[axis])
        assert data["grid"][place] == number
    assert data["options"][data["best"][0]]["season"][1] == 643.5
    assert data["reference"] == 0


def test_us_units_change_fruit_and_heat_and_leave_money() -> None:
    document = comparison()
    data = explore_data(document, Reader("es", "us"))
    assert data["options"][0]["season"][1] == pytest.approx(640.5 / 453.59237)
    assert data["options"][0]["heat"][1] == pytest.approx(220.0 * 1.8)
    assert data["options"][0]["margin"][1] == of_money(document["options"][0]["margin"])
    assert data["words"]["row_season"].endswith("[lb por planta]")


def test_without_prices_the_page_judges_by_fruit_and_has_nothing_to_lean() -> None:
    html = to_html(explore_parts, comparison(money=False))
    data = data_in(html)
    assert data["judged"] == "fruit"
    assert data["tilts"] == [0.0]
    assert 'id="x-tilt"' not in html
    assert "No prices are stated" in html
    assert "EUR" not in html


@pytest.mark.parametrize("language", ["en", "es"])
def test_names_are_text_wherever_they_stand(language: str) -> None:
    html = to_html(explore_parts, comparison(), language=language)
    assert "<b>East" not in html
    assert '<script>alert("film")' not in html
    assert html.count("<script") == 2  # the data and the script
    assert html.count("</script>") == 2
    assert data_in(html)["axes"]["film"] == list(FILMS)


def test_the_same_document_gives_the_same_bytes() -> None:
    again = json.loads(json.dumps(comparison()))
    assert to_html(explore_parts, comparison()) == to_html(explore_parts, again)


def test_the_page_asks_for_nothing_from_outside() -> None:
    html = to_html(explore_parts, comparison())
    assert re.findall(r'(?:src|href)="', html) == []
    assert re.findall(r"https?://[^\"')\s]+", html) == ["http://www.w3.org/2000/svg"]
    assert "default-src 'none'" in unescape(html)


def test_every_sentence_that_the_script_asks_for_is_there() -> None:
    script = "\n".join((SCRIPTS / name).read_text(encoding="utf-8") for name in PARTS)
    asked = set(re.findall(r'(?:said|words)[.(]\[?"?(\w+)', script))
    asked |= set(re.findall(r'"(row_\w+|\w+_choice|answer\w*|not_clear|best_not_alone)"', script))
    words = set(explore_data(comparison(), Reader())["words"])
    names = {"key", "key_", "pick", "title", "judged", "replace", "kept", "sizes", "tilt"}
    assert asked - words - names == set()


def test_another_language_is_refused() -> None:
    with pytest.raises(InputError, match="en, es"):
        to_html(explore_parts, comparison(), language="fr")


def test_tilts_of_the_document_are_those_of_the_page() -> None:
    assert explore_data(comparison(), Reader())["tilts"] == list(TILTS)


def test_flags_notes_and_biases_reach_the_script_and_the_reader_without_it() -> None:
    made = comparison(films=("black", "silver"), block="East")
    named = ("planting_date", "film", "cultivar", "transplant")
    made["options"][3]["flags"] = ["date_too_early"]
    last, second = ({k: made["options"][row][k] for k in named} for row in (3, 2))
    changes = {"best": second, "best_on_edge": "latest", "highest_flagged": last}
    made |= {**changes, "biases": ["early_planting", "film"]}
    for tilt in made["price_tilt"]["tilts"]:
        tilt |= changes
    html = to_html(explore_parts, made)
    data = data_in(html)
    assert data["best"] == [2] * len(TILTS)
    assert data["none"] == ""
    assert "may be too early" in data["options"][3]["flags"]
    assert data["options"][2]["flags"] == ""
    assert "the latest of those compared" in data["notes"][data["no_tilt"]]
    assert "Not recommended, though its mean is higher" in data["notes"][0]
    assert "planting-date trials" in data["biases"]
    answer = html.partition("section.answer")[0] + html
    assert "the latest of those compared" in answer
    for one in made["options"]:
        one["flags"] = ["date_too_early"]
    made |= {"best": None, "best_on_edge": None}
    for tilt in made["price_tilt"]["tilts"]:
        tilt |= {"best": None, "best_on_edge": None}
    none = data_in(to_html(explore_parts, made))
    assert none["words"]["best_choice"] == "Highest mean, flagged"
    assert none["none"].startswith("No option can be recommended")
    assert none["notes"][0] == ""
