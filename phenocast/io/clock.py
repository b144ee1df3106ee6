"""From the clock of a logger to UTC: standard time, summer time with its gaps and repeats."""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from phenocast.cache import cached_table
from phenocast.io.gathered import Gathered
from phenocast.weather.local_time import standard_offset_h

STATE_CLOCK = (
    'state it: local_standard = true (the clock never changes), time_zone = "UTC", or time_zone = '
    'an IANA name (the clock changes with summer time); or write the column as "time [UTC]"'
)


def standard_to_utc(time: pd.DatetimeIndex, time_zone: str) -> pd.DatetimeIndex:
    """UTC of local standard time, which knows no summer time.

    Parameters
    ----------
    time : DatetimeIndex
        Naive local standard time.
    time_zone : str
        IANA name of the zone.

    Returns
    -------
    DatetimeIndex
        Naive UTC.

    Examples
    --------
    >>> str(standard_to_utc(pd.DatetimeIndex(["2026-07-01 00:00"]), "Europe/Madrid")[0])
    '2026-06-30 23:00:00'
    """
    years = time.year.to_numpy()
    minutes = np.zeros(len(time), dtype=np.int64)
    for year in np.unique(years):
        minutes[years == year] = round(60 * standard_offset_h(time_zone, int(year)))
    return pd.DatetimeIndex(time - pd.to_timedelta(minutes, unit="min"))


def clock_to_utc(
    time: pd.DatetimeIndex,
    rows: np.ndarray,
    time_zone: str,
    found: Gathered,
    column: str,
    *,
    ends: bool = False,
) -> tuple[pd.DatetimeIndex, list[str]]:
    """UTC of a clock that changes with summer time.

    An hour that the clock shows twice is summer time where it first comes and standard time where
    it comes again. An hour that the clock skips is a fault: such a logger does not change.

    Parameters
    ----------
    time : DatetimeIndex
        Naive clock time, in the order of the file.
    rows : array of int
        Line of each in the file.
    time_zone : str
        IANA name.
    found : Gathered
        Takes the faults.
    column : str
        Name of the column of stamps.
    ends : bool
        Stamps are the ends of intervals, so the last standard hour may end as the clock jumps.

    Returns
    -------
    utc : DatetimeIndex
        Naive UTC; NaT where there is a fault.
    notes : list of str

    Examples
    --------
    >>> autumn = pd.DatetimeIndex(["2026-10-25 01:00", "2026-10-25 02:00", "2026-10-25 02:00"])
    >>> utc, _ = clock_to_utc(autumn, np.arange(3), "Europe/Madrid", Gathered("a.csv"), "time")
    >>> [str(t) for t in utc.time]
    ['23:00:00', '00:00:00', '01:00:00']
    """
    repeat = pd.Series(np.arange(len(time))).groupby(time.to_numpy()).cumcount().to_numpy()
    zone = ZoneInfo(time_zone)
    summer = repeat == 0
    utc = time.tz_localize(zone, ambiguous=summer, nonexistent="NaT")
    skipped = np.asarray(utc.isna()) & ~np.asarray(time.isna())
    if ends and skipped.any():
        last = np.asarray([_jump_begins(moment, zone) for moment in time[skipped]])
        moved = time[skipped] + pd.to_timedelta(np.where(last, 1, 0), unit="h")
        filled = time.to_numpy().copy()
        filled[skipped] = moved.to_numpy()
        utc = pd.DatetimeIndex(filled).tz_localize(zone, ambiguous=summer, nonexistent="NaT")
        skipped = np.asarray(utc.isna()) & ~np.asarray(time.isna())
    if skipped.any():
        found.add_rows(
            f"the clock of {time_zone} skips this hour when summer time begins",
            rows=rows[skipped], values=[str(moment) for moment in time[skipped]], column=column,
            do="if the logger does not change its clock, state local_standard = true",
        )  # fmt: skip
    naive = utc.tz_convert("UTC").tz_localize(None)
    return naive, _once_only(time, utc, zone)


