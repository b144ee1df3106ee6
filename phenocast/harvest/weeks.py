"""ISO weeks of local days."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from phenocast.errors import Fault, InputError


def iso_week(day: date) -> str:
    """Return the ISO 8601 week of a day.

    >>> iso_week(date(2027, 1, 3)), iso_week(date(2027, 1, 4))
    ('2026-W53', '2027-W01')
    """
    year, week, _ = day.isocalendar()
    return f"{year}-W{week:02d}"


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


def week_labels(start: date, n_days: int) -> tuple[list[str], NDArray[np.int64]]:
    """Return the ISO weeks that a run of days touches and the week index of each day.

    Parameters
    ----------
    start : date
        First local day.
    n_days : int

    Returns
    -------
    labels : list of str
        The weeks in order, such as ``2026-W40``; the first and last may hold fewer than 7 days.
    week_of_day : array of int, shape (n_days,)

    Examples
    --------
    >>> week_labels(date(2026, 10, 3), 3)
    (['2026-W40', '2026-W41'], array([0, 0, 1]))
    """
    labels: list[str] = []
    index = np.empty(n_days, dtype=np.int64)
    for offset in range(n_days):
        week = iso_week(start + timedelta(days=offset))
        if not labels or labels[-1] != week:
            labels.append(week)
        index[offset] = len(labels) - 1
    return labels, index
