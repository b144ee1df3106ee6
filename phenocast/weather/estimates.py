"""What stands in for humidity and solar radiation where a file has none (FAO-56, chapter 3)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from phenocast._typing import FloatArray, IntArray
from phenocast.season.site import Site
from phenocast.weather.humidity import vapour_pressure_from_dew_point
from phenocast.weather.local_time import local_day_and_clock
from phenocast.weather.radiation import extraterrestrial_daily, solar_from_temperature
from phenocast.weather.solar import clear_sky_w_m2

# Between 0.16 (inland) and 0.19 (coast) of FAO-56, whose middle is used where neither is stated.
KRS = 0.175
MJ_PER_W_HOUR = 0.0036


def vapour_estimate(
    air_c: FloatArray, time_utc: NDArray[np.datetime64], offset_h: float
) -> FloatArray:
    """Return the vapour pressure of each hour [kPa] with the dew point at the day's minimum.

    FAO-56, eq. 48: holds for a humid or irrigated site; in a dry one it is too moist by some
    degrees.

    Parameters
    ----------
    air_c : array ``[n]`` [degC]
    time_utc : array ``[n]`` of datetime64[h]
    offset_h : float
        Offset of local standard time from UTC [h].
    """
    low, _ = _daily_extremes(air_c, time_utc, offset_h)
    return np.asarray(vapour_pressure_from_dew_point(low), dtype=np.float64)


def solar_estimate(
    air_c: FloatArray,
    time_utc: NDArray[np.datetime64],
    site: Site,
    offset_h: float,
    clear_w_m2: FloatArray,
) -> FloatArray:
    """Return the solar radiation of each hour [W m-2] from the day's range of temperature.

    FAO-56, eq. 50, for the sum of the day; the clear-sky curve spreads it over the hours and
    bounds it.

    Parameters
    ----------
    air_c : array ``[n]`` [degC]
    time_utc : array ``[n]`` of datetime64[h]
    site : Site
    offset_h : float
        Offset of local standard time from UTC [h].
    clear_w_m2 : array ``[n]``
        Clear-sky radiation [W m-2].
    """
    low, high = _daily_extremes(air_c, time_utc, offset_h)
    days, _ = local_day_and_clock(time_utc, offset_h)
    day_of_year = (days - days.astype("datetime64[Y]")).astype(np.int64) + 1
    outside = extraterrestrial_daily(site.latitude, day_of_year)
    daily_mj = solar_from_temperature(high, low, outside, KRS)
    clear_mj = _daily_sum(clear_w_m2, days) * MJ_PER_W_HOUR
    share = np.minimum(daily_mj / np.maximum(clear_mj, 1e-6), 1.0)
    return np.where(clear_mj > 0.0, share * clear_w_m2, 0.0)


def spread_solar(
    daily_w_m2: FloatArray, time_utc: NDArray[np.datetime64], site: Site
) -> FloatArray:
    """Return hourly radiation [W m-2] whose mean over each 24 hours is the day's.

    Parameters
    ----------
    daily_w_m2 : array ``[days]``
        Mean over the 24 hours of each day [W m-2].
    time_utc : array ``[24 * days]``
    site : Site
    """
    clear = clear_sky_w_m2(time_utc, site).reshape(-1, 24)
    mean = clear.mean(axis=1)
    share = np.where(mean > 0.0, daily_w_m2 / np.maximum(mean, 1e-6), 0.0)
    return np.asarray((share[:, None] * clear).reshape(-1), dtype=np.float64)


def _day_numbers(days: NDArray[np.datetime64]) -> IntArray:
    return np.asarray((days - days[0]).astype(np.int64))


def _daily_sum(values: FloatArray, days: NDArray[np.datetime64]) -> FloatArray:
    number = _day_numbers(days)
    return np.asarray(np.bincount(number, weights=values)[number], dtype=np.float64)


def _daily_extremes(
    air_c: FloatArray, time_utc: NDArray[np.datetime64], offset_h: float
) -> tuple[FloatArray, FloatArray]:
    days, _ = local_day_and_clock(time_utc, offset_h)
    number = _day_numbers(days)
    starts = np.flatnonzero(np.append(True, np.diff(number) != 0))
    low = np.minimum.reduceat(air_c, starts)
    high = np.maximum.reduceat(air_c, starts)
    lengths = np.diff(np.append(starts, len(air_c)))
    return np.repeat(low, lengths), np.repeat(high, lengths)
