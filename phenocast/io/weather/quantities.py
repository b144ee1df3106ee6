"""Which column of a table is which quantity, in which unit, and which of its values are possible.

A header may carry its unit, ``air [degF]`` or ``Rain (in)``, or end in it, ``air_f``. Words are
compared without case, order and filler, so ``Mean Air Temp`` is ``air temperature``.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from phenocast.errors import Fault, Gathered, InputError, meant
from phenocast.tables import WEATHER_RECORDS
from phenocast.units import Unit, convert, parse_unit
from phenocast.weather.records import VALUE_COLUMNS

if TYPE_CHECKING:
    from phenocast.io.weather.clock import Stated

# The kinds of unit in which a quantity may be stated, and the unit it is kept in.
KINDS: dict[str, tuple[str, ...]] = {
    "relative_humidity_pct": ("fraction",),
    "vapour_pressure_kpa": ("pressure",),
    "pressure_kpa": ("pressure",),
    "wind_m_s": ("speed",),
    "solar_w_m2": ("irradiance", "radiant exposure"),
    "longwave_down_w_m2": ("irradiance", "radiant exposure"),
    "rain_mm": ("water depth", "water depth per hour"),
}

INTERNAL_UNIT = {
    "relative_humidity_pct": "%",
    "vapour_pressure_kpa": "kPa",
    "pressure_kpa": "kPa",
    "wind_m_s": "m s-1",
    "solar_w_m2": "W m-2",
    "longwave_down_w_m2": "W m-2",
    "rain_mm": "mm",
}

EXAMPLE_UNITS = {
    "temperature": "degC, degF, K",
    "fraction": "%, 1",
    "pressure": "kPa, hPa, mbar, inHg",
    "speed": "m s-1, km h-1, mph, kn",
    "irradiance": "W m-2, MJ m-2 h-1, MJ m-2 d-1, Wh m-2, kJ m-2",
    "water depth": "mm, in",
}


_SAME = {
    "temp": "temperature", "t": "temperature", "tair": "air temperature", "ta": "air temperature",
    "tmax": "max temperature", "tmin": "min temperature", "tavg": "air temperature",
    "tmean": "air temperature", "tx": "max temperature", "tn": "min temperature",
    "maximum": "max", "highest": "max", "high": "max", "minimum": "min", "lowest": "min",
    "low": "min", "mean": "", "average": "", "avg": "", "of": "", "the": "", "at": "", "in": "",
    "drybulb": "air temperature", "dry": "air", "bulb": "", "dewpoint": "dew point",
    "td": "dew point", "tdew": "dew point", "tdp": "dew point", "rh": "relative humidity",
    "relhum": "relative humidity", "hum": "humidity",
    "vapor": "vapour", "ea": "vapour pressure", "windspeed": "wind speed", "ws": "wind speed",
    "u2": "wind speed", "wspd": "wind speed", "awnd": "wind speed", "velocity": "speed",
    "ghi": "solar", "shortwave": "solar", "srad": "solar", "rs": "solar", "solrad": "solar",
    "irradiance": "radiation", "insolation": "solar", "incoming": "", "downwelling": "down",
    "downward": "down", "lwdown": "longwave down", "infrared": "longwave", "atmospheric": "air",
    "barometric": "air", "station": "air", "precip": "rain", "precipitation": "rain",
    "prcp": "rain", "rainfall": "rain", "total": "", "amount": "", "depth": "", "hourly": "",
    "daily": "", "sensor": "", "5cm": "5", "10cm": "10", "rel": "relative", "global": "solar",
    "horizontal": "", "2m": "", "cm": "",
}  # fmt: skip

_MEANINGS: dict[str, tuple[str, ...]] = {
    "air_c": ("air", "air temperature", "temperature"),
    "air_max_c": ("air max", "air temperature max", "temperature max"),
    "air_min_c": ("air min", "air temperature min", "temperature min"),
    "dew_point_c": ("dew point", "dew point temperature", "dew temperature"),
    "relative_humidity_pct": ("relative humidity", "humidity"),
    "vapour_pressure_kpa": ("vapour pressure",),
    "wind_m_s": ("wind", "wind speed"),
    "solar_w_m2": ("solar", "solar radiation"),
    "longwave_down_w_m2": ("longwave down", "longwave radiation down", "longwave radiation sky"),
    "rain_mm": ("rain",),
    "pressure_kpa": ("air pressure", "pressure"),
    "soil_5cm_c": ("soil 5", "soil temperature 5"),
    "soil_10cm_c": ("soil 10", "soil temperature 10"),
}

_BY_WORDS = {frozenset(text.split()): name for name, texts in _MEANINGS.items() for text in texts}

_BRACKETS = re.compile(r"^(?P<name>.*?)\s*[\[(](?P<unit>[^\[\]()]*)[\])]\s*$")

# Endings of plain names that state a unit, longest first: air_degf, solar_mj_m2_d.
_ENDINGS = {
    "mj_m2_d": "MJ m-2 d-1", "mj_m2_h": "MJ m-2 h-1", "w_m2": "W m-2", "wh_m2": "Wh m-2",
    "mj_m2": "MJ m-2", "kj_m2": "kJ m-2", "m_s": "m s-1", "km_h": "km h-1", "mph": "mph",
    "kmh": "km h-1", "kph": "km h-1", "ms": "m s-1", "degc": "degC", "degf": "degF",
    "celsius": "degC", "fahrenheit": "degF", "pct": "%", "percent": "%", "kpa": "kPa",
    "hpa": "hPa", "mbar": "mbar", "inhg": "inHg", "mm": "mm", "inch": "in", "inches": "in",
    "in": "in", "c": "degC", "f": "degF", "k": "K",
}  # fmt: skip


@dataclass(frozen=True)
class Header:
    """A header taken apart.

    Parameters
    ----------
    name : str
        Without the unit.
    unit : str or None
        As written; None where the header states none.
    """

    name: str
    unit: str | None


def split_header(header: str) -> Header:
    """Name and unit of a header.

    Examples
    --------
    >>> split_header("air [degF]"), split_header("wind_mph")
    (Header(name='air', unit='degF'), Header(name='wind', unit='mph'))
    """
    text = header.strip()
    if text in VALUE_COLUMNS:
        return Header(text, internal_unit(text))
    bracketed = _BRACKETS.match(text)
    if bracketed and bracketed["name"].strip():
        return Header(bracketed["name"].strip(), bracketed["unit"].strip() or None)
    lowered = re.sub(r"[\s.]+", "_", text.lower())
    for ending, unit in _ENDINGS.items():
        if lowered.endswith("_" + ending) and _known_words(lowered[: -len(ending) - 1]):
            return Header(text[: -len(ending) - 1], unit)
    return Header(text, None)


def _known_words(name: str) -> str | None:
    """Quantity that a name without its unit stands for."""
    spaced = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name)
    words: list[str] = []
    for word in re.findall(r"[a-z]+\d*|\d+(?:cm)?", spaced.lower()):
        words += _SAME.get(word, word).split()
    return _BY_WORDS.get(frozenset(words))


def quantity_of(name: str) -> str | None:
    """Quantity that a plain name stands for; None where it is none of ours.

    Examples
    --------
    >>> quantity_of("Max Air Temperature"), quantity_of("RH"), quantity_of("wind direction")
    ('air_max_c', 'relative_humidity_pct', None)
    """
    return name if name in VALUE_COLUMNS else _known_words(split_header(name).name)


def internal_unit(quantity: str) -> str:
    """Unit in which a quantity is kept."""
    return INTERNAL_UNIT.get(quantity, "degC")


def kinds_of(quantity: str) -> tuple[str, ...]:
    """Kinds of unit in which a quantity may be stated."""
    return KINDS.get(quantity, ("temperature",))


def allowed_units(quantity: str) -> str:
    """Units to show as allowed for a quantity."""
    return EXAMPLE_UNITS.get(kinds_of(quantity)[0], internal_unit(quantity))


def unit_for(quantity: str, text: str, where: str) -> Unit | Fault:
    """Unit of a quantity from its text, or the fault of it.

    Examples
    --------
    >>> print(unit_for("air_c", "mph", "a.csv, column 'air'"))
    a.csv, column 'air': a speed is not a unit of air temperature (value 'mph'; allowed: degC,
    degF, K)
    """
    allowed = allowed_units(quantity)
    try:
        unit = parse_unit(text)
    except InputError as error:
        return Fault(error.faults[0].what, where, text, allowed, error.faults[0].do)
    if unit.kind not in kinds_of(quantity):
        meaning = VALUE_COLUMNS[quantity].split(" [")[0]
        article = "an" if unit.kind[0] in "aeiou" else "a"
        return Fault(f"{article} {unit.kind} is not a unit of {meaning}", where, text, allowed)
    return unit


def find_columns(
    headers: Iterable[str], stated: Mapping[str, str], source: str
) -> tuple[dict[str, str], list[Fault]]:
    """Header of each quantity, from what the user stated and from the headers themselves.

    Parameters
    ----------
    headers : iterable of str
        Headers as they stand in the file.
    stated : mapping of str to str
        Quantity (ours, or a plain name) to header; the unit in the header may be left out.
    source : str
        Name of the file, for messages.

    Returns
    -------
    columns : dict of str to str
        Quantity to header, in the order of the file.
    faults : list of Fault

    Examples
    --------
    >>> find_columns(["time", "T1", "Rain [in]"], {"air": "T1"}, "a.csv")[0]
    {'air_c': 'T1', 'rain_mm': 'Rain [in]'}
    """
    listed = list(headers)
    by_name = {split_header(header).name: header for header in listed} | {h: h for h in listed}
    faults: list[Fault] = []
    chosen: dict[str, str] = {}
    for key, header in stated.items():
        if key in TIME_KEYS or key == "member":
            continue
        quantity = quantity_of(key)
        if quantity is None:
            do = meant(key, VALUE_COLUMNS)
            faults.append(
                Fault("unknown quantity in columns", source, key, ", ".join(VALUE_COLUMNS), do)
            )
        elif header.strip() not in by_name:
            faults.append(missing_column(header, listed, source))
        else:
            chosen[quantity] = by_name[header.strip()]
    taken = set(chosen.values())
    rivals: dict[str, list[str]] = {}
    for header in listed:
        quantity = quantity_of(header)
        if quantity is not None and header not in taken and quantity not in chosen:
            rivals.setdefault(quantity, []).append(header)
    for quantity, found in rivals.items():
        if len(found) > 1:
            faults.append(
                Fault(
                    f"several columns may be the {VALUE_COLUMNS[quantity].split(' [')[0]}",
                    source,
                    ", ".join(found),
                    do=f'say which: columns = {{ {quantity} = "{found[0]}" }}',
                )
            )
        else:
            chosen[quantity] = found[0]
    order = {header: place for place, header in enumerate(listed)}
    return dict(sorted(chosen.items(), key=lambda item: order[item[1]])), faults


def missing_column(header: str, listed: list[str], source: str) -> Fault:
    """Fault of a column that the season file names and the table lacks."""
    return Fault(
        "the file has no such column",
        source,
        header,
        ", ".join(listed),
        meant(header, listed, "check columns in the season file"),
    )


TIME_KEYS = frozenset({"time", "time_utc", "date", "clock", "year", "month", "day", "hour"})

"""Keys of ``columns`` that name stamps or parts of stamps."""


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
    >>> from phenocast.io import Stated
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
