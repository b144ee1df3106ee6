"""Commented starter files, kept as files beside this module."""

from __future__ import annotations

from importlib import resources

from phenocast.errors import InputError, unknown_name

_FILES = {
    "season": "season.toml",
    "weather": "weather.csv",
    "records": "records.csv",
    "chamber": "chamber.csv",
    "sensors": "sensors.csv",
    "prices": "prices.csv",
    "tallies": "tallies.csv",
    "trial": "trial.csv",
    "dictionary": "dictionary.md",
}
TEMPLATE_NAMES = tuple(_FILES)


def template_file(name: str) -> str:
    """Name that a template's file should have.

    Examples
    --------
    >>> template_file("season")
    'season.toml'
    """
    if name not in _FILES:
        raise InputError(unknown_name("template", name, TEMPLATE_NAMES))
    return _FILES[name]


def template(name: str) -> str:
    """Text of a commented starter file.

    Parameters
    ----------
    name : str
        "season", "weather", "records", "chamber", "sensors", "prices", "tallies", "trial", or
        "dictionary", the data dictionary of all tables, which is made of their contracts.

    Returns
    -------
    str

    Raises
    ------
    InputError
        Where there is no such template; the nearest is suggested.

    Examples
    --------
    >>> template("season").splitlines()[0][:27]
    '# One season of one farm. E'
    """
    if name == "dictionary":
        from phenocast.io.dictionary import dictionary

        return dictionary()
    file = resources.files(__package__ or "phenocast.io.templates") / template_file(name)
    return file.read_text(encoding="utf-8")
