"""JSON that comes out the same, byte for byte, from the same values."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Mapping
from datetime import date, datetime
from enum import Enum
from pathlib import PurePath
from typing import Any

import numpy as np

DIGITS = 10
"""Significant digits of a number: more than any result is good for, fewer than noise has."""


def plain_data(value: Any) -> Any:
    """Value as dicts, lists, texts and numbers that JSON holds; frozen descriptions become dicts.

    Parameters
    ----------
    value : object
        Mappings, sequences, dataclasses, dates, paths, enums, NumPy scalars and arrays. NaN and
        infinity become None; floats keep ten significant digits; times are ISO 8601.

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
    if value is None or (isinstance(value, bool | str | int) and not isinstance(value, Enum)):
        return value
    if isinstance(value, float):
        return float(f"{value:.{DIGITS}g}") + 0.0 if math.isfinite(value) else None
    if isinstance(value, np.datetime64):
        return None if np.isnat(value) else str(value)
    if isinstance(value, np.generic):
        return plain_data(value.item())
    if isinstance(value, np.ndarray):
        return [plain_data(item) for item in value]
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, Enum):
        return plain_data(value.value)
    if isinstance(value, PurePath):
        return value.as_posix()
    if isinstance(value, Mapping):
        return {str(key): plain_data(item) for key, item in value.items()}
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {
            item.name: plain_data(getattr(value, item.name)) for item in dataclasses.fields(value)
        }
    if isinstance(value, set | frozenset):
        return sorted((plain_data(item) for item in value), key=str)
    if isinstance(value, list | tuple):
        return [plain_data(item) for item in value]
    raise TypeError(f"{type(value).__name__} has no form in JSON")


def to_json(value: Any) -> str:
    """JSON text with sorted keys, two blanks of indent, one form for a number and a final newline.

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
    return (
        json.dumps(
            plain_data(value), sort_keys=True, indent=2, ensure_ascii=False, allow_nan=False
        )
        + "\n"
    )
