"""Documents of tables and lists, TOML or JSON, read whole or refused with the place.

This is the one boundary between such a file and the rest: whatever a parser raises becomes a fault,
and what it lets through is neither deeper nor of larger numbers than a document of ours can be.
"""

from __future__ import annotations

import json
import os
import re
import tomllib
from collections.abc import Callable, Iterator
from typing import Any, TypeVar

from pydantic import TypeAdapter, ValidationError

from phenocast.errors import Fault, InputError
from phenocast.io.files import read_text
from phenocast.season.faults import path_of, schema_faults

T = TypeVar("T")

DEEPEST = 16
"""Levels of tables and lists inside one another; a document of ours has half as many."""

LARGEST_WHOLE = 2**63
"""Whole numbers lie below this, as TOML 1.0 has it."""

_TOML = "texts stand in quotes, decimals take a point, dates are 2026-10-05"
_KEY = r"""(?:[\w-]+|"[^"\n]*"|'[^'\n]*')"""
_DEEP_KEY = re.compile(rf"(?<![\w-])(?:{_KEY}[ \t]*\.[ \t]*){{{DEEPEST}}}")
"""A key of so many parts that the parser would take minutes over it."""


def read_toml_file(path: str | os.PathLike[str]) -> dict[str, Any]:
    r"""Tables of a TOML file in any encoding.

    Parameters
    ----------
    path : str or path

    Returns
    -------
    dict

    Raises
    ------
    InputError
        Where the file cannot be read or is no TOML, with line and column.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     place = Path(folder, "season.toml")
    ...     _ = place.write_text("[site]\nlatitude = 29,3\n")
    ...     try:
    ...         read_toml_file(place)
    ...     except InputError as error:
    ...         print(error.faults[0].where.split("/")[-1], "|", error.faults[0].value)
    season.toml, row 2, column 14 | latitude = 29,3
    """
    text = read_text(path).text.replace("\r\n", "\n").replace("\r", "\n")
    tables: dict[str, Any] = _parsed(_toml, text, str(path), "TOML", _TOML)
    return tables


def _toml(text: str) -> dict[str, Any]:
    if _DEEP_KEY.search(text):
        raise RecursionError
    return tomllib.loads(text)


def json_of(text: str, where: str) -> Any:
    """Value of a JSON text.

    Parameters
    ----------
    text : str
    where : str
        Name of the file, for messages.

    Raises
    ------
    InputError
        Where it is no JSON, with line and column.

    Examples
    --------
    >>> json_of('{"draws": 5', "manifest.json")
    Traceback (most recent call last):
    phenocast.errors.InputError: manifest.json, row 1, column 12: cannot be read as JSON: ...
    """
    return _parsed(_json, text, where, "JSON")


def _json(text: str) -> Any:
    document = json.loads(text)
    # Python also reads NaN, infinity and halves of a character, which no document of ours holds.
    json.dumps(document, ensure_ascii=False, allow_nan=False).encode("utf-8")
    return document


def read_schema(adapter: TypeAdapter[T], value: Any, where: str) -> T:
    """Value as its schema has it.

    Parameters
    ----------
    adapter : TypeAdapter
    value : object
        As JSON or TOML gives it.
    where : str
        Name of the file, for messages.

    Raises
    ------
    InputError
        With every fault and its path in the document.

    Examples
    --------
    >>> read_schema(TypeAdapter(dict[str, int]), {"draws": "many"}, "manifest.json")
    Traceback (most recent call last):
    phenocast.errors.InputError: manifest.json: draws: the wrong kind of value (value 'many'; ...
    """
    try:
        return adapter.validate_python(value)
    except ValidationError as error:
        raise InputError(schema_faults(error, None, value, where)) from error


def _parsed(parse: Callable[[str], Any], text: str, where: str, kind: str, do: str = "") -> Any:
    """Document of a text, or the fault of what its parser refuses."""
    try:
        document = parse(text)
    except RecursionError as error:
        raise InputError(
            Fault(f"cannot be read as {kind}: tables or lists lie too deep inside one another",
                  where, allowed=f"{DEEPEST} levels")
        ) from error  # fmt: skip
    except ValueError as error:
        message = str(error)
        found = re.search(r"line (\d+),? column (\d+)", message)
        value = None
        if found:
            where += f", row {found[1]}, column {found[2]}"
            lines = text.split("\n")
            row = int(found[1])
            value = lines[row - 1].strip() if row <= len(lines) else None
        reason = re.split(r"\s*\(at |: line |; use sys\.", message)[0]
        raise InputError(
            Fault(f"cannot be read as {kind}: {reason[:1].lower()}{reason[1:]}", where, value,
                  do=do)
        ) from error  # fmt: skip
    faults = list(_oversized(document, where))
    if faults:
        raise InputError(faults)
    return document


def _oversized(document: Any, where: str) -> Iterator[Fault]:
    """Faults of what lies too deep, and of whole numbers that no parser of TOML need hold."""
    waiting: list[tuple[tuple[int | str, ...], Any]] = [((), document)]
    while waiting:
        steps, value = waiting.pop()
        if isinstance(value, int) and abs(value) >= LARGEST_WHOLE:
            yield Fault("a whole number of too many digits", path_of(steps, document, where),
                        allowed="up to 18 digits")  # fmt: skip
        if not isinstance(value, dict | list):
            continue
        if len(steps) >= DEEPEST:
            yield Fault("tables or lists lie too deep inside one another",
                        path_of(steps, document, where), allowed=f"{DEEPEST} levels")  # fmt: skip
            continue
        inside = value.items() if isinstance(value, dict) else enumerate(value)
        waiting += [((*steps, key), item) for key, item in inside]
