"""A real warm station year for the tests: Miami TMY2 (NREL, public domain), as pvlib ships it."""

from datetime import date
from pathlib import Path

import numpy as np
import pvlib
import pytest

from phenocast.parameters import bed, cultivars, films, shelters, soils, transplants
from phenocast.season import Bed, Block, Site
from phenocast.season.model import ClockHours, Sprinkling
from phenocast.simulation.setup import BlockSetup
from phenocast.weather import HourlyWeather

MIAMI = Site("Miami", 25.8, -80.27, 2.0, "America/New_York")


@pytest.fixture(scope="session")
def miami() -> HourlyWeather:
    """Two copies of the typical year, so that a season can run across New Year."""
    path = Path(pvlib.__file__).parent / "data" / "12839.tm2"
    table, _ = pvlib.iotools.read_tmy2(str(path))

    def twice(values: np.ndarray) -> np.ndarray:
        return np.concatenate([values, values]).astype(float)

    dew = table["DewPoint"].to_numpy() / 10.0
    n = 2 * len(table)
    return HourlyWeather(
        # Hour 1 of the file ends at 01:00 local standard time, 06:00 UTC.
        time_utc=np.datetime64("2025-01-01T05", "h") + np.arange(n).astype("timedelta64[h]"),
        air_c=twice(table["DryBulb"].to_numpy() / 10.0),
        vapour_pressure_kpa=twice(0.6108 * np.exp(17.27 * dew / (dew + 237.3))),
        wind_m_s=twice(table["Wspd"].to_numpy() / 10.0 * 4.87 / np.log(67.8 * 10 - 5.42)),
        solar_w_m2=twice(table["GHI"].to_numpy()),
        longwave_down_w_m2=np.full(n, np.nan),
        rain_mm=np.zeros(n),
        filled=np.zeros(n, dtype=np.uint8),
        site=MIAMI,
        typical_year=True,
        source="12839.tm2",
    )


def a_setup(
    film: str = "black",
    cultivar: str = "Basalt",
    planting: date = date(2025, 10, 1),
    transplant: str = "bare-root",
    sprinkled_days: int = 8,
    end: date = date(2026, 4, 15),
) -> BlockSetup:
    """Return one block at Miami."""
    optics = films()[film]
    beside = optics.labels.get("shoulder")
    water = Sprinkling(sprinkled_days, ClockHours(10.0, 16.0)) if sprinkled_days else None
    return BlockSetup(
        site=MIAMI,
        bed=Bed(0.76, 0.25, 1.5, "sandy loam"),
        block=Block(
            "A",
            cultivar,
            film,
            transplant,
            planting,
            45_000.0,
            1.0,
            season_end=end,
            sprinkling=water,
        ),
        film=optics,
        shoulder=None if beside is None else films()[beside],
        physics=bed(),
        soil=soils()["sandy loam"],
        cultivar=cultivars()[cultivar],
        transplant=transplants()[transplant],
        shelters=shelters(),
    )
