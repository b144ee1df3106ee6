"""An answer as a page and as plain text, both from its list of parts.

A page is one self-contained file that asks nothing of any network: the frame escapes the parts,
orders and dresses them; the policy in the head forbids every request, and a script runs only under
its fingerprint. The text is no wider than 100 columns.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cache
from itertools import zip_longest
from pathlib import Path
from typing import TYPE_CHECKING, Any

from phenocast import __version__
from phenocast.report.columns import WIDEST, look_first, padded, places, plain, wrapped
from phenocast.report.figures.canvas import style_variables
from phenocast.report.parts import (
    Bullets,
    Engine,
    Figure,
    Folded,
    Item,
    Links,
    Markup,
    Page,
    PageOnly,
    Stack,
    Table,
    TextOnly,
    explained,
)
from phenocast.report.reader import Reader, plain_text

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


INDENT, GAP = "  ", "  "
MOST_CELL, MOST_WORD = 400, 90
CELL_WIDTHS = (60, 36, 24, 18)
"""Widths that a cell of text may have; the widest with the fewest parts of the table is taken."""


def to_text(
    parts: Parts,
    document: Mapping[str, Any],
    *,
    language: str = "en",
    units: str = "metric",
    list_assumed: bool = False,
) -> str:
    """Return an answer as plain text, made of the same parts as its page.

    Parameters
    ----------
    parts, document, language, units : as of `phenocast.report.page.to_html`
    list_assumed : bool
        List every assumed number, not only how many there are.

    Returns
    -------
    str
        Ends with a newline.

    Raises
    ------
    InputError
        For another language or system of units.

    Examples
    --------
    >>> from phenocast.report.parts import Page
    >>> def parts(document, reader):
    ...     return Page("forecast", "First pick", "Field", ["Week 3."], ["Not very."], [], [], [],
    ...                 [], ["a file"])
    >>> print(to_text(parts, {}), end="")
    First pick: Field
    <BLANKLINE>
    Week 3.
    <BLANKLINE>
    How sure it is
      Not very.
    <BLANKLINE>
    Where these numbers come from
      a file
    """
    reader = Reader(language, units)
    page = parts(document, reader)
    say = reader.say
    lines = _wrapped(f"{page.title}: {page.place}", "")
    if page.issue_date:
        lines.append(say("frame.as_of", date=reader.date(page.issue_date)))
    lines += ["", *look_first(one.text for one in page.look_first)]
    for sentence in page.summary:
        lines += _wrapped(sentence, "")
    assumed = [one for one in page.assumed if list_assumed or not isinstance(one, Folded)]
    if page.assumed and not list_assumed:
        assumed.append(say("frame.assumed_elsewhere"))
    for heading, items in (
        (say("frame.sure"), page.uncertainty),
        (say("frame.change"), page.sensitivity),
        (say("frame.next"), page.next_steps),
        (say("frame.cautions"), [Bullets(page.cautions)] if page.cautions else []),
        *((section.heading, section.items) for section in page.sections),
        (say("frame.assumed"), assumed),
        (say("frame.where_from"), page.sources),
    ):
        told = item_lines(items)
        if told:
            lines += ["", *_wrapped(heading, ""), *told]
    return "\n".join(lines) + "\n"


def item_lines(items: Iterable[Item]) -> list[str]:
    """Lines of some parts, a blank line before each table that is not the first of them."""
    lines: list[str] = []
    for item in items:
        told = _item(item)
        if lines and told and isinstance(item, Table | Figure | Folded | Stack):
            lines.append("")
        lines += told
    return lines


def _item(item: Item) -> list[str]:
    if isinstance(item, str | Engine):
        return _wrapped(item)
    if isinstance(item, Bullets):
        return [line for one in item.items for line in _wrapped(one, INDENT, "- ")]
    if isinstance(item, Table):
        return [*_wrapped(item.caption), *table_lines(item)]
    if isinstance(item, Figure):
        return _item(item.table) if item.in_text else []
    if isinstance(item, Folded):
        first = item.items[0]
        said = isinstance(first, Table) and first.caption == item.title
        return [*([] if said else _wrapped(item.title)), *item_lines(item.items)]
    return item_lines(item.items) if isinstance(item, Stack | TextOnly) else []


def _wrapped(text: str | Engine, indent: str = INDENT, bullet: str = "") -> list[str]:
    """Words in lines; a word that is longer than a line is cut."""
    words = plain_text(text.text if isinstance(text, Engine) else text).split()
    return wrapped(" ".join(plain(word, MOST_WORD) for word in words), indent, bullet)


def table_lines(table: Table, indent: str = INDENT) -> list[str]:
    r"""Return the rows of a table under its header, in aligned columns.

    Cells of text take several lines where the columns are too wide together; columns that do not
    fit even so follow below, each part with the first column.

    Examples
    --------
    >>> table = Table("Heat", ["Block", "Hours above 30"], [["East", "12"], ["West", "7"]], "<>")
    >>> print("\n".join(table_lines(table, "")))
    Block  Hours above 30
    East               12
    West                7
    """
    rows = [
        [plain(plain_text(cell), MOST_CELL) for cell in row] for row in (table.header, *table.rows)
    ]
    columns = [list(column) for column in zip(*rows, strict=True)]
    laid = []
    for most in CELL_WIDTHS:
        widths = [
            _width(cells, side, most) for cells, side in zip(columns, table.sides, strict=True)
        ]
        laid.append((widths, _parts(widths, WIDEST - len(indent))))
    widths, parts = min(laid, key=lambda one: len(one[1]))
    lines: list[str] = []
    for part in parts:
        lines += [""] if lines else []
        for row in rows:
            lines += [(indent + line).rstrip() for line in _row(row, part, widths, table.sides)]
    return lines


def _width(cells: Sequence[str], side: str, most: int) -> int:
    """Width of a column: of its numbers, of its text up to a width, and of a word of its header."""
    head = cells[0]
    body = max(map(places, cells[1:]), default=0)
    word = max(map(places, head.split()), default=0)
    return max(
        body if side == ">" else min(body, most), min(word, most), min(places(head), most // 4)
    )


def _parts(widths: Sequence[int], room: int) -> list[list[int]]:
    """Columns in parts that fit a line, the first column at the head of each."""
    parts = [[0]]
    used = widths[0]
    for column, width in enumerate(widths[1:], start=1):
        if used + len(GAP) + width > room and len(parts[-1]) > 1:
            parts.append([0])
            used = widths[0]
        parts[-1].append(column)
        used += len(GAP) + width
    return parts


def _row(row: Sequence[str], part: Sequence[int], widths: Sequence[int], sides: str) -> list[str]:
    """Lines of one row; the cells of a column stand at its left or right side."""
    cells = [
        [
            padded(plain(line, widths[column]), widths[column], sides[column])
            for line in wrapped(row[column], indent="", width=widths[column])
        ]
        for column in part
    ]
    blank = [" " * widths[column] for column in part]
    return [
        GAP.join(cell if cell is not None else blank[place] for place, cell in enumerate(line))
        for line in zip_longest(*cells)
    ]
