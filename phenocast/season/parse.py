"""A season from the mapping that its file holds: every fault told at once, or a sound season."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any, TypeVar

from pydantic import TypeAdapter, ValidationError

from phenocast.errors import Fault, InputError, caution, cautions_first
from phenocast.parameters import ParameterSet, cultivars, films, soils, transplants
from phenocast.season.economics import Costs, Labour, Prices
from phenocast.season.kinds import path_of, schema_faults
from phenocast.season.model import (
    Bed,
    Block,
    Cover,
    Lighting,
    Nursery,
    Season,
    WeatherSources,
)
from phenocast.season.schema import (
    BlockTable,
    FilmTable,
    LightingTable,
    NurseryTable,
    SeasonFile,
    SiteTable,
    cover_series,
    film_of,
    water_warning,
)
from phenocast.season.site import Site, clock_warning
from phenocast.season.validation import KnownNames, Parts, season_faults

Table = TypeVar("Table")


def parts_of(mapping: Mapping[str, Any], season: SeasonFile | None) -> Parts:
    """Return the sound parts of a file; ``season`` is the whole where all of it is sound.

    Examples
    --------
    >>> parts = parts_of({"block": [{"name": "North", "film": "blak"}], "film": 3}, None)
    >>> parts.names, parts.blocks
    (({'name': 'North', 'film': 'blak'},), {})
    """
    listed = cover_series(mapping.get("block"))
    blocks_as_read = listed if isinstance(listed, list) else []
    raw = [block if isinstance(block, Mapping) else {} for block in blocks_as_read]
    films = mapping.get("film")
    raw_films = films if isinstance(films, Mapping) else {}
    bed = mapping.get("bed")
    soil = bed.get("soil") if isinstance(bed, Mapping) else None
    sound = {name: _sound(FilmTable, table) for name, table in raw_films.items()}
    blocks = {number: _sound(BlockTable, block) for number, block in enumerate(raw)}
    return Parts(
        site=_sound(SiteTable, mapping.get("site")),
        weather=_sound(WeatherSources, mapping.get("weather")),
        bed=_sound(Bed, mapping.get("bed")),
        nursery=_sound(NurseryTable, mapping.get("nursery")),
        blocks={number: block for number, block in blocks.items() if block is not None},
        names=tuple(
            {key: value.strip() for key, value in block.items() if isinstance(value, str)}
            for block in raw
        ),
        soil=soil.strip() if isinstance(soil, str) else None,
        films={name: film for name, film in sound.items() if film is not None},
        film_names=frozenset(raw_films),
        season_end=season.season_end if season is not None else None,
        labour=_sound(Labour, mapping.get("labour")),
        prices=_sound(Prices, mapping.get("prices")),
        has_prices="prices" in mapping,
        costs=_sound(Costs, mapping.get("costs")),
    )


def _sound(table: type[Table], value: Any) -> Table | None:
    """Return the table, or None where it is not in order (its faults are told elsewhere)."""
    if not isinstance(value, Mapping):
        return None
    try:
        return TypeAdapter(table).validate_python(dict(value))
    except ValidationError:
        return None


def site_of(table: SiteTable) -> Site:
    """Return the place that a table states."""
    return Site(table.name, table.latitude, table.longitude, table.elevation_m, table.time_zone)


def block_of(table: BlockTable, season: SeasonFile) -> Block:
    """Return a block, with what the file states for all blocks where it is silent itself."""
    first_pick = table.first_pick_g_per_plant
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
        sprinkling=table.sprinkling,
        covers=tuple(
            Cover(kind, period.from_day, period.to_day, period.hours)
            for kind, periods in (("row-cover", table.row_cover), ("low-tunnel", table.low_tunnel))
            for period in periods
        ),
        frost_protection=table.frost_protection,
        lighting=_lighting(table.lighting, table.blackout),
        canopy=tuple(table.cover),
        canopy_file=table.cover_file,
    )  # fmt: skip


def nursery_of(table: NurseryTable | None) -> Nursery | None:
    """Return the nursery that the file states."""
    if table is None:
        return None
    return Nursery(
        site=site_of(table),
        first_day=table.from_day,
        last_day=table.to_day,
        weather=table.weather,
        lighting=_lighting(table.lighting, table.blackout),
        blocks=tuple(table.blocks),
    )


def _lighting(lit: list[LightingTable], dark: list[LightingTable]) -> tuple[Lighting, ...]:
    return tuple(
        Lighting(kind, p.from_day, p.to_day, p.hours)
        for kind, periods in (("light", lit), ("dark", dark))
        for p in periods
    )


PLANTS_PER_HA = (10_000.0, 250_000.0)

AREA_HA = (0.0005, 300.0)

ROW_SPACING_M = (0.75, 2.5)


def scale_doubts(season: Season) -> list[str]:
    """Return a caution for every plant density, area and row spacing far from usual ones.

    Parameters
    ----------
    season : Season
    """
    sizes = [("bed", "row_spacing_m", season.bed.row_spacing_m, ROW_SPACING_M, "row spacing")]
    for block in season.blocks:
        where = f"block '{block.name}'"
        sizes.append((where, "plants_per_ha", block.plants_per_ha, PLANTS_PER_HA, "plants"))
        sizes.append((where, "area_ha", block.area_ha, AREA_HA, "area"))
    return [
        caution(
            f"{where}: {key} = {value:.10g} is outside the usual {low:.10g} to {high:.10g}"
            f"{_meant(value, low, high)}; a decimal takes a point, and thousands take no sign",
            kind,
        )
        for where, key, value, (low, high), kind in sizes
        if not low <= value <= high
    ]


def _meant(value: float, low: float, high: float) -> str:
    """Say which power of ten would bring a value into its span, as a slipped sign does."""
    tens = (value * 10.0**power for power in (1, -1, 2, -2, 3, -3))
    fits = next((one for one in tens if low <= one <= high), None)
    return "" if fits is None else f" (was {fits:.10g} meant?)"


_NONE: Mapping[str, ParameterSet] = MappingProxyType({})


@dataclass(frozen=True)
class NamedFiles:
    """Parameter files that a season names, for a reader to open before the season is checked.

    Parameters
    ----------
    cultivar_files : tuple of str
        As written by the user.
    film_files : mapping of str to str
        Name of a film to its file.
    """

    cultivar_files: tuple[str, ...]
    film_files: Mapping[str, str]


def named_files(mapping: Mapping[str, Any]) -> NamedFiles:
    """Parameter files that a season names; what is malformed is left for the check to refuse.

    Examples
    --------
    >>> named_files({"cultivar_file": "own.toml", "film": {"trial": {"file": "fit.toml"}}})
    NamedFiles(cultivar_files=('own.toml',), film_files={'trial': 'fit.toml'})
    """
    stated = mapping.get("cultivar_file", [])
    listed = stated if isinstance(stated, list) else [stated]
    tables = mapping.get("film", {})
    if not isinstance(tables, Mapping):
        tables = {}
    return NamedFiles(
        tuple(name for name in listed if isinstance(name, str) and name.strip()),
        {
            name: table["file"]
            for name, table in tables.items()
            if isinstance(table, Mapping) and isinstance(table.get("file"), str)
        },
    )


def season_from_mapping(
    mapping: Mapping[str, Any],
    source_name: str = "",
    *,
    user_cultivars: Mapping[str, ParameterSet] = _NONE,
    user_films: Mapping[str, ParameterSet] = _NONE,
    user_transplants: Mapping[str, ParameterSet] = _NONE,
) -> Season:
    """Season from the tables of its file.

    Parameters
    ----------
    mapping : mapping
        Tables and keys as TOML gives them.
    source_name : str
        Name of the file, for messages.
    user_cultivars : mapping of str to ParameterSet
        Cultivars read from the files of `named_files`.
    user_films : mapping of str to ParameterSet
        Films read from the files of `named_files`.
    user_transplants : mapping of str to ParameterSet
        Shipped types of transplant as a fit found them, from the cultivar files.

    Returns
    -------
    Season

    Raises
    ------
    InputError
        With every fault: its path, the value, what is allowed and the nearest known name. A check
        that compares keys is made where those keys are in order by themselves.

    Examples
    --------
    >>> season_from_mapping({"site": {"nam": "x"}}, "season.toml")
    Traceback (most recent call last):
    phenocast.errors.InputError: season.toml: site.name: this key is required; state it...
    """

    def path(*steps: str | int) -> str:
        return path_of(steps, mapping, source_name)

    names = _known(user_cultivars, user_films)
    stated: SeasonFile | None = None
    faults: list[Fault] = []
    try:
        stated = SeasonFile.model_validate(dict(mapping))
    except ValidationError as error:
        faults = schema_faults(error, SeasonFile, mapping, source_name)
    faults += season_faults(parts_of(mapping, stated), names, path)
    faults += [
        Fault("the file of this film was not read", path("film", name, "file"), file)
        for name, file in named_files(mapping).film_files.items()
        if name not in user_films
    ]
    if faults or stated is None:
        raise InputError(faults)
    described = {name: film_of(name, one) for name, one in stated.film.items() if not one.file}
    season = Season(
        site=site_of(stated.site),
        bed=stated.bed,
        blocks=tuple(block_of(block, stated) for block in stated.block),
        weather=stated.weather,
        nursery=nursery_of(stated.nursery),
        user_films={**user_films, **described},
        user_cultivars=dict(user_cultivars),
        user_transplants=dict(user_transplants),
        source_name=source_name,
        labour=stated.labour,
        prices=stated.prices,
        costs=stated.costs,
        records_file=None if stated.records is None else stated.records.file,
        checked=tuple(stated.checked),
    )
    return _with_warnings(season)


def _known(
    user_cultivars: Mapping[str, ParameterSet], user_films: Mapping[str, ParameterSet]
) -> KnownNames:
    shipped = films()
    return KnownNames(
        films=frozenset(shipped),
        striped_films=frozenset(
            name for name, film in {**shipped, **user_films}.items() if "shoulder" in film.labels
        ),
        cultivars=frozenset({**cultivars(), **user_cultivars}),
        soils=frozenset(soils()),
        transplants=frozenset(transplants()),
    )


def _with_warnings(season: Season) -> Season:
    """Return the season with what is allowed but should be known before trusting a forecast."""
    found = [clock_warning(season.site), *scale_doubts(season)]
    found += [water_warning(block, season.film(block.film)) for block in season.blocks]
    told = cautions_first((text for text in found if text), season.checked)
    return replace(season, warnings=told)
