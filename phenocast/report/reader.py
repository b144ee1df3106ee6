"""Who reads a page: the language and the units in which everything on it is said."""

from __future__ import annotations

from phenocast.errors import Fault, InputError
from phenocast.report.columns import plain
from phenocast.report.dates import Calendar
from phenocast.report.language import LANGUAGES, Words
from phenocast.report.numbers import FORMATS, NO_BREAK
from phenocast.report.units import SYSTEMS, measure

# Text of a user is set apart from the direction of the words around it (Unicode isolates), so that
# a name in Arabic or Hebrew does not turn the sentence round.
ISOLATE, END_ISOLATE = "\u2068", "\u2069"
NAME_PLACES = 60


def plain_text(words: str) -> str:
    """Words of a page as plain text: without isolates, and with common spaces.

    Examples
    --------
    >>> plain_text(Reader().name("East") + NO_BREAK + "2")
    'East 2'
    """
    return words.translate({ord(ISOLATE): None, ord(END_ISOLATE): None, ord(NO_BREAK): " "})


class Reader:
    """Everything that turns values of a document into words.

    Parameters
    ----------
    language : str
        ``en`` or ``es``.
    units : str
        ``metric`` or ``us``.

    Raises
    ------
    InputError
        For another language or another system of units.

    Examples
    --------
    >>> reader = Reader("en", "us")
    >>> reader.amount("temperature", 30.0).replace(NO_BREAK, " "), reader.percent(0.25)
    ('86.0 °F', '25%')
    """

    def __init__(self, language: str = "en", units: str = "metric") -> None:
        for value, allowed, what in (
            (language, LANGUAGES, "language"),
            (units, SYSTEMS, "system of units"),
        ):
            if value not in allowed:
                raise InputError(Fault(f"no such {what}", value=value, allowed=", ".join(allowed)))
        self.language = language
        self.units = units
        self.say = Words(language)
        self.calendar = Calendar(self.say, units)
        self._numbers = FORMATS[language]

    def number(self, value: float | None, digits: int = 0) -> str:
        """Number without a unit."""
        return self._numbers.number(value, digits)

    def percent(self, share: float | None) -> str:
        """Share (0 to 1) as whole percent."""
        return self._numbers.percent(share)

    def plain_value(self, value: float | str | None) -> str:
        """Number of a document as it stands, in at most six digits; other values as text."""
        if value is None or isinstance(value, str):
            return self.number(None) if value is None else plain(value)
        text = f"{value:.6g}"
        if "e" in text:
            return text
        return self.number(value, len(text.partition(".")[2]))

    def value(self, kind: str, amount: float) -> float:
        """Amount in the unit of this reader, for a figure; kinds are those of `MEASURES`."""
        return measure(kind).value(amount, self.units)

    def figure(self, kind: str, amount: float | None, digits: int | None = None) -> str:
        """Amount in the unit of this reader, without the unit: for the cells of a table."""
        if amount is None:
            return self.number(None)
        if digits is None:
            digits = measure(kind).digits(self.units)
        return self.number(self.value(kind, amount), digits)

    def unit(self, kind: str) -> str:
        """Label of the unit."""
        return self.say(f"units.{measure(kind).unit(self.units)}")

    def amount(self, kind: str, amount: float | None, digits: int | None = None) -> str:
        """Amount with its unit."""
        return f"{self.figure(kind, amount, digits)}{NO_BREAK}{self.unit(kind)}"

    def date(self, day: str | None) -> str:
        """Day, month and year; "not reached" where there is none."""
        return self.say("common.not_reached") if day is None else self.calendar.date(day)

    def day(self, day: str | None) -> str:
        """Day and short month; "not reached" where there is none."""
        return self.say("common.not_reached") if day is None else self.calendar.day(day)

    def week(self, week: str) -> str:
        """ISO week with its days."""
        return self.calendar.week(week)

    def name(self, text: object, places: int = NAME_PLACES) -> str:
        """Text of the user on one line, shortened, and set apart from the direction of the rest."""
        return f"{ISOLATE}{plain(text, places)}{END_ISOLATE}"

    def and_list(self, parts: list[str]) -> str:
        """Parts with commas and an "and" before the last."""
        if len(parts) < 2:
            return "".join(parts)
        return self.say("common.and", first=", ".join(parts[:-1]), last=parts[-1])
