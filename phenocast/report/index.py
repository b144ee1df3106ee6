"""The page that opens a folder of answers: the forecast in two sentences, and where the rest is."""

from collections.abc import Mapping, Sequence
from typing import Any

from phenocast.report.forecast import forecast_summary
from phenocast.report.parts import Link, Links, Page, Section, draws_line, engine, weather_line
from phenocast.report.reader import Reader


def index_parts(
    document: Mapping[str, Any], reader: Reader, files: Sequence[tuple[str, str]]
) -> Page:
    """List the parts of the page that links the pages and the files beside it.

    Parameters
    ----------
    document : mapping
        The forecast document of the folder.
    reader : Reader
    files : sequence of (file, key)
        In the order in which they are offered; the key finds title and meaning in the table
        ``index`` of the strings.
    """
    say = reader.say

    def links(pages: bool) -> Links:
        return Links(
            [
                Link(file, say(f"index.{key}.title"), say(f"index.{key}.meaning"))
                for file, key in files
                if file.endswith(".html") is pages
            ]
        )

    return Page(
        kind="index",
        title=say("index.title"),
        place=reader.name(document["site"]["name"], 200),
        issue_date=document["issue_date"],
        summary=forecast_summary(document, reader),
        uncertainty=[],
        sensitivity=[],
        next_steps=[],
        cautions=[say("common.invented"), *engine(document["warnings"])],
        sections=[
            Section(say("index.pages"), [links(True)]),
            Section(say("index.files"), [links(False)]),
        ],
        sources=[weather_line(document["weather"], reader), draws_line(document, reader)],
        engine_version=document["engine_version"],
    )
