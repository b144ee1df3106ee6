"""Ripe fruit from open flowers: per day, per ISO week, and the first pick."""

from phenocast.harvest.bearing import bear
from phenocast.harvest.season import DEFAULT_FIRST_PICK_G, PlantSeason, grow

__all__ = ["DEFAULT_FIRST_PICK_G", "PlantSeason", "bear", "grow"]
