"""Aligned columns of plain text, no wider than a page of 100 columns.

Width is counted in places on a terminal: an accent takes none, an East Asian letter or an emoji
takes two. Letters that would move the cursor or change colours are shown as ``?``.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence

from phenocast.errors import CAUTION, printable

WIDEST = 100


def places(text: str) -> int:
    r"""Number of places that a text takes on a terminal.

    Examples
    --------
    >>> places("block"), places("\u5317"), places("e\u0301")
    (5, 2, 1)
    """
    if text.isascii():
        return len(text)
    return sum(_places_of_letter(letter) for letter in text)


def _places_of_letter(letter: str) -> int:
    """Places of one letter: none, one or two."""
    if unicodedata.combining(letter) or unicodedata.category(letter) in {"Cf", "Me", "Mn"}:
        return 0
    return 2 if unicodedata.east_asian_width(letter) in "WF" else 1


def plain(text: object, width: int = WIDEST) -> str:
    r"""Text on one line with nothing in it that steers a terminal, shortened to a width.

    Parameters
    ----------
    text : object
        Its ``str`` is taken.
    width : int
        Places that it may take; what is longer ends in ``...``.

    Examples
    --------
    >>> plain("north\x1b[31m block", 40)
    'north?[31m block'
    >>> plain("a very long name of a block", 12)
    'a very lo...'
    """
    shown = printable(str(text))
    if places(shown) <= width:
        return shown
    kept = ""
    used = 0
    for letter in shown:
        used += _places_of_letter(letter)
        if used > max(width - 3, 0):
            break
        kept += letter
    return kept + "..."[:width]


def percent(share: float) -> str:
    """Share as whole percent; what is not quite none or all never looks as if it were.

    Examples
    --------
    >>> percent(0.2), percent(0.005), percent(0.0), percent(0.9999)
    ('20 %', '<1 %', '0 %', '>99 %')
    """
    if 0.0 < share < 0.01:
        return "<1 %"
    if 0.99 < share < 1.0:
        return ">99 %"
    return f"{100.0 * share:.0f} %"


def padded(text: str, width: int, side: str = "left") -> str:
    """Text filled with spaces to a width, standing at its left or right side.

    Examples
    --------
    >>> padded("7", 3, "right")
    '  7'
    """
    fill = " " * max(width - places(text), 0)
    return fill + text if side == "right" else text + fill


def aligned(
    rows: Sequence[Sequence[object]],
    header: Sequence[str],
    numbers: str,
    indent: str = "  ",
    gap: str = "  ",
    widest: Sequence[int] = (),
) -> list[str]:
    r"""Rows under a header, text to the left and numbers to the right.

    Parameters
    ----------
    rows : sequence of sequence
        Cells; each is shown by its ``str``.
    header : sequence of str
        One word a column.
    numbers : str
        One letter a column: ``>`` for numbers, ``<`` for text.
    indent, gap : str
        Before each line, and between columns.
    widest : sequence of int
        Places that each column may take at most; empty for no limit.

    Returns
    -------
    list of str
        Lines without spaces at their end.

    Examples
    --------
    >>> print("\n".join(aligned([["north", 3], ["south", 12]], ["block", "h"], "<>", indent="")))
    block   h
    north   3
    south  12
    """
    limits = list(widest) or [WIDEST] * len(header)
    cells = [
        [plain(cell, limit) for cell, limit in zip(row, limits, strict=True)]
        for row in [header, *rows]
    ]
    widths = [max(places(row[column]) for row in cells) for column in range(len(header))]
    sides = ["right" if letter == ">" else "left" for letter in numbers]
    return [
        (
            indent
            + gap.join(
                padded(cell, width, side)
                for cell, width, side in zip(row, widths, sides, strict=True)
            )
        ).rstrip()
        for row in cells
    ]


def wrapped(text: object, indent: str = "  ", bullet: str = "") -> list[str]:
    """Text in lines of at most 100 places, the first after a bullet.

    Examples
    --------
    >>> wrapped("few words", bullet="- ")
    ['  - few words']
    """
    rest = indent + " " * len(bullet)
    lines: list[str] = []
    line = indent + bullet
    empty = True
    for word in plain(text, 100_000).split():
        if not empty and places(line) + 1 + places(word) > WIDEST:
            lines.append(line)
            line, empty = rest, True
        line += word if empty else f" {word}"
        empty = False
    return [*lines, line]


def look_first(warnings: Iterable[str]) -> list[str]:
    """Cautions that stand on top of a text, and a blank line; nothing where there are none.

    Examples
    --------
    >>> look_first(["CAUTION: 344 plants a hectare", "soil is dry"])
    ['! CAUTION: 344 plants a hectare', '']
    """
    told = [text for text in warnings if text.startswith(CAUTION)]
    lines = [line for text in told for line in wrapped(text, indent="", bullet="! ")]
    return [*lines, ""] if lines else []
