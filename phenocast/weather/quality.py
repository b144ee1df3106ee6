"""Checks of weather records: what cannot be, what jumps, what stands still.

Values outside the plausible range are taken out and filled like a gap. Jumps from hour to hour and
values that stand still are told as suspect; only a lone spike and a sensor that repeats one value
for a day are taken out. Nothing else is changed.

Sources of the limits: plausible ranges of the WMO guideline for automatic stations (Zahumensky
2004, WMO-No. 488; transcription read); steps over 1 to 12 hours of WMO-No. 305 (1993; transcription
read), of which the first that is passed is told; relative humidity up to 105 % as sensors drift
(mesonet practice, read); persistence of 3 h for air of an urban network after WMO-No. 488 (read),
widened to half a day because field loggers round to whole degrees.

Cautions about weather records that can be, and yet are most likely wrong. Nothing is changed.

A caution says what was seen, where and when. Data that are right are stated so by the key
``checked`` of the season file.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from phenocast._typing import BoolArray, FloatArray, IntArray
from phenocast.errors import Fault, caution, raise_any, refuse
from phenocast.season.site import Site
from phenocast.weather.hourly import local_day_and_clock
from phenocast.weather.records import VALUE_COLUMNS, WeatherRecords
from phenocast.weather.sun import extraterrestrial_daily

Tell = Callable[[str, BoolArray, str, str, bool], None]


PLAUSIBLE: dict[str, tuple[float, float]] = {
    "air_c": (-80.0, 60.0),
    "air_max_c": (-80.0, 60.0),
    "air_min_c": (-80.0, 60.0),
    "dew_point_c": (-80.0, 35.0),
    "relative_humidity_pct": (0.0, 105.0),
    "vapour_pressure_kpa": (0.0, 8.0),
    "wind_m_s": (0.0, 75.0),
    "solar_w_m2": (-20.0, 1600.0),
    "longwave_down_w_m2": (50.0, 700.0),
    "rain_mm": (0.0, 2400.0),
    "pressure_kpa": (50.0, 110.0),
    "soil_5cm_c": (-50.0, 80.0),
    "soil_10cm_c": (-50.0, 60.0),
}

"""Plausible range of each column, in its unit."""


STEP_HOURS = (1, 2, 3, 6, 12)

LARGEST_STEPS: dict[str, tuple[float, ...]] = {
    "air_c": (4.0, 7.0, 9.0, 15.0, 25.0),
    "dew_point_c": (4.0, 6.0, 8.0, 12.0, 20.0),
    "pressure_kpa": (0.3, 0.6, 0.9, 1.8, 3.6),
}

"""Changes that are not passed over `STEP_HOURS` hours, in the unit of the column."""


# A spike passes the six-hour step within one hour and comes back within the next.
SPIKE = {"air_c": 15.0, "dew_point_c": 12.0, "pressure_kpa": 1.8}

# An interval's mean may pass its own extremes by the rounding of the file [degC].
ROUNDING_C = 0.15

# Hours of one and the same value that are told as suspect, and that are taken out.
STILL_SUSPECT_H = 12

STILL_REMOVED_H = 24

MOST_LISTED = 20


@dataclass(frozen=True)
class Checked:
    """Records after the checks: the table with bad values blanked, what was found, and how much.

    ``faults`` lists at most `MOST_LISTED` values, each with its row; ``removed`` and ``suspect``
    count all of them by column.
    """

    table: pd.DataFrame
    faults: tuple[Fault, ...]
    removed: dict[str, int]
    suspect: dict[str, int]


def checked(records: WeatherRecords) -> Checked:
    """Return the records with impossible values blanked, and every finding with its row.

    Parameters
    ----------
    records : WeatherRecords
        In order of time, one row an interval.

    Raises
    ------
    InputError
        When stamps come twice or run backwards.

    Examples
    --------
    >>> table = pd.DataFrame({
    ...     "time_utc": pd.date_range("2026-10-01", periods=3, freq="h"), "row": [2, 3, 4],
    ...     "air_c": [18.0, 99.0, 17.5]})
    >>> result = checked(WeatherRecords(table, "hourly", "station.csv"))
    >>> print(result.faults[0])
    station.csv, row 3, air_c: outside the plausible range (value 99.0; allowed: -80 to 60)
    """
    _check_stamps(records)
    table = records.table.copy()
    faults: list[Fault] = []
    removed: dict[str, int] = {}
    suspect: dict[str, int] = {}

    def tell(column: str, bad: BoolArray, what: str, allowed: str, blank: bool) -> None:
        places = np.flatnonzero(bad)
        if len(places) == 0:
            return
        tally = removed if blank else suspect
        tally[column] = tally.get(column, 0) + len(places)
        for place in places[: max(0, MOST_LISTED - len(faults))]:
            row = int(table["row"].iloc[place])
            faults.append(
                Fault(
                    what,
                    where=f"{records.source}, row {row}, {column}",
                    value=round(float(table[column].iloc[place]), 3),
                    allowed=allowed,
                )
            )
        if blank:
            table.loc[table.index[places], column] = np.nan

    for column in records.columns:
        low, high = PLAUSIBLE[column]
        values = table[column].to_numpy(dtype=np.float64)
        outside = (values < low) | (values > high)
        tell(column, outside, "outside the plausible range", f"{low:g} to {high:g}", True)
    if {"air_max_c", "air_min_c"} <= set(records.columns):
        turned = (table["air_min_c"] > table["air_max_c"]).to_numpy()
        tell("air_min_c", turned, "the minimum lies above the maximum", "at most air_max_c", True)
    if {"air_c", "dew_point_c"} <= set(records.columns):
        above = (table["dew_point_c"] > table["air_c"] + 0.5).to_numpy()
        tell("dew_point_c", above, "the dew point lies above the air", "at most air_c", True)
    if {"air_c", "air_max_c", "air_min_c"} <= set(records.columns):
        air = table["air_c"]
        beyond = (air > table["air_max_c"] + ROUNDING_C) | (air < table["air_min_c"] - ROUNDING_C)
        tell(
            "air_c",
            beyond.to_numpy(),
            "the mean lies outside its extremes",
            "air_min_c to air_max_c",
            False,
        )
    if records.step == "hourly":
        apart = _apart(table["time_utc"].to_numpy())
        for column in LARGEST_STEPS:
            if column in records.columns:
                _steps(table, column, apart, tell)
        if "air_c" in records.columns:  # humid air keeps its dew point for days
            _stills(table, "air_c", tell)
    return Checked(table, tuple(faults), removed, suspect)


def _check_stamps(records: WeatherRecords) -> None:
    """Refuse stamps that come twice or run backwards, with the rows of the first of them."""
    stamps = records.table["time_utc"].to_numpy()
    rows = records.table["row"].to_numpy()
    change = np.diff(stamps) / np.timedelta64(1, "s")
    refuse((not np.isfinite(change).all(), Fault("a row has no time stamp", where=records.source)))
    faults = []
    for wrong, what in (
        (change == 0, "the stamp comes twice"),
        (change < 0, "the stamps run back"),
    ):
        places = np.flatnonzero(wrong)
        if len(places):
            place = places[0]
            faults.append(
                Fault(
                    what,
                    where=f"{records.source}, rows {rows[place]} and {rows[place + 1]}",
                    value=f"{stamps[place + 1].astype('datetime64[m]')} UTC",
                    allowed="each interval once, in order of time",
                    do=f"{len(places)} such rows in all; sort the file and drop repeats",
                )
            )
    raise_any(faults)


def _apart(stamps: NDArray[np.datetime64]) -> dict[int, BoolArray]:
    """Return for each of `STEP_HOURS` which rows lie that far after the row that many before."""
    seconds = stamps.astype("datetime64[s]").astype(np.int64)
    return {hours: seconds[hours:] - seconds[:-hours] == 3600 * hours for hours in STEP_HOURS}


def _steps(table: pd.DataFrame, column: str, apart: dict[int, BoolArray], tell: Tell) -> None:
    values = table[column].to_numpy(dtype=np.float64)
    unit = "kPa" if column == "pressure_kpa" else "degC"
    change = _change(values, apart[1], 1)
    back = np.append(change[1:], np.nan)
    limit = SPIKE[column]
    spike = (np.abs(change) > limit) & (np.abs(back) > limit) & (change * back < 0.0)
    tell(column, spike, "a lone spike", f"steps up to {limit:g} {unit}", True)
    values = np.where(spike, np.nan, values)
    told = np.zeros(len(values), dtype=bool)
    for hours, largest in zip(STEP_HOURS, LARGEST_STEPS[column], strict=True):
        jump = (np.abs(_change(values, apart[hours], hours)) > largest) & ~told
        # one front passes the longer limits for hours: its first row is told
        first = jump & ~np.append(False, jump[:-1])
        tell(
            column,
            first,
            f"a step larger than usual over {hours} h",
            f"up to {largest:g} {unit}",
            False,
        )
        told |= jump


def _change(values: FloatArray, apart: BoolArray, hours: int) -> FloatArray:
    """Return the change over so many hours; NaN where the rows do not lie that far apart."""
    change = np.full(len(values), np.nan)
    if len(values) > hours:
        change[hours:] = np.where(apart, values[hours:] - values[:-hours], np.nan)
    return change


def _stills(table: pd.DataFrame, column: str, tell: Tell) -> None:
    run = still_run_lengths(table[column].to_numpy(dtype=np.float64))
    stuck = run > STILL_REMOVED_H
    tell(column, stuck, "the sensor stands still", f"up to {STILL_REMOVED_H} h", True)
    slow = (run > STILL_SUSPECT_H) & ~stuck
    tell(column, slow, "the sensor stands still", f"up to {STILL_SUSPECT_H} h", False)


def runs(values: NDArray[Any]) -> tuple[IntArray, IntArray]:
    """Where each run of equal values starts, and its length; NaN is equal to nothing.

    Examples
    --------
    >>> runs(np.array([3.0, 3.0, 5.0]))
    (array([0, 2]), array([2, 1]))
    """
    starts = np.flatnonzero(np.append(len(values) > 0, values[1:] != values[:-1]))
    return starts, np.diff(np.append(starts, len(values)))


def still_run_lengths(values: FloatArray) -> IntArray:
    """Return for each value the length of the run of equal values it stands in; 0 for NaN.

    Examples
    --------
    >>> still_run_lengths(np.array([1.0, 1.0, 2.0, np.nan])).tolist()
    [2, 2, 1, 0]
    """
    _, lengths = runs(values)
    return np.where(np.isnan(values), 0, np.repeat(lengths, lengths))


# A percentage column that never passes this holds a fraction: the driest deserts come to 5 %, and
# sensors that hold a fraction drift to at most 1.05 [%]. Fewer rows than a day say nothing.
HUMIDITY_FRACTION = 1.5

HUMIDITY_LEAST_ROWS = 24


# Hours that one and the same value may last; values of a range in which a quantity rests; hours
# that those may last. Air: as `quality`. Humid air keeps its dew point for days. Humidity stays at
# its upper end in fog; anemometers stand still below their threshold in calm nights, and longer
# only where they are frozen or stuck; within the polar circles no day is without light, so darkness
# ends within three; a sun that stands at one value for half a day is none; dry weather has no end.
_NEVER = float("inf")

STILL_H: dict[str, tuple[float, float, float, float]] = {
    "air_c": (STILL_REMOVED_H, 0.0, -1.0, 0.0),
    "air_max_c": (STILL_REMOVED_H, 0.0, -1.0, 0.0),
    "air_min_c": (STILL_REMOVED_H, 0.0, -1.0, 0.0),
    "dew_point_c": (72.0, 0.0, -1.0, 0.0),
    "vapour_pressure_kpa": (72.0, 0.0, -1.0, 0.0),
    "relative_humidity_pct": (48.0, 97.0, 105.0, 480.0),
    "wind_m_s": (48.0, 0.0, 0.5, 240.0),
    "solar_w_m2": (12.0, -20.0, 5.0, 72.0),
    "longwave_down_w_m2": (48.0, 0.0, -1.0, 0.0),
    "rain_mm": (24.0, 0.0, 0.0, _NEVER),
}

# Means and extremes of days in whole degrees or percent are often alike for days [h].
STILL_DAILY_H = 240.0


FAR_FROM_SITE_KM = 60.0

"""A file for a place farther than this is told: over such distances coasts and hills matter."""


# What reaches the ground on the third brightest of 30 days, as a share of the sunlight above the
# atmosphere: 0.75 to 0.8 under a clear sky (FAO-56 eq. 37), and 0.60 to 0.79 in every month of 14
# US Climate Reference Network stations in 2020 (29 to 38 N). The lower limit leaves room for wet
# winters, the upper one for sensors that read a tenth too high.
LIGHT_SHARE = (0.40, 0.85)

LIGHT_DAYS = 30

# Complete days that a window needs before it can be too dim.
LIGHT_LEAST_DAYS = 20

# Below so little sunlight above the atmosphere the share is not reliable [MJ m-2 d-1].
LIGHT_LEAST_MJ = 3.0


def record_doubts(records: WeatherRecords, site: Site | None = None) -> list[str]:
    """Return cautions about humidity, sensors that stand still, and the place of a file.

    Parameters
    ----------
    records : WeatherRecords
    site : Site, optional
        Where the weather is meant to be.

    Examples
    --------
    >>> import pandas as pd
    >>> stamps = pd.date_range("2026-10-01", periods=48, freq="h")
    >>> table = pd.DataFrame({"time_utc": stamps, "row": range(2, 50),
    ...                       "relative_humidity_pct": [0.6, 0.8] * 24})
    >>> print(record_doubts(WeatherRecords(table, "hourly", "a.csv"))[0][:68])
    CAUTION: a.csv: the relative humidity lies between 0.6 and 0.8 % in
    """
    return [*_humidity(records), *_still_sensors(records), *_place(records, site)]


def _humidity(records: WeatherRecords) -> list[str]:
    if "relative_humidity_pct" not in records.columns:
        return []
    values = records.table["relative_humidity_pct"].dropna()
    if len(values) < HUMIDITY_LEAST_ROWS or values.max() > HUMIDITY_FRACTION:
        return []
    return [
        caution(
            f"{records.source}: the relative humidity lies between {values.min():g} and "
            f"{values.max():g} % in all {len(values)} rows, as a fraction would: if it is one, "
            "write [fraction] for [%] in the header, or state units = "
            '{ relative_humidity_pct = "fraction" }',
            "humidity",
        )
    ]


def _still_sensors(records: WeatherRecords) -> list[str]:
    stamps = records.table["time_utc"].to_numpy()
    if len(stamps) < 2:
        return []
    hours = float(np.median(np.diff(stamps[:500])) / np.timedelta64(1, "h"))  # slow for decades
    told = []
    for quantity in set(records.columns) & set(STILL_H):
        values = records.table[quantity].to_numpy(dtype=np.float64)
        begins, lengths = runs(values)
        lasts = lengths * hours
        longest, low, high, at_rest = STILL_H[quantity]
        rests = (values[begins] >= low) & (values[begins] <= high)
        allowed = np.where(rests, at_rest, longest)
        if records.step == "daily":
            allowed = np.maximum(allowed, STILL_DAILY_H)
        over = np.flatnonzero(lasts > allowed)
        if len(over) == 0:
            continue
        worst = over[lasts[over].argmax()]
        first = begins[worst]
        more = f" and {len(over) - 1} more times for too long" if len(over) > 1 else ""
        told.append(
            caution(
                f"{records.source}: the {VALUE_COLUMNS[quantity]} stands at {values[first]:.4g} "
                f"for {lasts[worst]:.0f} hours from {stamps[first].astype('datetime64[m]')} "
                f"UTC (row {records.table['row'].iloc[first]}){more}: a sensor that is stuck, or "
                "values that were filled in? Leave such rows empty and they are estimated",
                "still sensor",
            )
        )
    return sorted(told)


def _place(records: WeatherRecords, site: Site | None) -> list[str]:
    if records.latitude is None or records.longitude is None:
        return []
    place = f"{records.source} is for latitude {records.latitude:.6g}, longitude "
    place += f"{records.longitude:.6g}"
    if not (abs(records.latitude) <= 90.0 and abs(records.longitude) <= 180.0):
        return [caution(f"{place}, which is no place on the earth: is it the file meant", "place")]
    if site is None:
        return []
    apart = _distance_km(records.latitude, records.longitude, site)
    if apart <= FAR_FROM_SITE_KM:
        return []
    return [
        caution(
            f"{place}, {apart:.0f} km from {site.name}: is it the file meant, and are latitude and "
            "longitude of the site right (north and east positive)",
            "place",
        )
    ]


def _distance_km(latitude: float, longitude: float, site: Site) -> float:
    """Distance of a place from the site, on a sphere. [km]"""
    lat_a, lon_a, lat_b, lon_b = np.radians([latitude, longitude, site.latitude, site.longitude])
    haversine = (
        np.sin((lat_b - lat_a) / 2) ** 2
        + np.cos(lat_a) * np.cos(lat_b) * np.sin((lon_b - lon_a) / 2) ** 2
    )
    return float(2 * 6371.0 * np.arcsin(np.sqrt(haversine)))


def light_doubts(
    solar: FloatArray,
    time_utc: NDArray[np.datetime64],
    site: Site,
    offset_h: float,
    source: str,
) -> list[str]:
    """Return a caution where the days are too bright or too dim for the latitude.

    Parameters
    ----------
    solar : array ``[n]``
        Strictly hourly; NaN where not measured. [W m-2]
    time_utc : array ``[n]`` of datetime64[h]
    site : Site
    offset_h : float
        Offset of local standard time from UTC. [h]
    source : str
        Name of the file.

    Examples
    --------
    >>> from phenocast.weather.sun import clear_sky_w_m2
    >>> here, south = (Site("x", lat, -15.6, 35.0, "Atlantic/Canary") for lat in (29.3, -29.3))
    >>> time = np.datetime64("2026-12-01T00", "h") + np.arange(720)
    >>> light = 0.9 * clear_sky_w_m2(time, here)
    >>> light_doubts(light, time, here, 0.0, "a.csv")
    []
    >>> print(light_doubts(light, time, south, 0.0, "a.csv")[0][:79])
    CAUTION: a.csv: the sunlight does not fit latitude -29.3 (it does fit 29.3): on
    """
    days, _ = local_day_and_clock(time_utc, offset_h)
    number = (days - days[0]).astype(np.int64)
    known = np.bincount(number, weights=~np.isnan(solar)) == 24
    total = np.bincount(number, weights=np.nan_to_num(solar)) * 3600.0 / 1e6
    dates = days[0] + np.arange(len(total)).astype("timedelta64[D]")

    def shares(latitude: float) -> FloatArray:
        """Return the share of light on the third brightest day of each window, ``[window]``."""
        of_year = (dates - dates.astype("datetime64[Y]")).astype(np.int64) + 1
        above = extraterrestrial_daily(latitude, of_year)
        share = np.where(known & (above >= LIGHT_LEAST_MJ), total / np.maximum(above, 1.0), np.nan)
        windows = np.pad(share, (0, -len(share) % LIGHT_DAYS), constant_values=np.nan)
        windows = np.sort(windows.reshape(-1, LIGHT_DAYS))  # NaN comes last
        count = np.isfinite(windows).sum(axis=1)
        third = windows[np.arange(len(windows)), np.maximum(count - 3, 0)]
        few = (count < 3) | ((count < LIGHT_LEAST_DAYS) & (third < LIGHT_SHARE[0]))
        return np.where(few, np.nan, third)

    def wrong(share: FloatArray) -> BoolArray:
        return (share < LIGHT_SHARE[0]) | (share > LIGHT_SHARE[1])

    share = shares(site.latitude)
    bad = wrong(share)
    if not bad.any():
        return []
    off = np.where(bad, np.abs(np.log(np.maximum(share, 1e-3) / np.mean(LIGHT_SHARE))), 0.0)
    worst = int(off.argmax())
    mirrored = "" if wrong(shares(-site.latitude)).any() else f" (it does fit {-site.latitude:g})"
    return [
        caution(
            f"{source}: the sunlight does not fit latitude {site.latitude:g}{mirrored}: on the "
            f"brightest days of the {LIGHT_DAYS} from {dates[worst * LIGHT_DAYS]}, "
            f"{share[worst]:.0%} of the sunlight above the atmosphere arrives (usual: "
            f"{LIGHT_SHARE[0]:.0%} to {LIGHT_SHARE[1]:.0%}); {int(bad.sum())} of {len(bad)} such "
            "spans are like this. Check the sign of the latitude, the unit of the column, and "
            "whether the sensor was shaded or under cover",
            "sun",
        )
    ]
