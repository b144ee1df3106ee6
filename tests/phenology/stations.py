"""Typical years of public weather stations as hourly weather, and seasons on them.

The files come with pvlib (NREL, public domain): Greensboro NC, TMY3 723170; Miami FL, TMY2 12839.
A typical year is wrapped around its end, so that a season may cross New Year.
"""

from __future__ import annotations

from datetime import date, timedelta
from functools import cache
from pathlib import Path

import numpy as np
import pvlib

from phenocast.season import Site, season_from_mapping
from phenocast.simulation import block_setup, simulate_block
from phenocast.weather import HourlyWeather

DATA = Path(pvlib.__file__).parent / "data"
SITES = {
    "Greensboro": Site("Greensboro", 36.1, -79.95, 273.0, "America/New_York"),
    "Miami": Site("Miami", 25.8, -80.27, 2.0, "America/New_York"),
}
FIRST_YEAR = 2025
# 10 m to 2 m over grass, logarithmic profile, FAO-56 equation 47
WIND_2M = 4.87 / np.log(67.8 * 10.0 - 5.42)


def _columns(name):
    if name == "Greensboro":
        frame, _ = pvlib.iotools.read_tmy3(
            DATA / "723170TYA.CSV", coerce_year=FIRST_YEAR, map_variables=True
        )
    else:
        frame, _ = pvlib.iotools.read_tmy2(DATA / "12839.tm2")
        frame = frame.rename(
            columns={
                "DryBulb": "temp_air",
                "DewPoint": "temp_dew",
                "Wspd": "wind_speed",
                "GHI": "ghi",
            }
        )
        # tenths of a degree and of a metre per second in the file
        for column in ("temp_air", "temp_dew", "wind_speed"):
            frame[column] = frame[column] / 10.0
    return [frame[c].to_numpy(dtype=float) for c in ("temp_air", "temp_dew", "wind_speed", "ghi")]


@cache
def station(name: str) -> HourlyWeather:
    """Two typical years on end, from 1 January of FIRST_YEAR, in the station's standard time."""
    air, dew, wind, solar = (np.concatenate([c, c]) for c in _columns(name))
    n = len(air)
    start = np.datetime64(f"{FIRST_YEAR}-01-01T05", "h")  # local midnight, UTC-5
    vapour = 0.6108 * np.exp(17.27 * dew / (dew + 237.3))
    return HourlyWeather(
        time_utc=start + np.arange(n),
        air_c=air,
        vapour_pressure_kpa=vapour,
        wind_m_s=wind * WIND_2M,
        solar_w_m2=solar,
        longwave_down_w_m2=np.full(n, np.nan),
        rain_mm=np.zeros(n),
        filled=np.zeros(n, dtype=np.uint8),
        site=SITES[name],
        typical_year=True,
    )


def season_at(
    name, planting, *, cultivar="Basalt", film="black", transplant="plug", days=300, **block
):
    """Run one block of the central parameters on a station's typical year."""
    site = SITES[name]
    end = min(planting + timedelta(days=days - 1), date(FIRST_YEAR + 1, 12, 30))
    season = season_from_mapping(
        {
            "site": {
                "name": site.name,
                "latitude": site.latitude,
                "longitude": site.longitude,
                "elevation_m": site.elevation_m,
                "time_zone": site.time_zone,
            },
            "weather": {"history": {"file": "none.csv"}},
            "bed": {
                "top_width_m": 0.7,
                "height_m": 0.3,
                "row_spacing_m": 1.4,
                "soil": "sandy loam",
            },
            "block": [
                {
                    "name": "one",
                    "cultivar": cultivar,
                    "film": film,
                    "transplant": transplant,
                    "planting_date": planting,
                    "season_end": end,
                    "plants_per_ha": 50_000,
                    "area_ha": 1.0,
                    **block,
                }
            ],
        },
        "test",
    )
    return simulate_block(block_setup(season, season.blocks[0]), station(name))
