"""Make the demo's readings of sensors in a bed: INVENTED, from the model itself, with noise.

    python calibration/records/make_low_quay_sensors.py

writes `low_quay_sensors.csv` beside this script: the first 24 days of one block of the season file
`low_quay_2023.toml`, under a film and a bed a little off the shipped numbers. A fit should find
those again, within its intervals; it can never show that the model is right.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pandas as pd

from phenocast.io import read_season, season_weather
from phenocast.simulation import bed_season, block_setup, site_weather
from phenocast.simulation.setup import physics_records
from phenocast.weather import season_tables

HERE = Path(__file__).resolve().parent
BLOCK = "Marl black 02 Oct"
TRUE = {"solar_reflectance": 0.06}
TRUE_BED = {"wind_slope": 6.2, "crown_soil_weight": 0.5, "sky_offset": -6.0}
DAYS = 24
NOISE_C = 0.3
SEED = 20260712
SENSORS = ("film_surface_c", "crown_c", "soil_5cm_c", "soil_10cm_c")


def main() -> None:
    """Write the readings."""
    path = HERE / "low_quay_2023.toml"
    season = read_season(path)
    weather = season_tables(season_weather(season, HERE).parts(), season.site).observed
    (block,) = (one for one in season.blocks if one.name == BLOCK)
    last = block.planting_date + timedelta(days=DAYS - 1)
    setup = block_setup(season, replace(block, season_end=last))
    setup = replace(
        setup,
        film=setup.film.with_values(TRUE),
        physics=setup.physics.with_values(TRUE_BED),
    )
    bed = bed_season(setup, site_weather(weather, setup.site))
    told = bed.temperatures(physics_records(setup)[0])
    hours = bed.days.hours()
    rng = np.random.default_rng(SEED)
    table = pd.DataFrame(
        {name: getattr(told, name)[hours] + rng.normal(0.0, NOISE_C, DAYS * 24) for name in SENSORS}
    ).round(1)
    stamps = pd.DatetimeIndex(bed.weather.time_utc[hours].astype("datetime64[ns]"))
    table.insert(0, "time_utc", stamps.strftime("%Y-%m-%dT%H:%MZ"))
    table.insert(0, "block", BLOCK)
    head = (
        "# Readings of sensors in one bed of the Low Quay Growers: INVENTED, made by "
        "make_low_quay_sensors.py.\n# One row an hour; degrees Celsius.\n"
    )
    (HERE / "low_quay_sensors.csv").write_text(
        head + table.to_csv(index=False, lineterminator="\n"), encoding="utf-8"
    )


if __name__ == "__main__":
    main()
