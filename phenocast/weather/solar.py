"""Where the sun stands, how long the day is, and what a clear sky would give: through pvlib.

pvlib takes half a second to load, so it is loaded where it is called, and the clear-sky year of a
site, which every run needs, is kept on disk.

Every function that speaks of day length takes the angle of the sun's centre below the horizon at
which its day begins and ends, because definitions in use differ by more than an hour:

====================  =====================================================================
`SUN_CENTRE`          0 deg: the sun's centre on a flat horizon, no refraction (FAO-56)
`ALMANAC`             0.8333 deg: upper limb with refraction, sunrise and sunset of an almanac
`CIVIL_TWILIGHT`      6 deg: light enough for many photoperiod responses
====================  =====================================================================
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from phenocast.cache import cached_table
from phenocast.errors import Fault, InputError
from phenocast.season.site import Site

if TYPE_CHECKING:
    import pandas as pd

Floats = NDArray[np.float64]

SUN_CENTRE = 0.0
ALMANAC = 0.8333
CIVIL_TWILIGHT = 6.0

LINKE_TURBIDITY = 3.0
"""Linke turbidity of clean, moderately moist air, taken where a caller states no other."""

_TROPICAL_YEAR_D = 365.24219
_FIRST_REFERENCE_DAY = np.datetime64("2020-01-01", "D")
_REFERENCE_DAYS = 367
_PARTS_OF_HOUR = 4


def sun_elevation_deg(time_utc: NDArray[np.datetime64], site: Site) -> Floats:
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
    >>> site = Site("Low Quay", 29.3, -15.6, 35.0, "Atlantic/Canary")
    >>> noon = np.array(["2026-06-21T13:04"], dtype="datetime64[m]")
    >>> round(float(sun_elevation_deg(noon, site)[0]), 1)
    84.1
    """
    position = _positions(
        _utc_index(time_utc), site.latitude, site.longitude, altitude=site.elevation_m
    )
    return np.asarray(position["apparent_elevation"], dtype=np.float64)


def day_length_h(
    dates: NDArray[np.datetime64], latitude: ArrayLike, sun_angle_deg: float,
    longitude: float = 0.0,
) -> Floats:
    """Return how long the sun's centre stands above ``-sun_angle_deg`` on each date [h].

    The declination is that of the NREL solar position algorithm at local noon, so neither leap
    years nor the century move the result; within 0.01 h of pvlib's own sunrise and sunset between
    60 deg south and north.

    Parameters
    ----------
    dates : array [n] of datetime64[D]
        Local dates.
    latitude : float or array that broadcasts to [n]
        [deg, north positive]
    sun_angle_deg : float
        Angle of the sun's centre below the horizon at the start and end of the day [deg]:
        `SUN_CENTRE`, `ALMANAC`, `CIVIL_TWILIGHT` or any other between -5 and 18.
    longitude : float
        [deg, east positive]; moves noon, and the result by seconds.

    Returns
    -------
    array [n]
        0 where the sun does not rise above the angle, 24 where it does not set below it.

    Raises
    ------
    InputError
        When the latitude or the angle is impossible.

    Examples
    --------
    >>> days = np.array(["2025-06-21", "2025-12-21"], dtype="datetime64[D]")
    >>> day_length_h(days, 38.0, ALMANAC).round(2)
    array([14.8 ,  9.52])
    >>> day_length_h(days, 75.0, ALMANAC)
    array([24.,  0.])
    """
    phi = np.asarray(latitude, dtype=np.float64)
    faults = []
    if not np.all(np.abs(phi) <= 90.0):
        faults.append(Fault("latitude out of range", where="latitude", value=latitude,
                            allowed="-90 to 90 deg"))
    if not -5.0 <= sun_angle_deg <= 18.0:
        faults.append(Fault("sun angle out of range", where="sun_angle_deg", value=sun_angle_deg,
                            allowed="-5 to 18 deg below the horizon"))
    if faults:
        raise InputError(faults)
    delta = np.radians(_declination_deg(np.asarray(dates, dtype="datetime64[D]"), longitude))
    phi = np.radians(np.clip(phi, -89.999, 89.999))
    below = np.sin(np.radians(-sun_angle_deg))
    cosine = (below - np.sin(phi) * np.sin(delta)) / (np.cos(phi) * np.cos(delta))
    return np.asarray(24.0 / np.pi * np.arccos(np.clip(cosine, -1.0, 1.0)))


def sunrise_and_sunset_h(
    dates: NDArray[np.datetime64], site: Site, utc_offset_h: float, sun_angle_deg: float = ALMANAC
) -> tuple[Floats, Floats]:
    """Return the clock of sunrise and sunset on each local date [h].

    Parameters
    ----------
    dates : array [n] of datetime64[D]
    site : Site
    utc_offset_h : float
        Offset of the clock from UTC [h].
    sun_angle_deg : float
        See `day_length_h`.

    Returns
    -------
    sunrise_h, sunset_h : arrays [n]
        Symmetrical about solar noon; equal to it in polar night, 12 h to either side in polar day.

    Examples
    --------
    >>> site = Site("check", 28.0, -82.0, 40.0, "America/New_York")
    >>> rise, fall = sunrise_and_sunset_h(np.array(["2025-06-21"], "datetime64[D]"), site, -5.0)
    >>> rise.round(2), fall.round(2)
    (array([5.54]), array([19.46]))
    """
    half = day_length_h(dates, site.latitude, sun_angle_deg, site.longitude) / 2.0
    days = np.asarray(dates, dtype="datetime64[D]")
    middle = _noon_utc(days, site.longitude)
    position = _positions(_utc_index(middle), 0.0, site.longitude)
    equation_h = np.asarray(position["equation_of_time"], dtype=np.float64) / 60.0
    noon = 12.0 - site.longitude / 15.0 + utc_offset_h - equation_h
    return noon - half, noon + half


