"""Ensembles of seasons: first-pick dates, weekly fruit, crown heat, and what limits them."""

from phenocast.forecast.course import crown_table, one_course
from phenocast.forecast.futures import Future, Futures, futures_of
from phenocast.forecast.result import SCHEMA_VERSION, BlockForecast, SeasonForecast
from phenocast.forecast.run import run_forecast

__all__ = [
    "SCHEMA_VERSION",
    "BlockForecast",
    "Future",
    "Futures",
    "SeasonForecast",
    "crown_table",
    "futures_of",
    "one_course",
    "run_forecast",
]
