"""Vapour pressure, air pressure and wind at 2 m, by FAO Irrigation and Drainage Paper 56.

Equation numbers are those of Allen, Pereira, Raes and Smith (1998), FAO-56, chapter 3. All
functions work element by element on numbers or arrays of any shape.
"""

import numpy as np
from numpy.typing import ArrayLike

from phenocast._typing import FloatArray


def air_pressure(elevation_m: ArrayLike) -> FloatArray:
    """Return the mean air pressure at an elevation [kPa] (FAO-56 eq. 7).

    Examples
    --------
    >>> round(float(air_pressure(1800.0)), 1)
    81.8
    """
    z = np.asarray(elevation_m, dtype=np.float64)
    return np.asarray(101.3 * ((293.0 - 0.0065 * z) / 293.0) ** 5.26)


# The saturation curve of FAO Irrigation and Drainage Paper 56 (1998), eqs. 11 and 13: here for
# arrays, in `phenocast.crown.sprinkling` for one temperature inside a kernel.
SATURATION_AT_0_KPA = 0.6108
SATURATION_FACTOR = 17.27
SATURATION_OFFSET_C = 237.3
SATURATION_SLOPE_C = 4098.0


def saturation_vapour_pressure(air_c: ArrayLike) -> FloatArray:
    """Return the saturation vapour pressure over water [kPa] at a temperature [degC] (eq. 11).

    Examples
    --------
    >>> round(float(saturation_vapour_pressure(24.5)), 3)
    3.075
    """
    t = np.asarray(air_c, dtype=np.float64)
    return np.asarray(
        SATURATION_AT_0_KPA * np.exp(SATURATION_FACTOR * t / (t + SATURATION_OFFSET_C))
    )


def saturation_slope(air_c: ArrayLike) -> FloatArray:
    """Return the slope of the saturation curve [kPa degC-1] at a temperature [degC] (eq. 13).

    Examples
    --------
    >>> round(float(saturation_slope(16.9)), 3)
    0.122
    """
    t = np.asarray(air_c, dtype=np.float64)
    return np.asarray(
        SATURATION_SLOPE_C * saturation_vapour_pressure(t) / (t + SATURATION_OFFSET_C) ** 2
    )


def mean_saturation_vapour_pressure(air_max_c: ArrayLike, air_min_c: ArrayLike) -> FloatArray:
    """Return the mean saturation vapour pressure of a day [kPa] (eq. 12).

    Examples
    --------
    >>> round(float(mean_saturation_vapour_pressure(24.5, 15.0)), 2)
    2.39
    """
    high = saturation_vapour_pressure(air_max_c)
    return np.asarray((high + saturation_vapour_pressure(air_min_c)) / 2.0)


def vapour_pressure_from_dew_point(dew_point_c: ArrayLike) -> FloatArray:
    """Return the vapour pressure [kPa] at a dew point [degC] (eq. 14).

    Examples
    --------
    >>> round(float(vapour_pressure_from_dew_point(17.0)), 3)
    1.938
    """
    return saturation_vapour_pressure(dew_point_c)


def vapour_pressure_from_humidity(air_c: ArrayLike, relative_humidity_pct: ArrayLike) -> FloatArray:
    """Return the vapour pressure [kPa] of air [degC] at a relative humidity [%] (eq. 10).

    Examples
    --------
    >>> round(float(vapour_pressure_from_humidity(38.0, 52.0)), 3)
    3.445
    """
    humidity = np.asarray(relative_humidity_pct, dtype=np.float64)
    return np.asarray(humidity / 100.0 * saturation_vapour_pressure(air_c))


def daily_vapour_pressure_from_mean(
    air_max_c: ArrayLike, air_min_c: ArrayLike, humidity_mean_pct: ArrayLike
) -> FloatArray:
    """Return the mean vapour pressure of a day [kPa] from the mean relative humidity [%] (eq. 19).

    Examples
    --------
    >>> round(float(daily_vapour_pressure_from_mean(25.0, 18.0, 68.0)), 2)
    1.78
    """
    humidity = np.asarray(humidity_mean_pct, dtype=np.float64)
    return np.asarray(humidity / 100.0 * mean_saturation_vapour_pressure(air_max_c, air_min_c))


def wind_at_2m(wind_m_s: ArrayLike, height_m: float) -> FloatArray:
    """Return the wind at 2 m [m s-1] from that at another height over short grass (eq. 47).

    Parameters
    ----------
    wind_m_s : float or array
        Wind at ``height_m`` [m s-1].
    height_m : float
        Height of the sensor above the ground [m], above 0.1 m.

    Raises
    ------
    ValueError
        When the height is 0.1 m or less, where the profile does not hold.

    Examples
    --------
    >>> round(float(wind_at_2m(3.2, 10.0)), 2)
    2.39
    """
    if height_m <= 0.1:
        raise ValueError(f"a wind sensor at {height_m} m is too near the ground for eq. 47")
    if height_m == 2.0:
        # eq. 47 gives 1.0002 here; a wind measured at 2 m is not to be changed
        return np.array(wind_m_s, dtype=np.float64)
    factor = 4.87 / np.log(67.8 * height_m - 5.42)
    return np.asarray(np.asarray(wind_m_s, dtype=np.float64) * factor)
