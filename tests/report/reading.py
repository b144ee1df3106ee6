"""How the tests read a page: its words, the numbers on it, and the numbers a document allows."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from datetime import date
from functools import cache
from html.parser import HTMLParser
from typing import Any

import numpy as np
import pytest

from phenocast.report.reader import FORMATS, MEASURES, texts, week_days
from phenocast.report.render import to_html
from phenocast.units import convert

# Both languages and both systems of units in two pages; the other two with the slow tests.
WAYS = [
    ("en", "metric"), ("es", "us"), pytest.param("en", "us", marks=pytest.mark.slow),
    pytest.param("es", "metric", marks=pytest.mark.slow),
]  # fmt: skip

# A number as either language writes it: groups of digits with marks between them.
NUMBER = re.compile(r"\d(?:[\d.,\u00a0]*\d)?")
ISO_DAY = re.compile(r"^\d{4}-\d\d-\d\d")
ISO_WEEK = re.compile(r"^(\d{4})-W(\d\d)$")


@cache
def _page(parts: Any, document: str, options: tuple[tuple[str, str], ...]) -> str:
    return to_html(parts, json.loads(document), **dict(options))


def page(parts: Any, document: Mapping[str, Any], **options: str) -> str:
    """Page of a document, made once for all tests that read it unchanged."""
    return _page(parts, json.dumps(document), tuple(sorted(options.items())))


class _Reader(HTMLParser):
    """Words of a page without style and scripts, and without the scales of its drawings."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self._inside: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in {"meta", "use", "path", "br", "input"}:
            self._inside.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        while self._inside and self._inside.pop() != tag:
            pass

    def handle_data(self, data: str) -> None:
        if not {"style", "script", "text"} & set(self._inside):
            self.words.append(data)


def read(html: str) -> _Reader:
    """Words and tags of a page; the letters that part names from their sentence are left out."""
    reader = _Reader()
    reader.feed(html)
    reader.words = [re.sub("[\u2068\u2069]", "", word) for word in reader.words]
    return reader


def numbers_on(html: str) -> set[str]:
    """Every number in the words of a page; drawn scales are left out, alt texts are not."""
    return {found for word in read(html).words for found in NUMBER.findall(word)}


def numbers_allowed(document: Mapping[str, Any], language: str, units: str) -> set[str]:
    """Every number that a page of a document may show.

    Values with none to three decimals, in their own and in the other units, and as percent; days,
    years, weeks and the days of weeks; counts of lists; what stands in texts of the document and
    in the fixed words of the language.
    """
    form = FORMATS[language]
    allowed = {found for text in texts(language).values() for found in NUMBER.findall(text)}
    allowed |= {"30", "86"}  # the cut-off, which names the keys of the document
    values = set(_values(document))
    for text in {value for value in values if isinstance(value, str)}:
        allowed |= _of_text(text)
    numbers = np.array(sorted(value for value in values if isinstance(value, float)))
    allowed |= {f"{value:.6g}".replace(".", form.decimal) for value in numbers}
    allowed |= {f"{100.0 * value:.0f}" for value in numbers}
    own = {numbers.tobytes(): numbers}
    for measure in MEASURES.values():
        turned = convert(numbers, measure.inside, measure.unit(units))
        own[turned.tobytes()] = turned
    return allowed | {
        form.number(abs(one), digits)
        for shown in own.values()
        for one in shown.tolist()
        for digits in range(4)
    }


def _of_text(text: str) -> set[str]:
    found = set(NUMBER.findall(text))
    week = ISO_WEEK.match(text)
    if week:
        days = week_days(text)
        found |= {str(int(week[2])), week[1], *(str(day.day) for day in days)}
    elif ISO_DAY.match(text):
        day = date.fromisoformat(text[:10])
        found |= {str(day.day), str(day.year), str(day.isocalendar().week)}
    return found


def _values(value: Any) -> Iterator[Any]:
    if isinstance(value, Mapping):
        for key, item in value.items():
            yield str(key)
            yield from _values(item)
    elif isinstance(value, list | tuple):
        yield float(len(value))
        for item in value:
            yield from _values(item)
    elif isinstance(value, str):
        yield value
    elif value is not None and not isinstance(value, bool):
        yield float(value)


def faults_of(html: str) -> list[str]:
    """What a page must not have, and what it lacks; empty for a sound page."""
    page = read(html)
    faults = []
    for tag, attributes in page.tags:
        for name, value in attributes.items():
            target = value or ""
            if name in {"src", "href", "action", "data", "poster"} and not target.startswith("#"):
                faults.append(f"<{tag}> asks for {target}")
            if name.startswith("on"):
                faults.append(f"<{tag}> runs {name}")
    if "url(" in html or "@import" in html:
        faults.append("a style asks for something")
    names = [attributes["id"] for _, attributes in page.tags if "id" in attributes]
    faults += [f"id {name} is used twice" for name in {n for n in names if names.count(n) > 1}]
    drawings = html.count("<svg")
    for part, wanted in (("<title id", 1), ("<desc id", 1), ('role="img"', 1)):
        if html.count(part) < drawings * wanted:
            faults.append(f"a drawing lacks {part}")
    for figure in html.split("<figure")[1:]:
        inner = figure.split("</figure>")[0]
        if "<table>" not in inner or "<details>" not in inner or "<figcaption>" not in inner:
            faults.append("a figure lacks its table or caption")
        if not re.search(r"<desc id=\"[^\"]+\">[^<]{20,}</desc>", inner):
            faults.append("a figure lacks words for those who do not see it")
    heads = [int(tag[1]) for tag, _ in page.tags if re.fullmatch(r"h[1-6]", tag)]
    if heads.count(1) != 1 or heads[:1] != [1]:
        faults.append(f"headings {heads}")
    return faults
