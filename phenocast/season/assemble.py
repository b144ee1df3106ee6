"""From the tables of a season file, once they are in order, to the frozen descriptions."""

from __future__ import annotations

from collections.abc import Mapping

from phenocast.parameters import ParameterSet
from phenocast.season.describe import (
    Bed,
    Block,
    CanopyReading,
    Cover,
    FrostProtection,
    Lighting,
    Nursery,
    Sprinkling,
    WeatherSource,
    WeatherSources,
)
from phenocast.season.schema import (
    BedTable,
    BlockTable,
    CoverTable,
    FrostTable,
    LightingTable,
    NurseryTable,
    SeasonFile,
    SiteTable,
    SourceTable,
)
from phenocast.season.site import Site
from phenocast.season.user_films import film_of


def site_of(table: SiteTable | NurseryTable) -> Site:
    """Return the place that a table states."""
    return Site(table.name, table.latitude, table.longitude, table.elevation_m, table.time_zone)


def bed_of(table: BedTable) -> Bed:
    """Return the bed that a table states."""
    return Bed(
        top_width_m=table.top_width_m,
        height_m=table.height_m,
        row_spacing_m=table.row_spacing_m,
        soil=table.soil,
        soil_water_m3_m3=table.soil_water_m3_m3,
        plant_row_offset_m=table.plant_row_offset_m,
    )


def source_of(table: SourceTable | None) -> WeatherSource | None:
    """Return the weather files that a table states."""
    if table is None:
        return None
    return WeatherSource(
        files=tuple(table.file),
        columns=dict(table.columns),
        units=dict(table.units),
        time_zone=table.time_zone,
        stamp=table.stamp,
        time_format=table.time_format,
        local_standard=table.local_standard,
        wind_height_m=table.wind_height_m,
        impossible=table.impossible,
    )


def sources_of(season: SeasonFile) -> WeatherSources:
    """Return the weather that the file states."""
    weather = season.weather
    return WeatherSources(
        source_of(weather.observed),
        source_of(weather.history),
        source_of(weather.outlook),
        weather.most_missing,
    )


def block_of(table: BlockTable, season: SeasonFile) -> Block:
    """Return a block, with what the file states for all blocks where it is silent itself."""
    first_pick = table.first_pick_g_per_plant
    sprinkling = table.sprinkling
    return Block(
        name=table.name,
        cultivar=table.cultivar,
        film=table.film,
        transplant=table.transplant,
        planting_date=table.planting_date,
        plants_per_ha=table.plants_per_ha,
        area_ha=table.area_ha,
        season_end=table.season_end or season.season_end,
        first_pick_g_per_plant=season.first_pick_g_per_plant if first_pick is None else first_pick,
        stripe_width_m=table.stripe_width_m,
        film_laid=table.film_laid,
        sprinkling=None
        if sprinkling is None
        else Sprinkling(
            sprinkling.days, sprinkling.hours, sprinkling.water_ph, sprinkling.rate_mm_h
        ),
        covers=_covers("row-cover", table.row_cover) + _covers("low-tunnel", table.low_tunnel),
        frost_protection=_frost(table.frost_protection),
        lighting=_lighting(table.lighting, table.blackout),
        canopy=tuple(CanopyReading(reading.date, reading.cover) for reading in table.cover),
        canopy_file=table.cover_file,
    )


def nursery_of(table: NurseryTable | None) -> Nursery | None:
    """Return the nursery that the file states."""
    if table is None:
        return None
    weather = source_of(table.weather)
    assert weather is not None  # the schema requires it
    return Nursery(
        site=site_of(table),
        first_day=table.from_day,
        last_day=table.to_day,
        weather=weather,
        lighting=_lighting(table.lighting, table.blackout),
        blocks=tuple(table.blocks),
    )


def described_films(season: SeasonFile) -> Mapping[str, ParameterSet]:
    """Return the films that the file describes by numbers."""
    return {name: film_of(name, film) for name, film in season.film.items() if film.file is None}


def _covers(kind: str, periods: list[CoverTable]) -> tuple[Cover, ...]:
    return tuple(Cover(kind, p.from_day, p.to_day, p.hours) for p in periods)


def _frost(table: FrostTable | None) -> FrostProtection | None:
    if table is None:
        return None
    return FrostProtection(
        table.kind,
        table.from_day,
        table.to_day,
        table.rate_mm_h,
        table.max_wind_m_s,
        table.down_to_c,
    )


def _lighting(lit: list[LightingTable], dark: list[LightingTable]) -> tuple[Lighting, ...]:
    return tuple(
        Lighting(kind, p.from_day, p.to_day, p.hours)
        for kind, periods in (("light", lit), ("dark", dark))
        for p in periods
    )
