"""Checked rows laid on the strict hourly grid: hours, parts of hours, or days made into hours."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from phenocast._typing import BoolArray, FloatArray
from phenocast.errors import Fault, NoAnswerError, refuse
from phenocast.season.site import Site
from phenocast.weather import hourly as flags
from phenocast.weather.daily_curves import hours_from_extremes
from phenocast.weather.hourly import local_day_and_clock
from phenocast.weather.humidity import daily_vapour_pressure_from_mean
from phenocast.weather.records import WeatherRecords
from phenocast.weather.sun import SUNRISE_DEG, clear_sky_w_m2, sun_passages_h

ENOUGH_OF_AN_HOUR = 0.5
"""Share of an hour's readings that must be there for their mean to stand for the hour."""


@dataclass
class Building:
    """An hourly table in the making: NaN where nothing is known yet."""

    time: NDArray[np.datetime64]
    columns: dict[str, FloatArray]
    filled: NDArray[np.uint8]
    told: list[str]
    counts: dict[str, int]

    def column(self, name: str) -> FloatArray:
        """Return a copy of a column; all NaN where the file has none."""
        if name in self.columns:
            return self.columns[name].copy()
        return np.full(len(self.time), np.nan)

    def note(self, where: BoolArray, flag: int, name: str) -> None:
        """Flag the hours that were filled, and count them under a name."""
        self.filled[where] |= np.uint8(flag)
        if where.any():
            self.counts[name] = self.counts.get(name, 0) + int(where.sum())


def grid_of_hours(table: pd.DataFrame, records: WeatherRecords, told: list[str]) -> Building:
    """Return hourly or sub-hourly rows on the hourly grid.

    Parts of an hour are averaged (rain is summed); an hour with fewer than half of its readings
    counts as missing. Hourly rows that start between two UTC hours, as in zones of half an hour,
    are shared out between the two.

    Parameters
    ----------
    table : DataFrame
        The checked table.
    records : WeatherRecords
        For the step and the name of the file.
    told : list of str
        Gathers what the user should know.
    """
    stamps = table["time_utc"].dt.floor("h")
    names = [name for name in table.columns if name not in ("time_utc", "row")]
    values = table[names].set_index(pd.DatetimeIndex(stamps))
    if records.step == "hourly" and values.index.is_unique:
        means = values  # what most files hold: nothing is to be averaged
    else:
        by_hour = values.groupby(level=0)
        means = by_hour.mean()
        if "rain_mm" in means:
            means["rain_mm"] = by_hour["rain_mm"].sum(min_count=1)
    if records.step == "subhourly":
        held = by_hour.count()
        expected = float(by_hour.size().median())
        means = means.where(held >= ENOUGH_OF_AN_HOUR * expected)
    else:
        means = _shared_between_hours(means, table["time_utc"], records, told)
    index = pd.date_range(means.index[0], means.index[-1], freq="h")
    means = means.reindex(index)
    time = index.to_numpy().astype("datetime64[h]")
    columns = {name: means[name].to_numpy(dtype=np.float64, copy=True) for name in means.columns}
    air = columns.get("air_c")
    missing = len(time) if air is None else int(np.isnan(air).sum())
    counts = {"hours": len(time), "air missing": missing}
    return Building(time, columns, np.zeros(len(time), dtype=np.uint8), told, counts)


def _shared_between_hours(
    means: pd.DataFrame, stamps: pd.Series, records: WeatherRecords, told: list[str]
) -> pd.DataFrame:
    minutes = stamps.dt.minute.to_numpy()
    if len(minutes) == 0 or minutes[0] == 0 or not (minutes == minutes[0]).all():
        return means
    share = float(minutes[0]) / 60.0
    told.append(
        f"{records.source}: rows start {minutes[0]} minutes past the UTC hour and were shared out "
        "between two hours"
    )
    whole = means.reindex(pd.date_range(means.index[0], means.index[-1], freq="h"))
    shared = (1.0 - share) * whole + share * whole.shift(1)
    shared.iloc[0] = whole.iloc[0]
    return shared


