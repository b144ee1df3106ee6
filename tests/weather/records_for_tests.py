"""Small weather records for the tests of this folder."""

from __future__ import annotations

import numpy as np
import pandas as pd

from phenocast.season.site import Site
from phenocast.weather import WeatherRecords, clear_sky_w_m2

SITE = Site("Low Quay", 29.3, -15.6, 35.0, "Atlantic/Canary")


def made(hours: int, start: str = "2024-01-01", step: str = "hourly", **columns) -> WeatherRecords:
    """Return records of so many rows from ``start``; air is a smooth day unless it is given."""
    frequency = {"hourly": "h", "daily": "D", "subhourly": "10min"}[step]
    stamps = pd.date_range(start, periods=hours, freq=frequency)
    table = pd.DataFrame({"time_utc": stamps, "row": np.arange(2, hours + 2)})
    if step != "daily" and "air_c" not in columns:
        columns = {"air_c": smooth_air(hours)} | columns
    for name, values in columns.items():
        if values is not None:
            table[name] = values
    return WeatherRecords(table, step, "station.csv", wind_height_m=2.0)


def smooth_air(hours: int) -> np.ndarray:
    """Return a daily wave on a yearly one, no two hours alike [degC]."""
    at = np.arange(hours)
    wave = 5.0 * np.sin(2.0 * np.pi * (at - 9.0) / 24.0)
    return 15.0 + wave + 6.0 * np.sin(2.0 * np.pi * at / 8766.0) + 0.01 * np.sin(at)


def half_clear(records: WeatherRecords, site: Site = SITE) -> np.ndarray:
    """Return half of the clear sky in each hour of some hourly records [W m-2]."""
    hours = records.table["time_utc"].to_numpy().astype("datetime64[h]")
    return 0.5 * clear_sky_w_m2(hours, site)
