"""One block-season as one pure function, and many at once."""

from phenocast.simulation.bed_season import BedSeason, bed_season, crown_daily
from phenocast.simulation.block_season import BlockSeason, simulate_block
from phenocast.simulation.many import DrawnSeasons, drawn_seasons
from phenocast.simulation.setup import BlockSetup, block_setup

__all__ = [
    "BedSeason",
    "BlockSeason",
    "BlockSetup",
    "DrawnSeasons",
    "bed_season",
    "block_setup",
    "crown_daily",
    "drawn_seasons",
    "simulate_block",
]
