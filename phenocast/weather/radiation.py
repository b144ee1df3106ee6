"""Solar radiation of a day, by FAO Irrigation and Drainage Paper 56.

Equation numbers are those of Allen, Pereira, Raes and Smith (1998), FAO-56, chapter 3. The day is
geometric (the sun's centre on a flat horizon): shorter than that of an almanac by 10 to 20 minutes.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from phenocast._typing import FloatArray

SOLAR_CONSTANT = 0.0820
"""Solar constant of FAO-56 [MJ m-2 min-1]."""


def inverse_relative_distance(day_of_year: ArrayLike) -> FloatArray:
    """Return the inverse relative distance from the Earth to the sun (eq. 23).

    Examples
    --------
    >>> round(float(inverse_relative_distance(246)), 3)
    0.985
    """
    return 1.0 + 0.033 * np.cos(2.0 * np.pi / 365.0 * np.asarray(day_of_year, dtype=np.float64))


def declination(day_of_year: ArrayLike) -> FloatArray:
    """Return the sun's declination [rad] (eq. 24).

    Examples
    --------
    >>> round(float(declination(246)), 3)
    0.12
    """
    return 0.409 * np.sin(2.0 * np.pi / 365.0 * np.asarray(day_of_year, dtype=np.float64) - 1.39)


def sunset_hour_angle(latitude: ArrayLike, day_of_year: ArrayLike) -> FloatArray:
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


def extraterrestrial_daily(latitude: ArrayLike, day_of_year: ArrayLike) -> FloatArray:
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
    return np.asarray(
        per_day
        * (omega * np.sin(phi) * np.sin(delta) + np.cos(phi) * np.cos(delta) * np.sin(omega))
    )


def solar_from_temperature(
    air_max_c: ArrayLike, air_min_c: ArrayLike, extraterrestrial: ArrayLike, krs: float
) -> FloatArray:
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
