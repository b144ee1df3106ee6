"""Dates as a reader writes them: words of the language; US units put an English month first."""

from __future__ import annotations

from datetime import date as Day  # noqa: N812  (a method of the calendar is called date)
from datetime import timedelta

from phenocast.report.language import Words


def week_days(week: str) -> tuple[Day, Day]:
    """First and last day of an ISO week.

    Examples
    --------
    >>> week_days("2026-W53")
    (datetime.date(2026, 12, 28), datetime.date(2027, 1, 3))
    """
    monday = Day.fromisocalendar(int(week[:4]), int(week[6:]), 1)
    return monday, monday + timedelta(days=6)


class Calendar:
    """Dates in words.

    Parameters
    ----------
    words : Words
    system : str
        ``metric`` or ``us``; the latter puts the month first in English.

    Examples
    --------
    >>> english = Calendar(Words("en"), "metric")
    >>> english.date("2026-11-13"), Calendar(Words("en"), "us").date("2026-11-13")
    ('13 November 2026', 'November 13, 2026')
    >>> Calendar(Words("es"), "metric").date("2026-11-13")
    '13 de noviembre de 2026'
    """

    def __init__(self, words: Words, system: str) -> None:
        self._words = words
        self._order = "us" if system == "us" and words.language == "en" else "day"

    def date(self, day: str | Day) -> str:
        """Day, month and year."""
        known = _day(day)
        return self._words(
            f"calendar.{self._order}.date", day=known.day, month=self.month(known), year=known.year
        )

    def day(self, day: str | Day) -> str:
        """Day and short month, without the year."""
        known = _day(day)
        return self._words(
            f"calendar.{self._order}.short", day=known.day, month=self.short_month(known)
        )

    def month(self, day: str | Day) -> str:
        """Name of the month of a day."""
        return self._words(f"calendar.month.m{_day(day).month:02d}")

    def short_month(self, day: str | Day) -> str:
        """Short name of the month of a day."""
        return self._words(f"calendar.short_month.m{_day(day).month:02d}")

    def month_and_year(self, month: str) -> str:
        """Month such as ``2026-10`` in words."""
        known = Day.fromisoformat(f"{month}-01")
        return self._words("calendar.month_year", month=self.month(known), year=known.year)

    def week(self, week: str) -> str:
        """ISO week with its days: week 46 (9–15 Nov)."""
        first, last = week_days(week)
        if first.month == last.month:
            return self._words(
                f"calendar.{self._order}.week",
                week=int(week[6:]), first=first.day, last=last.day, month=self.short_month(first),
            )  # fmt: skip
        return self._words(
            "calendar.week", week=int(week[6:]), first=self.day(first), last=self.day(last)
        )

    def short_week(self, week: str) -> str:
        """ISO week as its year and number, for tables."""
        return self._words("calendar.short_week", year=week[:4], week=int(week[6:]))


def _day(day: str | Day) -> Day:
    return Day.fromisoformat(day) if isinstance(day, str) else day
