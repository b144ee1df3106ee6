"""One block-season as one pure function, and many at once."""

from phenocast.simulation.bed import (
    BedSeason,
    SiteWeather,
    bed_season,
    crown_daily,
    site_weather,
)
from phenocast.simulation.block_season import BlockSeason, simulate_block
from phenocast.simulation.engine import BlockSeasons, DrawnBlock, PlantStates, run_blocks
from phenocast.simulation.setup import BlockSetup, block_setup

__all__ = [
    "BedSeason",
    "BlockSeason",
    "BlockSeasons",
    "BlockSetup",
    "DrawnBlock",
    "PlantStates",
    "SiteWeather",
    "bed_season",
    "block_setup",
    "crown_daily",
    "run_blocks",
    "simulate_block",
    "site_weather",
]
