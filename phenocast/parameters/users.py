"""Parameter files that a user brings: cultivars and films in the form of the shipped ones."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from phenocast.errors import Fault, InputError, nearest, unknown_name
from phenocast.parameters.sets import ParameterSet, merged
from phenocast.parameters.shelf import (
    bed,
    cultivars,
    films,
    parameter_set,
    species,
    transplants,
)
from phenocast.parameters.spreads import FIELD_SPREADS

FLOWERING = ("short-day", "day-neutral")


def cultivars_from(tables: Mapping[str, Any], source_name: str) -> dict[str, ParameterSet]:
    """Cultivars of a user's file, ``[cultivar.NAME]`` tables of certified numbers.

    A cultivar states what differs from the species, or from the shipped or earlier cultivar that
    its text ``like = "NAME"`` names. Beyond the numbers of the species it may state
    `phenocast.parameters.FIELD_SPREADS`, as a fit does.

    Parameters
    ----------
    tables : mapping
        The file, as TOML gives it.
    source_name : str
        Name of the file, for messages.

    Returns
    -------
    dict of str to ParameterSet

    Raises
    ------
    InputError
        With every fault: no cultivar, a number without a certificate, a parameter that the species
        does not have, a type of flowering that does not exist.

    Examples
    --------
    >>> own = cultivars_from({"cultivar": {"Slate": {"like": "Marl"}}}, "own.toml")
    >>> own["Slate"].labels["flowering"], own["Slate"].name
    ('short-day', 'Slate')
    """
    own = _tables_of(tables, "cultivar", source_name)
    known = dict(cultivars())
    names = {key for one in known.values() for key in one} | set(FIELD_SPREADS)
    found: dict[str, ParameterSet] = {}
    faults: list[Fault] = []
    for name, table in own.items():
        where = f"{source_name}: cultivar.{name}"
        try:
            stated = parameter_set(name, table, where)
        except InputError as told:
            faults += told.faults
            continue
        like = stated.labels.get("like")
        if like is not None and like not in known:
            faults.append(unknown_name("cultivar", like, known, f"{where}.like"))
            continue
        whole = merged(name, species() if like is None else known[like], stated)
        faults += _unknown(stated, names, where)
        flowering = whole.labels.get("flowering")
        if flowering not in FLOWERING:
            faults.append(
                Fault("the type of flowering", f"{where}.flowering", flowering, str(FLOWERING))
            )
        found[name] = known[name] = whole
    if faults:
        raise InputError(faults)
    return found


def transplants_from(tables: Mapping[str, Any], source_name: str) -> dict[str, ParameterSet]:
    """Types of transplant of a user's file, ``[transplant.NAME]`` tables of certified numbers.

    Parameters
    ----------
    tables : mapping
        The file, as TOML gives it; a type states what differs from the shipped one of its name.
    source_name : str
        Name of the file, for messages.

    Returns
    -------
    dict of str to ParameterSet
        Empty where the table of transplants is.

    Raises
    ------
    InputError
        With every fault: a type or a number that is not shipped, a number without a certificate.

    Examples
    --------
    >>> own = transplants_from({"transplant": {"plug": {"draws": "own.parquet"}}}, "own.toml")
    >>> own["plug"].name, own["plug"].value("trusses_at_planting")
    ('plug', 0.0)
    """
    known = transplants()
    found: dict[str, ParameterSet] = {}
    faults: list[Fault] = []
    own = _tables_of(tables, "transplant", source_name) if tables.get("transplant") != {} else {}
    for name, table in own.items():
        where = f"{source_name}: transplant.{name}"
        if name not in known:
            faults.append(unknown_name("transplant", name, known, where))
            continue
        try:
            stated = parameter_set(name, table, where)
        except InputError as told:
            faults += told.faults
            continue
        faults += _unknown(stated, known[name], where)
        found[name] = merged(name, known[name], stated)
    if faults:
        raise InputError(faults)
    return found


def film_from(tables: Mapping[str, Any], name: str, source_name: str) -> ParameterSet:
    """Film of a user's file under the name that the season gives it.

    Parameters
    ----------
    tables : mapping
        The file, as TOML gives it: a table ``[film.NAME]``; where there is but one its name in
        the file does not matter.
    name : str
        Name in the season.
    source_name : str
        Name of the file, for messages.

    Returns
    -------
    ParameterSet

    Raises
    ------
    InputError
        With every fault: no film, several of other names, optics missing, a number that no film
        has.

    Examples
    --------
    >>> black = films()["black"].to_dict()
    >>> film_from({"film": {"fit 3": black}}, "south", "fit.toml").name
    'south'
    """
    own = _tables_of(tables, "film", source_name)
    if name not in own and len(own) > 1:
        raise InputError(unknown_name("film", name, own, source_name))
    key = name if name in own else next(iter(own))
    where = f"{source_name}: film.{key}"
    film = parameter_set(name, own[key], where)
    names = {key for one in films().values() for key in one} | set(bed())
    faults = _unknown(film, names, where)
    optics = [key for key in films()["black"] if key.startswith(("solar_", "longwave_"))]
    faults += [
        Fault("this number is required", f"{where}.{key}") for key in optics if key not in film
    ]
    shoulder = film.labels.get("shoulder")
    if shoulder is not None and shoulder not in films():
        faults.append(unknown_name("film", shoulder, films(), f"{where}.shoulder"))
    if faults:
        raise InputError(faults)
    return film


def _unknown(stated: ParameterSet, names: Collection[str], where: str) -> list[Fault]:
    """Return a fault for each parameter that has no business there."""
    return [
        unknown_name("parameter", key, names, f"{where}.{key}")
        for key in stated
        if key not in names
    ]


def _tables_of(tables: Mapping[str, Any], kind: str, source_name: str) -> Mapping[str, Any]:
    """Return the tables of one kind, refused where there is none or another kind besides."""
    own = tables.get(kind)
    faults = [
        Fault(
            "unknown table",
            f"{source_name}: {key}",
            allowed=f"[{kind}.NAME]",
            do=f"did you mean '{kind}'?" if nearest(key, [kind]) else "take it out",
        )
        for key in tables
        if key != kind
    ]
    if not isinstance(own, Mapping) or not own:
        faults.append(Fault(f"the file holds no {kind}", source_name, allowed=f"[{kind}.NAME]"))
        own = {}
    faults += [
        Fault("the wrong kind of value", f"{source_name}: {kind}.{name}", table, "a table")
        for name, table in own.items()
        if not isinstance(table, Mapping)
    ]
    if faults:
        raise InputError(faults)
    return own
