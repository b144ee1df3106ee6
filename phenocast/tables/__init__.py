"""The contract of every table: column, unit, range and meaning."""

from phenocast.tables.contract import Column, TableContract
from phenocast.tables.shipped import (
    CANOPY_COVER,
    CHAMBER_TRIALS,
    CONTRACTS,
    CROWN_TEMPERATURES,
    HARVEST_RECORDS,
    HOURLY_WEATHER,
    PAST_SEASONS,
    PRICES,
    RANK_COLUMNS,
    SENSOR_READINGS,
    TALLIES,
    TRIAL_PLOTS,
    WEATHER_RECORDS,
    WEEK_PROBABILITIES,
    WEEKLY_HARVEST,
)

__all__ = [
    "CANOPY_COVER",
    "CHAMBER_TRIALS",
    "CONTRACTS",
    "CROWN_TEMPERATURES",
    "HARVEST_RECORDS",
    "HOURLY_WEATHER",
    "PAST_SEASONS",
    "PRICES",
    "RANK_COLUMNS",
    "SENSOR_READINGS",
    "TALLIES",
    "TRIAL_PLOTS",
    "WEATHER_RECORDS",
    "WEEKLY_HARVEST",
    "WEEK_PROBABILITIES",
    "Column",
    "TableContract",
]
