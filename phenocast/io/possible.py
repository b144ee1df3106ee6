"""Values that cannot be: refused with their row, or on request taken as missing and counted."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from phenocast.io.columns import internal_unit
from phenocast.io.gathered import Gathered
from phenocast.io.stated import Stated
from phenocast.tables import WEATHER_RECORDS
from phenocast.units import Unit, convert, parse_unit
from phenocast.weather.records import VALUE_COLUMNS


def keep_possible(
    values: np.ndarray,
    quantity: str,
    column: str,
    rows: np.ndarray,
    stated: Stated,
    found: Gathered,
    notes: list[str],
    *,
    shown: np.ndarray | None = None,
    unit: Unit | None = None,
) -> np.ndarray:
    """Values of a quantity without those that cannot be.

    Parameters
    ----------
    values : array [n]
        [internal unit of the quantity]
    quantity, column : str
        Name of the quantity and header of its column.
    rows : array of int, [n]
    stated : Stated
        Its ``impossible`` says whether such a value is a fault or becomes missing.
    found : Gathered
        Takes the faults.
    notes : list of str
        Takes a note on what became missing.
    shown : array [n], optional
        Values as they stand in the file, for the message. [unit]
    unit : Unit, optional
        Unit of the file.

    Returns
    -------
    array [n]

    Examples
    --------
    >>> found, rows = Gathered("a.csv"), np.array([2, 3, 4])
    >>> _ = keep_possible(np.array([12.0, 99.0, 13.0]), "air_c", "air", rows, Stated(), found, [])
    >>> print(found.error())  # doctest: +NORMALIZE_WHITESPACE
    a.csv, row 3, column 'air': an impossible air temperature (value 99.0; allowed: -60 to
    60 degC); correct the cell, or state
    impossible = "blank" to take such values as missing
    """
    limits = WEATHER_RECORDS.column(quantity)
    low, high = limits.lower, limits.upper
    bad = (values < low) | (values > high)
    if not bad.any():
        return values
    if stated.impossible == "blank":
        notes.append(
            f"{found.source}: {int(bad.sum())} impossible values in '{column}' are taken as "
            f"missing, the first in row {int(rows[bad][0])}"
        )
        return np.where(bad, np.nan, values)
    unit = unit or parse_unit(internal_unit(quantity))
    shown = values if shown is None else shown
    found.add_rows(
        f"an impossible {VALUE_COLUMNS[quantity].split(' [')[0]}",
        rows=rows[bad], values=shown[bad], column=column,
        allowed=_range(low, high, quantity, unit), do=_advice(shown, unit, quantity),
    )  # fmt: skip
    return values


def number_of(value: Any, what: str, row: int, found: Gathered) -> float:
    """Number that a file states of its place; NaN, with a fault, where it is none.

    Parameters
    ----------
    value : object
        Text or number as the file has it.
    what : str
        "latitude", ...
    row : int
        Line of the file.
    found : Gathered
        Takes the fault.

    Examples
    --------
    >>> number_of("29.3", "latitude", 1, Gathered("a.epw"))
    29.3
    """
    try:
        number = float(value)
    except (TypeError, ValueError):
        number = math.nan
    if not math.isfinite(number):
        found.add(f"the {what} is not a number", row=row, value=value, do="correct the line")
    return number


def _range(low: float, high: float, quantity: str, unit: Unit) -> str:
    """Possible range in the unit of the file, or in ours where the two are of another kind."""
    ours = parse_unit(internal_unit(quantity))
    if unit.kind != ours.kind:
        return f"{low:g} to {high:g} {ours.name}"
    low, high = (convert(bound, ours, unit) for bound in (low, high))
    return f"{low:.4g} to {high:.4g} {unit.name}"


def _advice(numbers: np.ndarray, unit: Unit, quantity: str) -> str:
    """What to do about impossible values: mostly right numbers in the wrong unit, or a bad cell."""
    usual = float(np.nanmedian(numbers))
    if unit.name == "degC" and 45.0 < usual < 115.0:
        return f'if the column is in Fahrenheit, state units = {{ {quantity} = "degF" }}'
    return 'correct the cell, or state impossible = "blank" to take such values as missing'
