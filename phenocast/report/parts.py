"""What an answer is made of: one list of parts, which is shown as a page and as plain text.

Everything is plain text; the frame of the page escapes it. Beside the parts stand those that most
answers have: where numbers come from, assumed parameters, warnings, and the terms explained.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from itertools import groupby
from typing import Any

from phenocast.errors import CAUTION
from phenocast.report.reader import Reader


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


def engine(texts: Iterable[str]) -> list[Engine]:
    """Texts of the engine, which are in English on every page, each once."""
    return [Engine(text) for text in dict.fromkeys(texts)]


def weather_line(weather: Mapping[str, Any], reader: Reader) -> str:
    """Weather of a document in one sentence.

    Parameters
    ----------
    weather : mapping
        ``weather`` of a forecast document.
    reader : Reader

    Examples
    --------
    >>> weather_line({"observed_until": None, "outlook_members": 0, "past_years": ["a", "b"],
    ...               "weather_traces": 2, "filled_hours": {}}, Reader())
    '2 past years (a to b): 2 weather years.'
    """
    say = reader.say
    parts = []
    if weather["observed_until"]:
        parts.append(say("weather.observed", date=reader.date(weather["observed_until"])))
    if weather["outlook_members"]:
        parts.append(say.counted("weather.outlook", weather["outlook_members"]))
    years = weather["past_years"]
    if years:
        parts.append(say.counted("weather.year", len(years), first=years[0], last=years[-1]))
    told = reduce(
        lambda first, second: say("weather.first_then", first=first, second=second), parts
    )
    seasons = say.counted("weather.season", weather["weather_traces"])
    return _capital(say("weather.then", parts=told, seasons=seasons))


def filled_line(weather: Mapping[str, Any], reader: Reader) -> list[str]:
    """Hours that were filled, as one sentence; none where nothing was."""
    filled = weather["filled_hours"]
    if not filled:
        return []
    told = ", ".join(
        reader.say("weather.filled_one", name=name, hours=reader.number(hours))
        for name, hours in filled.items()
    )
    return [reader.say("weather.filled", list=told)]


def packout_line(pack: Mapping[str, Any], reader: Reader) -> str:
    """What lies between ripe fruit and trays, in one sentence, from ``pack`` of a document."""
    low, left, high = (pack["left_share"][level] for level in ("p10", "p50", "p90"))
    return reader.say(
        "weather.packout_stated" if low == high else "weather.packout",
        left=reader.percent(left), low=reader.percent(low), high=reader.percent(high),
        pack=reader.name(pack["name"], 30), over=reader.percent(pack["over_pack"]),
        mass=reader.amount("pack_mass", pack["net_mass_kg"]),
    )  # fmt: skip


def draws_line(document: Mapping[str, Any], reader: Reader) -> str:
    """Draws and seed of a document in one sentence."""
    return reader.say(
        "weather.draws", draws=reader.number(document["draws"]), seed=document["seed"]
    )


def assumed_items(assumptions: Sequence[Mapping[str, Any]], reader: Reader) -> list[Item]:
    """How many numbers are assumed, and all of them in a list that opens on demand."""
    if not assumptions:
        return []
    say = reader.say
    rows = [
        [f"{label}: {one['name']}", reader.plain_value(one["value"]), one["unit"], one["source"]]
        for label, group in groupby(assumptions, key=lambda one: str(one["set"]))
        for one in group
    ]
    header = [say("assumed.name"), say("assumed.value"), say("assumed.unit"), say("assumed.source")]
    table = Table(say("assumed.engine_names"), header, rows, "<><<")
    count = say("assumed.count", count=reader.number(len(assumptions)))
    return [count, Folded(say("assumed.title"), [table])]


def explained(terms: Sequence[str], reader: Reader) -> list[tuple[str, str]]:
    """Terms with their meaning, in the order of the language's alphabet.

    Parameters
    ----------
    terms : sequence of str
        Keys of the table ``glossary`` of the strings; one named twice is explained once.
    reader : Reader

    Examples
    --------
    >>> explained(["crown", "anthesis"], Reader())[0][0]
    'Anthesis'
    """
    pairs = [
        (
            reader.say(f"glossary.{term}.term"),
            reader.say(f"glossary.{term}.meaning", **reader.places),
        )
        for term in dict.fromkeys(terms)
    ]
    return sorted(pairs, key=lambda pair: pair[0].casefold())


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
