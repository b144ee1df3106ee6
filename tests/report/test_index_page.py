"""The page that opens a folder: it links the files beside it and nothing else."""

from __future__ import annotations

import re
from functools import partial

import pytest

from phenocast.cli.commands.demo import LINKED, PAGES
from phenocast.report.forecast import forecast_summary
from phenocast.report.index import index_parts
from phenocast.report.parts import Link
from phenocast.report.reader import Reader
from phenocast.report.render import to_html
from tests.report.reading import numbers_allowed, numbers_on, read

PARTS = partial(index_parts, files=LINKED)


@pytest.mark.parametrize("language", ["en", "es"])
def test_it_links_every_page_and_file_of_the_demo(forecast_document, language) -> None:
    html = to_html(PARTS, forecast_document, language=language)
    linked = [value for tag, attributes in read(html).tags if tag == "a"
              for value in [attributes["href"]]]  # fmt: skip
    assert linked == [name for name, _ in LINKED]
    assert set(linked) | {"index.html"} == set(PAGES)
    assert not re.search(r"https?:|url\(|<script", html.replace("http-equiv", ""))
    assert numbers_on(html) - numbers_allowed(forecast_document, language, "metric") == set()


def test_it_answers_as_the_page_of_the_forecast_does(forecast_document) -> None:
    html = to_html(PARTS, forecast_document)
    assert all(sentence in html for sentence in forecast_summary(forecast_document, Reader()))


@pytest.mark.parametrize("file", ["../up.html", "https://x.org/a", "//x", "mailto:a", "a b", ""])
def test_a_link_that_leaves_the_folder_is_refused(file) -> None:
    with pytest.raises(ValueError, match="beside the page"):
        Link(file, "title", "meaning")
