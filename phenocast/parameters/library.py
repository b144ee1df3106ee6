"""Where the shipped numbers lie: in a checkout beside the package, in a wheel inside it.

The shipped parameter files, read once.
"""

import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from phenocast.errors import Fault, Gathering, InputError, raise_any
from phenocast.parameters.sets import Parameter, ParameterSet, merged, parameter_from_mapping

_PACKAGE = Path(__file__).resolve().parent.parent


def shipped(*parts: str) -> Path:
    """Return the path of a shipped file or folder.

    Parameters
    ----------
    *parts : str
        Path under the repository's root, such as "calibration", "films.toml".

    Returns
    -------
    Path

    Raises
    ------
    InputError
        When the installation lacks it.

    Examples
    --------
    >>> shipped("calibration", "films.toml").name
    'films.toml'
    """
    candidates = (_PACKAGE / "_data", _PACKAGE.parent)
    for root in candidates:
        path = root.joinpath(*parts)
        if path.exists():
            return path
    raise InputError(
        Fault(
            "a shipped file is missing",
            where="/".join(parts),
            do="install phenocast again: the wheel carries calibration/ and demo_weather/",
        )
    )


def parameter_set(name: str, table: Mapping[str, Any], where: str) -> ParameterSet:
    """Return a set from a table of a file: texts are labels, tables are parameters.

    Raises
    ------
    InputError
        With the faults of every entry.

    Examples
    --------
    >>> parameter_set("black", {"description": "black film"}, "film.black").labels
    {'description': 'black film'}
    """
    labels: dict[str, str] = {}
    parameters: dict[str, Parameter] = {}
    faults = Gathering()
    for key, entry in table.items():
        if isinstance(entry, str):
            labels[key] = entry
        elif isinstance(entry, Mapping):
            with faults.of_step():
                parameters[key] = parameter_from_mapping(entry, f"{where}.{key}")
        else:
            faults.append(
                Fault(
                    "a number without a birth certificate",
                    where=f"{where}.{key}",
                    value=entry,
                    do="write it as a table with value, unit, bounds, spread and source",
                )
            )
    raise_any(faults)
    return ParameterSet(name, parameters, labels)


@cache
def _file(name: str) -> dict[str, Any]:
    return read_toml(shipped("calibration", name))


def read_toml(path: Path) -> dict[str, Any]:
    """Return the tables of a parameter file.

    Raises
    ------
    InputError
        When the file is not TOML; the message holds line and column.

    Examples
    --------
    >>> "film" in read_toml(shipped("calibration", "films.toml"))
    True
    """
    try:
        with path.open("rb") as stream:
            return tomllib.load(stream)
    except tomllib.TOMLDecodeError as told:
        raise InputError(Fault("not a valid TOML file", where=path.name, value=str(told))) from None


def _sets(file: str, kind: str) -> dict[str, ParameterSet]:
    tables = _file(file)[kind]
    return {name: parameter_set(name, table, f"{kind}.{name}") for name, table in tables.items()}


@cache
def films() -> Mapping[str, ParameterSet]:
    """Return the shipped films by name.

    Examples
    --------
    >>> films()["black"].value("solar_reflectance") < films()["white"].value("solar_reflectance")
    True
    """
    return _sets("films.toml", "film")


@cache
def bed() -> ParameterSet:
    """Return the physics of bed and crown that all films share."""
    return parameter_set("bed", _file("films.toml")["bed"], "bed")


@cache
def film_water() -> ParameterSet:
    """Return the pH range of water in which the metal of a film lasts."""
    return parameter_set("film_water", _file("films.toml")["film_water"], "film_water")


@cache
def frost() -> ParameterSet:
    """Return when frost is the first caution, and when water against it runs."""
    return parameter_set("frost", _file("films.toml")["frost"], "frost")


@cache
def frost_rates() -> Mapping[str, ParameterSet]:
    """Return the rates of overhead water that are enough against frost, by wind."""
    return _sets("films.toml", "frost_rate")


@cache
def film_words() -> ParameterSet:
    """Return from which numbers on a film is given a name in cautions, such as reflective."""
    return parameter_set("film_words", _file("films.toml")["film_words"], "film_words")


@cache
def conditioning() -> ParameterSet:
    """Return from which day of the year on a nursery can have conditioned plants."""
    return parameter_set("conditioning", _file("cultivars.toml")["conditioning"], "conditioning")


@cache
def user_film() -> ParameterSet:
    """Return what is not known of a film that a user describes by plain numbers."""
    return parameter_set("user_film", _file("films.toml")["user_film"], "user_film")


@cache
def shelters() -> Mapping[str, ParameterSet]:
    """Return the shipped row covers and tunnels by name."""
    return _sets("films.toml", "shelter")


@cache
def soils() -> Mapping[str, ParameterSet]:
    """Return the shipped soils by name."""
    return _sets("soils.toml", "soil")


@cache
def species() -> ParameterSet:
    """Return what every cultivar shares."""
    return parameter_set("species", _file("cultivars.toml")["species"], "species")


@cache
def cultivars() -> Mapping[str, ParameterSet]:
    """Return the shipped cultivars by name, each merged with what the species shares."""
    own = _sets("cultivars.toml", "cultivar")
    return {name: merged(name, species(), one) for name, one in own.items()}


@cache
def transplants() -> Mapping[str, ParameterSet]:
    """Return the shipped transplant types by name."""
    return _sets("cultivars.toml", "transplant")


@cache
def scenarios() -> Mapping[str, ParameterSet]:
    """Return the shipped scenarios in which cultivars are ranked, by name.

    Examples
    --------
    >>> scenarios()["standard-heat"].value("warming")
    3.0
    """
    return _sets("cultivars.toml", "scenario")


@cache
def packs() -> Mapping[str, ParameterSet]:
    """Return the shipped tray packs by name."""
    return _sets("packing.toml", "pack")


@cache
def labour() -> Mapping[str, ParameterSet]:
    """Return the shipped numbers of picking, packing, cooling, crews and heat by subject."""
    return _sets("packing.toml", "labour")


@cache
def overtime_examples() -> Mapping[str, ParameterSet]:
    """Return the shipped examples of overtime rules by name; they are nobody's law."""
    return _sets("packing.toml", "overtime")


@cache
def price_shapes() -> Mapping[str, ParameterSet]:
    """Return the shipped courses of the price over the year by name."""
    return _sets("packing.toml", "price")


@cache
def references() -> Mapping[str, Mapping[str, Any]]:
    """Return the sources of the shipped numbers by key; `phenocast guide methods` shows its use."""
    return _file("references.toml")
