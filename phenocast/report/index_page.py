"""The page that opens a folder of answers: the forecast in two sentences, and where the rest is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from phenocast.report.forecast_words import answer
from phenocast.report.page import render
from phenocast.report.parts import Link, Links, Page, Section
from phenocast.report.provenance import draws_line, engine, weather_line
from phenocast.report.reader import Reader


def index_page(
    document: Mapping[str, Any],
    files: Sequence[tuple[str, str]],
    *,
    language: str = "en",
    units: str = "metric",
) -> str:
    """Page that links the pages and the files beside it.

    Parameters
    ----------
    document : mapping
        The forecast document of the folder.
    files : sequence of (file, key)
        In the order in which they are offered; the key finds title and meaning in the table
        ``index`` of the strings.
    language, units : str
        As `phenocast.report.reader.Reader`.

    Returns
    -------
    str
        One HTML file; its links name files beside it only.

    Raises
    ------
    InputError
        For another language or system of units.
    """
    reader = Reader(language, units)
    say = reader.say
    links = {
        pages: [
            Link(file, say(f"index.{key}.title"), say(f"index.{key}.meaning"))
            for file, key in files
            if file.endswith(".html") is pages
        ]
        for pages in (True, False)
    }
    page = Page(
        kind="index",
        title=say("index.title"),
        place=reader.name(document["site"]["name"], 200),
        issue_date=document["issue_date"],
        answer=answer(document, reader),
        sure=[],
        change=[],
        next_steps=[],
        cautions=[say("common.invented"), *engine(document["warnings"])],
        assumed=[],
        sections=[
            Section(say("index.pages"), [Links(links[True])]),
            Section(say("index.files"), [Links(links[False])]),
        ],
        terms=(),
        sources=[weather_line(document["weather"], reader), draws_line(document, reader)],
        engine_version=document["engine_version"],
    )
    return render(page, reader)