def grid_of_days(
    table: pd.DataFrame,
    records: WeatherRecords,
    site: Site,
    offset_h: float,
    curve: str,
    told: list[str],
) -> Building:
    """Return daily rows as hours: air by a daily curve, radiation by the clear sky, the rest even.

    Parameters
    ----------
    table : DataFrame
        The checked table, with ``air_max_c`` and ``air_min_c``.
    records : WeatherRecords
    site : Site
    offset_h : float
        Offset of local standard time from UTC [h].
    curve : str
        A name of `daily_curves.CURVES`.
    told : list of str
        Gathers what the user should know.

    Raises
    ------
    NoAnswerError
        When the maximum or the minimum has no column.
    """
    refuse(
        (
            not {"air_max_c", "air_min_c"} <= set(table.columns),
            Fault(
                "daily records need the maximum and the minimum of the air",
                where=records.source,
                value=", ".join(records.columns),
                allowed="air_max_c and air_min_c",
            ),
        ),
        error=NoAnswerError,
    )
    shift = pd.Timedelta(hours=offset_h)
    nearest = (table["time_utc"] + shift).dt.round("D")
    days = table.drop(columns=["time_utc", "row"]).groupby(nearest.to_numpy()).mean()
    local = pd.date_range(days.index[0], days.index[-1], freq="D")
    days = days.reindex(local)
    low = days["air_min_c"].to_numpy(dtype=np.float64, copy=True)
    high = days["air_max_c"].to_numpy(dtype=np.float64, copy=True)
    missing = np.isnan(low) | np.isnan(high)
    low[missing] = high[missing] = np.nan
    start = np.datetime64(local[0], "m") - np.timedelta64(round(offset_h * 60), "m")
    first = (start + np.timedelta64(59, "m")).astype("datetime64[h]")
    time = first + np.arange(24 * len(days)).astype("timedelta64[h]")
    air = curve_hours(low, high, time, site, offset_h, curve)
    columns: dict[str, FloatArray] = {"air_c": air}
    filled = np.where(np.isnan(air), 0, flags.AIR_FROM_DAILY).astype(np.uint8)
    for name in days.columns:
        values = days[name].to_numpy(dtype=np.float64)
        if name in ("air_max_c", "air_min_c", "air_c"):
            continue
        if name == "solar_w_m2":
            columns[name] = spread_solar(values, time, site)
        elif name == "rain_mm":
            columns[name] = np.repeat(values / 24.0, 24)
        elif name == "relative_humidity_pct":
            # the day's mean humidity goes with the day's mean saturation, not with each hour's
            vapour = np.repeat(daily_vapour_pressure_from_mean(high, low, values), 24)
            given = columns.get("vapour_pressure_kpa", np.full(len(time), np.nan))
            columns["vapour_pressure_kpa"] = np.where(np.isnan(given), vapour, given)
        elif name == "vapour_pressure_kpa" and name in columns:
            given = np.repeat(values, 24)
            columns[name] = np.where(np.isnan(given), columns[name], given)
        else:
            columns[name] = np.repeat(values, 24)
        known = np.repeat(~np.isnan(values), 24)
        filled[known] |= np.uint8(flags.SPREAD_FROM_DAILY)
    told.append(
        f"{records.source}: hours were made from daily extremes by the curve {curve!r}; "
        "degree-hours near a threshold carry its error"
    )
    counts = {
        "days": len(days),
        "days without extremes": int(missing.sum()),
        "hours": len(time),
        "air missing": int(np.isnan(air).sum()),
        "air from daily": int((~np.isnan(air)).sum()),
    }
    return Building(time, columns, filled, told, counts)


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


def curve_hours(
    low: FloatArray,
    high: FloatArray,
    time: NDArray[np.datetime64],
    site: Site,
    offset_h: float,
    curve: str,
) -> FloatArray:
    """Return the air of each hour of ``time`` from the extremes of the local days they run through.

    Parameters
    ----------
    low, high : arrays ``[days]``
        Extremes of consecutive local days, from the day of the first hour on [degC]. Where a day's
        neighbour is NaN, the night between the two takes the day's own minimum.
    time : array ``[n]`` of datetime64[h]
    site : Site
    offset_h : float
        Offset of local standard time from UTC [h].
    curve : str

    Returns
    -------
    array ``[n]``
        degC; NaN on days whose extremes are NaN.
    """
    days, clock = local_day_and_clock(time, offset_h)
    dates = days[0] + np.arange(len(low)).astype("timedelta64[D]")
    sunrise, sunset = (
        hour + offset_h
        for hour in sun_passages_h(dates, site.latitude, SUNRISE_DEG, longitude=site.longitude)
    )
    at = np.arange(24) + clock[0] % 1.0 + 0.5
    made = np.full((len(low), 24), np.nan)
    known = ~np.isnan(low)
    # each run of known days by itself, so that a missing day takes nothing from its neighbours
    edges = np.flatnonzero(np.diff(known.astype(np.int8), prepend=0, append=0))
    for begin, end in zip(edges[::2], edges[1::2], strict=True):
        run = slice(int(begin), int(end))
        made[run] = hours_from_extremes(
            low[run], high[run], sunrise[run], sunset[run], curve=curve, clock_h=at
        )
    number = (days - days[0]).astype(np.int64)
    return np.asarray(made[number, clock.astype(np.int64)])
