"""Ensembles of seasons: first-pick dates, weekly fruit, crown heat, and what limits them."""

from phenocast.forecast.course import crown_table, one_course
from phenocast.forecast.futures import Future, Futures, futures_of
from phenocast.forecast.hindcast import Hindcast, PastBlock, hindcast_block, hindcast_blocks
from phenocast.forecast.hindcast_document import hindcast_document
from phenocast.forecast.picked import PickedBlock, picked_block
from phenocast.forecast.result import SCHEMA_VERSION, BlockForecast, SeasonForecast
from phenocast.forecast.run import run_forecast

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
    "hindcast_document",
    "one_course",
    "picked_block",
    "run_forecast",
]
