"""Where the sun stands, how long the day is, and what a clear sky would give: through pvlib.

pvlib takes half a second to load, so it is loaded where it is called, and what every run needs, the
clear-sky year of a site and the sun at noon, is kept on disk.

Every function that speaks of day length takes the angle of the sun's centre below the level
horizon, without refraction, at which its day begins and ends, because definitions in use differ by
more than an hour (civil twilight adds 0.9 to 1.6 h to sunrise-to-sunset between 28 and 52 degrees):

===================== =====================================================================
0                     the sun's centre on a flat horizon (FAO-56)
`SUNRISE_DEG`         0.8333: upper limb, mean refraction counted, sunrise and sunset of almanacs
`CIVIL_TWILIGHT_DEG`  6: civil twilight, light enough for many photoperiod responses
===================== =====================================================================

Solar radiation of a day, by FAO Irrigation and Drainage Paper 56.

Equation numbers are those of Allen, Pereira, Raes and Smith (1998), FAO-56, chapter 3. The day is
geometric (the sun's centre on a flat horizon): shorter than that of an almanac by 10 to 20 minutes.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from phenocast._typing import FloatArray, IntArray
from phenocast.cache import cached_table
from phenocast.errors import Fault, refuse

if TYPE_CHECKING:
    from phenocast.season.site import Site


SUNRISE_DEG = 0.8333

CIVIL_TWILIGHT_DEG = 6.0


LINKE_TURBIDITY = 3.0

"""Linke turbidity of clean, moderately moist air."""


_TROPICAL_YEAR_D = 365.24219

_FIRST_REFERENCE_DAY = np.datetime64("2020-01-01", "D")

_REFERENCE_DAYS = 367

_PARTS_OF_HOUR = 4


_TT_MINUS_UT_S = 67.0  # a second of it moves the day's length by less than a millisecond

_BLOCK_D = 4096  # days since 1970 that are computed and kept together, some eleven years

_ITERATIONS = 6  # each brings the passages some thirty times nearer


def sun_elevation_deg(time_utc: NDArray[np.datetime64], site: Site) -> FloatArray:
    """Return the apparent elevation of the sun, with refraction [deg].

    Parameters
    ----------
    time_utc : array [n] of datetime64
        Instants [UTC]; for an hour take its middle.
    site : Site

    Returns
    -------
    array [n]

    Examples
    --------
    >>> from phenocast.season.site import Site
    >>> site = Site("Low Quay", 29.3, -15.6, 35.0, "Atlantic/Canary")
    >>> noon = np.array(["2026-06-21T13:04"], dtype="datetime64[m]")
    >>> round(float(sun_elevation_deg(noon, site)[0]), 1)
    84.1
    """
    import pvlib

    position = pvlib.solarposition.get_solarposition(
        pd.DatetimeIndex(time_utc.astype("datetime64[ns]"), tz="UTC"), site.latitude,
        site.longitude, altitude=site.elevation_m,
    )  # fmt: skip
    return np.asarray(position["apparent_elevation"], dtype=np.float64)


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
    refuse(
        (
            bool(np.any(np.isnat(days))),
            Fault(what="missing date", where="dates", do="give a calendar date for every day"),
        )
    )
    distinct, position = np.unique(days.astype(np.int64), return_inverse=True)
    rise, sets = _passages(distinct, latitude, sun_angle_deg, longitude)
    return rise[position].reshape(days.shape), sets[position].reshape(days.shape)


def equation_of_time_h(dates: ArrayLike) -> FloatArray:
    """How far the sun is ahead of a mean clock at noon UTC of each date [h]."""
    days = np.asarray(dates, dtype="datetime64[D]").astype(np.int64)
    distinct, position = np.unique(days, return_inverse=True)
    equation, _ = _sun_at_noons(distinct)
    return np.asarray(equation[1][position] / 15.0)


def clear_sky_w_m2(
    time_utc: NDArray[np.datetime64],
    site: Site,
) -> FloatArray:
    """Return the mean solar radiation of each hour under a clear sky [W m-2].

    Ineichen's model (pvlib) with the sun of the NREL algorithm, averaged over four instants in the
    hour. One reference year is computed and kept; an hour of another year is looked up by
    its place in the tropical year and interpolated between two days, which costs less than
    0.6 W m-2 against computing that year itself between 66 deg south and north.

    Parameters
    ----------
    time_utc : array [n] of datetime64[h]
        Start of each hour.
    site : Site

    Returns
    -------
    array [n]

    Examples
    --------
    >>> from phenocast.season.site import Site
    >>> site = Site("Low Quay", 29.3, -15.6, 35.0, "Atlantic/Canary")
    >>> hours = np.array(["2031-06-21T12", "2031-06-21T23"], dtype="datetime64[h]")
    >>> clear_sky_w_m2(hours, site).round(-1)
    array([1000.,    0.])
    """
    table = _clear_sky_table(site.latitude, site.longitude, site.elevation_m)
    hours = np.asarray(time_utc, dtype="datetime64[h]").astype(np.int64)
    if hours.size == 0:
        return np.empty(0)
    first = hours.min() // 24
    since = np.arange(first, hours.max() // 24 + 1) - _FIRST_REFERENCE_DAY.astype(np.int64)
    place = np.mod(since, _TROPICAL_YEAR_D)
    low = place.astype(np.int64)
    share = (place - low)[:, None]
    days = table[low] * (1.0 - share) + table[low + 1] * share
    return np.asarray(days.ravel()[hours - 24 * first])


@lru_cache(maxsize=16)
def _clear_sky_table(latitude: float, longitude: float, elevation_m: float) -> FloatArray:
    """Return the clear-sky radiation of the reference year, [367 days, 24 hours], read-only."""

    def make() -> FloatArray:
        import pvlib

        step = 3600 // _PARTS_OF_HOUR
        seconds = np.arange(_REFERENCE_DAYS * 24 * _PARTS_OF_HOUR) * step + step // 2
        instants = _FIRST_REFERENCE_DAY.astype("datetime64[s]") + seconds.astype("timedelta64[s]")
        clear = pvlib.location.Location(latitude, longitude, "UTC", elevation_m).get_clearsky(
            pd.DatetimeIndex(instants.astype("datetime64[ns]"), tz="UTC"), model="ineichen",
            linke_turbidity=np.full(len(instants), LINKE_TURBIDITY),
        )  # fmt: skip
        table = np.nan_to_num(np.asarray(clear["ghi"], dtype=np.float64))
        return np.asarray(table.reshape(_REFERENCE_DAYS, 24, _PARTS_OF_HOUR).mean(axis=2))

    key = [latitude, longitude, elevation_m, LINKE_TURBIDITY]
    return cached_table(
        "clear-sky", (_REFERENCE_DAYS, 24), key, made_by=["pvlib"], source=__file__, make=make
    )


def _passages(
    day: IntArray, latitude: float, sun_angle_deg: float, longitude: float
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


def _sun_at_noons(day: IntArray) -> tuple[FloatArray, FloatArray]:
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

    def make() -> FloatArray:
        from pvlib import spa

        noon = (block * _BLOCK_D + np.arange(_BLOCK_D)) * 86400.0 + 43200.0
        sidereal, right_ascension, declination = spa.solar_position(
            noon, 0.0, 0.0, 0.0, 0.0, 0.0, _TT_MINUS_UT_S, 0.0, 1, sst=True
        )
        equation = (sidereal - right_ascension + 180.0) % 360.0 - 180.0
        return np.stack([equation, declination])

    return cached_table(
        "noon-sun", (2, _BLOCK_D), [block], made_by=["pvlib"], source=__file__, make=make
    )


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
    refuse(
        (
            not low <= value <= high,
            Fault(
                what=f"{name} is outside its range",
                where=name,
                value=value,
                allowed=f"{low:g} to {high:g} [deg]",
            ),
        )
    )


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
