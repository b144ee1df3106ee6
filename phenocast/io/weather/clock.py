"""What is stated of a weather file, and from the clock of its logger to UTC."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from datetime import timedelta
from typing import Literal
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from phenocast.errors import Fault, Gathered, broken
from phenocast.io.weather.quantities import quantity_of, split_header
from phenocast.season import Site, WeatherSource
from phenocast.season.site import standard_offset_h, time_zone_fault
from phenocast.weather.records import VALUE_COLUMNS
from phenocast.weather.sun import equation_of_time_h

Impossible = Literal["refuse", "blank"]


@dataclass(frozen=True)
class Stated:
    """Options of one weather source.

    Parameters
    ----------
    columns, units : mapping of str to str
        Quantity to header, and quantity or header to unit.
    time_zone : str or None
        IANA name or "UTC".
    stamp : "start", "end" or None
    time_format : str or None
        strptime format.
    local_standard : bool
        The clock never changes to summer time.
    wind_height_m : float or None
        [m]
    impossible : "refuse" or "blank"
        What becomes of a value that cannot be: an error, or a missing value that is counted.
    site : Site or None
        Where the weather is meant to be.
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    time_zone: str | None = None
    stamp: str | None = None
    time_format: str | None = None
    local_standard: bool = False
    wind_height_m: float | None = None
    impossible: Impossible = "refuse"
    site: Site | None = None

    @classmethod
    def of(cls, source: WeatherSource | None, site: Site | None) -> Stated:
        """Options that a season states of a source.

        Examples
        --------
        >>> Stated.of(WeatherSource(("a.csv",), stamp="end"), None).stamp
        'end'
        """
        names = [one.name for one in fields(cls) if one.name != "site"] if source else []
        return cls(**{name: getattr(source, name) for name in names}, site=site)

    def unit_of(self, quantity: str, header: str) -> str | None:
        """Unit stated for a quantity, under its own, a plain or the header's name."""
        for key, unit in self.units.items():
            if key in (header, split_header(header).name) or quantity_of(key) == quantity:
                return unit
        return None

    def faults(self, source: str) -> list[Fault]:
        """Faults of the options themselves."""
        zone = None if self.time_zone is None else time_zone_fault(self.time_zone, source)
        found = broken(
            (
                self.stamp not in (None, "start", "end"),
                Fault("not a stamp", source, self.stamp, '"start" or "end"'),
            ),
            (
                self.impossible not in ("refuse", "blank"),
                Fault("not a choice", source, self.impossible, '"refuse" or "blank"'),
            ),
        )
        return found if zone is None else [*found, zone]


def unused_units(stated: Stated, used: Mapping[str, str], source: str) -> list[Fault]:
    """Faults of units that belong to no column: most often a misspelt name.

    Parameters
    ----------
    stated : Stated
    used : mapping of str to str
        Quantity to header of the columns that are read.
    source : str

    Examples
    --------
    >>> print(unused_units(Stated(units={"air_x": "degF"}), {"air_c": "T1"}, "a.csv")[0])
    a.csv: units names a column that is not read (value 'air_x'; allowed: air_c or 'T1')
    """
    names = set(used.values()) | {split_header(header).name for header in used.values()}
    return [
        Fault(
            "units names a column that is not read",
            source,
            key,
            ", ".join(f"{quantity} or '{header}'" for quantity, header in used.items())
            or ", ".join(VALUE_COLUMNS),
        )
        for key in stated.units
        if key not in names and quantity_of(key) not in used
    ]


@dataclass(frozen=True)
class TimeHeader:
    """What a header of stamps says of its clock.

    Parameters
    ----------
    time_zone : str or None
        IANA name or "UTC".
    local_standard : bool
    stamp : "start", "end" or None
    unknown : str or None
        Part of the header that could not be understood.
    """

    time_zone: str | None = None
    local_standard: bool = False
    stamp: str | None = None
    unknown: str | None = None


_ENDS = re.compile(r"\bend(s|ing|ed)?\b", re.IGNORECASE)

_STARTS = re.compile(r"\b(start(s|ing)?|begin(s|ning)?)\b", re.IGNORECASE)

_STANDARD = re.compile(r"\b(standard|lst)\b", re.IGNORECASE)

_UTC = re.compile(r"\b(utc|gmt|zulu)\b", re.IGNORECASE)


def time_header(header: str) -> TimeHeader:
    """Clock and stamp that a header states, in its words or in brackets.

    Examples
    --------
    >>> time_header("time [UTC, end of hour]")
    TimeHeader(time_zone='UTC', local_standard=False, stamp='end', unknown=None)
    >>> time_header("hour_ending [Europe/Madrid]").stamp, time_header("time_utc").time_zone
    ('end', 'UTC')
    """
    words = header.replace("_", " ")
    bracketed = re.search(r"[\[(]([^\])]*)[\])]", header)
    zone, unknown = None, None
    for part in (bracketed[1] if bracketed else "").split(","):
        text = part.strip()
        if "/" in text and time_zone_fault(text) is None:
            zone = text
        elif text and "/" in text and not re.search(r"[hHmMyYdDs]{2}", text):
            unknown = text
    if zone is None and _UTC.search(words):
        zone = "UTC"
    stamp = "end" if _ENDS.search(words) else "start" if _STARTS.search(words) else None
    return TimeHeader(zone, _STANDARD.search(words) is not None, stamp, unknown)


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


def days_to_utc(
    days: pd.DatetimeIndex, stated: Stated, source: str
) -> tuple[pd.DatetimeIndex, list[str]]:
    """UTC of days of local standard time, and a note where no site tells what that is."""
    if stated.site is None:
        return days.as_unit("ns"), [f"{source}: no site is stated, so a day is taken as a UTC day"]
    return standard_to_utc(days, stated.site.time_zone).as_unit("ns"), []


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
    found.add_rows(
        f"the clock of {time_zone} skips this hour when summer time begins",
        rows=rows[skipped],
        values=[str(moment) for moment in time[skipped]],
        column=column,
        do="if the logger does not change its clock, state local_standard = true",
    )
    naive = utc.tz_convert("UTC").tz_localize(None)
    return naive, _once_only(time, utc, zone)


def _jump_begins(moment: pd.Timestamp, zone: ZoneInfo) -> bool:
    """Whether a skipped clock time is the very instant at which the clock jumps."""
    before = (moment - pd.Timedelta(seconds=1)).to_pydatetime()
    shown = before.replace(tzinfo=zone).astimezone(ZoneInfo("UTC")).astimezone(zone)
    return abs(shown.replace(tzinfo=None) - before) < timedelta(seconds=1)


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
    solar_hour = np.asarray(hour) + longitude / 15.0 + equation_of_time_h(time_utc.to_numpy())
    angle = (solar_hour - 12.0) * np.pi / 12.0
    centre = np.arctan2((light * np.sin(angle)).sum(), (light * np.cos(angle)).sum())
    return float(centre * 12.0 / np.pi)
