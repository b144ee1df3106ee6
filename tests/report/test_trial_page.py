"""The page of a trial: numbers of its document only, what differs in words, names as text."""

from __future__ import annotations

import copy
from pathlib import Path

import pytest

from phenocast.cli.commands.trial import answer
from phenocast.io import template
from phenocast.report.render import to_html
from phenocast.report.trial import trial_parts
from tests.report.reading import WAYS, faults_of, numbers_allowed, numbers_on, page, read

COLUMNS = ("marketable_g_per_plant", "replicate", "film", "cultivar", False)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("trial")


@pytest.fixture(scope="module")
def document(folder: Path):
    """The trial of the starter file."""
    (folder / "trial.csv").write_text(template("trial"), encoding="utf-8")
    return answer(folder / "trial.csv", *COLUMNS).document


@pytest.fixture(scope="module")
def unbalanced(folder: Path, document):
    """The same trial in two seasons, one of them with plots missing."""
    lines = (folder / "trial.csv").read_text(encoding="utf-8").splitlines()
    rows = [line for line in lines if line.startswith("2026")]
    lost = [row.replace("2026", "2027") for row in rows[:5] + rows[7:]]
    text = "\n".join([*lines, *lost]) + "\n"
    (folder / "two.csv").write_text(text, encoding="utf-8")
    made = answer(folder / "two.csv", *COLUMNS).document
    assert len(made["trials"]) == 2
    assert len(document["trials"]) == 1
    return made


def words_of(html: str) -> str:
    return " ".join(" ".join(read(html).words).split()).replace("\u00a0", " ")


@pytest.mark.parametrize(("language", "units"), WAYS)
@pytest.mark.parametrize("which", ["document", "unbalanced"])
def test_every_number_on_the_page_is_in_the_document(which, language, units, request) -> None:
    told = request.getfixturevalue(which)
    html = to_html(trial_parts, told, language=language, units=units)
    assert html == to_html(trial_parts, copy.deepcopy(told), language=language, units=units)
    bound = {"0.001", "0,001"}  # "p below"
    plots = {f"{t['plots'] - t['missing_plots']}" for t in told["trials"]}
    assert numbers_on(html) - numbers_allowed(told, language, units) - bound - plots == set()
    assert len(numbers_on(html)) > 100
    assert faults_of(html) == []


def test_the_answer_tells_the_largest_difference_the_right_way_round(document) -> None:
    words = words_of(page(trial_parts, document))
    answer = words[words.index("The answer") : words.index("How sure it is")]
    pairs = [
        one for one in document["trials"][0]["differences"]
        if one["between"] == "whole within sub" and one["told_apart"]
    ]  # fmt: skip
    top = max(pairs, key=lambda one: abs(one["estimate"]))
    means = {
        (c["whole"], c["sub"]): c["mean"] for c in document["trials"][0]["means"]["cells"]
    }  # fmt: skip
    more, less = sorted((top["first"], top["second"]), key=lambda one: -means[one, top["at"]])
    assert f"{more} above {less} ({top['at']}) by {abs(top['estimate']):.1f}" in answer
    assert "depends on cultivar" in answer


def test_each_comparison_stands_with_its_own_error(document) -> None:
    words = words_of(page(trial_parts, document))
    for one in document["trials"][0]["standard_errors"]:
        assert f"{one['value']:.2f} {one['df']:.1f}" in words
    for line in document["trials"][0]["table"]:
        if line["error"]:
            assert f"{line['f']:.2f} on {line['df']:g} and {line['error_df']:g} degrees" in words


def test_missing_plots_and_several_seasons_are_told(unbalanced) -> None:
    words = words_of(to_html(trial_parts, unbalanced))
    assert "season 2027, Low Quay: 2 of 36 plots are missing" in words
    assert "adjusted for the missing plots" in words
    assert "no sums of squares" in words
    assert "nothing here says whether an effect is the same in all of them" in words
    assert words.count("The largest difference:") == 2


def test_a_trial_that_shows_nothing_says_so_and_no_more(document) -> None:
    made = copy.deepcopy(document)
    trial = made["trials"][0]
    trial["compared"] = ["whole", "sub"]
    for line in trial["table"]:
        if line["p"] is not None:
            line["p"] = 0.41
    for pair in trial["differences"]:
        pair["told_apart"] = False
    words = words_of(to_html(trial_parts, made))
    assert "which does not show that there is none" in words
    assert "No two of its levels are significantly different." in words
    assert "The largest difference" not in words


def test_names_are_text(document, nasty) -> None:
    made = copy.deepcopy(document)
    made |= {"file": nasty, "response": nasty, "warnings": [nasty]}
    trial = made["trials"][0]
    trial["site"] = nasty
    old = trial["means"]["whole"][0]["level"]
    trial["means"]["whole"][0]["level"] = nasty
    for cell in trial["means"]["cells"]:
        cell["whole"] = nasty if cell["whole"] == old else cell["whole"]
    html = to_html(trial_parts, made)
    assert faults_of(html) == []
    assert "<script" not in html
    assert "\u202e" not in html.split("</header>")[0]
