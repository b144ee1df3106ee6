"""Local standard time: the clock of "day", of daily extremes and of planting dates.

One hourly weather table: complete, checked, every filled value flagged.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from phenocast._typing import FloatArray
from phenocast.errors import Fault, refuse
from phenocast.season.site import Site, standard_offset_h


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


Moment = np.datetime64 | datetime | date | str


AIR_INTERPOLATED = 1

AIR_FROM_OTHER = 2

AIR_FROM_DAILY = 4

SOLAR_ESTIMATED = 8

WIND_ESTIMATED = 16

HUMIDITY_ESTIMATED = 32

RAIN_ESTIMATED = 64

SPREAD_FROM_DAILY = 128


FLAG_NAMES = {
    AIR_INTERPOLATED: "air interpolated",
    AIR_FROM_OTHER: "air from other days or years",
    AIR_FROM_DAILY: "air from daily maximum and minimum",
    SOLAR_ESTIMATED: "solar radiation estimated",
    WIND_ESTIMATED: "wind estimated",
    HUMIDITY_ESTIMATED: "humidity estimated",
    RAIN_ESTIMATED: "rain taken as zero",
    SPREAD_FROM_DAILY: "daily solar, wind, humidity or rain spread over the day",
}

"""Bits of ``HourlyWeather.filled`` and what each says of the hour."""


SERIES = (
    "time_utc",
    "air_c",
    "vapour_pressure_kpa",
    "wind_m_s",
    "solar_w_m2",
    "longwave_down_w_m2",
    "rain_mm",
    "filled",
)

"""Names of the arrays of `HourlyWeather`."""


@dataclass(frozen=True)
class HourlyWeather:
    """Hourly weather of one site, without gaps. Every array has the shape ``[n]``.

    Parameters
    ----------
    time_utc : array of datetime64[h]
        Start of each hour, strictly hourly.
    air_c, vapour_pressure_kpa, wind_m_s, solar_w_m2, longwave_down_w_m2, rain_mm : arrays
        Air temperature [degC], vapour pressure [kPa], wind at 2 m [m s-1], solar radiation on the
        level and longwave from the sky [W m-2], rain [mm]. Longwave is NaN where not measured.
    filled : array of uint8
        What was filled in each hour: a sum of the flags of this module; 0 where all was measured.
    site : Site
    typical_year : bool
        True for a typical-year file, whose months come from different years.
    warnings : tuple of str
        What the user should know of checks and fillings.
    counts : dict of str to int
        How much was missing, removed and filled when the table was made, by kind.
    findings : tuple of Fault
        Values that the checks took out or found unusual, with their rows; a long list is cut.
    source : str
        Name of the file.

    Raises
    ------
    InputError
        When the arrays differ in length or the stamps are not strictly hourly.

    Examples
    --------
    >>> w = constant_weather(Site("Low Quay", 29.3, -15.6, 35.0, "Atlantic/Canary"), 48, 15.0)
    >>> len(w), len(w.between("2026-01-01T06", "2026-01-01T09"))
    (48, 3)
    """

    time_utc: NDArray[np.datetime64]
    air_c: FloatArray
    vapour_pressure_kpa: FloatArray
    wind_m_s: FloatArray
    solar_w_m2: FloatArray
    longwave_down_w_m2: FloatArray
    rain_mm: FloatArray
    filled: NDArray[np.uint8]
    site: Site
    typical_year: bool = False
    warnings: tuple[str, ...] = ()
    counts: Mapping[str, int] = field(default_factory=dict)
    findings: tuple[Fault, ...] = ()
    source: str = ""

    def __post_init__(self) -> None:
        n = len(self.time_utc)
        odd = [name for name in SERIES if getattr(self, name).shape != (n,)]
        refuse(
            (
                odd,
                Fault(
                    f"weather arrays differ in length: {', '.join(odd)}",
                    where=self.source,
                    allowed=f"{n} hours",
                ),
            )
        )
        refuse(
            (
                self.time_utc.dtype != np.dtype("datetime64[h]"),
                Fault(
                    "hourly stamps are not datetime64[h]",
                    where=self.source,
                    value=str(self.time_utc.dtype),
                ),
            )
        )
        refuse(
            (
                n > 1 and not np.all(np.diff(self.time_utc) == np.timedelta64(1, "h")),
                Fault("the hourly stamps leave hours out", where=self.source),
            )
        )

    def __len__(self) -> int:
        return len(self.time_utc)

    def filled_counts(self) -> dict[str, int]:
        """Return how many hours carry each flag, by its meaning; unused flags are left out.

        Examples
        --------
        >>> site = Site("Low Quay", 29.3, -15.6, 35.0, "Atlantic/Canary")
        >>> constant_weather(site, 24, 15.0).filled_counts()
        {}
        """
        return {
            name: int(np.count_nonzero(self.filled & flag))
            for flag, name in FLAG_NAMES.items()
            if np.any(self.filled & flag)
        }

    def between(self, start: Moment, end: Moment) -> HourlyWeather:
        """Return the hours from ``start`` up to, not including, ``end`` [UTC], as views.

        Parameters
        ----------
        start, end : datetime64, datetime, date or ISO text
            Both within the table; ``end`` may be the hour after the last.

        Raises
        ------
        InputError
            When the span reaches outside the table or is turned round.

        Examples
        --------
        >>> site = Site("Low Quay", 29.3, -15.6, 35.0, "Atlantic/Canary")
        >>> constant_weather(site, 24, 15.0).between("2026-01-01T20", "2026-01-02T06")
        Traceback (most recent call last):
        phenocast.errors.InputError: weather: the span reaches outside the weather...
        """
        low, high = _hour(start), _hour(end)
        where, asked = self.source or "weather", f"{low} to {high}"
        refuse((high < low, Fault("the span ends before it starts", where, asked)))
        first = int((low - self._origin()).astype(int))
        stop = first + int((high - low).astype(int))
        refuse(
            (
                first < 0 or stop > len(self),
                Fault(
                    "the span reaches outside the weather", where, f"{asked} UTC", self.span(),
                    "give weather that covers it, or move the dates",
                ),
            )
        )  # fmt: skip
        return self.slice(first, stop)

    def slice(self, first: int, stop: int) -> HourlyWeather:
        """Return the hours ``first`` to ``stop`` (not included) by position, as views.

        Examples
        --------
        >>> site = Site("Low Quay", 29.3, -15.6, 35.0, "Atlantic/Canary")
        >>> constant_weather(site, 24, 15.0).slice(2, 5).time_utc[0]
        np.datetime64('2026-01-01T02','h')
        """
        return replace(self, **{name: getattr(self, name)[first:stop] for name in SERIES})

    def joined(self, later: HourlyWeather) -> HourlyWeather:
        """Return this table continued by a later one; where they overlap, this one stands.

        Raises
        ------
        InputError
            When hours are missing between the two.

        Examples
        --------
        >>> w = constant_weather(Site("Low Quay", 29.3, -15.6, 35.0, "Atlantic/Canary"), 48, 15.0)
        >>> len(w.slice(0, 30).joined(w.slice(20, 48)))
        48
        """
        if len(self) == 0:
            return later
        if len(later) == 0:
            return self
        after = self.time_utc[-1] + np.timedelta64(1, "h")
        skip = int((after - later.time_utc[0]).astype(int))
        refuse(
            (
                skip < 0,
                Fault(
                    "hours are missing between two weather tables",
                    f"{self.source or 'weather'} and {later.source or 'weather'}",
                    f"{after} to {later.time_utc[0]} UTC",
                ),
            )
        )
        parts: dict[str, Any] = {
            n: np.concatenate([getattr(self, n), getattr(later, n)[skip:]]) for n in SERIES
        }
        names = dict.fromkeys([self.source, later.source])
        counts = {
            key: self.counts.get(key, 0) + later.counts.get(key, 0)
            for key in [*self.counts, *(k for k in later.counts if k not in self.counts)]
        }
        return replace(
            self,
            **parts,
            warnings=tuple(dict.fromkeys([*self.warnings, *later.warnings])),
            counts=counts,
            source=", ".join(name for name in names if name),
            typical_year=self.typical_year and later.typical_year,
        )

    def restamped(self, start: Moment) -> HourlyWeather:
        """Return the same hours under stamps that begin at ``start`` [UTC].

        Examples
        --------
        >>> w = constant_weather(Site("Low Quay", 29.3, -15.6, 35.0, "Atlantic/Canary"), 48, 15.0)
        >>> w.restamped("2030-05-01").time_utc[-1]
        np.datetime64('2030-05-02T23','h')
        """
        stamps = _hour(start) + np.arange(len(self)).astype("timedelta64[h]")
        return replace(self, time_utc=stamps)

    def span(self) -> str:
        """Return the first and last hour as text.

        Examples
        --------
        >>> site = Site("Low Quay", 29.3, -15.6, 35.0, "Atlantic/Canary")
        >>> constant_weather(site, 24, 15.0).span()
        '2026-01-01T00 to 2026-01-01T23 UTC'
        """
        return f"{self.time_utc[0]} to {self.time_utc[-1]} UTC" if len(self) else "no hours"

    def _origin(self) -> np.datetime64:
        refuse((len(self) == 0, Fault("the weather table has no hours", where=self.source)))
        return _hour(self.time_utc[0])


def _hour(moment: Moment) -> np.datetime64:
    hour: np.datetime64 = np.datetime64(moment).astype("datetime64[h]")
    return hour


def constant_weather(
    site: Site,
    n_hours: int,
    air_c: float,
    *,
    start: Moment = "2026-01-01T00",
    vapour_pressure_kpa: float = 1.0,
    wind_m_s: float = 2.0,
    solar_w_m2: float = 0.0,
) -> HourlyWeather:
    """Return a table in which nothing changes: for limiting cases and examples.

    Parameters
    ----------
    site : Site
    n_hours : int
    air_c : float
        Air temperature [degC].
    start : moment
        First hour [UTC].
    vapour_pressure_kpa, wind_m_s, solar_w_m2 : float
        Vapour pressure [kPa], wind at 2 m [m s-1], solar radiation [W m-2].

    Examples
    --------
    >>> site = Site("Low Quay", 29.3, -15.6, 35.0, "Atlantic/Canary")
    >>> float(constant_weather(site, 3, 15.0).air_c.mean())
    15.0
    """
    return HourlyWeather(
        time_utc=_hour(start) + np.arange(n_hours).astype("timedelta64[h]"),
        air_c=np.full(n_hours, float(air_c)),
        vapour_pressure_kpa=np.full(n_hours, float(vapour_pressure_kpa)),
        wind_m_s=np.full(n_hours, float(wind_m_s)),
        solar_w_m2=np.full(n_hours, float(solar_w_m2)),
        longwave_down_w_m2=np.full(n_hours, np.nan),
        rain_mm=np.zeros(n_hours),
        filled=np.zeros(n_hours, dtype=np.uint8),
        site=site,
    )


@dataclass(frozen=True)
class SeasonWeather:
    """The weather that a season file names, as hourly tables.

    ``observed`` up to some day; ``history``, past years as weather traces; ``outlook``, members
    of an ensemble for the next days; ``nursery``, the weeks before planting.

    Examples
    --------
    >>> SeasonWeather().tables()
    ()
    """

    observed: HourlyWeather | None = None
    history: HourlyWeather | None = None
    outlook: Mapping[int, HourlyWeather] = field(default_factory=dict)
    nursery: HourlyWeather | None = None

    def tables(self) -> tuple[HourlyWeather, ...]:
        """Return the tables of all parts, the first member standing for the outlook."""
        member = next(iter(self.outlook.values()), None)
        parts = (self.observed, self.history, member, self.nursery)
        return tuple(part for part in parts if part is not None)
