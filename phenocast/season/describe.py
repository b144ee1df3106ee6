"""What a grower has and does, as frozen descriptions: bed, block, protection, light and weather.

Days are calendar dates and clock hours are local standard time, both of the site. A period runs
from its first to its last day, both included; clock hours that end before they begin run over
midnight.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from phenocast.season.site import Site


@dataclass(frozen=True)
class Bed:
    """The raised bed.

    Parameters
    ----------
    top_width_m, height_m, row_spacing_m : float
        Width of the bed top, its height and the distance between bed centres. [m]
    soil : str
        Name of a soil.
    soil_water_m3_m3 : float or None
        Water by volume; None for the soil's own default. [m3 m-3]
    plant_row_offset_m : float
        Distance of the plant rows from the centre line of the bed. [m]
    """

    top_width_m: float
    height_m: float
    row_spacing_m: float
    soil: str
    soil_water_m3_m3: float | None = None
    plant_row_offset_m: float = 0.0


@dataclass(frozen=True)
class ClockHours:
    """Hours of the day, local standard time; over midnight where the end is before the start. [h]

    Examples
    --------
    >>> ClockHours(22.0, 2.0).length_h, ClockHours(22.0, 2.0).holds(23.5)
    (4.0, True)
    """

    start: float
    end: float

    @property
    def length_h(self) -> float:
        """Length of the span. [h]"""
        return (self.end - self.start) % 24.0 or 24.0

    def holds(self, hour: float) -> bool:
        """Whether an hour of the day lies in the span, its start included. [h]"""
        return (hour - self.start) % 24.0 < self.length_h


@dataclass(frozen=True)
class Sprinkling:
    """Overhead sprinkling in the days after planting.

    Parameters
    ----------
    days : int
        Days from the planting day on. [d]
    hours : ClockHours
        When the sprinklers run. [h]
    water_ph : float or None
        pH of the water, for the caution about metallised films.
    rate_mm_h : float or None
        Water given; None for the default of the bed physics. [mm h-1]
    """

    days: int
    hours: ClockHours
    water_ph: float | None = None
    rate_mm_h: float | None = None


@dataclass(frozen=True)
class Cover:
    """A row cover or low tunnel over the plants.

    Parameters
    ----------
    kind : str
        "row-cover" or "low-tunnel": the name of its shelter parameters.
    first_day, last_day : date
    hours : ClockHours or None
        The hours it is on; None for day and night. [h]
    """

    kind: str
    first_day: date
    last_day: date
    hours: ClockHours | None = None


@dataclass(frozen=True)
class FrostProtection:
    """What is done against frost, apart from the covers that a block states.

    Parameters
    ----------
    kind : str
        "none", "row-cover" (by the block's covers alone) or "overhead-water".
    first_day, last_day : date or None
        Nights in which water stands ready: from the first day on, and up to noon of the day after
        the last. None for the whole season.
    rate_mm_h : float or None
        Water given; None for the shipped rate. [mm h-1]
    max_wind_m_s : float or None
        Wind at 2 m above which it does not protect; None for the limit of the table. [m s-1]
    down_to_c : float or None
        Temperature of an unprotected flower below which it does not protect; None for the limit
        of the table. [degC]
    """

    kind: str
    first_day: date | None = None
    last_day: date | None = None
    rate_mm_h: float | None = None
    max_wind_m_s: float | None = None
    down_to_c: float | None = None


@dataclass(frozen=True)
class Lighting:
    """Lamps or a blackout that change the photoperiod.

    Parameters
    ----------
    kind : str
        "light" (night break or day extension) or "dark" (blackout).
    first_day, last_day : date
    hours : ClockHours
        Hours lit, or kept dark. [h]
    """

    kind: str
    first_day: date
    last_day: date
    hours: ClockHours


@dataclass(frozen=True)
class CanopyReading:
    """Measured share of the bed top that leaves cover. [0..1]"""

    day: date
    cover: float


@dataclass(frozen=True)
class Block:
    """One planting: a cultivar on a film from a day on.

    Parameters
    ----------
    name, cultivar, film, transplant : str
    planting_date : date
    plants_per_ha : float
        [plants ha-1]
    area_ha : float
        [ha]
    season_end : date or None
        Last day of picking; None where the forecast chooses.
    first_pick_g_per_plant : float
        Cumulative ripe fruit that counts as the first pick. [g plant-1]
    stripe_width_m : float or None
        Of a striped film; None for the film's own width. [m]
    film_laid : date or None
        Day the film was laid; None for the default age at planting.
    sprinkling : Sprinkling or None
    covers : tuple of Cover
    frost_protection : FrostProtection or None
        None where the file does not say.
    lighting : tuple of Lighting
    canopy : tuple of CanopyReading
        Measured cover in the order of days; empty where the model grows the canopy.
    canopy_file : str or None
        File of measured cover, as written by the user.
    """

    name: str
    cultivar: str
    film: str
    transplant: str
    planting_date: date
    plants_per_ha: float
    area_ha: float
    season_end: date | None = None
    first_pick_g_per_plant: float = 3.0
    stripe_width_m: float | None = None
    film_laid: date | None = None
    sprinkling: Sprinkling | None = None
    covers: tuple[Cover, ...] = ()
    frost_protection: FrostProtection | None = None
    lighting: tuple[Lighting, ...] = ()
    canopy: tuple[CanopyReading, ...] = ()
    canopy_file: str | None = None

    @property
    def plants(self) -> float:
        """Number of plants in the block."""
        return self.plants_per_ha * self.area_ha

    @property
    def frost_kind(self) -> str | None:
        """Protection from frost that the block states, by itself or by a cover; None for none."""
        if self.frost_protection is not None:
            return self.frost_protection.kind
        return self.covers[0].kind if self.covers else None


@dataclass(frozen=True)
class WeatherSource:
    """Weather files of one kind, and what they do not say themselves.

    Parameters
    ----------
    files : tuple of str
        As the user wrote them, relative to the season file.
    columns : mapping of str to str
        Our name of a quantity to the file's name of its column.
    units : mapping of str to str
        Our name of a quantity to the unit of its column.
    time_zone : str or None
        IANA zone of the stamps, or "UTC"; None where the file says it.
    stamp : str or None
        "start" or "end" of the interval; None where the file says it.
    time_format : str or None
        strptime format of the stamps; None for ISO 8601.
    local_standard : bool
        Stamps are local standard time all year (no summer time).
    wind_height_m : float or None
        Height of the anemometer. [m]
    impossible : str
        What becomes of a value that cannot be: "refuse" the file, or "blank" it and count it.
    """

    files: tuple[str, ...]
    columns: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    time_zone: str | None = None
    stamp: str | None = None
    time_format: str | None = None
    local_standard: bool = False
    wind_height_m: float | None = None
    impossible: Literal["refuse", "blank"] = "refuse"


HIGHEST_MOST_MISSING = 0.5
"""Largest share of hours without air temperature that a season file may let be filled."""


@dataclass(frozen=True)
class WeatherSources:
    """The weather of a season: what was observed, past years, and an outlook.

    ``most_missing`` is the largest share of hours without air temperature that is filled; None
    leaves it as shipped.
    """

    observed: WeatherSource | None = None
    history: WeatherSource | None = None
    outlook: WeatherSource | None = None
    most_missing: float | None = None


@dataclass(frozen=True)
class Nursery:
    """Where the plants were before, with weather and light of its own.

    Parameters
    ----------
    site : Site
    first_day : date
        From here the nursery weeks count.
    last_day : date or None
        Day of lifting; None for the day before planting.
    weather : WeatherSource
    lighting : tuple of Lighting
    blocks : tuple of str
        Blocks planted from it; empty for all.
    """

    site: Site
    first_day: date
    weather: WeatherSource
    last_day: date | None = None
    lighting: tuple[Lighting, ...] = ()
    blocks: tuple[str, ...] = ()

    def supplies(self, block: str) -> bool:
        """Whether a block was planted from this nursery."""
        return not self.blocks or block in self.blocks
