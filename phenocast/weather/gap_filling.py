"""Gaps in an hourly series: short ones bridged, longer ones filled from like hours.

What stands in for humidity and solar radiation where a file has none (FAO-56, chapter 3).

What is missing on the hourly grid, filled by stated rules; every filled hour is flagged.
"""

import numpy as np
from numpy.typing import NDArray

from phenocast._typing import BoolArray, FloatArray, IntArray
from phenocast.errors import Fault, NoAnswerError, caution, refuse
from phenocast.season.model import HIGHEST_MOST_MISSING
from phenocast.season.site import Site
from phenocast.weather import hourly as flags
from phenocast.weather.gridding import Building, curve_hours
from phenocast.weather.hourly import local_day_and_clock
from phenocast.weather.humidity import (
    saturation_vapour_pressure,
    vapour_pressure_from_dew_point,
    vapour_pressure_from_humidity,
    wind_at_2m,
)
from phenocast.weather.quality import light_doubts, runs
from phenocast.weather.records import WeatherRecords
from phenocast.weather.sun import extraterrestrial_daily, solar_from_temperature

SHORT_GAP_H = 3

# Days on either side whose same hour may stand in, and days around the same date of other years.
NEAR_DAYS = 5

YEAR_WINDOW_DAYS = 3

HOURS_PER_YEAR = 8766


def gap_lengths(missing: BoolArray) -> IntArray:
    """Return for each hour the length of the gap it lies in; 0 outside gaps.

    Examples
    --------
    >>> gap_lengths(np.array([False, True, True, False])).tolist()
    [0, 2, 2, 0]
    """
    _, lengths = runs(missing)
    return np.where(missing, np.repeat(lengths, lengths), 0)


def bridged(values: FloatArray, longest: int = SHORT_GAP_H) -> tuple[FloatArray, BoolArray]:
    """Fill gaps of up to ``longest`` hours by straight lines; return values and what was filled.

    A gap at either end of the series has one neighbour only and is left.

    Examples
    --------
    >>> bridged(np.array([1.0, np.nan, 3.0]))[0]
    array([1., 2., 3.])
    """
    missing = np.isnan(values)
    out = values.copy()
    if not missing.any() or missing.all():
        return out, np.zeros(len(values), dtype=bool)
    known = np.flatnonzero(~missing)
    places = np.arange(len(values))
    fill = missing & (gap_lengths(missing) <= longest)
    fill &= (places > known[0]) & (places < known[-1])
    out[fill] = np.interp(places[fill], known, values[known])
    return out, fill


