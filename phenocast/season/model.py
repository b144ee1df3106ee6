"""What a grower has and does, as frozen descriptions, and the season that holds them all."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, StrictBool
from pydantic.dataclasses import dataclass as described

from phenocast.errors import named
from phenocast.parameters import ParameterSet, cultivars, films, soils, transplants
from phenocast.season.economics import Costs, Labour, Prices
from phenocast.season.kinds import OF_TABLES, Day, Files, Hours, Number, Text, Whole, file_table
from phenocast.season.site import ClockHours, Site


@described(frozen=True, config=OF_TABLES)
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

    top_width_m: Annotated[Number, Field(ge=0.2, le=3.0)]
    height_m: Annotated[Number, Field(ge=0.0, le=1.0)]
    row_spacing_m: Annotated[Number, Field(ge=0.3, le=5.0)]
    soil: Text
    soil_water_m3_m3: Number | None = Field(default=None, ge=0.01, le=0.6)
    plant_row_offset_m: Number = Field(default=0.0, ge=0.0, le=1.0)


@described(frozen=True, config=OF_TABLES)
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

    days: Annotated[Whole, Field(ge=1, le=60)]
    hours: Hours
    water_ph: Number | None = Field(default=None, ge=0.0, le=14.0)
    rate_mm_h: Number | None = Field(default=None, gt=0.0, le=30.0)


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


@described(frozen=True, config=OF_TABLES)
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

    kind: Literal["none", "row-cover", "overhead-water"]
    first_day: Day | None = Field(default=None, alias="from")
    last_day: Day | None = Field(default=None, alias="to")
    rate_mm_h: Number | None = Field(default=None, gt=0.0, le=30.0)
    max_wind_m_s: Number | None = Field(default=None, gt=0.0, le=20.0)
    down_to_c: Number | None = Field(default=None, ge=-15.0, le=0.0)


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


@described(frozen=True, config=OF_TABLES)
class CanopyReading:
    """Measured share of the bed top that leaves cover. [0..1]"""

    day: Annotated[Day, Field(alias="date")]
    cover: Annotated[Number, Field(ge=0.0, le=1.0)]


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


@described(frozen=True, config=OF_TABLES)
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

    files: Annotated[Files, Field(alias="file")]
    columns: Mapping[Text, Text] = field(default_factory=dict)
    units: Mapping[Text, Text] = field(default_factory=dict)
    time_zone: Text | None = None
    stamp: Literal["start", "end"] | None = None
    time_format: Text | None = None
    local_standard: StrictBool = False
    wind_height_m: Number | None = Field(default=None, gt=0.1, le=200.0)
    impossible: Literal["refuse", "blank"] = "refuse"


Source = Annotated[WeatherSource, BeforeValidator(file_table)]


HIGHEST_MOST_MISSING = 0.5

"""Largest share of hours without air temperature that a season file may let be filled."""


@described(frozen=True, config=OF_TABLES)
class WeatherSources:
    """The weather of a season: what was observed, past years, and an outlook.

    ``most_missing`` is the largest share of hours without air temperature that is filled; None
    leaves it as shipped.
    """

    observed: Source | None = None
    history: Source | None = None
    outlook: Source | None = None
    most_missing: Number | None = Field(default=None, ge=0.0, le=HIGHEST_MOST_MISSING)


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


@dataclass(frozen=True)
class Season:
    """Everything the user stated, checked.

    Parameters
    ----------
    site : Site
    bed : Bed
    blocks : tuple of Block
    weather : WeatherSources
    nursery : Nursery or None
    user_films, user_cultivars, user_transplants : mapping of str to ParameterSet
        Sets that the user brought; they go before shipped ones of the same name.
    labour : Labour or None
    prices : Prices or None
    costs : Costs or None
    warnings : tuple of str
        What is allowed but should be known.
    source_name : str
        File it came from.
    checked : tuple of str
        Kinds of caution whose data the user has looked at and found right.
    records_file : str or None
        Records of the season itself, as the user wrote the name.
    """

    site: Site
    bed: Bed
    blocks: tuple[Block, ...]
    weather: WeatherSources
    nursery: Nursery | None = None
    user_films: Mapping[str, ParameterSet] = field(default_factory=dict)
    user_cultivars: Mapping[str, ParameterSet] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()
    source_name: str = ""
    labour: Labour | None = None
    prices: Prices | None = None
    costs: Costs | None = None
    user_transplants: Mapping[str, ParameterSet] = field(default_factory=dict)
    checked: tuple[str, ...] = ()
    records_file: str | None = None

    @property
    def sources(self) -> dict[str, tuple[WeatherSource, Site]]:
        """Weather that is stated, by kind, with the place that it is of."""
        weather, nursery = self.weather, self.nursery
        stated = {
            "observed": (weather.observed, self.site),
            "history": (weather.history, self.site),
            "outlook": (weather.outlook, self.site),
            "nursery": (None, self.site) if nursery is None else (nursery.weather, nursery.site),
        }
        return {kind: (source, site) for kind, (source, site) in stated.items() if source}

    def film(self, name: str) -> ParameterSet:
        """Parameters of a film by name, the user's before the shipped.

        Raises
        ------
        InputError
            Where no film has the name; the nearest is suggested.
        """
        return named("film", name, {**films(), **self.user_films})

    def shoulder(self, name: str) -> ParameterSet | None:
        """Film beside the stripe of a striped film, None for a film of one kind."""
        beside = self.film(name).labels.get("shoulder")
        return None if beside is None else self.film(beside)

    def cultivar(self, name: str) -> ParameterSet:
        """Parameters of a cultivar by name, the user's before the shipped.

        Raises
        ------
        InputError
            Where no cultivar has the name; the nearest is suggested.
        """
        return named("cultivar", name, {**cultivars(), **self.user_cultivars})

    def soil(self) -> ParameterSet:
        """Parameters of the soil of the bed."""
        return named("soil", self.bed.soil, soils())

    def transplant(self, name: str) -> ParameterSet:
        """Parameters of a transplant type by name, the user's before the shipped."""
        return named("transplant", name, {**transplants(), **self.user_transplants})

    def block(self, name: str) -> Block:
        """One block by name.

        Raises
        ------
        InputError
            Where no block has the name; the nearest is suggested.
        """
        return named("block", name, {block.name: block for block in self.blocks})
