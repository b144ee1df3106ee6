"""The plain rule beside a hindcast: a sum of air warmth, with no film and no upper limit.

The sum that the cultivar needed from planting to first pick in the other seasons is looked for in
the weather that could follow. It knows the air and nothing of beds, films or plants.
"""

from __future__ import annotations

from datetime import date

import numpy as np
from numpy.typing import NDArray

from phenocast.thermal_time import prefix_sums, value_at
from phenocast.thermal_time.accumulation import crossing_time
from phenocast.weather import HourlyWeather
from phenocast.weather.hourly import local_midnight_utc

Array = NDArray[np.float64]


def air_sums(
    weather: HourlyWeather, planting: date, zone: str, n_days: int, base_c: float
) -> Array:
    """Sums of air warmth above a base from planting on.

    Parameters
    ----------
    weather : HourlyWeather
    planting : first local day.
    zone : IANA name of the site's zone.
    n_days : days wanted; what the weather does not hold is NaN.
    base_c : temperature below which no hour counts. [degC]

    Returns
    -------
    array ``[n_days + 1]``, by day since planting. [degC d]

    Examples
    --------
    >>> from phenocast.season import Site
    >>> from phenocast.weather.hourly import constant_weather
    >>> site = Site("Low Quay", 29.3, -15.6, 35.0, "Atlantic/Canary")
    >>> air = constant_weather(site, 72, 15.0, start="2026-01-01")
    >>> air_sums(air, date(2026, 1, 1), "Atlantic/Canary", 4, 3.0).tolist()
    [0.0, 12.0, 24.0, 36.0, nan]
    """
    start = local_midnight_utc(planting, zone)
    first = int((start - weather.time_utc[0].astype("datetime64[h]")).astype(int))
    found = np.full(n_days + 1, np.nan)
    if first < 0:
        return found
    days = max(0, min(n_days, (len(weather) - first) // 24))
    air = weather.air_c[first : first + 24 * days].reshape(days, 24)
    found[: days + 1] = prefix_sums(np.maximum(air - base_c, 0.0).mean(axis=1))
    return found


def sum_at(sums: Array, day: float) -> float:
    """Sum at a time since planting, NaN where it is not known. [degC d]

    Examples
    --------
    >>> sum_at(np.array([0.0, 12.0, np.nan]), 0.5), sum_at(np.array([0.0, np.nan]), 0.5)
    (6.0, nan)
    """
    known = sums[np.isfinite(sums)]
    if known.size < 2 or not np.isfinite(day):
        return float("nan")
    return float(value_at(known, day))


def days_to(sums: Array, requirement: float) -> Array:
    """Time at which each course of weather reaches a sum; infinite where it does not. [d]

    Parameters
    ----------
    sums : array ``[trace, day + 1]``. [degC d]
    requirement : sum to reach, 0 or more. [degC d]

    Returns
    -------
    array ``[trace]``

    Examples
    --------
    >>> days_to(np.array([[0.0, 12.0, 24.0], [0.0, 4.0, 8.0]]), 12.0).tolist()
    [1.0, inf]
    """
    found = np.array([float(crossing_time(one[np.isfinite(one)], requirement)) for one in sums])
    return np.where(np.isfinite(found), found, np.inf)
