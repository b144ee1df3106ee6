"""What the user states: site, bed, block, film and cultivar by name."""

from phenocast.season.costs_stated import Costs
from phenocast.season.describe import (
    Bed,
    Block,
    CanopyReading,
    ClockHours,
    Cover,
    Lighting,
    Nursery,
    Sprinkling,
    WeatherSource,
    WeatherSources,
)
from phenocast.season.planning_stated import Labour, Overtime, Prices
from phenocast.season.reading import NamedFiles, named_files, season_from_mapping
from phenocast.season.site import Site
from phenocast.season.whole import Season

__all__ = [
    "Bed",
    "Block",
    "CanopyReading",
    "ClockHours",
    "Costs",
    "Cover",
    "Labour",
    "Lighting",
    "NamedFiles",
    "Nursery",
    "Overtime",
    "Prices",
    "Season",
    "Site",
    "Sprinkling",
    "WeatherSource",
    "WeatherSources",
    "named_files",
    "season_from_mapping",
]
