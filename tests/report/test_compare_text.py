"""The page of a comparison, from its document alone."""

import copy
import json
import re
from datetime import date

import pytest
from click.testing import CliRunner

from phenocast.cli.group import cli
from phenocast.parameters import shipped
from phenocast.report.compare import compare_parts
from phenocast.report.render import to_text


@pytest.fixture(scope="module")
def document():
    done = CliRunner().invoke(
        cli,
        ["compare", str(shipped("demo_weather", "low_quay.toml")), "--plant-from", "2026-09-12",
         "--plant-to", "2026-10-18", "--every", "12", "--films", "black,metallised-striped",
         "--cultivars", "Marl,Gneiss", "--transplants", "bare-root,conditioned-plug", "--draws",
         "5", "--json"],
    )  # fmt: skip
    assert done.exit_code == 0, done.stderr
    return json.loads(done.stdout)


def flat(text):
    return " ".join(text.split())


def rows(text, title):
    """Cells of a table of options by their number, its parts joined."""
    part = (
        text[text.index(title) :].partition("\n\n  Flagged")[0].partition("\n\nWhat the money")[0]
    )
    found = {}
    for number, rest in re.findall(r"^  (\d+) {2,}(\S.*)$", part, re.MULTILINE):
        found[int(number)] = f"{found.get(int(number), '')} {rest}"
    return found


def ranking(document):
    return sorted(document["options"], key=lambda one: (bool(one["flags"]), -one["expected"]))


def test_every_row_tells_the_option_its_spread_and_its_money(document):
    text = to_text(compare_parts, document)
    assert max(map(len, text.splitlines())) <= 100
    ranked = ranking(document)
    assert len(ranked) == 32
    trusted = [one for one in ranked if not one["flags"]]
    shown = rows(text, "The options one by one")
    assert list(shown) == list(range(1, len(trusted) + 1))
    for number, row in shown.items():
        one = ranked[number - 1]
        assert f"{date.fromisoformat(one['planting_date']).day} " in row
        assert one["film"] in row
        for value in (one["expected"], one["worst_tenth"], one["regret"]):
            assert f"{value:,.0f}" in row
        if number > 1:
            found = one["difference_to_best"]
            told = [f"{found[k]:,.0f}" for k in ("mean", "low_95", "high_95")]
            assert f"{told[0]} ({told[1]} to {told[2]})" in row
        assert ("not clearly worse" in row) == (one["not_clearly_worse"] and number > 1)
        assert ("undominated" in row) == one["undominated"]


def test_the_answer_names_the_best_and_how_options_are_told_apart(document):
    told = flat(to_text(compare_parts, document))
    best = ranking(document)[0]
    assert {name: best[name] for name in document["best"]} == document["best"]
    assert f"Best on average: {best['cultivar']} ({best['transplant']}) planted" in told
    assert "Differences to the best are paired" in told


def test_a_flagged_option_is_shown_apart_and_never_named_best(document):
    # The earliest date has the higher mean, and the engine says of it that it may be too early.
    text = to_text(compare_parts, document)
    highest = max(document["options"], key=lambda one: one["expected"])
    assert highest["flags"] == ["date_too_early"]
    assert document["highest_flagged"]["planting_date"] == "2026-09-12"
    assert document["best"]["planting_date"] == "2026-09-24"
    assert document["best_on_edge"] == "earliest_flagged"
    told = flat(text)
    assert "It carries a flag: the planting date may be too early" in told
    assert "Its planting date is the earliest of those without a flag" in told
    assert "about ten times as large as the model does" in told  # dates differ
    assert "less here than common practice reports" in told  # films differ
    trusted = rows(text, "The options one by one")
    assert not any("12 Sep" in row for row in trusted.values())
    assert text[text.index("Flagged by the engine, not recommended") :].count("12 Sep") >= 8


def test_no_option_is_recommended_where_all_are_flagged(document):
    told = copy.deepcopy(document)
    told["options"] = [one for one in told["options"] if one["flags"]]
    reference = {name: told["options"][0][name] for name in document["best"]}
    told |= {"best": None, "best_on_edge": None, "reference": reference}
    text = flat(to_text(compare_parts, told))
    assert "No option can be recommended, because the engine flags every one of them" in text
    assert "Best on average" not in text


def test_large_amounts_still_fit(document):
    told = copy.deepcopy(document)
    for one in told["options"]:
        for key in ("revenue", "margin"):
            one[key] = {level: 1e4 * value for level, value in one[key].items()}
        for key in ("cost", "expected", "worst_tenth", "regret"):
            one[key] *= 1e4
        found = one["difference_to_best"]
        one["difference_to_best"] = {name: 1e4 * value for name, value in found.items()}
    text = to_text(compare_parts, told)
    assert max(map(len, text.splitlines())) <= 100


def test_an_early_planting_is_warned_of_by_its_number(document):
    told = flat(to_text(compare_parts, document))
    found = re.search(r"no\. ([\d, -]+): planted before a nursery", told)
    ranked = ranking(document)
    first = int(re.split(r"[,-]", found[1])[0])
    assert ranked[first - 1]["planting_date"] == "2026-09-12"


def test_one_weather_year_and_no_prices_and_never(document):
    told = copy.deepcopy(document)
    told["currency"] = None
    told["judged_by"] = "season fruit, g per plant"
    for one in told["options"]:
        for key in ("revenue", "cost", "margin"):
            del one[key]
        one["difference_to_best"] |= {"standard_error": None, "low_95": None, "high_95": None}
    ranking(told)[0]["first_pick"] |= {"week": None, "median": None, "p10": None, "p90": None}
    text = to_text(compare_parts, told)
    assert "There is one weather year" in text
    assert "not reached" in rows(text, "The options one by one")[1]
    assert "Revenue" not in text
    assert max(map(len, text.splitlines())) <= 100
