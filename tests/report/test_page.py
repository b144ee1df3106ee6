"""The frame of a page: order, escaping, nothing from outside, scripts only by fingerprint."""

from __future__ import annotations

import base64
import hashlib
import re

import pytest

from phenocast.report.figures.canvas import draw
from phenocast.report.parts import Bullets, Engine, Figure, Folded, Page, Section, Table
from phenocast.report.reader import Reader
from phenocast.report.render import to_html

NASTY = (
    "<script>alert(1)</script>",
    "\"quotes\" & 'quotes'",
    "شمال‮evil",
    "🍓 north",
    "x" * 300,
    "$a_b$ {{ 7 * 7 }} {date}",
)


def painted(words: str) -> str:
    def paint(figure):
        axes = figure.add_axes((0.1, 0.1, 0.8, 0.8))
        axes.plot([0, 1], [1, 2], marker="o")
        axes.set_title(words)

    return draw("one", paint, title=words, alt=words)


def page_of(name: str, reader: Reader, script: str = "") -> Page:
    shown = reader.name(name, 400)
    table = Table(shown, [shown, "n"], [[shown, "1"]], "<>")
    figure = Figure(lambda: painted(shown), shown, table, shown)
    return Page(
        kind="forecast", title=shown, place=shown, issue_date="2026-10-31",
        summary=[shown, "And so on."], uncertainty=[shown, Bullets([shown, Engine(name)])],
        sensitivity=["This."], next_steps=["That."], cautions=[Engine(name)],
        assumed=[Folded(shown, [table])], sections=[Section(shown, [figure])],
        terms=["crown", "crown"], sources=[shown], script=script, data={"name": name},
    )  # fmt: skip


def html_of(name: str, language: str = "en", script: str = "") -> str:
    return to_html(lambda _, reader: page_of(name, reader, script), {}, language=language)


@pytest.mark.parametrize("name", NASTY)
def test_a_name_stays_text_wherever_it_stands(name: str) -> None:
    html = html_of(name, script="let a = 1;")
    scripts = re.findall(r"<script[^>]*>", html)
    assert scripts == ['<script type="application/json" id="page-data">', "<script>"]
    assert "alert(1)</script>" not in html
    assert "49 {" not in html
    if name.startswith("x"):
        assert "x" * 300 in html
    assert "\u202e" not in html[: html.index("page-data")]


def test_parts_come_in_the_order_in_which_a_page_is_read() -> None:
    html = html_of("North")
    heads = ["The answer", "How sure it is", "What would change it", "What to do next",
             "Cautions, and what was assumed", "part-1", "Words used here",
             "Where these numbers come from"]  # fmt: skip
    places = [html.index(f">{head}<") if head[0].isupper() else html.index(head) for head in heads]
    assert places == sorted(places)
    assert html.count("<h1") == 1
    assert "31 October 2026" in html


def test_nothing_comes_from_outside() -> None:
    html = html_of("North")
    assert "http" not in html.replace("http-equiv", "")
    assert "url(" not in html
    assert "@import" not in html
    assert all(target.startswith("#") for target in re.findall(r'(?:src|href)="([^"]*)"', html))
    assert "default-src &#39;none&#39;" in html


def test_a_script_runs_only_under_its_fingerprint() -> None:
    script = 'document.title = "a < b";\n\n'
    html = html_of("North", script=script)
    assert f"<script>{script}</script>" in html
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"script-src &#39;sha256-{digest}&#39;" in html.replace("&#43;", "+")
    assert "script-src" not in html_of("North")


def test_the_same_page_is_the_same_bytes() -> None:
    assert html_of("North") == html_of("North")


def test_a_spanish_page_says_that_cautions_are_in_english() -> None:
    html = html_of("North", "es")
    assert '<html lang="es">' in html
    assert '<span lang="en">North</span>' in html
    assert "advertencias en inglés" in html
    assert "tells its cautions in English" not in html_of("North")


def test_identifiers_are_used_once() -> None:
    names = re.findall(r'\bid="([^"]*)"', html_of("North"))
    assert len(names) == len(set(names)) > 5


def test_a_drawing_has_a_title_and_a_description_and_no_formula() -> None:
    svg = painted("$a_b$ & <c>")
    assert '<title id="one-title">$a_b$ &amp; &lt;c&gt;</title>' in svg
    assert '<desc id="one-alt">' in svg
    assert svg.count("$a_b$ &amp; &lt;c&gt;") == 3
    assert "#" not in re.sub(r'href="#one-\d+"', "", svg).replace("&#", "")


def test_a_colour_outside_the_palette_is_refused() -> None:
    def paint(figure):
        figure.add_axes((0.1, 0.1, 0.8, 0.8)).plot([0, 1], [1, 2], color="#ff0000")

    with pytest.raises(ValueError, match="not of the palette"):
        draw("one", paint, title="t", alt="a")


def test_a_table_with_ragged_rows_is_refused() -> None:
    with pytest.raises(ValueError, match="rows of"):
        Table("t", ["a", "b"], [["1"]], "<>")
