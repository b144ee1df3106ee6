"""One hourly table from the records of a file: checked, complete, every filled value flagged."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from phenocast.errors import Fault, NoAnswerError
from phenocast.season.site import Site
from phenocast.weather import hourly as flags
from phenocast.weather.daily_curves import DEFAULT_CURVE, hours_from_extremes
from phenocast.weather.estimates import solar_estimate, spread_solar, vapour_estimate
from phenocast.weather.gaps import bridged, from_like_hours
from phenocast.weather.hourly import HourlyWeather, SeasonWeather
from phenocast.weather.humidity import (
    saturation_vapour_pressure,
    vapour_pressure_from_dew_point,
    vapour_pressure_from_humidity,
    wind_at_2m,
)
from phenocast.weather.local_time import standard_offset_h
from phenocast.weather.quality import Checked, checked
from phenocast.weather.records import WeatherRecords
from phenocast.weather.solar import clear_sky_w_m2, sunrise_and_sunset_h

Hours = NDArray[np.float64]

MOST_MISSING_SHARE = 0.10
# Wind where a file has none: the world mean at 2 m that FAO-56 gives for such cases [m s-1].
WIND_WITHOUT_RECORD = 2.0
WIND_HEIGHT_ASSUMED_M = 10.0


@dataclass
class _Building:
    """An hourly table in the making."""

    time: NDArray[np.datetime64]
    columns: dict[str, Hours]
    filled: NDArray[np.uint8]
    told: list[str]
    counts: dict[str, int]

    def flag(self, where: NDArray[np.bool_], flag: int) -> None:
        self.filled[where] |= np.uint8(flag)


def to_hourly(
    records: WeatherRecords,
    site: Site,
    *,
    max_missing_share: float = MOST_MISSING_SHARE,
    curve: str = DEFAULT_CURVE,
) -> HourlyWeather:
    """Return the hourly table of one file.

    Parameters
    ----------
    records : WeatherRecords
        In internal units, in order of time.
    site : Site
        Place for sun and local days.
    max_missing_share : float
        Largest share of hours without air temperature that may be filled.
    curve : str
        Curve that makes hours of daily extremes.

    Raises
    ------
    InputError
        When the records hold no air temperature.
    NoAnswerError
        When more than the stated share is missing, or a gap cannot be filled from anything.
    """
    result = checked(records)
    told = [*records.notes, *_found(records, result)]
    counts = {f"{name} removed": n for name, n in result.removed.items()}
    counts |= {f"{name} suspect": n for name, n in result.suspect.items()}
    if records.step == "daily":
        building = _hours_of_days(result.table, records, site, curve, told, counts)
    else:
        building = _hours_of_hours(result.table, records, told, counts)
    _complete_air(building, records, max_missing_share)
    air = building.columns["air_c"]
    clear = clear_sky_w_m2(building.time, site)
    offset = standard_offset_h(site.time_zone, int(str(building.time[0])[:4]))
    vapour = _vapour(building, offset)
    solar = _solar(building, site, offset, clear)
    wind = _wind(building, records)
    rain = building.columns.get("rain_mm", np.full(len(air), np.nan))
    building.flag(np.isnan(rain), flags.RAIN_ESTIMATED)
    longwave = building.columns.get("longwave_down_w_m2", np.full(len(air), np.nan))
    return HourlyWeather(
        time_utc=building.time,
        air_c=air,
        vapour_pressure_kpa=vapour,
        wind_m_s=wind,
        solar_w_m2=solar,
        longwave_down_w_m2=longwave,
        rain_mm=np.nan_to_num(rain),
        filled=building.filled,
        site=site,
        typical_year=records.typical_year,
        warnings=tuple(building.told),
        counts=building.counts,
        findings=result.faults,
        source=records.source,
    )


def _found(records: WeatherRecords, result: Checked) -> list[str]:
    """Return one line a column and kind of finding, for the reader of a forecast."""
    lines = []
    for tally, what in ((result.removed, "were taken out"), (result.suspect, "look unusual")):
        lines += [
            f"{records.source}: {count} values of {name} {what}; `phenocast check` lists them"
            for name, count in tally.items()
        ]
    return lines


def season_tables(
    parts: Mapping[str, Sequence[WeatherRecords]],
    site: Site,
    nursery_site: Site | None = None,
    *,
    max_missing_share: float = MOST_MISSING_SHARE,
) -> SeasonWeather:
    """Return the weather of a season as hourly tables.

    Parameters
    ----------
    parts : mapping of "observed", "history", "outlook" and "nursery" to the records of their files
        Files of one kind are joined in order of time; each outlook record is one member.
    site, nursery_site : places of the field and of the nursery.
    max_missing_share : as in `to_hourly`.
    """

    def table(kind: str, place: Site) -> HourlyWeather | None:
        made = [
            to_hourly(one, place, max_missing_share=max_missing_share)
            for one in parts.get(kind, ())
        ]
        made.sort(key=lambda one: one.time_utc[0])
        return reduce(HourlyWeather.joined, made) if made else None

    members = {
        number: to_hourly(one, site, max_missing_share=max_missing_share)
        for number, one in enumerate(parts.get("outlook", ()), start=1)
    }
    return SeasonWeather(
        observed=table("observed", site),
        history=table("history", site),
        outlook=members,
        nursery=table("nursery", nursery_site or site),
    )


def _hours_of_hours(
    table: pd.DataFrame, records: WeatherRecords, told: list[str], counts: dict[str, int]
) -> _Building:
    stamps = table["time_utc"].dt.floor("h")
    values = table.drop(columns=["time_utc", "row"])
    by_hour = values.groupby(stamps.to_numpy())
    means = by_hour.mean()
    if "rain_mm" in means:
        means["rain_mm"] = by_hour["rain_mm"].sum(min_count=1)
    index = pd.date_range(means.index[0], means.index[-1], freq="h")
    means = means.reindex(index)
    time = index.to_numpy().astype("datetime64[h]")
    columns = {name: means[name].to_numpy(dtype=np.float64) for name in means.columns}
    n = len(time)
    missing = np.isnan(columns["air_c"]).sum() if "air_c" in columns else n
    counts = counts | {"hours": n, "air missing": int(missing)}
    return _Building(time, columns, np.zeros(n, dtype=np.uint8), told, counts)


def _hours_of_days(
    table: pd.DataFrame,
    records: WeatherRecords,
    site: Site,
    curve: str,
    told: list[str],
    counts: dict[str, int],
) -> _Building:
    if not {"air_max_c", "air_min_c"} <= set(table.columns):
        raise NoAnswerError(
            Fault("daily records need the maximum and the minimum of the air", where=records.source,
                  value=", ".join(records.columns), allowed="air_max_c and air_min_c")
        )
    first = table["time_utc"].iloc[0]
    whole = pd.date_range(first, table["time_utc"].iloc[-1], freq="D")
    offset = standard_offset_h(site.time_zone, first.year)
    local = (whole + pd.Timedelta(hours=offset)).round("D")
    nearest = (table["time_utc"] + pd.Timedelta(hours=offset)).dt.round("D")
    days = table.drop(columns=["time_utc", "row"]).groupby(nearest.to_numpy()).mean()
    days = days.reindex(local)
    low = days["air_min_c"].to_numpy(dtype=np.float64, copy=True)
    high = days["air_max_c"].to_numpy(dtype=np.float64, copy=True)
    missing = np.isnan(low) | np.isnan(high)
    counts = counts | {"days": len(days), "days without extremes": int(missing.sum())}
    sunrise, sunset = sunrise_and_sunset_h(
        local.to_numpy().astype("datetime64[D]"), site, offset
    )
    low[missing] = high[missing] = np.nan
    start = np.datetime64(local[0], "m") - np.timedelta64(round(offset * 60), "m")
    time = (start + np.timedelta64(59, "m")).astype("datetime64[h]") + np.arange(
        24 * len(days)
    ).astype("timedelta64[h]")
    air = hours_from_extremes(low, high, sunrise, sunset, curve=curve).reshape(-1)
    filled = np.full(len(time), flags.AIR_FROM_DAILY, dtype=np.uint8)
    columns: dict[str, Hours] = {"air_c": air}
    for name in days.columns:
        if name in ("air_max_c", "air_min_c", "air_c"):
            continue
        values = days[name].to_numpy(dtype=np.float64)
        if name == "solar_w_m2":
            columns[name] = spread_solar(values, time, site)
        elif name == "rain_mm":
            columns[name] = np.repeat(values / 24.0, 24)
        else:
            columns[name] = np.repeat(values, 24)
        filled |= np.uint8(flags.SPREAD_FROM_DAILY)
    told.append(
        f"{records.source}: hours were made from daily extremes by the curve {curve!r}; "
        "degree-hours near a threshold carry its error"
    )
    return _Building(time, columns, filled, told, counts)


def _complete_air(building: _Building, records: WeatherRecords, most_missing: float) -> None:
    if "air_c" not in building.columns or np.isnan(building.columns["air_c"]).all():
        raise NoAnswerError(
            Fault("there is no air temperature", where=records.source,
                  value=", ".join(records.columns), do="name the column of the air temperature")
        )
    air = building.columns["air_c"]
    share = float(np.isnan(air).mean())
    if share > most_missing:
        raise NoAnswerError(
            Fault("too much of the air temperature is missing", where=records.source,
                  value=f"{share:.0%} of {len(air)} hours",
                  allowed=f"at most {most_missing:.0%}",
                  do="give a more complete record, or raise the limit knowingly")
        )
    air, short = bridged(air)
    building.flag(short, flags.AIR_INTERPOLATED)
    air, longer = from_like_hours(air)
    building.flag(longer, flags.AIR_FROM_OTHER)
    left = np.flatnonzero(np.isnan(air))
    if len(left):
        raise NoAnswerError(
            Fault("a gap of the air temperature cannot be filled", where=records.source,
                  value=f"{len(left)} hours from {building.time[left[0]]} UTC",
                  do="give other years of the same station, or cut the record there")
        )
    building.columns["air_c"] = air
    building.counts["air interpolated"] = int(short.sum())
    building.counts["air from other days or years"] = int(longer.sum())


def _vapour(building: _Building, offset_h: float) -> Hours:
    air = building.columns["air_c"]
    vapour = np.full(len(air), np.nan)
    if "vapour_pressure_kpa" in building.columns:
        vapour = building.columns["vapour_pressure_kpa"].copy()
    if "dew_point_c" in building.columns:
        at_dew_point = vapour_pressure_from_dew_point(building.columns["dew_point_c"])
        vapour = np.where(np.isnan(vapour), at_dew_point, vapour)
    if "relative_humidity_pct" in building.columns:
        humidity = np.minimum(building.columns["relative_humidity_pct"], 100.0)
        vapour = np.where(
            np.isnan(vapour), vapour_pressure_from_humidity(air, humidity), vapour
        )
    vapour, _ = bridged(vapour)
    missing = np.isnan(vapour)
    building.flag(missing, flags.HUMIDITY_ESTIMATED)
    if missing.any():
        vapour[missing] = vapour_estimate(air, building.time, offset_h)[missing]
    return np.minimum(vapour, saturation_vapour_pressure(air))


def _solar(building: _Building, site: Site, offset_h: float, clear: Hours) -> Hours:
    solar = building.columns.get("solar_w_m2", np.full(len(clear), np.nan)).copy()
    solar = np.where(clear <= 0.0, 0.0, solar)
    known, _ = bridged(np.where(clear > 20.0, solar / np.maximum(clear, 20.0), np.nan))
    gap = np.isnan(solar) & ~np.isnan(known)
    solar[gap] = known[gap] * clear[gap]
    missing = np.isnan(solar)
    building.flag(gap | missing, flags.SOLAR_ESTIMATED)
    if missing.any():
        solar[missing] = solar_estimate(
            building.columns["air_c"], building.time, site, offset_h, clear
        )[missing]
    return np.maximum(solar, 0.0)


def _wind(building: _Building, records: WeatherRecords) -> Hours:
    n = len(building.time)
    wind = building.columns.get("wind_m_s", np.full(n, np.nan))
    height = records.wind_height_m
    if height is None:
        height = WIND_HEIGHT_ASSUMED_M
        if not np.isnan(wind).all():
            building.told.append(
                f"{records.source}: the height of the wind sensor is not stated; "
                f"{WIND_HEIGHT_ASSUMED_M:g} m is assumed (state wind_height_m)"
            )
    wind = np.asarray(wind_at_2m(wind, height), dtype=np.float64)
    wind, _ = bridged(wind)
    missing = np.isnan(wind)
    building.flag(missing, flags.WIND_ESTIMATED)
    if missing.all():
        return np.full(n, WIND_WITHOUT_RECORD)
    if missing.any():
        wind, _ = from_like_hours(wind)
        wind[np.isnan(wind)] = np.nanmean(wind)
    return wind
