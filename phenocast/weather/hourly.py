"""One hourly weather table: complete, checked, every filled value flagged."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from phenocast.season.site import Site

Hours = NDArray[np.float64]

AIR_INTERPOLATED = 1
AIR_FROM_OTHER_DAYS = 2
AIR_FROM_DAILY = 4
HUMIDITY_ESTIMATED = 8
WIND_ESTIMATED = 16
SOLAR_ESTIMATED = 32
RAIN_ASSUMED_ZERO = 64

FLAG_NAMES = {
    AIR_INTERPOLATED: "air interpolated",
    AIR_FROM_OTHER_DAYS: "air from other days",
    AIR_FROM_DAILY: "air from daily maximum and minimum",
    HUMIDITY_ESTIMATED: "humidity estimated",
    WIND_ESTIMATED: "wind estimated",
    SOLAR_ESTIMATED: "solar radiation estimated",
    RAIN_ASSUMED_ZERO: "rain taken as zero",
}


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
    source : str
        Name of the file.
    """

    time_utc: NDArray[np.datetime64]
    air_c: Hours
    vapour_pressure_kpa: Hours
    wind_m_s: Hours
    solar_w_m2: Hours
    longwave_down_w_m2: Hours
    rain_mm: Hours
    filled: NDArray[np.uint8]
    site: Site
    typical_year: bool = False
    warnings: tuple[str, ...] = field(default=())
    source: str = ""

    def __len__(self) -> int:
        return len(self.time_utc)

    def counts(self) -> Mapping[str, int]:
        """Return how many hours were filled, by what was filled."""
        return {
            name: int(np.count_nonzero(self.filled & flag))
            for flag, name in FLAG_NAMES.items()
            if np.any(self.filled & flag)
        }

    def slice(self, first: int, stop: int) -> HourlyWeather:
        """Return the hours ``first`` to ``stop`` (not included) by position."""
        return self._with({name: getattr(self, name)[first:stop] for name in _SERIES})

    def between(self, start: np.datetime64, end: np.datetime64) -> HourlyWeather:
        """Return the hours from ``start`` up to, not including, ``end``; what lies outside is cut."""
        first, stop = np.searchsorted(self.time_utc, [start, end])
        return self.slice(int(first), int(stop))

    def joined(self, later: HourlyWeather) -> HourlyWeather:
        """Return this series with a later one appended; their hours must follow on.

        Raises
        ------
        ValueError
            When a gap or an overlap lies between them: a fault of the caller.
        """
        if len(self) == 0:
            return later
        if len(later) == 0:
            return self
        if later.time_utc[0] - self.time_utc[-1] != np.timedelta64(1, "h"):
            raise ValueError("the two series do not follow on hour by hour")
        merged = {
            name: np.concatenate([getattr(self, name), getattr(later, name)]) for name in _SERIES
        }
        return self._with(merged)

    def restamped(self, start: np.datetime64) -> HourlyWeather:
        """Return the same hours under stamps that begin at ``start``."""
        stamps = start.astype("datetime64[h]") + np.arange(len(self)).astype("timedelta64[h]")
        return self._with({"time_utc": stamps})

    def _with(self, changes: Mapping[str, NDArray]) -> HourlyWeather:
        return replace(self, **changes)


_SERIES = (
    "time_utc",
    "air_c",
    "vapour_pressure_kpa",
    "wind_m_s",
    "solar_w_m2",
    "longwave_down_w_m2",
    "rain_mm",
    "filled",
)


@dataclass(frozen=True)
class SeasonWeather:
    """The weather that a season file names, as hourly tables.

    ``observed`` up to some day; ``history``, past years as possible futures; ``outlook``, members
    of an ensemble for the next days; ``nursery``, the weeks before planting.
    """

    observed: HourlyWeather | None = None
    history: HourlyWeather | None = None
    outlook: Mapping[int, HourlyWeather] = field(default_factory=dict)
    nursery: HourlyWeather | None = None
