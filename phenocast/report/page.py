"""The frame of every page: one self-contained file that asks nothing of any network.

A page is a `Page` of plain text, tables and figures; the frame escapes it, orders it and dresses
it. The policy in the head forbids every request, and a script runs only under its fingerprint.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from phenocast import __version__
from phenocast.report.columns import plain
from phenocast.report.figures.palette import style_variables
from phenocast.report.parts import (
    Bullets,
    Engine,
    Figure,
    Folded,
    Links,
    Markup,
    Page,
    PageOnly,
    Stack,
    Table,
    TextOnly,
)
from phenocast.report.provenance import explained
from phenocast.report.reader import Reader

if TYPE_CHECKING:
    from jinja2 import Environment

FRAME = Path(__file__).resolve().parent / "frame"

Parts = Callable[[Mapping[str, Any], Reader], Page]
"""What makes the list of parts of a command from its document."""


def to_html(
    parts: Parts, document: Mapping[str, Any], *, language: str = "en", units: str = "metric"
) -> str:
    """Return the page of a document as one self-contained HTML file.

    Parameters
    ----------
    parts : callable
        The list of parts of a command, such as `phenocast.report.forecast.forecast_parts`.
    document : mapping
        What ``--json`` of that command prints; nothing else is used.
    language, units : str
        As of `phenocast.report.reader.Reader`.

    Returns
    -------
    str
        The same for the same document and reader, byte for byte; ends with a newline.

    Raises
    ------
    InputError
        For another language or system of units.
    MissingWordsError
        Where the language lacks words that the page uses.

    Examples
    --------
    >>> def parts(document, reader):
    ...     return Page("forecast", "<b>", "Field", ["Ripe in week 3."], [], [], [], [], [], [])
    >>> html = to_html(parts, {})
    >>> "&lt;b&gt;" in html, html.count("<h1"), html.startswith("<!doctype html>")
    (True, 1, True)
    """
    reader = Reader(language, units)
    page = parts(document, reader)
    return (
        environment()
        .get_template("page.html")
        .render(
            page=page,
            reader=reader,
            say=reader.say,
            style=style_sheet() + page.style,
            script=page.script,
            data=None if page.data is None else script_json(page.data),
            policy=policy(page.script),
            glossary=explained(page.terms, reader),
            english_said=reader.language != "en" and _says_english(page),
            version=page.engine_version or __version__,
            kind_of=lambda item: _KINDS[type(item)],
            clean=lambda text: plain(text, 10_000),
        )
    )


def policy(script: str) -> str:
    """Content security policy of a page: no request at all, and only the script that it brings.

    Examples
    --------
    >>> "default-src 'none'" in policy(""), "script-src" in policy("")
    (True, False)
    """
    rules = ["default-src 'none'", "style-src 'unsafe-inline'", "base-uri 'none'",
             "form-action 'none'"]  # fmt: skip
    if script:
        digest = base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii")
        rules.append(f"script-src 'sha256-{digest}'")
    return "; ".join(rules)


def script_json(data: Any) -> str:
    r"""JSON that is safe inside a script element.

    Examples
    --------
    >>> script_json({"block": "</script>"})
    '{"block":"\\u003c/script\\u003e"}'
    """
    text = json.dumps(data, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    for letter in "<>&\u2028\u2029":
        text = text.replace(letter, f"\\u{ord(letter):04x}")
    return text


@cache
def style_sheet() -> str:
    """The one style block: the palette, then the rules."""
    return style_variables() + "\n" + (FRAME / "style.css").read_text(encoding="utf-8")


@cache
def environment() -> Environment:
    """Templates of the pages; every value is escaped and an unknown name is an error."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    return Environment(
        loader=FileSystemLoader(FRAME),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )


_KINDS: dict[type, str] = {
    str: "text", Engine: "engine", Table: "table", Figure: "figure", Bullets: "bullets",
    Folded: "folded", Links: "links", Stack: "stack", Markup: "markup", PageOnly: "all",
    TextOnly: "none",
}  # fmt: skip
"""Names of the macros that show the parts."""


def _says_english(page: Page) -> bool:
    """Say whether any part of a page is in the English of the engine."""
    items: list[Any] = [*page.uncertainty, *page.sensitivity, *page.next_steps, *page.cautions]
    items += page.assumed
    for section in page.sections:
        items += section.items
    while items:
        item = items.pop()
        if isinstance(item, Engine):
            return True
        if isinstance(item, Bullets | Folded | Stack | PageOnly):
            items += item.items
    return False
