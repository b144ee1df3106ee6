"""Plain text in the places of a terminal, no wider than a page of 100 columns.

Width is counted in places on a terminal: an accent takes none, an East Asian letter or an emoji
takes two. Letters that would move the cursor or change colours are shown as ``?``.
"""

import unicodedata
from collections.abc import Iterable

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


def padded(text: str, width: int, side: str = "<") -> str:
    """Text filled with spaces to a width, standing at its left (``<``) or right side (``>``).

    Examples
    --------
    >>> padded("7", 3, ">")
    '  7'
    """
    fill = " " * max(width - places(text), 0)
    return fill + text if side == ">" else text + fill


def wrapped(text: object, indent: str = "  ", bullet: str = "", width: int = WIDEST) -> list[str]:
    """Text in lines of at most 100 places or another width, the first after a bullet.

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
        if not empty and places(line) + 1 + places(word) > width:
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
