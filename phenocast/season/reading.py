"""A season from the mapping that its file holds: every fault told at once, or a sound season."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

from pydantic import ValidationError

from phenocast.errors import Fault, InputError, cautions_first
from phenocast.parameters import ParameterSet, cultivars, films, soils, transplants
from phenocast.season.assemble import (
    bed_of,
    block_of,
    described_films,
    nursery_of,
    site_of,
    sources_of,
)
from phenocast.season.checks import season_faults
from phenocast.season.costs_stated import costs_of
from phenocast.season.faults import path_of, schema_faults
from phenocast.season.known import KnownNames
from phenocast.season.parts import parts_of
from phenocast.season.planning_stated import labour_of, prices_of
from phenocast.season.scale import scale_doubts
from phenocast.season.schema import SeasonFile
from phenocast.season.site import clock_warning
from phenocast.season.water import water_warning
from phenocast.season.whole import Season

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
    season = Season(
        site=site_of(stated.site),
        bed=bed_of(stated.bed),
        blocks=tuple(block_of(block, stated) for block in stated.block),
        weather=sources_of(stated),
        nursery=nursery_of(stated.nursery),
        user_films={**user_films, **described_films(stated)},
        user_cultivars=dict(user_cultivars),
        user_transplants=dict(user_transplants),
        source_name=source_name,
        labour=labour_of(stated.labour),
        prices=prices_of(stated.prices),
        costs=costs_of(stated.costs),
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
