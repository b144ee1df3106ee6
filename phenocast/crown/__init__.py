"""Hourly weather, film, bed and canopy to film, crown and root-zone temperature."""

from phenocast.crown.atmosphere import sky_longwave
from phenocast.crown.balance import (
    AIR_ABOVE_FILM,
    CROWN,
    FILM_SURFACE,
    N_OUT,
    N_STATE,
    NEWTON_STEPS,
    SOIL_5CM,
    SOIL_10CM,
    run_lanes,
    starting_state,
)
from phenocast.crown.canopy import canopy_cover, canopy_degree_days, measured_cover
from phenocast.crown.flower import flower_temperature
from phenocast.crown.records import BED_DTYPE, BED_FIELDS, bed_records
from phenocast.crown.series import (
    BedForcing,
    BedRun,
    BedTemperatures,
    bed_forcing,
    bed_temperatures,
    deep_temperature,
    run_beds,
)
from phenocast.crown.shelter import sheltered

__all__ = [
    "AIR_ABOVE_FILM",
    "BED_DTYPE",
    "BED_FIELDS",
    "CROWN",
    "FILM_SURFACE",
    "NEWTON_STEPS",
    "N_OUT",
    "N_STATE",
    "SOIL_5CM",
    "SOIL_10CM",
    "BedForcing",
    "BedRun",
    "BedTemperatures",
    "bed_forcing",
    "bed_records",
    "bed_temperatures",
    "canopy_cover",
    "canopy_degree_days",
    "deep_temperature",
    "flower_temperature",
    "measured_cover",
    "run_beds",
    "run_lanes",
    "sheltered",
    "sky_longwave",
    "starting_state",
]
