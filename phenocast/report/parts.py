"""What an answer is made of: one list of parts, which is shown as a page and as plain text.

Everything is plain text; the frame of the page escapes it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from phenocast.errors import CAUTION


@dataclass(frozen=True)
class Engine:
    """Words that the engine says in English whatever the language of the page."""

    text: str


Text = str | Engine


@dataclass(frozen=True)
class Table:
    """A table of cells that are text already.

    Parameters
    ----------
    caption : str
        What it shows; read out before it.
    header : sequence of str
        One a column, with its unit.
    rows : sequence of sequence of str
        The first cell of a row heads it.
    sides : str
        One letter a column: ``>`` for numbers, ``<`` for text.
    """

    caption: str
    header: Sequence[str]
    rows: Sequence[Sequence[str]]
    sides: str

    def __post_init__(self) -> None:
        widths = {len(self.header), len(self.sides), *(len(row) for row in self.rows)}
        if len(widths) != 1:
            raise ValueError(f"table '{self.caption}' has rows of {sorted(widths)} cells")


@dataclass(frozen=True)
class Figure:
    """A drawing with the numbers behind it; only a page shows the drawing.

    Parameters
    ----------
    svg : callable
        Draws it, by `phenocast.report.figures.canvas.draw`, where a page is made.
    caption : str
        What to see in it, in a sentence.
    table : Table
        The numbers behind it, folded away below.
    source : str
        Where they come from; the page adds the issue date.
    wide : bool
        Takes the whole width of the page rather than half of it.
    in_text : bool
        Plain text shows the table of numbers.
    """

    svg: Callable[[], str]
    caption: str
    table: Table
    source: str
    wide: bool = False
    in_text: bool = False


@dataclass(frozen=True)
class Bullets:
    """A list of short texts."""

    items: Sequence[Text]


@dataclass(frozen=True)
class Link:
    """A file beside the page.

    Parameters
    ----------
    file : str
        Its name, with folders below that of the page: letters, digits, ``. _ - /``.
    title, meaning : str
    """

    file: str
    title: str
    meaning: str

    def __post_init__(self) -> None:
        if not re.fullmatch(r"\w[\w.-]*(/[\w.-]+)*", self.file, re.ASCII):
            raise ValueError(f"not the name of a file beside the page: '{self.file}'")


@dataclass(frozen=True)
class Links:
    """A list of files beside the page."""

    items: Sequence[Link]


@dataclass(frozen=True)
class Folded:
    """Parts that open when the reader asks for them."""

    title: str
    items: Sequence[Item]


@dataclass(frozen=True)
class Stack:
    """Parts one below the other that take one place beside a figure."""

    items: Sequence[Item]


@dataclass(frozen=True)
class Markup:
    """Markup that a page vouches for: made by a template with autoescape, never from plain text."""

    html: str


@dataclass(frozen=True)
class PageOnly:
    """Parts that are too long for a terminal, or of use on a page only."""

    items: Sequence[Item]


@dataclass(frozen=True)
class TextOnly:
    """Parts that stand for a drawing in plain text."""

    items: Sequence[Item]


Item = Text | Table | Figure | Bullets | Folded | Links | Stack | Markup | PageOnly | TextOnly


@dataclass(frozen=True)
class Section:
    """Figures and tables under a heading of their own; figures side by side where there is room."""

    heading: str
    items: Sequence[Item]


@dataclass(frozen=True)
class Page:
    """One page, in the order in which it is read.

    Parameters
    ----------
    kind : str
        Command whose document it shows.
    title : str
        Heading of the page.
    place : str
        Whose, under the title.
    summary : sequence of str
        The answer in a few plain sentences.
    uncertainty, sensitivity, next_steps : sequence of Item
        How sure it is, what would change it, what to do next.
    cautions : sequence of Text
    sections : sequence of Section
    sources : sequence of str
        Where the numbers come from, one line each.
    terms : sequence of str
        Keys of the table ``glossary`` of the strings.
    issue_date : str or None
        ISO date; None where a document has none.
    assumed : sequence of Item
    panel : sequence of Item
        What the reader works with, right below the answer; most pages have none.
    style : str
        Rules of this page alone, after those of all pages.
    script : str
        A little script without a framework, empty for none; it runs under its fingerprint only.
    data : mapping or None
        What the script reads, as JSON in the element ``page-data``.
    """

    kind: str
    title: str
    place: str
    summary: Sequence[str]
    uncertainty: Sequence[Item]
    sensitivity: Sequence[Item]
    next_steps: Sequence[Item]
    cautions: Sequence[Text]
    sections: Sequence[Section]
    sources: Sequence[str]
    terms: Sequence[str] = ()
    issue_date: str | None = None
    assumed: Sequence[Item] = ()
    panel: Sequence[Item] = ()
    style: str = ""
    script: str = ""
    data: Any = None
    engine_version: str = ""

    @property
    def look_first(self) -> list[Engine]:
        """Cautions that data are most likely wrong, which stand above the answer."""
        engine = [one for one in self.cautions if isinstance(one, Engine)]
        return [one for one in engine if one.text.startswith(CAUTION)]
