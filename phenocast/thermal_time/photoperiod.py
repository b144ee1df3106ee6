"""Length of the natural day for the plant: from the sun's position, with the sun's angle stated.

A photoperiod means nothing without the angle of the sun at which the day is held to begin and end.
Civil twilight (6 degrees) adds 0.9 to 1.6 h to sunrise-to-sunset between 28 and 52 degrees of
latitude. Angles here are depressions of the sun's centre below the level horizon, without
refraction:

====== ============================================================================
0      sun's centre on the horizon
0.8333 sunrise and sunset of almanacs: upper limb, mean refraction counted
6      civil twilight
====== ============================================================================
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from phenocast.cache import cached_table
from phenocast.errors import Fault, InputError
from phenocast.thermal_time._checks import FloatArray

SUNRISE_DEG = 0.8333
CIVIL_TWILIGHT_DEG = 6.0

_TT_MINUS_UT_S = 67.0  # a second of it moves the day's length by less than a millisecond
_BLOCK_D = 4096  # days since 1970 that are computed and kept together, some eleven years
_ITERATIONS = 6  # each brings the passages some thirty times nearer


def photoperiod_h(
    dates: ArrayLike, latitude: float, sun_angle_deg: float, *, longitude: float = 0.0
) -> FloatArray:
    """Hours from the morning to the evening passage of the sun through an angle below the horizon.

    Parameters
    ----------
    dates : local calendar dates, any shape (datetime64, or anything NumPy reads as dates).
    latitude : north positive, -90 to 90. [deg]
    sun_angle_deg : depression of the sun's centre at which the day begins and ends, -5 to 18
        (0.8333 sunrise to sunset, 6 civil twilight). [deg]
    longitude : east positive, -180 to 180; it moves the day's length by at most two minutes at
        52 degrees of latitude. [deg]

    Returns
    -------
    Day length, shape of `dates`. 24 where the sun stays above the angle, 0 where below. [h]

    Raises
    ------
    InputError : latitude, longitude or angle outside their range; a missing date.

    Notes
    -----
    Declination and right ascension of the Solar Position Algorithm (Reda and Andreas 2004, Solar
    Energy 76:577-589) as pvlib computes them, at the noons around each date; a parabola between the
    noons gives the sun at the instants of the two passages.

    Examples
    --------
    >>> photoperiod_h(["2025-06-21", "2025-12-21"], 28.0, SUNRISE_DEG).round(2).tolist()
    [13.92, 10.37]
    >>> float(photoperiod_h("2025-06-21", 70.0, CIVIL_TWILIGHT_DEG))
    24.0
    """
    rise, sets = sun_passages_h(dates, latitude, sun_angle_deg, longitude=longitude)
    return np.asarray(sets - rise)


def sun_passages_h(
    dates: ArrayLike, latitude: float, sun_angle_deg: float, *, longitude: float = 0.0
) -> tuple[FloatArray, FloatArray]:
    """UTC hours at which the sun passes an angle below the horizon, morning and evening.

    Parameters
    ----------
    dates, latitude, sun_angle_deg, longitude : as `photoperiod_h`.

    Returns
    -------
    Morning and evening passage, shape of `dates`, counted from 00:00 UTC of the calendar date;
    below 0 or above 24 where the local day reaches into the neighbouring UTC one. [h]
    Where the sun stays above the angle they are 24 h apart around noon, where it stays below they
    coincide at noon.

    Raises
    ------
    InputError : as `photoperiod_h`.

    Examples
    --------
    >>> rise, sets = sun_passages_h("2025-06-21", 28.0, SUNRISE_DEG, longitude=-82.0)
    >>> round(float(rise), 2), round(float(sets), 2)
    (10.54, 24.46)
    """
    _require_range("latitude", latitude, -90.0, 90.0)
    _require_range("longitude", longitude, -180.0, 180.0)
    _require_range("sun_angle_deg", sun_angle_deg, -5.0, 18.0)
    days = np.asarray(dates, dtype="datetime64[D]")
    if bool(np.any(np.isnat(days))):
        raise InputError(
            Fault(what="missing date", where="dates", do="give a calendar date for every day")
        )
    distinct, position = np.unique(days.astype(np.int64), return_inverse=True)
    rise, sets = _passages(distinct, latitude, sun_angle_deg, longitude)
    return rise[position].reshape(days.shape), sets[position].reshape(days.shape)


def _passages(
    day: NDArray[np.int64], latitude: float, sun_angle_deg: float, longitude: float
) -> tuple[FloatArray, FloatArray]:
    """Both passages for rising days since 1970, in hours from 00:00 UTC of the day."""
    equation, declination = _sun_at_noons(day)
    noon = np.full(day.shape, 12.0 - longitude / 15.0)
    for _ in range(_ITERATIONS):
        noon = 12.0 - (longitude + _between_noons(equation, noon)) / 15.0
    passages = []
    for side in (-1.0, 1.0):
        time = noon
        for _ in range(_ITERATIONS):
            half_day = _half_day_deg(_between_noons(declination, time), latitude, sun_angle_deg)
            time = 12.0 + (side * half_day - longitude - _between_noons(equation, time)) / 15.0
        # up or down all day: 12 h on either side of noon, or noon itself
        time = np.where(half_day >= 180.0, noon + side * 12.0, time)
        passages.append(np.where(half_day <= 0.0, noon, time))
    return passages[0], passages[1]


def _sun_at_noons(day: NDArray[np.int64]) -> tuple[FloatArray, FloatArray]:
    """Equation of time and declination [deg] at the noons around each day, `[3, n]`."""
    around = day + np.array([[-1], [0], [1]])
    blocks = around // _BLOCK_D
    equation, declination = np.empty((2, *around.shape))
    for block in np.unique(blocks):
        mine = blocks == block
        table = _block_of_noons(int(block))[:, around[mine] - block * _BLOCK_D]
        equation[mine], declination[mine] = table
    return equation, declination


@lru_cache(maxsize=64)
def _block_of_noons(block: int) -> FloatArray:
    """Equation of time and declination [deg] at noon of the days of a block, `[2, _BLOCK_D]`."""
    return cached_table(
        "noon-sun", (2, _BLOCK_D), [block], made_by=["pvlib"], source=__file__,
        make=lambda: _compute_noons(block * _BLOCK_D + np.arange(_BLOCK_D)),
    )


def _compute_noons(day: NDArray[np.int64]) -> FloatArray:
    from pvlib import spa  # slow to import, and only needed here

    sidereal, right_ascension, declination = spa.solar_position(
        day * 86400.0 + 43200.0, 0.0, 0.0, 0.0, 0.0, 0.0, _TT_MINUS_UT_S, 0.0, 1, sst=True
    )
    equation = (sidereal - right_ascension + 180.0) % 360.0 - 180.0
    return np.stack([equation, declination])


def _between_noons(values: FloatArray, hour: FloatArray) -> FloatArray:
    """Parabola through three noons, at an hour counted from 00:00 UTC of the middle day."""
    x = (hour - 12.0) / 24.0
    before, at, after = values
    return np.asarray(at + x * ((after - before) + x * (after - 2.0 * at + before)) / 2.0)


def _half_day_deg(declination: FloatArray, latitude: float, sun_angle_deg: float) -> FloatArray:
    """Hour angle [deg] at which such a sun passes the angle; 0 or 180 where it never does."""
    lat, dec = np.radians(latitude), np.radians(declination)
    with np.errstate(divide="ignore", invalid="ignore"):
        cosine = (-np.sin(np.radians(sun_angle_deg)) - np.sin(lat) * np.sin(dec)) / (
            np.cos(lat) * np.cos(dec)
        )
    return np.asarray(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


def _require_range(name: str, value: float, low: float, high: float) -> None:
    if not low <= value <= high:
        raise InputError(
            Fault(
                what=f"{name} is outside its range",
                where=name,
                value=value,
                allowed=f"{low:g} to {high:g} [deg]",
            )
        )
