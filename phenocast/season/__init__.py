"""What the user states: site, bed, block, film and cultivar by name.

Reading is loaded when first used: its schema costs more than all that a run needs of a season.
"""

from typing import TYPE_CHECKING

from phenocast.lazily import names_from
from phenocast.season.economics import Costs, Labour, Overtime, Prices
from phenocast.season.model import (
    Bed,
    Block,
    CanopyReading,
    Cover,
    FrostProtection,
    Lighting,
    Nursery,
    Season,
    Sprinkling,
    WeatherSource,
    WeatherSources,
)
from phenocast.season.records import SeasonRecords
from phenocast.season.site import ClockHours, Site

if TYPE_CHECKING:
    from phenocast.season.parse import NamedFiles, named_files, season_from_mapping

_OF_READING = ("NamedFiles", "named_files", "season_from_mapping")

__all__ = [
    "Bed",
    "Block",
    "CanopyReading",
    "ClockHours",
    "Costs",
    "Cover",
    "FrostProtection",
    "Labour",
    "Lighting",
    "NamedFiles",
    "Nursery",
    "Overtime",
    "Prices",
    "Season",
    "SeasonRecords",
    "Site",
    "Sprinkling",
    "WeatherSource",
    "WeatherSources",
    "named_files",
    "season_from_mapping",
]

__getattr__ = names_from(__name__, dict.fromkeys(_OF_READING, "parse"))