def clear_sky_w_m2(
    time_utc: NDArray[np.datetime64], site: Site,
    turbidity: float | tuple[float, ...] = LINKE_TURBIDITY,
) -> Floats:
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
    turbidity : float or 12 floats
        Linke turbidity of the year, or of each month (taken at mid-month, interpolated between).

    Returns
    -------
    array [n]

    Raises
    ------
    InputError
        When a turbidity is not between 1 and 10, or monthly values are not 12.

    Examples
    --------
    >>> site = Site("Low Quay", 29.3, -15.6, 35.0, "Atlantic/Canary")
    >>> hours = np.array(["2031-06-21T12", "2031-06-21T23"], dtype="datetime64[h]")
    >>> clear_sky_w_m2(hours, site).round(-1)
    array([1000.,    0.])
    """
    monthly = tuple(np.atleast_1d(np.asarray(turbidity, dtype=np.float64)).tolist())
    if len(monthly) not in (1, 12) or not all(1.0 <= value <= 10.0 for value in monthly):
        raise InputError(Fault("Linke turbidity out of range", where="turbidity", value=turbidity,
                               allowed="one value, or 12 by month, each 1 to 10"))
    table = _clear_sky_table(*_place(site), monthly)
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


def _place(site: Site) -> tuple[float, float, float]:
    return site.latitude, site.longitude, site.elevation_m


@lru_cache(maxsize=16)
def _clear_sky_table(
    latitude: float, longitude: float, elevation_m: float, turbidity: tuple[float, ...]
) -> Floats:
    """Return the clear-sky radiation of the reference year, [367 days, 24 hours], read-only."""
    return cached_table(
        "clear-sky", (_REFERENCE_DAYS, 24), [latitude, longitude, elevation_m, *turbidity],
        made_by=["pvlib"], source=__file__,
        make=lambda: _compute_clear_sky(latitude, longitude, elevation_m, turbidity),
    )


def _compute_clear_sky(
    latitude: float, longitude: float, elevation_m: float, turbidity: tuple[float, ...]
) -> Floats:
    import pvlib

    step = 3600 // _PARTS_OF_HOUR
    seconds = np.arange(_REFERENCE_DAYS * 24 * _PARTS_OF_HOUR) * step + step // 2
    instants = _FIRST_REFERENCE_DAY.astype("datetime64[s]") + seconds.astype("timedelta64[s]")
    index = _utc_index(instants)
    linke = _turbidity_of_days(turbidity).repeat(24 * _PARTS_OF_HOUR)
    place = pvlib.location.Location(latitude, longitude, "UTC", elevation_m)
    clear = place.get_clearsky(index, model="ineichen", linke_turbidity=linke)["ghi"]
    table: Floats = np.nan_to_num(np.asarray(clear, dtype=np.float64))
    return np.asarray(table.reshape(_REFERENCE_DAYS, 24, _PARTS_OF_HOUR).mean(axis=2))


def _turbidity_of_days(turbidity: tuple[float, ...]) -> Floats:
    """Return the turbidity of each reference day from one value or from 12 at mid-month."""
    days = np.arange(_REFERENCE_DAYS, dtype=np.float64)
    if len(turbidity) == 1:
        return np.full(_REFERENCE_DAYS, turbidity[0])
    middles = (np.arange(12) + 0.5) * 366.0 / 12.0
    return np.asarray(np.interp(days, middles, np.asarray(turbidity), period=366.0))


def _declination_deg(days: NDArray[np.datetime64], longitude: float) -> Floats:
    """Return the sun's declination at local noon [deg]: its true elevation seen from the pole."""
    index = _utc_index(_noon_utc(days, longitude))
    position = _positions(index, 90.0, 0.0)
    return np.asarray(position["elevation"], dtype=np.float64)


def _positions(
    index: pd.DatetimeIndex, latitude: float, longitude: float, **options: float
) -> pd.DataFrame:
    import pvlib

    found: pd.DataFrame = pvlib.solarposition.get_solarposition(
        index, latitude, longitude, **options
    )
    return found


def _noon_utc(days: NDArray[np.datetime64], longitude: float) -> NDArray[np.datetime64]:
    minutes = round((12.0 - longitude / 15.0) * 60.0)
    start: NDArray[np.datetime64] = days.astype("datetime64[m]")
    return np.asarray(start + np.timedelta64(minutes, "m"), dtype="datetime64[m]")


def _utc_index(instants: NDArray[np.datetime64]) -> pd.DatetimeIndex:
    import pandas as pd

    return pd.DatetimeIndex(instants.astype("datetime64[ns]"), tz="UTC")
