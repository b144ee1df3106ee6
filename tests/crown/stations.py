"""Two typical-year stations that pvlib ships (NREL, public domain): Miami TMY2, Greensboro TMY3."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib

from phenocast.crown import (
    BedForcing,
    bed_records,
    bed_temperatures,
    canopy_cover,
    canopy_degree_days,
    deep_temperature,
    sky_longwave,
)
from phenocast.parameters import bed, films, soils

DATA = Path(pvlib.__file__).parent / "data"
# The year runs from 1 July to 30 June, so that a winter season is in one piece.
FIRST_HOUR = 181 * 24
DAYS = pd.date_range("2001-07-01", periods=8760, freq="h")


@cache
def station(name: str) -> tuple[BedForcing, np.ndarray]:
    """Forcing of a typical year from 1 July, and its clear-sky radiation [W m-2]."""
    if name == "miami":
        table, about = pvlib.iotools.read_tmy2(DATA / "12839.tm2")
        air, dew, wind = table.DryBulb / 10, table.DewPoint / 10, table.Wspd / 10
        solar, turbidity = table.GHI, 4.0
    else:
        table, about = pvlib.iotools.read_tmy3(DATA / "723170TYA.CSV", map_variables=False)
        air, dew = table["Dry-bulb (C)"], table["Dew-point (C)"]
        wind, solar, turbidity = table["Wspd (m/s)"], table["GHI (W/m^2)"], 3.5
    hours = pd.date_range("2001-01-01 00:30", periods=8760, freq="h", tz="UTC")
    place = pvlib.location.Location(
        about["latitude"], about["longitude"], altitude=about["altitude"]
    )
    clear = place.get_clearsky(
        hours - pd.Timedelta(hours=about["TZ"]), model="ineichen", linke_turbidity=turbidity
    )["ghi"].to_numpy()
    vapour = 0.6108 * np.exp(17.27 * dew / (dew + 237.3))
    # From 10 m to 2 m over grass: FAO-56 eq. 47.
    wind = wind * 4.87 / np.log(67.8 * 10 - 5.42)
    air, vapour, wind, solar, clear = (
        np.roll(np.asarray(x, dtype=float), -FIRST_HOUR) for x in (air, vapour, wind, solar, clear)
    )
    forcing = BedForcing(
        air_c=air,
        vapour_pressure_kpa=vapour,
        wind_m_s=wind,
        solar_w_m2=solar,
        longwave_down_w_m2=sky_longwave(air, vapour, solar, clear),
        deep_c=deep_temperature(air),
        longwave_estimated=np.ones(8760),
    )
    return forcing, clear


def hour_of(day: str) -> int:
    return int(np.argmax(pd.Timestamp(day) <= DAYS))


def bed_of(film: str, **physics: float):
    one = films()[film]
    shoulder = films()[one.labels["shoulder"]] if "shoulder" in one.labels else None
    return bed_records(one, bed().with_values(physics), soils()["sandy loam"], shoulder=shoulder)[0]


def season(
    name: str,
    film: str,
    planting: str,
    *,
    cover: float | None = None,
    sprinkled_days: int = 10,
    **physics: float,
):
    """Temperatures from planting on: growing canopy (or a fixed cover), sprinkled at first."""
    forcing, _ = station(name)
    first = hour_of(planting)
    hour = np.arange(8760) % 24
    if cover is None:
        b = bed()
        warmth = canopy_degree_days(
            forcing.air_c[first:],
            base_c=b.value("canopy_base"),
            ceiling_c=b.value("canopy_ceiling"),
            delay_h=int(b.value("canopy_delay")),
        )
        grown = canopy_cover(
            warmth,
            initial=b.value("canopy_initial"),
            maximum=b.value("canopy_maximum"),
            midpoint_degree_days=b.value("canopy_midpoint"),
            scale_degree_days=b.value("canopy_scale"),
        )
        leaves = np.concatenate([np.zeros(first), grown])
    else:
        leaves = np.full(8760, cover)
    on = (np.arange(8760) >= first) & (np.arange(8760) < first + 24 * sprinkled_days)
    water = np.where(on & (hour >= 10) & (hour < 16), 3.0, 0.0)
    return bed_temperatures(forcing, leaves, water, bed_of(film, **physics))


def days_of(values: np.ndarray, first_day: str, n_days: int) -> np.ndarray:
    """Hourly values as [n_days, 24]."""
    i = hour_of(first_day)
    return values[i : i + 24 * n_days].reshape(n_days, 24)
