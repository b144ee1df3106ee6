"""Keys of a season file and what each may hold. Only `phenocast.season.parse` uses it."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, Field

from phenocast.season.economics import Costs, Labour, Prices
from phenocast.season.kinds import (
    OF_TABLES,
    Day,
    Files,
    Hours,
    Number,
    Text,
    file_table,
    kind_table,
    listed,
)
from phenocast.season.model import Bed, Source, Sprinkling, WeatherSources

# What a user has looked at and found right, so that a caution about it stands among the others.
Checked = Literal[
    "area", "humidity", "picks", "place", "planting date", "plants", "row spacing", "still sensor",
    "sun",
]  # fmt: skip


class _Table(BaseModel):
    """A table of the file; a key that is not known is a fault."""

    model_config = OF_TABLES


class SiteTable(_Table):
    """Keys of ``[site]``; the ranges of a place are checked together with its zone."""

    name: Text
    latitude: Number
    longitude: Number
    elevation_m: Number
    time_zone: Text


class LightingTable(_Table):
    """Keys of one period of lamps or blackout."""

    from_day: Day = Field(alias="from")
    to_day: Day = Field(alias="to")
    hours: Hours


class CoverTable(_Table):
    """Keys of one period of a row cover or low tunnel."""

    from_day: Day = Field(alias="from")
    to_day: Day = Field(alias="to")
    hours: Hours | None = None


Lightings = Annotated[list[LightingTable], BeforeValidator(listed)]
Covers = Annotated[list[CoverTable], BeforeValidator(listed)]


class NurseryTable(_Table):
    """Keys of ``[nursery]``."""

    name: Text = "nursery"
    latitude: Number
    longitude: Number
    elevation_m: Number
    time_zone: Text
    from_day: Day = Field(alias="from")
    to_day: Day | None = Field(default=None, alias="to")
    weather: Source
    lighting: Lightings = []
    blackout: Lightings = []
    blocks: list[Text] = []


class FrostTable(_Table):
    """Keys of ``frost_protection``; a bare kind is the table that says no more."""

    kind: Literal["none", "row-cover", "overhead-water"]
    from_day: Day | None = Field(default=None, alias="from")
    to_day: Day | None = Field(default=None, alias="to")
    rate_mm_h: Number | None = Field(default=None, gt=0.0, le=30.0)
    max_wind_m_s: Number | None = Field(default=None, gt=0.0, le=20.0)
    down_to_c: Number | None = Field(default=None, ge=-15.0, le=0.0)


class CanopyTable(_Table):
    """Keys of one reading of canopy cover."""

    date: Day
    cover: Number = Field(ge=0.0, le=1.0)


class BlockTable(_Table):
    """Keys of one ``[[block]]``."""

    name: Text
    cultivar: Text
    film: Text
    planting_date: Day
    plants_per_ha: Number = Field(gt=0.0, le=1_000_000.0)
    area_ha: Number = Field(gt=0.0, le=10_000.0)
    transplant: Text
    season_end: Day | None = None
    first_pick_g_per_plant: Number | None = Field(default=None, gt=0.0, le=200.0)
    stripe_width_m: Number | None = Field(default=None, gt=0.0, le=3.0)
    film_laid: Day | None = None
    sprinkling: Sprinkling | None = None
    row_cover: Covers = []
    low_tunnel: Covers = []
    frost_protection: Annotated[FrostTable, BeforeValidator(kind_table)] | None = None
    lighting: Lightings = []
    blackout: Lightings = []
    cover: list[CanopyTable] = []
    cover_file: Text | None = None


class FilmTable(_Table):
    """Keys of a film of the user's own, ``[film.NAME]``."""

    description: Text | None = None
    file: Text | None = None
    solar_reflectance: Number | None = Field(default=None, ge=0.0, le=1.0)
    solar_transmittance: Number | None = Field(default=None, ge=0.0, le=1.0)
    longwave_emittance: Number | None = Field(default=None, ge=0.0, le=1.0)
    longwave_transmittance: Number | None = Field(default=None, ge=0.0, le=1.0)
    reflectance_loss: Number | None = Field(default=None, ge=0.0, le=1.0)
    emittance_rise: Number | None = Field(default=None, ge=0.0, le=1.0)
    contact_conductance: Number | None = Field(default=None, gt=0.0, le=2000.0)
    stripe_width_m: Number | None = Field(default=None, gt=0.0, le=3.0)
    shoulder: Text | None = None


class RecordsTable(_Table):
    """Keys of ``records``; a bare file name is the table that says no more."""

    file: Text


def cover_series(value: Any) -> Any:
    """Return the blocks with ``cover = {file = "..."}`` told apart from a list of readings."""
    if not isinstance(value, list):
        return value
    blocks = []
    for block in value:
        told = dict(block) if isinstance(block, dict) else block
        if isinstance(told, dict) and isinstance(told.get("cover"), dict | str):
            series = told["cover"]
            if isinstance(series, str) or set(series) == {"file"}:
                told.pop("cover")
                told["cover_file"] = series if isinstance(series, str) else series["file"]
        blocks.append(told)
    return blocks


class SeasonFile(_Table):
    """Tables and keys at the top of the file."""

    site: SiteTable
    weather: WeatherSources
    bed: Bed
    block: Annotated[list[BlockTable], BeforeValidator(cover_series), Field(min_length=1)]
    nursery: NurseryTable | None = None
    film: dict[Text, FilmTable] = {}
    labour: Labour | None = None
    prices: Prices | None = None
    costs: Costs | None = None
    records: Annotated[RecordsTable, BeforeValidator(file_table)] | None = None
    cultivar_file: Files = ()
    season_end: Day | None = None
    first_pick_g_per_plant: Number = Field(default=3.0, gt=0.0, le=200.0)
    checked: Annotated[list[Checked], BeforeValidator(listed)] = []