def from_like_hours(values: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Fill what is missing from the same hour of near days, or of the same days of other years.

    Near days are tried first: the mean of the same hour on up to `NEAR_DAYS` days on either side.
    Where the gap is longer than that, the same hour within `YEAR_WINDOW_DAYS` days of the date in
    other years of the series stands in. What neither fills is left missing.

    Examples
    --------
    >>> day = np.arange(24.0)
    >>> filled, mask = from_like_hours(np.concatenate([day, np.full(24, np.nan), day + 2.0]))
    >>> filled[24:27], int(mask.sum())
    (array([1., 2., 3.]), 24)
    """
    out = values.copy()
    near = [24 * day for day in range(-NEAR_DAYS, NEAR_DAYS + 1) if day != 0]
    _fill_from(out, values, near)
    if np.isnan(out).any():
        years = len(values) // HOURS_PER_YEAR + 1
        far = [
            24 * (round(year * HOURS_PER_YEAR / 24) + day)
            for year in range(-years, years + 1)
            if year != 0
            for day in range(-YEAR_WINDOW_DAYS, YEAR_WINDOW_DAYS + 1)
        ]
        _fill_from(out, values, far)
    return out, np.isnan(values) & ~np.isnan(out)


def _fill_from(out: FloatArray, values: FloatArray, offsets: list[int]) -> None:
    missing = np.flatnonzero(np.isnan(out))
    total = np.zeros(len(missing))
    count = np.zeros(len(missing))
    for offset in offsets:
        source = missing + offset
        inside = (source >= 0) & (source < len(values))
        found = np.full(len(missing), np.nan)
        found[inside] = values[source[inside]]
        good = ~np.isnan(found)
        total[good] += found[good]
        count[good] += 1.0
    has = count > 0.0
    out[missing[has]] = total[has] / count[has]


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
    number = (days - days[0]).astype(np.int64)
    clear_mj = np.bincount(number, weights=clear_w_m2)[number] * MJ_PER_W_HOUR
    share = np.minimum(daily_mj / np.maximum(clear_mj, 1e-6), 1.0)
    return np.where(clear_mj > 0.0, share * clear_w_m2, 0.0)


def _daily_extremes(
    air_c: FloatArray, time_utc: NDArray[np.datetime64], offset_h: float
) -> tuple[FloatArray, FloatArray]:
    days, _ = local_day_and_clock(time_utc, offset_h)
    starts, lengths = runs(days)
    low = np.minimum.reduceat(air_c, starts)
    high = np.maximum.reduceat(air_c, starts)
    return np.repeat(low, lengths), np.repeat(high, lengths)


MOST_MISSING_SHARE = 0.10

"""Share of the hours without air temperature up to which a record is filled."""


# Wind where a file has none: the world mean at 2 m that FAO-56 gives for such cases [m s-1].
WIND_WITHOUT_RECORD = 2.0

WIND_HEIGHT_ASSUMED_M = 10.0

# How far the sun of a file may stand from the sky's: cloud in the morning or the afternoon moves it
# by less than half an hour over weeks, a wrong zone or stamp by whole or half hours [h].
SUN_SHIFT_TOLD_H = 0.75

SUN_SHIFT_REFUSED_H = 2.0

SUN_SHIFT_LEAST_HOURS = 24 * 7


def complete_air(
    building: Building,
    records: WeatherRecords,
    site: Site,
    offset_h: float,
    curve: str,
    most_missing: float,
) -> FloatArray:
    """Return the air temperature without gaps [degC].

    Gaps of up to 3 h are bridged; longer ones come from the daily extremes of the file where it has
    them for every missing hour of a day, then from the same hours of near days or of other years.

    Raises
    ------
    NoAnswerError
        When there is none, when more than ``most_missing`` of it is missing, or when a gap is left.
    """
    air = building.column("air_c")
    refuse(
        (
            np.isnan(air).all(),
            Fault(
                "there is no air temperature",
                where=records.source,
                value=", ".join(records.columns),
                do="name the column of the air temperature",
            ),
        ),
        error=NoAnswerError,
    )
    missing = int(np.isnan(air).sum())
    share = missing / len(air)
    if share > most_missing:
        enough = np.ceil(20.0 * share) / 20.0
        raise NoAnswerError(
            Fault(
                "too much of the air temperature is missing",
                where=records.source,
                value=f"{share:.0%} of {len(air)} hours ({missing} h)",
                allowed=f"at most {most_missing:.0%}",
                do="give a more complete record"
                + (f", or raise the limit knowingly: most_missing = {enough:.2f} under [weather] "
                   "of the season file" if enough <= HIGHEST_MOST_MISSING else ""),
            )
        )  # fmt: skip
    if share > MOST_MISSING_SHARE:
        building.told.append(
            f"{records.source}: {share:.0%} of the air temperature is missing and filled, which "
            f"most_missing of the season file allows; {MOST_MISSING_SHARE:.0%} is the usual limit"
        )
    air, short = bridged(air)
    building.note(short, flags.AIR_INTERPOLATED, "air interpolated")
    of_day = _air_of_extremes(air, building, site, offset_h, curve)
    daily = np.isnan(air) & ~np.isnan(of_day)
    air[daily] = of_day[daily]
    building.note(daily, flags.AIR_FROM_DAILY, "air from daily")
    air, longer = from_like_hours(air)
    building.note(longer, flags.AIR_FROM_OTHER, "air from other days or years")
    left = np.flatnonzero(np.isnan(air))
    if len(left):
        raise NoAnswerError(
            Fault(
                "a gap of the air temperature cannot be filled",
                where=records.source,
                value=f"{len(left)} hours from {building.time[left[0]]} UTC",
                do="give other years of the same station, or cut the record there",
            )
        )
    return air


def _air_of_extremes(
    air: FloatArray, building: Building, site: Site, offset_h: float, curve: str
) -> FloatArray:
    """Return the air by the daily curve on days whose extremes are known, else NaN."""
    missing = np.isnan(air)
    if not missing.any() or not {"air_max_c", "air_min_c"} <= set(building.columns):
        return np.full(len(air), np.nan)
    days, _ = local_day_and_clock(building.time, offset_h)
    number = (days - days[0]).astype(np.int64)
    top, bottom = building.columns["air_max_c"], building.columns["air_min_c"]
    unknown = missing & (np.isnan(top) | np.isnan(bottom))
    high, low = np.full(number[-1] + 1, -np.inf), np.full(number[-1] + 1, np.inf)
    np.fmax.at(high, number, np.fmax(top, air))
    np.fmin.at(low, number, np.fmin(bottom, air))
    bad = (np.bincount(number, weights=unknown) > 0) | (np.bincount(number) < 24)
    low[bad] = high[bad] = np.nan
    return curve_hours(low, high, building.time, site, offset_h, curve)


def complete_vapour(building: Building, air: FloatArray, offset_h: float) -> FloatArray:
    """Return the vapour pressure without gaps [kPa], never above saturation.

    Taken from the vapour pressure, the dew point or the relative humidity, in this order; gaps of
    up to 3 h are bridged; elsewhere the dew point is the day's minimum of the air (FAO-56 eq. 48).
    """
    vapour = building.column("vapour_pressure_kpa")
    at_dew_point = vapour_pressure_from_dew_point(building.column("dew_point_c"))
    vapour = np.where(np.isnan(vapour), at_dew_point, vapour)
    humidity = np.minimum(building.column("relative_humidity_pct"), 100.0)
    vapour = np.where(np.isnan(vapour), vapour_pressure_from_humidity(air, humidity), vapour)
    vapour, short = bridged(vapour)
    building.note(short, flags.HUMIDITY_ESTIMATED, "humidity interpolated")
    missing = np.isnan(vapour)
    building.note(missing, flags.HUMIDITY_ESTIMATED, "humidity estimated")
    if missing.any():
        vapour[missing] = vapour_estimate(air, building.time, offset_h)[missing]
    return np.minimum(vapour, saturation_vapour_pressure(air))


def complete_solar(
    building: Building,
    records: WeatherRecords,
    site: Site,
    offset_h: float,
    air: FloatArray,
    clear: FloatArray,
) -> FloatArray:
    """Return the solar radiation without gaps [W m-2]; 0 while the sun is down.

    Gaps of up to 3 h keep the share of the clear sky before and after them; elsewhere the day's
    range of temperature gives it (FAO-56 eq. 50).

    Raises
    ------
    InputError
        When the sun of the file and that of the place are hours apart: a wrong zone or stamp.
    """
    solar = building.column("solar_w_m2")
    _check_clock(solar, clear, building, records)
    building.told += light_doubts(solar, building.time, site, offset_h, records.source)
    solar = np.where(clear <= 0.0, 0.0, solar)
    known, _ = bridged(np.where(clear > 20.0, solar / np.maximum(clear, 20.0), np.nan))
    gap = np.isnan(solar) & ~np.isnan(known)
    solar[gap] = known[gap] * clear[gap]
    building.note(gap, flags.SOLAR_ESTIMATED, "solar interpolated")
    missing = np.isnan(solar)
    building.note(missing, flags.SOLAR_ESTIMATED, "solar estimated")
    if missing.any():
        estimate = solar_estimate(air, building.time, site, offset_h, clear)
        solar[missing] = estimate[missing]
    return np.maximum(solar, 0.0)


def sun_shift_h(solar: FloatArray, clear: FloatArray) -> float | None:
    """Return by how many hours the sun of a record lags behind the sky's; None where unknown.

    The middle of the mean day's radiation, on the circle of 24 hours, against that of the clear sky
    in the same hours. A record needs a week of hours and a sun that keeps to one part of the day.

    Parameters
    ----------
    solar, clear : arrays ``[n]``
        Strictly hourly, from the same hour on [W m-2]; NaN where not measured.

    Examples
    --------
    >>> day = np.maximum(np.sin(np.pi * (np.arange(24.0) - 6.0) / 12.0), 0.0) * 800.0
    >>> clear = np.tile(day, 10)
    >>> round(sun_shift_h(np.roll(clear, 3) * 0.7, clear), 3)
    3.0
    >>> sun_shift_h(np.full(240, 100.0), clear) is None
    True
    """
    known = ~np.isnan(solar)
    clock = (np.arange(len(solar)) % 24)[known]
    by_clock = [np.bincount(clock, of[known], minlength=24) for of in (solar, clear)]
    total, above = (sums.sum() for sums in by_clock)
    if known.sum() < SUN_SHIFT_LEAST_HOURS or total <= 0.0 or above <= 0.0:
        return None
    turn = np.exp(2j * np.pi * np.arange(24) / 24.0)
    seen, sky = ((sums * turn).sum() for sums in by_clock)
    if abs(seen) < 0.3 * total or abs(sky) < 0.3 * above:
        return None
    return float(np.angle(seen / sky) * 24.0 / (2.0 * np.pi))


def _check_clock(
    solar: FloatArray, clear: FloatArray, building: Building, records: WeatherRecords
) -> None:
    shift = sun_shift_h(solar, clear) if "solar_w_m2" in building.columns else None
    if shift is None or abs(shift) < SUN_SHIFT_TOLD_H:
        return
    apart = f"{abs(shift):.1f} h {'late' if shift > 0 else 'early'}"
    refuse(
        (
            abs(shift) >= SUN_SHIFT_REFUSED_H,
            Fault(
                "the sun of the file and that of the place disagree",
                where=records.source,
                value=f"the file's sun is {apart}",
                allowed=f"under {SUN_SHIFT_REFUSED_H:g} h",
                do="state the time zone of the stamps, and check the longitude's sign",
            ),
        )
    )
    building.told.append(
        caution(
            f"{records.source}: the sun of the file is {apart}: check the time zone, whether the "
            "stamps are the start or the end of the hour, and the longitude of the site",
            "sun",
        )
    )


def complete_wind(building: Building, records: WeatherRecords) -> FloatArray:
    """Return the wind at 2 m without gaps [m s-1].

    Gaps of up to 3 h are bridged, longer ones filled from like hours, then with the record's mean;
    a file without wind gets 2 m s-1 (FAO-56).
    """
    wind = building.column("wind_m_s")
    height = records.wind_height_m
    if height is None:
        height = WIND_HEIGHT_ASSUMED_M
        if not np.isnan(wind).all():
            building.told.append(
                f"{records.source}: the height of the wind sensor is not stated; "
                f"{WIND_HEIGHT_ASSUMED_M:g} m is assumed (state wind_height_m)"
            )
    wind, short = bridged(np.asarray(wind_at_2m(wind, height), dtype=np.float64))
    building.note(short, flags.WIND_ESTIMATED, "wind interpolated")
    missing = np.isnan(wind)
    building.note(missing, flags.WIND_ESTIMATED, "wind estimated")
    if missing.all():
        return np.full(len(wind), WIND_WITHOUT_RECORD)
    if missing.any():
        wind, _ = from_like_hours(wind)
        wind[np.isnan(wind)] = np.nanmean(wind)
    return wind
