"""What the user states of a weather file that the file does not say itself."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from phenocast.errors import Fault
from phenocast.io.columns import quantity_of, split_header
from phenocast.season import Site, WeatherSource
from phenocast.season.site import time_zone_fault
from phenocast.weather.records import VALUE_COLUMNS

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
    def of(cls, source: WeatherSource, site: Site | None) -> Stated:
        """Options that a season states of a source.

        Examples
        --------
        >>> Stated.of(WeatherSource(("a.csv",), stamp="end"), None).stamp
        'end'
        """
        return cls(
            columns=source.columns,
            units=source.units,
            time_zone=source.time_zone,
            stamp=source.stamp,
            time_format=source.time_format,
            local_standard=source.local_standard,
            wind_height_m=source.wind_height_m,
            impossible=source.impossible,
            site=site,
        )

    def unit_of(self, quantity: str, header: str) -> str | None:
        """Unit stated for a quantity, under its own, a plain or the header's name."""
        for key, unit in self.units.items():
            if key in (header, split_header(header).name) or quantity_of(key) == quantity:
                return unit
        return None

    def faults(self, source: str) -> list[Fault]:
        """Faults of the options themselves."""
        found = []
        if self.stamp not in (None, "start", "end"):
            found.append(Fault("not a stamp", source, self.stamp, '"start" or "end"'))
        if self.impossible not in ("refuse", "blank"):
            found.append(Fault("not a choice", source, self.impossible, '"refuse" or "blank"'))
        if self.time_zone is not None and (fault := time_zone_fault(self.time_zone, source)):
            found.append(fault)
        return found


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
