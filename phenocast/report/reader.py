"""Who reads a page: the language and the units in which everything on it is said.

Words come from one TOML file a language, read when the first word is asked for; numbers and dates
are written as the language writes them; `MEASURES` is the one switch between metric and US units.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date as Day  # noqa: N812  (a method of the calendar is called date)
from datetime import timedelta
from functools import cache
from pathlib import Path
from typing import Any

from phenocast.errors import Fault, InputError, PhenocastError, nearest
from phenocast.report.columns import plain
from phenocast.units import convert

LANGUAGES = ("en", "es")
SYSTEMS = ("metric", "us")
STRINGS = Path(__file__).resolve().parent / "strings"
Document = Mapping[str, Any]
"""A document as it is read back, or a part of it."""

CUT_OFF_C = 30.0
"""Crown temperature above which heat counts in a document (``degree_hours_above_30c``)."""

NO_BREAK = "\u00a0"
MINUS = "\u2212"
ABSENT = "\u2013"
# Text of a user is set apart from the direction of the words around it (Unicode isolates), so that
# a name in Arabic or Hebrew does not turn the sentence round.
ISOLATE, END_ISOLATE = "\u2068", "\u2069"
NAME_PLACES = 60
_COMMON_SIGNS = str.maketrans(f"{NO_BREAK}{MINUS}{ABSENT}", " --", f"{ISOLATE}{END_ISOLATE}")


class MissingWordsError(PhenocastError):
    """A page asks for words that its language lacks: a fault of the program, not of the input."""

    def __init__(self, fault: Fault) -> None:
        self.fault = fault
        super().__init__(str(fault))


class Words:
    """Words of one language by key, such as ``frame.answer``.

    Parameters
    ----------
    language : str
        One of `LANGUAGES`.

    Raises
    ------
    MissingWordsError
        Where there is no file of that language.

    Examples
    --------
    >>> Words("en")("frame.glossary")
    'Words used here'
    >>> Words("es").language
    'es'
    """

    def __init__(self, language: str) -> None:
        self.language = language
        self._texts = texts(language)

    def __call__(self, key: str, **values: object) -> str:
        """Words of a key, with values put into their places ``{name}``.

        Raises
        ------
        MissingWordsError
            For a key that the file lacks, or a place that is given no value.
        """
        text = self._texts.get(key)
        where = f"report/strings/{self.language}.toml"
        if text is None:
            close = nearest(key, self._texts)
            do = f"did you mean '{close}'?" if close else "add the key to every language"
            raise MissingWordsError(Fault("no such words", where, value=key, do=do))
        try:
            return text.format_map(values)
        except KeyError as error:
            raise MissingWordsError(
                Fault(f"no value for the place {error}", where, value=key, allowed=text)
            ) from error

    def counted(self, key: str, count: int, **values: object) -> str:
        """Words for one or for many: ``key.one`` or ``key.many``, with ``{count}`` in them."""
        return self(f"{key}.{'one' if count == 1 else 'many'}", **({"count": count} | values))

    def __contains__(self, key: str) -> bool:
        """Say whether the language has a key."""
        return key in self._texts


@cache
def texts(language: str) -> dict[str, str]:
    """Every text of a language by its full key.

    Raises
    ------
    MissingWordsError
        Where there is no file of that language.
    """
    file = STRINGS / f"{language}.toml"
    if language not in LANGUAGES or not file.is_file():
        raise MissingWordsError(
            Fault("no pages in this language", str(file), language, allowed=", ".join(LANGUAGES))
        )
    return dict(_flat(tomllib.loads(file.read_text(encoding="utf-8")), ""))


def _flat(table: dict[str, Any], above: str) -> list[tuple[str, str]]:
    found: list[tuple[str, str]] = []
    for name, value in table.items():
        key = f"{above}.{name}" if above else name
        found += _flat(value, key) if isinstance(value, dict) else [(key, str(value))]
    return found


@dataclass(frozen=True)
class NumberFormat:
    """How a language writes numbers.

    Parameters
    ----------
    decimal, thousands : str
        Marks before decimals and between groups of three digits.
    grouped_from : int
        Digits before the decimal mark from which groups are marked.
    before_percent : str
        What stands between a number and its percent sign.
    """

    decimal: str
    thousands: str
    grouped_from: int
    before_percent: str

    def number(self, value: float | None, digits: int = 0) -> str:
        """Number with a fixed count of decimals; a dash where there is none.

        Examples
        --------
        >>> FORMATS["en"].number(12345.678, 1), FORMATS["es"].number(-1234.5, 1)
        ('12,345.7', '−1234,5')
        >>> FORMATS["en"].number(-0.04, 1), FORMATS["en"].number(None)
        ('0.0', '–')
        """
        if value is None:
            return ABSENT
        whole, _, decimals = f"{abs(value):.{digits}f}".partition(".")
        negative = value < 0 and (whole.strip("0") or decimals.strip("0"))
        if len(whole) >= self.grouped_from:
            whole = f"{int(whole):,}".replace(",", self.thousands)
        return (MINUS if negative else "") + whole + (self.decimal + decimals if decimals else "")

    def percent(self, share: float | None) -> str:
        """Share as whole percent; what is not quite none or all never looks as if it were.

        Examples
        --------
        >>> FORMATS["en"].percent(0.2), FORMATS["en"].percent(0.004), FORMATS["en"].percent(0.9999)
        ('20%', '<1%', '>99%')
        >>> FORMATS["en"].percent(-0.12)
        '−12%'
        """
        if share is None:
            return ABSENT
        if 0.0 < share < 0.01:
            return f"<1{self.before_percent}%"
        if 0.99 < share < 1.0:
            return f">99{self.before_percent}%"
        return f"{self.number(100.0 * share)}{self.before_percent}%"


FORMATS: Mapping[str, NumberFormat] = {
    "en": NumberFormat(".", ",", 4, ""),
    "es": NumberFormat(",", NO_BREAK, 5, NO_BREAK),
}


def week_days(week: str) -> tuple[Day, Day]:
    """First and last day of an ISO week.

    Examples
    --------
    >>> week_days("2026-W53")
    (datetime.date(2026, 12, 28), datetime.date(2027, 1, 3))
    """
    monday = Day.fromisocalendar(int(week[:4]), int(week[6:]), 1)
    return monday, monday + timedelta(days=6)


@dataclass(frozen=True)
class Measure:
    """One kind of quantity: its unit in a document, in both systems, and how fine it is shown.

    Parameters
    ----------
    inside : str
        Unit of the value in the document.
    metric, us : str
        Units on a page; each has its label in the strings under ``units``.
    metric_digits, us_digits : int
        Decimals that a page shows.
    """

    inside: str
    metric: str
    us: str
    metric_digits: int
    us_digits: int

    def unit(self, system: str) -> str:
        """Unit on a page of that system."""
        return self.us if system == "us" else self.metric

    def digits(self, system: str) -> int:
        """Decimals on a page of that system."""
        return self.us_digits if system == "us" else self.metric_digits

    def value(self, amount: float, system: str) -> float:
        """Value in the unit of a page.

        Examples
        --------
        >>> MEASURES["temperature"].value(30.0, "us"), MEASURES["heat"].value(10.0, "us")
        (86.0, 18.0)
        >>> round(MEASURES["fruit"].value(907.18474, "us"), 6)
        2.0
        """
        return convert(amount, self.inside, self.unit(system))


MEASURES: Mapping[str, Measure] = {
    "temperature": Measure("degC", "degC", "degF", 1, 1),
    "difference": Measure("delta_degC", "delta_degC", "delta_degF", 1, 1),
    "heat": Measure("degC h", "degC h", "degF h", 0, 0),
    "fruit": Measure("g plant-1", "g plant-1", "lb plant-1", 0, 2),
    "weekly_fruit": Measure("g plant-1", "g plant-1", "oz plant-1", 1, 2),
    "mass": Measure("kg", "kg", "lb", 0, 0),
    "pack_mass": Measure("kg", "kg", "lb", 2, 2),
    "area": Measure("ha", "ha", "acre", 2, 2),
    "density": Measure("plants ha-1", "plants ha-1", "plants acre-1", 0, 0),
    "rain": Measure("mm", "mm", "in", 0, 2),
    "length": Measure("m", "m", "ft", 1, 1),
    "wind": Measure("m s-1", "m s-1", "mph", 1, 1),
    "time": Measure("h", "h", "h", 0, 0),
}
"""Kinds of quantity by name; add one here and its labels to the strings."""


def plain_text(words: str) -> str:
    """Words of a page as plain text: without isolates, with common spaces, signs and dashes.

    Examples
    --------
    >>> plain_text(Reader().name("East") + NO_BREAK + "2")
    'East 2'
    """
    return words.translate(_COMMON_SIGNS)


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
        self._order = "us" if (language, units) == ("en", "us") else "day"
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

    def short(self, value: float) -> str:
        """Number in three digits."""
        return self.plain_value(float(f"{value:.3g}"))

    def value(self, kind: str, amount: float) -> float:
        """Amount in the unit of this reader, for a figure; kinds are those of `MEASURES`."""
        return MEASURES[kind].value(amount, self.units)

    def figure(self, kind: str, amount: float | None, digits: int | None = None) -> str:
        """Amount in the unit of this reader, without the unit: for the cells of a table."""
        if amount is None:
            return ABSENT
        fine = MEASURES[kind].digits(self.units) if digits is None else digits
        return self.number(self.value(kind, amount), fine)

    def unit(self, kind: str) -> str:
        """Label of the unit."""
        return self.say(f"units.{MEASURES[kind].unit(self.units)}")

    @property
    def places(self) -> dict[str, str]:
        """What heads of columns and terms may name: units by kind, the cut-off, the root zone."""
        units = {kind: self.unit(kind) for kind in MEASURES}
        depth = self.say(f"root_zone.{self.units}")
        return units | {"cut_off": self.amount("temperature", CUT_OFF_C, 0), "depth": depth}

    def heads(self, table: str, *names: str) -> list[str]:
        """Heads of columns, from a table of the strings."""
        return [self.say(f"{table}.{name}", **self.places) for name in names]

    def amount(self, kind: str, amount: float | None, digits: int | None = None) -> str:
        """Amount with its unit."""
        return f"{self.figure(kind, amount, digits)}{NO_BREAK}{self.unit(kind)}"

    def interval(self, middle: str, low: str, high: str) -> str:
        """Median or mean with the ends of its interval in brackets."""
        return self.say("common.middle_and_range", middle=middle, low=low, high=high)

    def between(self, low: str, high: str) -> str:
        """Ends of an interval, or one of them where they are shown alike."""
        return low if low == high else self.say("common.between", low=low, high=high)

    def spread(self, quantiles: Mapping[str, float], kind: str = "") -> str:
        """P50 and in brackets P10 and P90: of a kind of `MEASURES`, a ``share``, or plain numbers.

        Examples
        --------
        >>> Reader().spread({"p10": 0.1, "p50": 0.25, "p90": 0.4}, "share")
        '25% (10% to 40%)'
        """
        shown = [
            self.percent(quantiles[level])
            if kind == "share"
            else self.figure(kind, quantiles[level])
            if kind
            else self.number(quantiles[level])
            for level in ("p50", "p10", "p90")
        ]
        return self.interval(*shown)

    def date(self, day: str | Day | None) -> str:
        """Day, month and year; "not reached" where there is none.

        Examples
        --------
        >>> Reader().date("2026-11-13"), Reader("en", "us").date("2026-11-13")
        ('13 November 2026', 'November 13, 2026')
        >>> Reader("es").date("2026-11-13")
        '13 de noviembre de 2026'
        """
        if day is None:
            return self.say("common.not_reached")
        known = _day(day)
        return self.say(
            f"calendar.{self._order}.date", day=known.day, month=self.month(known), year=known.year
        )

    def day(self, day: str | Day | None) -> str:
        """Day and short month; "not reached" where there is none."""
        if day is None:
            return self.say("common.not_reached")
        known = _day(day)
        month = self.short_month(known)
        return self.say(f"calendar.{self._order}.short", day=known.day, month=month)

    def month(self, day: str | Day) -> str:
        """Name of the month of a day."""
        return self.say(f"calendar.month.m{_day(day).month:02d}")

    def short_month(self, day: str | Day) -> str:
        """Short name of the month of a day."""
        return self.say(f"calendar.short_month.m{_day(day).month:02d}")

    def month_and_year(self, month: str) -> str:
        """Month such as ``2026-10`` in words."""
        known = Day.fromisoformat(f"{month}-01")
        return self.say("calendar.month_year", month=self.month(known), year=known.year)

    def week(self, week: str) -> str:
        """ISO week with its days: week 46 (9–15 Nov)."""
        first, last = week_days(week)
        number = int(week[6:])
        if first.month != last.month:
            return self.say(
                "calendar.week", week=number, first=self.day(first), last=self.day(last)
            )
        return self.say(
            f"calendar.{self._order}.week",
            week=number, first=first.day, last=last.day, month=self.short_month(first),
        )  # fmt: skip

    def short_week(self, week: str) -> str:
        """ISO week as it stands in a document, for tables."""
        return self.say("calendar.short_week", year=week[:4], week=week[6:])

    def name(self, text: object, places: int = NAME_PLACES) -> str:
        """Text of the user on one line, shortened, and set apart from the direction of the rest."""
        return f"{ISOLATE}{plain(text, places)}{END_ISOLATE}"

    def and_list(self, parts: list[str]) -> str:
        """Parts with commas and an "and" before the last."""
        if len(parts) < 2:
            return "".join(parts)
        return self.say("common.and", first=", ".join(parts[:-1]), last=parts[-1])


def _day(day: str | Day) -> Day:
    return Day.fromisoformat(day) if isinstance(day, str) else day
