"""The frame of every page: one self-contained file that asks nothing of any network.

A page is a `Page` of plain text, tables and figures; the frame escapes it, orders it and dresses
it. The policy in the head forbids every request, and a script runs only under its fingerprint.
"""

from __future__ import annotations

import base64
import hashlib
import json
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from phenocast import __version__
from phenocast.errors import CAUTION
from phenocast.report.columns import plain
from phenocast.report.figures.palette import style_variables
from phenocast.report.glossary import explained
from phenocast.report.parts import (
    Bullets,
    Engine,
    Figure,
    Folded,
    Item,
    Links,
    Markup,
    Page,
    Stack,
    Table,
)
from phenocast.report.reader import Reader

if TYPE_CHECKING:
    from jinja2 import Template

HOME = Path(__file__).resolve().parent / "frame"


def render(page: Page, reader: Reader) -> str:
    """Page as one HTML file.

    Parameters
    ----------
    page : Page
    reader : Reader
        Its language is the language of the page.

    Returns
    -------
    str
        The same for the same page and reader, byte for byte; ends with a newline.

    Raises
    ------
    MissingWordsError
        Where the language lacks words that the page uses.

    Examples
    --------
    >>> empty = Page("forecast", "<b>", "Field", None, ["Ripe in week 3."], [], [], [], [], [], [],
    ...              [], ["a file"])
    >>> html = render(empty, Reader())
    >>> "&lt;b&gt;" in html, html.count("<h1"), html.startswith("<!doctype html>")
    (True, 1, True)
    """
    return _template().render(
        page=page,
        reader=reader,
        say=reader.say,
        style=style_sheet() + page.style,
        script=page.script,
        data=None if page.data is None else script_json(page.data),
        policy=policy(page.script),
        look_first=[
            one for one in page.cautions if isinstance(one, Engine) and one.text.startswith(CAUTION)
        ],
        glossary=explained(page.terms, reader),
        english_said=reader.language != "en" and _says_english(page),
        version=page.engine_version or __version__,
        kind_of=_kind_of,
        clean=_clean,
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
    return style_variables() + "\n" + (HOME / "style.css").read_text(encoding="utf-8")


@cache
def _template() -> Template:
    """Frame, compiled once; every value is escaped and an unknown name is an error."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(HOME),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    return environment.get_template("page.html")


def _clean(text: str) -> str:
    """Text on one line without letters that steer the reader's screen."""
    return plain(text, 10_000)


_KINDS: dict[type, str] = {
    str: "text", Engine: "engine", Table: "table", Figure: "figure", Bullets: "bullets",
    Folded: "folded", Links: "links", Stack: "stack", Markup: "markup",
}  # fmt: skip


def _kind_of(item: Item) -> str:
    """Name of the macro that shows an item."""
    return _KINDS[type(item)]


def _says_english(page: Page) -> bool:
    """Say whether any part of a page is in the English of the engine."""
    parts: list[Any] = [*page.sure, *page.change, *page.next_steps, *page.cautions, *page.assumed]
    for section in page.sections:
        parts += section.items
    while parts:
        part = parts.pop()
        if isinstance(part, Engine):
            return True
        if isinstance(part, Bullets | Folded | Stack):
            parts += part.items
    return False
