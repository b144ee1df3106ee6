"""Kinds of value in a season file: plain numbers, days, clock hours, names.

Each refuses what merely could be read, such as "05/10/2026" or a number inside quotes, with a
message that says how to write it.
"""

from __future__ import annotations

import re
from datetime import date, datetime, time
from typing import Annotated, Any

from pydantic import BeforeValidator, ConfigDict, Field, StrictFloat, StrictInt, StrictStr
from pydantic_core import PydanticCustomError

from phenocast.season.site import ClockHours

# What every table of the file keeps to: a key that is not known is a fault. It is built when first
# used, so that a table inside another is built once and not once for each.
OF_TABLES = ConfigDict(extra="forbid", defer_build=True)

_ISO_DAY = re.compile(r"^\d{4}-\d{2}-\d{2}$")
_CLOCK = re.compile(r"^(\d{1,2}):(\d{2})$")


def _refuse(what: str, allowed: str, do: str = "") -> PydanticCustomError:
    """Return an error that carries the parts of a fault."""
    context = {"what": what, "allowed": allowed, "do": do}
    return PydanticCustomError("season", "{what}", context)


def read_day(value: Any) -> date:
    """Return a calendar day.

    Examples
    --------
    >>> read_day("2026-10-05")
    datetime.date(2026, 10, 5)
    """
    if isinstance(value, datetime):
        if value.time() == time(0) and value.tzinfo is None:
            return value.date()
        raise _refuse("a day is wanted, not a time of day", "a date such as 2026-10-05")
    if isinstance(value, date):
        day = value
    elif isinstance(value, str) and _ISO_DAY.match(value):
        try:
            day = date.fromisoformat(value)
        except ValueError:
            raise _refuse("there is no such day", "a date such as 2026-10-05") from None
    else:
        raise _refuse(
            "not a date",
            "year-month-day such as 2026-10-05",
            "day-first and month-first dates are not guessed at",
        )
    if not 1900 <= day.year <= 2100:
        raise _refuse("the year is out of range", "1900 to 2100")
    return day


def read_hour(value: Any) -> float:
    """Return an hour of the day from a number, "22:30" or a TOML time. [h]

    Examples
    --------
    >>> read_hour("22:30"), read_hour(6)
    (22.5, 6.0)
    """
    hour: float | None = None
    if isinstance(value, time):
        hour = value.hour + value.minute / 60.0
    elif isinstance(value, int | float) and not isinstance(value, bool):
        hour = float(value)
    elif isinstance(value, str) and (found := _CLOCK.match(value)) and int(found[2]) < 60:
        hour = int(found[1]) + int(found[2]) / 60.0
    if hour is None or not 0.0 <= hour <= 24.0:
        raise _refuse("not an hour of the day", "0 to 24, or '22:30', local standard time")
    return hour


def read_hours(value: Any) -> ClockHours:
    """Return clock hours from a pair.

    Examples
    --------
    >>> read_hours([10, 16])
    ClockHours(start=10.0, end=16.0)
    """
    if isinstance(value, ClockHours):
        return value
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise _refuse("two hours are wanted", "[from, to], such as [10, 16] or ['22:00', '02:00']")
    start, end = (read_hour(hour) for hour in value)
    if start % 24.0 == end % 24.0 and {start, end} != {0.0, 24.0}:
        raise _refuse("the two hours are the same", "[from, to], [0, 24] for the whole day")
    return ClockHours(start % 24.0, end if end == 24.0 else end % 24.0)


def listed(value: Any) -> Any:
    """Return a single entry as a list of one."""
    return value if isinstance(value, list) else [value]


def file_table(value: Any) -> Any:
    """Return a bare file name, or several, as the table that a source is."""
    return {"file": value} if isinstance(value, str | list) else value


def kind_table(value: Any) -> Any:
    """Return a bare kind as the table that says no more."""
    return {"kind": value} if isinstance(value, str) else value


def _files(value: Any) -> tuple[str, ...]:
    """Return file names, given one or several."""
    names = tuple(value) if isinstance(value, list | tuple) else (value,)
    if not names or not all(isinstance(name, str) and name.strip() for name in names):
        raise _refuse("not a file name", "a path in quotes, or a list of them")
    return names


def _text(value: Any) -> str:
    """Return a name, refused where blank."""
    if not isinstance(value, str):
        raise _refuse("not a text", "a text in quotes")
    if not value.strip():
        raise _refuse("the text is empty", "a text in quotes")
    return value.strip()


Number = Annotated[StrictFloat, Field(allow_inf_nan=False)]
Whole = StrictInt
Text = Annotated[StrictStr, BeforeValidator(_text)]
Day = Annotated[date, BeforeValidator(read_day)]
Hour = Annotated[float, BeforeValidator(read_hour)]
Hours = Annotated[ClockHours, BeforeValidator(read_hours)]
Files = Annotated[tuple[str, ...], BeforeValidator(_files)]