def _jump_begins(moment: pd.Timestamp, zone: ZoneInfo) -> bool:
    """Whether a skipped clock time is the very instant at which the clock jumps."""
    before = (moment - pd.Timedelta(seconds=1)).to_pydatetime()
    return _exists(before, zone)


def _exists(moment: datetime, zone: ZoneInfo) -> bool:
    """Whether the clock of a zone ever shows a time."""
    back = moment.replace(tzinfo=zone).astimezone(ZoneInfo("UTC")).astimezone(zone)
    return abs(back.replace(tzinfo=None) - moment) < timedelta(seconds=1)


def _once_only(time: pd.DatetimeIndex, utc: pd.DatetimeIndex, zone: ZoneInfo) -> list[str]:
    """Notes on hours that the clock shows twice but the file holds once."""
    later = time.tz_localize(zone, ambiguous=np.zeros(len(time), dtype=bool), nonexistent="NaT")
    earlier = time.tz_localize(zone, ambiguous=np.ones(len(time), dtype=bool), nonexistent="NaT")
    twice = np.asarray(later != earlier) & ~np.asarray(time.isna()) & ~np.asarray(utc.isna())
    alone = twice & ~np.asarray(time.duplicated(keep=False))
    return [
        f"the clock shows {moment:%Y-%m-%d %H:%M} twice when summer time ends, the file has it "
        "once: taken as summer time"
        for moment in time[alone][:3]
    ]


def light_shift_h(
    time_utc: pd.DatetimeIndex, solar_w_m2: np.ndarray, longitude: float, step_h: float
) -> float | None:
    """How much later than the sun the light of a file comes; far from 0 where the clock is wrong.

    Centre of the day's solar radiation against solar noon, over all days. The equation of time is
    Spencer's (1971) as pvlib computes it.

    Parameters
    ----------
    time_utc : DatetimeIndex, [n]
        Start of each interval.
    solar_w_m2 : array [n]
        [W m-2]
    longitude : float
        East positive. [deg]
    step_h : float
        Length of an interval. [h]

    Returns
    -------
    float or None
        -12 to 12, positive where the stamps are late; None with under three days of light. [h]

    Examples
    --------
    >>> hours = pd.date_range("2026-03-01", periods=240, freq="h")
    >>> light = np.clip(np.cos((hours.hour + 0.5 - 12.2) / 12 * np.pi), 0, None) * 800
    >>> shift = light_shift_h(hours, np.asarray(light), 0.0, 1.0)
    >>> round(abs(shift), 1)
    0.0
    """
    lit = np.isfinite(solar_w_m2) & (solar_w_m2 > 0.0)
    time_utc, light = time_utc[lit], solar_w_m2[lit]
    if (light > 50.0).sum() * step_h < 24.0:
        return None
    hour = time_utc.hour + time_utc.minute / 60.0 + step_h / 2.0
    minutes = _equation_of_time_min()[time_utc.day_of_year.to_numpy() - 1]
    solar_hour = np.asarray(hour) + longitude / 15.0 + minutes / 60.0
    angle = (solar_hour - 12.0) * np.pi / 12.0
    centre = np.arctan2((light * np.sin(angle)).sum(), (light * np.cos(angle)).sum())
    return float(centre * 12.0 / np.pi)


@lru_cache(maxsize=1)
def _equation_of_time_min() -> NDArray[np.float64]:
    """How far the sun is ahead of the clock on each day of a year, ``[366]`` [min]."""

    def make() -> NDArray[np.float64]:
        from pvlib.solarposition import equation_of_time_spencer71  # slow to load

        return np.asarray(equation_of_time_spencer71(np.arange(1, 367)), dtype=np.float64)

    return cached_table(
        "equation-of-time", (366,), [], made_by=["pvlib"], source=__file__, make=make
    )
