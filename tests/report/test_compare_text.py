"""The page of a comparison, from its document alone."""

import copy
import json
import re

import pytest
from click.testing import CliRunner

from phenocast.cli.group import cli
from phenocast.parameters import shipped
from phenocast.report.compare_text import compare_text


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
    """Rows of the two tables, by their number."""
    halves = text.partition("\nCautions")[0].partition("\nFruit")[2].partition("\nWorth (")
    return [
        {int(line.split()[0]): line for line in half.splitlines() if re.match(r" *\d+ +\d", line)}
        for half in (halves[0], halves[2])
    ]


def test_every_row_tells_the_option_its_spread_and_its_money(document):
    text = compare_text(document)
    assert max(map(len, text.splitlines())) <= 100
    ranked = sorted(document["options"], key=lambda one: -one["expected"])
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
        cells = row.replace("+-", " ").replace("%", " ").split()[1:]
        wanted = [
            one["revenue"]["p50"], one["cost"], *(one["margin"][k] for k in ("p10", "p50", "p90")),
            one["expected"], one["worst_tenth"], 100 * one["beats_reference_probability"],
            one["regret"], one["behind_best"]["mean"],
        ]  # fmt: skip
        assert [float(c) for c in cells[:10]] == pytest.approx(wanted, abs=0.51)


def test_the_answer_names_what_nothing_dominates_and_what_is_in_the_noise(document):
    told = flat(compare_text(document))
    best, reference = document["best"], document["reference"]
    assert f"no. 1, planted {best['planting_date']} on {best['film']}" in told
    assert f"planted {reference['planting_date']} on {reference['film']}" in told
    ranked = sorted(document["options"], key=lambda one: -one["expected"])
    for flag, words in (
        ("undominated", r"worst tenth: no\. ([\d, -]+) \(marked \*\)"),
        ("mean_not_told_from_best", r"by the mean \(marked ~\): no\. ([\d, -]+)\."),
        ("not_clearly_beaten", r"by single seasons \(marked =\): no\. ([\d, -]+)\."),
    ):
        named = set()
        for part in re.search(words, told)[1].split(", "):
            first, _, last = part.partition("-")
            named |= set(range(int(first), int(last or first) + 1))
        wanted = {n for n, one in enumerate(ranked, 1) if one[flag]}
        assert named == (wanted if flag == "undominated" else wanted - {1})


def test_what_is_the_same_for_all_is_said_once(document):
    told = copy.deepcopy(document)
    kept = [one for one in told["options"]
            if (one["cultivar"], one["transplant"]) == ("Marl", "bare-root")]  # fmt: skip
    told["options"], told["reference"] = kept, {k: kept[0][k] for k in document["reference"]}
    text = compare_text(told)
    assert "all options: cultivar Marl, transplant bare-root" in text
    assert " Marl " not in " ".join(tables(text)[0].values())


def test_large_amounts_are_in_thousands_and_still_fit(document):
    told = copy.deepcopy(document)
    for one in told["options"]:
        for key in ("revenue", "margin"):
            one[key] = {level: 1e4 * value for level, value in one[key].items()}
        for key in ("cost", "expected", "worst_tenth", "regret"):
            one[key] *= 1e4
        one["behind_best"] = {name: 1e4 * value for name, value in one["behind_best"].items()}
    text = compare_text(told)
    assert "Worth (1000000 EUR)" in text
    assert max(map(len, text.splitlines())) <= 100


def test_an_early_planting_is_warned_of_by_its_number(document):
    told = flat(compare_text(document))
    found = re.search(r"no\. ([\d, -]+): planted before a nursery", told)
    ranked = sorted(document["options"], key=lambda one: -one["expected"])
    first = int(re.split(r"[,-]", found[1])[0])
    assert ranked[first - 1]["planting_date"] == "2026-09-12"


def test_one_possible_season_and_no_prices_and_never(document):
    told = copy.deepcopy(document)
    told["currency"] = None
    told["judged_by"] = "season fruit, g per plant"
    for one in told["options"]:
        for key in ("revenue", "cost", "margin"):
            del one[key]
        one["behind_best"] |= {"standard_error": None, "margin_95": None}
    told["options"][0]["first_pick"] |= {"week": None, "p10": None, "p90": None}
    text = compare_text(told)
    assert "one possible season" in text
    assert re.search(r"No first pick by [\d-]{10} in the median season: no. \d+\.", flat(text))
    assert "+-" not in text
    assert "Worth (season fruit, g per plant)" in text
    assert "revenue" not in text
    assert max(map(len, text.splitlines())) <= 100
