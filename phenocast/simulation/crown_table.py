"""The hourly crown table: one row an hour and block, with the central value of every parameter."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd

from phenocast.simulation.bed_season import BedSeason
from phenocast.simulation.setup import physics_records

COLUMNS = (
    "block",
    "time_utc",
    "air_c",
    "film_surface_c",
    "air_above_film_c",
    "crown_c",
    "soil_5cm_c",
    "soil_10cm_c",
    "canopy_cover",
    "filled",
)


def crown_rows(beds: Iterable[BedSeason]) -> pd.DataFrame:
    """Return the hourly temperatures of beds from planting to their last day.

    Parameters
    ----------
    beds : the beds of the blocks, each under its course of weather.

    Returns
    -------
    DataFrame with the columns of `COLUMNS`: temperatures [degC], cover 0 to 1, and ``filled``, the
    bits that tell which weather values of the hour were filled or estimated (0 for none).
    """
    parts = []
    for bed in beds:
        temperatures = bed.temperatures(physics_records(bed.setup)[0])
        own = bed.days.hours()
        parts.append(
            pd.DataFrame(
                {
                    "block": bed.setup.block.name,
                    "time_utc": bed.weather.time_utc[own].astype("datetime64[s]"),
                    "air_c": bed.forcing.air_c[own],
                    "film_surface_c": temperatures.film_surface_c[own],
                    "air_above_film_c": temperatures.air_above_film_c[own],
                    "crown_c": temperatures.crown_c[own],
                    "soil_5cm_c": temperatures.soil_5cm_c[own],
                    "soil_10cm_c": temperatures.soil_10cm_c[own],
                    "canopy_cover": bed.cover[own],
                    "filled": bed.weather.filled[own],
                },
                columns=list(COLUMNS),
            )
        )
    return pd.concat(parts, ignore_index=True)
