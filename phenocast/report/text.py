"""The parts of an answer as plain text, no wider than 100 columns."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import zip_longest
from typing import Any

from phenocast.report.columns import WIDEST, look_first, padded, places, plain, wrapped
from phenocast.report.page import Parts
from phenocast.report.parts import Bullets, Engine, Figure, Folded, Item, Stack, Table, TextOnly
from phenocast.report.reader import Reader, plain_text

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
