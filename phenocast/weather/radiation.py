"""Solar and longwave radiation of a day or an hour, by FAO Irrigation and Drainage Paper 56.

Equation numbers are those of Allen, Pereira, Raes and Smith (1998), FAO-56, chapter 3; hours at
sunrise and sunset are clipped as in ASCE-EWRI (2005), The ASCE Standardized Reference
Evapotranspiration Equation. Day length here is geometric (the sun's centre on a flat horizon):
shorter than that of an almanac by 10 to 20 minutes; photoperiod comes from `solar`.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

SOLAR_CONSTANT = 0.0820
"""Solar constant of FAO-56 [MJ m-2 min-1]."""
STEFAN_BOLTZMANN = 4.903e-9
"""Stefan-Boltzmann constant of FAO-56 [MJ K-4 m-2 d-1]."""
W_M2_PER_MJ_M2_DAY = 1e6 / 86400.0
"""One MJ m-2 d-1 in W m-2."""


def inverse_relative_distance(day_of_year: ArrayLike) -> Floats:
    """Return the inverse relative distance from the Earth to the sun (eq. 23).

    Examples
    --------
    >>> round(float(inverse_relative_distance(246)), 3)
    0.985
    """
    return 1.0 + 0.033 * np.cos(2.0 * np.pi / 365.0 * np.asarray(day_of_year, dtype=np.float64))


def declination(day_of_year: ArrayLike) -> Floats:
    """Return the sun's declination [rad] (eq. 24).

    Examples
    --------
    >>> round(float(declination(246)), 3)
    0.12
    """
    return 0.409 * np.sin(2.0 * np.pi / 365.0 * np.asarray(day_of_year, dtype=np.float64) - 1.39)


def sunset_hour_angle(latitude: ArrayLike, day_of_year: ArrayLike) -> Floats:
    """Return the hour angle of sunset [rad] (eq. 25): 0 in polar night, pi in polar day.

    Parameters
    ----------
    latitude : float or array
        [deg, north positive]
    day_of_year : float or array

    Examples
    --------
    >>> round(float(sunset_hour_angle(-20.0, 246)), 3)
    1.527
    >>> float(sunset_hour_angle(80.0, 355))
    0.0
    """
    phi = np.radians(np.asarray(latitude, dtype=np.float64))
    cosine = -np.tan(phi) * np.tan(declination(day_of_year))
    return np.asarray(np.arccos(np.clip(cosine, -1.0, 1.0)))


def geometric_day_length(latitude: ArrayLike, day_of_year: ArrayLike) -> Floats:
    """Return the daylight hours N [h] (eq. 34), from the sun's centre without refraction.

    Examples
    --------
    >>> round(float(geometric_day_length(-20.0, 246)), 1)
    11.7
    """
    return np.asarray(24.0 / np.pi * sunset_hour_angle(latitude, day_of_year))


def extraterrestrial_daily(latitude: ArrayLike, day_of_year: ArrayLike) -> Floats:
    """Return the extraterrestrial radiation of a day Ra [MJ m-2 d-1] (eq. 21).

    Parameters
    ----------
    latitude : float or array
        [deg, north positive]
    day_of_year : float or array

    Examples
    --------
    >>> round(float(extraterrestrial_daily(-20.0, 246)), 1)
    32.2
    """
    phi = np.radians(np.asarray(latitude, dtype=np.float64))
    delta, omega = declination(day_of_year), sunset_hour_angle(latitude, day_of_year)
    per_day = 24.0 * 60.0 / np.pi * SOLAR_CONSTANT * inverse_relative_distance(day_of_year)
    return np.asarray(per_day * (
        omega * np.sin(phi) * np.sin(delta) + np.cos(phi) * np.cos(delta) * np.sin(omega)
    ))


def extraterrestrial_hourly(
    latitude: ArrayLike,
    longitude: ArrayLike,
    day_of_year: ArrayLike,
    clock_mid_h: ArrayLike,
    utc_offset_h: ArrayLike,
    length_h: float = 1.0,
) -> Floats:
    """Return the extraterrestrial radiation of an hour Ra [MJ m-2 h-1] (eq. 28 to 33).

    The hour angles of its start and end are clipped to sunset, as ASCE-EWRI (2005) prescribes:
    FAO-56's own rule would leave out the hours of sunrise and sunset.

    Parameters
    ----------
    latitude, longitude : float or array
        [deg, north and east positive; FAO-56 counts west]
    day_of_year : float or array
    clock_mid_h : float or array
        Standard clock time at the middle of the period [h].
    utc_offset_h : float or array
        Offset of that clock from UTC [h].
    length_h : float
        Length of the period [h].

    Returns
    -------
    array
        MJ m-2 in the period.

    Examples
    --------
    >>> round(float(extraterrestrial_hourly(16.0 + 13 / 60, -16.25, 274, 14.5, -1.0)), 3)
    3.543
    """
    phi = np.radians(np.asarray(latitude, dtype=np.float64))
    day = np.asarray(day_of_year, dtype=np.float64)
    b = 2.0 * np.pi * (day - 81.0) / 364.0
    season = 0.1645 * np.sin(2.0 * b) - 0.1255 * np.cos(b) - 0.025 * np.sin(b)
    to_centre = 0.06667 * (np.asarray(longitude) - 15.0 * np.asarray(utc_offset_h))
    omega = np.pi / 12.0 * (np.asarray(clock_mid_h) + to_centre + season - 12.0)
    omega = np.mod(omega + np.pi, 2.0 * np.pi) - np.pi
    limit = sunset_hour_angle(latitude, day)
    half = np.pi * length_h / 24.0
    start = np.clip(omega - half, -limit, limit)
    end = np.clip(omega + half, -limit, limit)
    delta = declination(day)
    per_hour = 12.0 * 60.0 / np.pi * SOLAR_CONSTANT * inverse_relative_distance(day)
    return np.asarray(per_hour * (
        (end - start) * np.sin(phi) * np.sin(delta)
        + np.cos(phi) * np.cos(delta) * (np.sin(end) - np.sin(start))
    ))


def solar_from_sunshine(
    sunshine_h: ArrayLike, day_length_h: ArrayLike, extraterrestrial: ArrayLike,
    a: float = 0.25, b: float = 0.50,
) -> Floats:
    """Return the solar radiation of a day from its sunshine hours (eq. 35), in the unit of Ra.

    Examples
    --------
    >>> round(float(solar_from_sunshine(220 / 31, 10.895, 25.111)), 1)
    14.5
    """
    share = np.asarray(sunshine_h, dtype=np.float64) / np.asarray(day_length_h, dtype=np.float64)
    return np.asarray((a + b * share) * np.asarray(extraterrestrial, dtype=np.float64))


def clear_sky_fao(elevation_m: ArrayLike, extraterrestrial: ArrayLike) -> Floats:
    """Return the clear-sky radiation Rso by the elevation rule (eq. 37), in the unit of Ra.

    In winter it exceeds a clear-sky model by 12 % at 28 deg and by half at 52 deg of latitude: for
    a cloudiness ratio use `solar.clear_sky_w_m2`.

    Examples
    --------
    >>> round(float(clear_sky_fao(100.0, 41.09)), 2)
    30.9
    """
    share = 0.75 + 2e-5 * np.asarray(elevation_m, dtype=np.float64)
    return np.asarray(share * np.asarray(extraterrestrial, dtype=np.float64))


def solar_from_temperature(
    air_max_c: ArrayLike, air_min_c: ArrayLike, extraterrestrial: ArrayLike, krs: float
) -> Floats:
    """Return the solar radiation of a day from its temperature range (eq. 50), in the unit of Ra.

    Parameters
    ----------
    air_max_c, air_min_c : float or array
        [degC]
    extraterrestrial : float or array
        Ra [MJ m-2 d-1 or W m-2]
    krs : float
        Adjustment [degC-0.5]: 0.16 inland, 0.19 on a coast (FAO-56).

    Examples
    --------
    >>> round(float(solar_from_temperature(26.6, 14.8, 40.6, 0.16)), 1)
    22.3
    """
    spread = np.asarray(air_max_c, dtype=np.float64) - np.asarray(air_min_c, dtype=np.float64)
    return np.asarray(krs * np.sqrt(np.maximum(spread, 0.0)) * np.asarray(extraterrestrial))


def net_shortwave(solar: ArrayLike, albedo: float = 0.23) -> Floats:
    """Return the net shortwave radiation of a surface (eq. 38), in the unit of ``solar``.

    Examples
    --------
    >>> round(float(net_shortwave(14.5)), 1)
    11.2
    """
    return (1.0 - albedo) * np.asarray(solar, dtype=np.float64)


def net_longwave_loss(
    air_max_c: ArrayLike, air_min_c: ArrayLike, vapour_pressure_kpa: ArrayLike,
    clear_ratio: ArrayLike,
) -> Floats:
    """Return the net longwave loss of a day Rnl [MJ m-2 d-1] (eq. 39).

    Parameters
    ----------
    air_max_c, air_min_c : float or array
        [degC]; both the same for an hour, whose Rnl is one 24th of the result.
    vapour_pressure_kpa : float or array
        [kPa]
    clear_ratio : float or array
        Rs over Rso; values above 1 count as 1.

    Examples
    --------
    >>> round(float(net_longwave_loss(25.1, 19.1, 2.1, 14.5 / 18.8)), 1)
    3.5
    """
    high = np.asarray(air_max_c, dtype=np.float64) + 273.16
    low = np.asarray(air_min_c, dtype=np.float64) + 273.16
    emitted = STEFAN_BOLTZMANN * (high**4 + low**4) / 2.0
    humid = 0.34 - 0.14 * np.sqrt(np.asarray(vapour_pressure_kpa, dtype=np.float64))
    cloudy = 1.35 * np.minimum(np.asarray(clear_ratio, dtype=np.float64), 1.0) - 0.35
    return np.asarray(emitted * humid * cloudy)
