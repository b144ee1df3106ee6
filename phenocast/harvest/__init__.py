"""Ripe fruit from open flowers: per day, per ISO week, and the first pick."""

from phenocast.harvest.kernels import bear
from phenocast.harvest.season import DEFAULT_FIRST_PICK_G, PlantSeason, grow
from phenocast.harvest.weeks import iso_week, week_labels

__all__ = [
    "DEFAULT_FIRST_PICK_G",
    "PlantSeason",
    "bear",
    "grow",
    "iso_week",
    "week_labels",
]
