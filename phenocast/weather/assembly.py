"""One hourly table from the records of a file: checked, complete, every filled value flagged."""

from collections.abc import Mapping, Sequence
from functools import reduce

import numpy as np

from phenocast.season.site import Site, standard_offset_h
from phenocast.weather import hourly as flags
from phenocast.weather.daily_curves import DEFAULT_CURVE
from phenocast.weather.gap_filling import (
    MOST_MISSING_SHARE,
    complete_air,
    complete_solar,
    complete_vapour,
    complete_wind,
)
from phenocast.weather.gridding import grid_of_days, grid_of_hours
from phenocast.weather.hourly import HourlyWeather, SeasonWeather
from phenocast.weather.quality import checked, record_doubts
from phenocast.weather.records import WeatherRecords
from phenocast.weather.sun import clear_sky_w_m2


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
        When stamps come twice or run backwards, or the file's sun and the place's are hours apart.
    NoAnswerError
        When there is no air temperature, when more than the stated share of it is missing, or when
        a gap cannot be filled from anything.

    Examples
    --------
    >>> import pandas as pd
    >>> table = pd.DataFrame({"time_utc": pd.date_range("2026-10-01", periods=48, freq="h"),
    ...                       "row": range(2, 50), "air_c": [15.0, 17.0] * 24})
    >>> table.loc[5, "air_c"] = None
    >>> weather = to_hourly(WeatherRecords(table, "hourly", "station.csv"),
    ...                     Site("Low Quay", 29.3, -15.6, 35.0, "Atlantic/Canary"))
    >>> float(weather.air_c[5]), weather.counts["air interpolated"]
    (15.0, 1)
    """
    result = checked(records)
    told = [*records.notes, *record_doubts(records, site)]
    told += [
        f"{records.source}: {count} values of {name} were taken out; `phenocast check` lists them"
        for name, count in result.removed.items()
    ]
    offset = standard_offset_h(site.time_zone, result.table["time_utc"].iloc[0].year)
    if records.step == "daily":
        building = grid_of_days(result.table, records, site, offset, curve, told)
    else:
        building = grid_of_hours(result.table, records, told)
    for tally, what in ((result.removed, "removed"), (result.suspect, "suspect")):
        building.counts |= {f"{name} {what}": n for name, n in tally.items()}
    air = complete_air(building, records, site, offset, curve, max_missing_share)
    clear = clear_sky_w_m2(building.time, site)
    vapour = complete_vapour(building, air, offset)
    solar = complete_solar(building, records, site, offset, air, clear)
    wind = complete_wind(building, records)
    rain = building.column("rain_mm")
    building.note(np.isnan(rain), flags.RAIN_ESTIMATED, "rain taken as zero")
    return HourlyWeather(
        time_utc=building.time,
        air_c=air,
        vapour_pressure_kpa=vapour,
        wind_m_s=wind,
        solar_w_m2=solar,
        longwave_down_w_m2=building.column("longwave_down_w_m2"),
        rain_mm=np.nan_to_num(rain),
        filled=building.filled,
        site=site,
        typical_year=records.typical_year,
        warnings=tuple(building.told),
        counts=building.counts,
        findings=result.faults,
        source=records.source,
    )


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
