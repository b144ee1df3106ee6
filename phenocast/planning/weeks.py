"""ISO weeks as days."""

from __future__ import annotations

from datetime import date

from phenocast.errors import Fault, InputError


def monday(week: str) -> date:
    """Return the first day of an ISO week.

    Raises
    ------
    InputError
        Where the text is no ISO week.

    Examples
    --------
    >>> monday("2026-W53"), monday("2027-W01")
    (datetime.date(2026, 12, 28), datetime.date(2027, 1, 4))
    """
    try:
        return date.fromisocalendar(int(week[:4]), int(week[6:]), 1)
    except ValueError:
        raise InputError(
            Fault("no such ISO week", value=week, allowed="such as 2027-W03")
        ) from None
