"""Ensembles of seasons: first-pick dates, weekly fruit, crown heat, and what limits them.

Names are loaded when first used, so that a forecast does not load what a look back needs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from phenocast.lazily import names_from

if TYPE_CHECKING:
    from phenocast.forecast.crown_summary import crown_table, one_course
    from phenocast.forecast.hindcast import Hindcast, PastBlock, hindcast_block, hindcast_blocks
    from phenocast.forecast.picked import PickedBlock, picked_block
    from phenocast.forecast.result import SCHEMA_VERSION, BlockForecast, SeasonForecast
    from phenocast.forecast.run import run_forecast
    from phenocast.forecast.weather_traces import WeatherTrace, WeatherTraces

_HOME = {
    "crown_table": "crown_summary",
    "one_course": "crown_summary",
    "Hindcast": "hindcast",
    "PastBlock": "hindcast",
    "hindcast_block": "hindcast",
    "hindcast_blocks": "hindcast",
    "PickedBlock": "picked",
    "picked_block": "picked",
    "SCHEMA_VERSION": "result",
    "BlockForecast": "result",
    "SeasonForecast": "result",
    "run_forecast": "run",
    "WeatherTrace": "weather_traces",
    "WeatherTraces": "weather_traces",
}

__all__ = [
    "SCHEMA_VERSION",
    "BlockForecast",
    "Hindcast",
    "PastBlock",
    "PickedBlock",
    "SeasonForecast",
    "WeatherTrace",
    "WeatherTraces",
    "crown_table",
    "hindcast_block",
    "hindcast_blocks",
    "one_course",
    "picked_block",
    "run_forecast",
]

__getattr__ = names_from(__name__, _HOME)
