"""Local standard days: where each calendar day of a site begins in an hourly UTC series.

Daily sums, photoperiod and ISO weeks all use local standard time, so that daylight saving
never makes a day of 23 or 25 hours.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from phenocast.errors import Fault, InputError
from phenocast.weather.local_time import local_midnight_utc

HOURS_PER_DAY = 24


@dataclass(frozen=True)
class LocalDays:
    """A run of whole local standard days inside an hourly series.

    ``first_hour`` is the index of the first hour of ``first_date``; day ``i`` holds the 24 hours
    from ``first_hour + 24 * i``.
    """

    first_date: date
    n_days: int
    first_hour: int

    def dates(self) -> list[date]:
        """Return the calendar date of each day."""
        return [self.first_date + timedelta(days=i) for i in range(self.n_days)]

    def hours(self) -> slice:
        """Return the slice of the hourly series that these days cover."""
        return slice(self.first_hour, self.first_hour + HOURS_PER_DAY * self.n_days)


def local_days(
    time_utc: NDArray[np.datetime64],
    time_zone: str,
    first_date: date,
    n_days: int,
    what: str = "the block",
) -> LocalDays:
    """Find whole local days in a strictly hourly series.

    Parameters
    ----------
    time_utc : array of datetime64[h], start of each hour, without gaps.
    time_zone : IANA name of the site's zone.
    first_date, n_days : the days wanted.
    what : who asks, for the message.

    Raises
    ------
    InputError
        When the series does not cover the days; the message says which days it has.
    """
    start = local_midnight_utc(first_date, time_zone)
    first_hour = int((start - time_utc[0].astype("datetime64[h]")) / np.timedelta64(1, "h"))
    if first_hour < 0 or first_hour + HOURS_PER_DAY * n_days > len(time_utc):
        last = first_date + timedelta(days=n_days - 1)
        raise InputError(
            Fault(
                what=f"the weather does not cover {what}",
                where="weather",
                value=f"weather from {time_utc[0]} to {time_utc[-1]} UTC",
                allowed=f"{first_date} to {last}, local standard time",
                do="give a weather file that covers these days, or change the planting date",
            )
        )
    return LocalDays(first_date, n_days, first_hour)
