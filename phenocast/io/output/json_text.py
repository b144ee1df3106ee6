"""JSON that comes out the same, byte for byte, from the same values."""

import dataclasses
import json
import math
from collections.abc import Mapping
from datetime import date
from enum import Enum
from functools import lru_cache
from pathlib import PurePath
from typing import Any

import numpy as np

from phenocast.units import KEPT_DIGITS, to_kept_digits

LEVELS = 4

"""Levels of a document that are indented; what lies deeper stands on the line of its parent."""


_PLACES = 1e4

_IN_LINE = json.JSONEncoder(sort_keys=True, ensure_ascii=False, allow_nan=False).encode

_key = lru_cache(maxsize=1024)(_IN_LINE)

_BETWEEN = "\n"


def plain_data(value: Any) -> Any:
    """Value as dicts, lists, texts and numbers that JSON holds; frozen descriptions become dicts.

    Parameters
    ----------
    value : object
        Mappings, sequences, dataclasses, dates, paths, enums, NumPy scalars and arrays. NaN and
        infinity become None; floats keep ten significant digits; times are ISO 8601. What has an
        attribute ``is_plain_data`` that is true is returned as it is: who made it answers for it.

    Returns
    -------
    dict, list, str, int, float, bool or None

    Raises
    ------
    TypeError
        For anything else.

    Examples
    --------
    >>> plain_data({"day": date(2026, 10, 5), "x": np.array([0.1 + 0.2, np.nan])})
    {'day': '2026-10-05', 'x': [0.3, None]}
    """
    # Nearly all of a large document are of these types; asking for them first halves the time.
    kind = type(value)
    if kind is float:
        return _number(value)
    if kind is dict:
        return {str(key): plain_data(item) for key, item in value.items()}
    if kind is list:
        return [plain_data(item) for item in value]
    if isinstance(value, Enum):
        return plain_data(value.value)
    if value is None or isinstance(value, bool | str | int):
        return value
    if getattr(kind, "is_plain_data", False):
        return value  # made of numbers as they are kept; to go through it again takes long
    if isinstance(value, float):
        return _number(float(value))
    if isinstance(value, np.datetime64):
        return None if np.isnat(value) else str(value)
    if isinstance(value, np.generic):
        return plain_data(value.item())
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, PurePath):
        return value.as_posix()
    if dataclasses.is_dataclass(value) and not isinstance(value, type | Mapping):
        value = {one.name: getattr(value, one.name) for one in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain_data(item) for key, item in value.items()}
    if isinstance(value, set | frozenset):
        return sorted((plain_data(item) for item in value), key=str)
    if isinstance(value, list | tuple | np.ndarray):
        return [plain_data(item) for item in value]
    raise TypeError(f"{type(value).__name__} has no form in JSON")


def plain_document(value: Mapping[str, Any]) -> dict[str, Any]:
    """`plain_data` of the document of a command."""
    return {str(key): plain_data(item) for key, item in value.items()}


def to_json(value: Any) -> str:
    """JSON text with sorted keys, one form for a number and a final newline.

    The upper levels have two blanks of indent each, and what lies deeper stands on one line: a row
    of a table is a line.

    Parameters
    ----------
    value : object
        As `plain_data`.

    Returns
    -------
    str

    Examples
    --------
    >>> print(to_json({"b": 1, "a": np.float64(0.1) * 3}), end="")
    {
      "a": 0.3,
      "b": 1
    }
    """
    return plain_to_json(plain_data(value))


def plain_to_json(value: Any) -> str:
    """`to_json` of what `plain_data` has made already, without going through it again.

    Raises
    ------
    TypeError, ValueError
        For what JSON has no form for: an object, infinity, NaN.
    """
    return _laid_out(value, LEVELS, "\n") + "\n"


def _number(value: float) -> float | None:
    """Number of ten significant digits that is nearest; None where it is not finite."""
    # Four places are what most numbers of a document have. A whole number of up to ten digits over
    # ten thousand is the float nearest to its decimals, as is what the text of them would give.
    whole = value * _PLACES
    if whole.is_integer() and abs(whole) < 10.0**KEPT_DIGITS:
        return whole / _PLACES + 0.0
    return to_kept_digits(value)


def _laid_out(value: Any, levels: int, gap: str) -> str:
    """Text of plain data; ``gap`` is the end of a line with the blanks that open the next."""
    inner = gap + "  "
    if levels and value and type(value) is dict:
        parts = [
            f"{_key(key)}: {_laid_out(value[key], levels - 1, inner)}" for key in sorted(value)
        ]
        return f"{{{inner}{f',{inner}'.join(parts)}{gap}}}"
    if levels and value and isinstance(value, list):
        if levels == 1:
            parts = _in_lines(value)
        else:
            parts = [_laid_out(item, levels - 1, inner) for item in value]
        return f"[{inner}{f',{inner}'.join(parts)}{gap}]"
    if type(value) is float and math.isfinite(value):
        return repr(value)
    return _IN_LINE(value)


def _in_lines(rows: list[Any]) -> list[str]:
    """Text of each row, made at once: to start the encoder takes longer than a row does.

    A text between any two rows tells where to cut. It cannot be part of another text, whose quotes
    have a stroke before them; where a list in a row holds it, there are more pieces than rows.
    """
    parted = [_BETWEEN] * (2 * len(rows) - 1)
    parted[::2] = rows
    lines = _IN_LINE(parted)[1:-1].split(f", {_IN_LINE(_BETWEEN)}, ")
    return lines if len(lines) == len(rows) else [_IN_LINE(row) for row in rows]
