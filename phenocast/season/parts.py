"""The parts of a season file that are in order by themselves.

A fault in one table must not hide those of another, so the checks between keys run on whatever
parts the schema accepts.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from phenocast.season.planning_tables import CostsTable, LabourTable, PricesTable
from phenocast.season.schema import (
    BedTable,
    BlockTable,
    FilmTable,
    NurseryTable,
    SeasonFile,
    SiteTable,
    WeatherTable,
    cover_series,
)

Table = TypeVar("Table", bound=BaseModel)


@dataclass(frozen=True)
class Parts:
    """Tables that hold together by themselves; what does not is None or left out.

    Parameters
    ----------
    site, weather, bed, nursery : table or None
    blocks : mapping of int to BlockTable
        By the block's place in the file.
    names : tuple of mapping of str to str
        Texts of every block, sound or not, so that unknown names are found in all.
    soil : str or None
        Name of the soil, whether or not the bed is sound.
    films : mapping of str to FilmTable
    film_names : frozenset of str
        Names of all films of the file, sound or not.
    season_end : date or None
    labour, prices, costs : table or None
    has_prices : bool
        Whether the file has a table of prices, sound or not.
    """

    site: SiteTable | None
    weather: WeatherTable | None
    bed: BedTable | None
    nursery: NurseryTable | None
    blocks: Mapping[int, BlockTable]
    names: tuple[Mapping[str, str], ...]
    soil: str | None
    films: Mapping[str, FilmTable]
    film_names: frozenset[str]
    season_end: date | None
    labour: LabourTable | None = None
    prices: PricesTable | None = None
    has_prices: bool = False
    costs: CostsTable | None = None

    @property
    def block_names(self) -> list[str]:
        """Names of all blocks, in the order of the file."""
        return [block["name"] for block in self.names if "name" in block]


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
    sound = {name: _sound(FilmTable, table) for name, table in raw_films.items()}
    blocks = {number: _sound(BlockTable, block) for number, block in enumerate(raw)}
    return Parts(
        site=_sound(SiteTable, mapping.get("site")),
        weather=_sound(WeatherTable, mapping.get("weather")),
        bed=_sound(BedTable, mapping.get("bed")),
        nursery=_sound(NurseryTable, mapping.get("nursery")),
        blocks={number: block for number, block in blocks.items() if block is not None},
        names=tuple(
            {key: value.strip() for key, value in block.items() if isinstance(value, str)}
            for block in raw
        ),
        soil=_text_in(mapping.get("bed"), "soil"),
        films={name: film for name, film in sound.items() if film is not None},
        film_names=frozenset(raw_films),
        season_end=season.season_end if season is not None else None,
        labour=_sound(LabourTable, mapping.get("labour")),
        prices=_sound(PricesTable, mapping.get("prices")),
        has_prices="prices" in mapping,
        costs=_sound(CostsTable, mapping.get("costs")),
    )


def _sound(table: type[Table], value: Any) -> Table | None:
    """Return the table, or None where it is not in order (its faults are told elsewhere)."""
    if not isinstance(value, Mapping):
        return None
    try:
        return table.model_validate(dict(value))
    except ValidationError:
        return None


def _text_in(table: Any, key: str) -> str | None:
    value = table.get(key) if isinstance(table, Mapping) else None
    return value.strip() or None if isinstance(value, str) else None
