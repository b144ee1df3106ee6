"""The page of a comparison, from its document alone."""

import copy
import json
import re

import pytest
from click.testing import CliRunner

from phenocast.cli.group import cli
from phenocast.parameters import shipped
from phenocast.report.compare import compare_parts
from phenocast.report.text import to_text


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


def tables(text):
    """Rows of fruit and of worth, by their number, those apart from the others with them."""
    found = {"Fruit": {}, "Worth": {}}
    kind = None
    for line in text.partition("\nCautions")[0].splitlines():
        head = re.match(r"(?:Flagged, not recommended: )?(Fruit|Worth)\b", line)
        kind = head[1] if head else kind
        if kind and re.match(r" *\d+ +\d", line):
            found[kind][int(line.split()[0])] = line
    return found["Fruit"], found["Worth"]


def ranking(document):
    return sorted(document["options"], key=lambda one: (bool(one["flags"]), -one["expected"]))


def test_every_row_tells_the_option_its_spread_and_its_money(document):
    text = to_text(compare_parts, document)
    assert max(map(len, text.splitlines())) <= 100
    ranked = ranking(document)
    assert len(ranked) == 32
    fruit, worth = tables(text)
    assert sorted(fruit) == sorted(worth)
    assert len(fruit) >= 25
    for number, row in fruit.items():
        one = ranked[number - 1]
        for name in ("planting_date", "film", "cultivar", "transplant"):
            assert one[name] in row
        assert one["first_pick"]["week"] in row
        assert re.search(r"\(\d\d-\d\d\)", row)
    for number, row in worth.items():
        one = ranked[number - 1]
        cells = re.sub(r"[()]|to|[*~!]", " ", row).split()[1:]
        wanted = [
            one["revenue"]["mean"], one["cost"], one["expected"],
            *(one["margin"][k] for k in ("p10", "p50", "p90")), one["worst_tenth"], one["regret"],
        ]  # fmt: skip
        if number > 1:
            wanted += [one["difference_to_best"][k] for k in ("mean", "low_95", "high_95")]
        assert [float(c) for c in cells] == pytest.approx(wanted, abs=0.51)
        assert one["margin"]["mean"] == pytest.approx(one["expected"], abs=0.51)


def test_the_answer_names_what_nothing_dominates_and_what_is_not_clearly_worse(document):
    told = flat(to_text(compare_parts, document))
    best = ranking(document)[0]
    assert {name: best[name] for name in document["best"]} == document["best"]
    assert f"Best on average: {best['cultivar']} ({best['transplant']}) planted" in told
    for flag, words in (
        ("undominated", r"worst tenth: no\. ([\d, -]+) \(marked \*\)"),
        ("not_clearly_worse", r"worse than no\. 1: no\. ([\d, -]+) \(marked ~\)"),
    ):
        named = set()
        for part in re.search(words, told)[1].split(", "):
            first, _, last = part.partition("-")
            named |= set(range(int(first), int(last or first) + 1))
        wanted = {n for n, one in enumerate(ranking(document), 1) if one[flag] and not one["flags"]}
        assert named == (wanted if flag == "undominated" else wanted - {1})
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
    trusted, _, apart = text.partition("Flagged, not recommended: Fruit")
    assert "2026-09-12" not in trusted.partition("\nFruit")[2]
    assert apart.count("2026-09-12") >= 8


def test_no_option_is_recommended_where_all_are_flagged(document):
    told = copy.deepcopy(document)
    told["options"] = [one for one in told["options"] if one["flags"]]
    reference = {name: told["options"][0][name] for name in document["best"]}
    told |= {"best": None, "best_on_edge": None, "reference": reference}
    text = flat(to_text(compare_parts, told))
    assert "No option can be recommended, because the engine flags every one of them" in text
    assert "Best on average" not in text
    assert "No. 1 has" not in text


def test_what_is_the_same_for_all_is_said_once(document):
    told = copy.deepcopy(document)
    kept = [one for one in told["options"]
            if (one["cultivar"], one["transplant"]) == ("Marl", "bare-root")]  # fmt: skip
    told["options"], told["reference"] = kept, {k: kept[0][k] for k in document["reference"]}
    told["best"] = {k: ranking(told)[0][k] for k in document["best"]}
    told["highest_flagged"] = None  # it may have been one that was left out
    text = to_text(compare_parts, told)
    assert "all options: cultivar Marl, transplant bare-root" in text
    assert " Marl " not in " ".join(tables(text)[0].values())


def test_large_amounts_are_in_thousands_and_still_fit(document):
    told = copy.deepcopy(document)
    for one in told["options"]:
        for key in ("revenue", "margin"):
            one[key] = {level: 1e4 * value for level, value in one[key].items()}
        for key in ("cost", "expected", "worst_tenth", "regret"):
            one[key] *= 1e4
        found = one["difference_to_best"]
        one["difference_to_best"] = {name: 1e4 * value for name, value in found.items()}
    text = to_text(compare_parts, told)
    assert "Worth (1000000 EUR)" in text
    assert max(map(len, text.splitlines())) <= 100


def test_an_early_planting_is_warned_of_by_its_number(document):
    told = flat(to_text(compare_parts, document))
    found = re.search(r"no\. ([\d, -]+): planted before a nursery", told)
    ranked = ranking(document)
    first = int(re.split(r"[,-]", found[1])[0])
    assert ranked[first - 1]["planting_date"] == "2026-09-12"


def test_one_possible_season_and_no_prices_and_never(document):
    told = copy.deepcopy(document)
    told["currency"] = None
    told["judged_by"] = "season fruit, g per plant"
    for one in told["options"]:
        for key in ("revenue", "cost", "margin"):
            del one[key]
        one["difference_to_best"] |= {"standard_error": None, "low_95": None, "high_95": None}
    told["options"][0]["first_pick"] |= {"week": None, "p10": None, "p90": None}
    text = to_text(compare_parts, told)
    assert "There is one weather year" in text
    assert re.search(r"No first pick by [\d-]{10} in the median season: no. \d+\.", flat(text))
    assert " to " not in " ".join(tables(text)[1].values())
    assert "Worth (season fruit, g per plant)" in text
    assert "revenue" not in text
    assert max(map(len, text.splitlines())) <= 100
