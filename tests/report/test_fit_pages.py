"""Pages of fits to picks and to sensors: numbers of their documents, names as text."""

from __future__ import annotations

import copy

import pytest

from phenocast.report.fit import fit_parts
from phenocast.report.reader import FORMATS
from phenocast.report.render import to_html
from phenocast.report.sensors import sensor_parts
from tests.report.reading import WAYS, faults_of, numbers_allowed, numbers_on, read


@pytest.fixture(scope="module")
def sensors(answer) -> dict:
    """The demo's readings of sensors, and what was not used of them."""
    made = answer("film")
    told = made.document("sensors.json")
    assert made.text("report.html") == to_html(sensor_parts, told, language="es")
    told["not_used"] = [{"block": "Tunnel", "rows": 24, "reason": "readings under a row cover"}]
    return told


@pytest.fixture(scope="module")
def picks(answer) -> dict:
    """The demo's picks of two seasons."""
    made = answer("fit")
    told = made.document("fit.json")
    assert made.text("report.html") == to_html(fit_parts, told)
    return told


def in_three_digits(value, language: str) -> set[str]:
    """Every number below a value of a document in three digits, as the tables show them."""
    if isinstance(value, dict):
        return set().union(*(in_three_digits(one, language) for one in value.values()), set())
    if isinstance(value, list):
        return set().union(*(in_three_digits(one, language) for one in value), set())
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return set()
    text = f"{float(f'{abs(value):.3g}'):.6g}"
    form = FORMATS[language]
    return {text.replace(".", form.decimal), *text.replace("e-", " ").split()}


@pytest.mark.parametrize(("language", "units"), WAYS)
@pytest.mark.parametrize(("which", "make"), [("sensors", sensor_parts), ("picks", fit_parts)])
def test_every_number_on_the_page_is_in_the_document(which, make, language, units, request):
    told = request.getfixturevalue(which)
    html = to_html(make, told, language=language, units=units)
    allowed = numbers_allowed(told, language, units) | in_three_digits(told, language)
    if which == "picks":
        every = [one["contraction"] for c in told["cultivars"] for one in c["parameters"]]
        allowed |= {f"{sum(one < 0.5 for one in every)}", f"{len(every)}"}
    else:
        numbers = told["blocks"][0]["parameters"]
        allowed |= {f"{len(numbers)}"}
        allowed |= {f"{sum(n['fitted_sd'] <= 0.9 * n['prior_sd'] for n in numbers)}"}
    assert numbers_on(html) - allowed == set()
    assert len(numbers_on(html)) > 40
    assert faults_of(html) == []


@pytest.mark.parametrize("name", ["<script>alert(1)</script>", "'quotes\"", "🍓", "x" * 300])
@pytest.mark.parametrize(("which", "make"), [("sensors", sensor_parts), ("picks", fit_parts)])
def test_names_are_text_and_the_bytes_are_the_same(which, make, name, request):
    told = copy.deepcopy(request.getfixturevalue(which))
    if which == "sensors":
        told["blocks"][0]["block"] = told["source"] = name
    else:
        told["cultivars"][0]["cultivar"] = told["records_file"] = name
    html = to_html(make, told)
    assert html == to_html(make, copy.deepcopy(told))
    assert "<script>alert" not in html
    assert name[:40] in " ".join(read(html).words)
    assert faults_of(html) == []


def test_a_bed_that_the_model_does_not_fit_is_told(sensors):
    told = copy.deepcopy(sensors)
    told["blocks"][0]["parameters"][0]["at_bound"] = True
    told["blocks"][0]["converged"] = False
    words = " ".join(read(to_html(sensor_parts, told)).words)
    assert "ended at a bound" in words
    assert "has not converged" in words
    told["blocks"][0]["errors_on_days_held_out"] = None
    words = " ".join(read(to_html(sensor_parts, told)).words)
    assert "nothing is known of the error on other days" in words


def test_records_that_cannot_rank_say_so_first(picks):
    told = copy.deepcopy(picks)
    told["identifiability"] |= {
        "rankable": False, "why_not": ["one film only"],
        "records_that_would_settle_it": ["picks from a reflective film"],
    }  # fmt: skip
    words = " ".join(read(to_html(fit_parts, told)).words)
    assert "cannot rank cultivars by heat" in words[: words.index("How sure it is")]
    assert "picks from a reflective film" in words


def test_the_page_of_a_fit_leaves_the_ranking_to_rank(picks):
    told = copy.deepcopy(picks)
    for turn, one in enumerate(told["cultivars"]):
        own = next(n for n in one["parameters"] if n["name"] != "heat_sensitivity")
        one["parameters"].append({**own, "name": "heat_sensitivity", "value": 1.0 - 0.1 * turn})
    names = [one["cultivar"] for one in told["cultivars"]]
    html = to_html(fit_parts, told)
    assert "least sensitive" not in html
    assert html.count("phenocast rank") >= 2
    # cultivars stand in the order of the document, not of one parameter
    table = html[html.rindex("one parameter of several") :]
    places = [table.index(name) for name in names]
    assert places == sorted(places)
