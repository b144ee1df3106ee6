"""Ensembles of seasons: first-pick dates, weekly fruit, crown heat, and what limits them.

Names are loaded when first used, so that a forecast does not load what a look back needs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from phenocast.lazily import names_from

if TYPE_CHECKING:
    from phenocast.forecast.course import crown_table, one_course
    from phenocast.forecast.futures import Future, Futures, futures_of
    from phenocast.forecast.hindcast import Hindcast, PastBlock, hindcast_block, hindcast_blocks
    from phenocast.forecast.picked import PickedBlock, picked_block
    from phenocast.forecast.result import SCHEMA_VERSION, BlockForecast, SeasonForecast
    from phenocast.forecast.run import run_forecast

_HOME = {
    "crown_table": "course",
    "one_course": "course",
    "Future": "futures",
    "Futures": "futures",
    "futures_of": "futures",
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
}

__all__ = [
    "SCHEMA_VERSION",
    "BlockForecast",
    "Future",
    "Futures",
    "Hindcast",
    "PastBlock",
    "PickedBlock",
    "SeasonForecast",
    "crown_table",
    "futures_of",
    "hindcast_block",
    "hindcast_blocks",
    "one_course",
    "picked_block",
    "run_forecast",
]

__getattr__ = names_from(__name__, _HOME)
