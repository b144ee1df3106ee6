"""Local standard time: the clock of "day", of daily extremes and of planting dates."""

from __future__ import annotations

from datetime import date

import numpy as np
from numpy.typing import NDArray

from phenocast._typing import FloatArray
from phenocast.season.site import standard_offset_h

__all__ = ["civil_clock", "local_day_and_clock", "local_midnight_utc", "standard_offset_h"]


def local_midnight_utc(day: date, time_zone: str) -> np.datetime64:
    """Return the first full UTC hour of a local standard day.

    Examples
    --------
    >>> local_midnight_utc(date(2026, 7, 1), "America/New_York")
    np.datetime64('2026-07-01T05','h')
    """
    minutes = round(standard_offset_h(time_zone, day.year) * 60)
    start = np.datetime64(day.isoformat(), "m") - np.timedelta64(minutes, "m")
    hour: np.datetime64 = (start + np.timedelta64(59, "m")).astype("datetime64[h]")
    return hour


def local_day_and_clock(
    time_utc: NDArray[np.datetime64], offset_h: float
) -> tuple[NDArray[np.datetime64], FloatArray]:
    """Return the local standard date of each hour and the clock at its start [h, 0 to 24).

    Parameters
    ----------
    time_utc : array [n] of datetime64[h]
        Start of each hour.
    offset_h : float
        Offset of local standard time from UTC [h].

    Returns
    -------
    days : array [n] of datetime64[D]
    clock_h : array [n]

    Examples
    --------
    >>> hours = np.array(["2026-01-01T00", "2026-01-01T20"], dtype="datetime64[h]")
    >>> days, clock = local_day_and_clock(hours, 5.5)
    >>> [str(d) for d in days], clock.tolist()
    (['2026-01-01', '2026-01-02'], [5.5, 1.5])
    """
    minutes = time_utc.astype("datetime64[m]").astype(np.int64) + round(offset_h * 60)
    day_number, minute = np.divmod(minutes, 1440)
    return day_number.astype("datetime64[D]"), minute / 60.0


def civil_clock(time_utc: NDArray[np.datetime64], time_zone: str) -> FloatArray:
    """Return what the clock of a zone shows at each instant, summer time included [h, 0 to 24).

    Parameters
    ----------
    time_utc : array [n] of datetime64
    time_zone : str
        IANA name.

    Examples
    --------
    >>> noon = np.array(["2027-01-04T12", "2027-07-04T12"], dtype="datetime64[h]")
    >>> civil_clock(noon, "Atlantic/Canary")
    array([12., 13.])
    """
    import pandas as pd

    local = pd.DatetimeIndex(time_utc).tz_localize("UTC").tz_convert(time_zone)
    return np.asarray(local.hour + local.minute / 60.0, dtype=np.float64)
