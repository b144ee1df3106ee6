"""Units of measurement: read from text, and converted once, at the door.

An absolute temperature ("degC") and a temperature difference ("delta_degC") are different units
here, because 9 degF of difference is 5 degC while 9 degF on a thermometer is -12.8 degC.

Examples
--------
>>> convert(9.0, "delta_degF", "delta_degC")
5.0
>>> round(convert(9.0, "degF", "degC"), 1)
-12.8
>>> float(convert([215.0], "0.1 degC", "degC")[0])
21.5
"""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

from phenocast.errors import Fault, InputError, meant

KEPT_DIGITS = 10
"""Significant digits that a document keeps of a number: more than any result is good for, fewer
than noise has."""


@dataclass(frozen=True)
class Unit:
    """A unit: ``base value = factor * value + offset`` within its kind.

    Parameters
    ----------
    name : str
        How the unit is written here.
    kind : str
        What it measures; only units of one kind convert into each other.
    factor : float
        Size in the base unit of the kind.
    offset : float
        Base value at zero of this unit; not zero only for thermometers. [base unit]
    """

    name: str
    kind: str
    factor: float
    offset: float = 0.0


# kind -> {unit: factor}. Factors are exact by definition (BIPM SI Brochure 2019; NIST SP 811,
# appendix B.8: inch, foot, pound, ounce, acre, mile, knot, inch of mercury at 0 degC).
_PROPORTIONAL: dict[str, dict[str, float]] = {
    "temperature difference": {"delta_degC": 1.0, "delta_degF": 5.0 / 9.0, "delta_K": 1.0},
    "irradiance": {
        "W m-2": 1.0,
        "kW m-2": 1000.0,
        "MJ m-2 h-1": 1e6 / 3600.0,
        "kJ m-2 h-1": 1e3 / 3600.0,
        "Wh m-2 h-1": 1.0,
        "MJ m-2 d-1": 1e6 / 86400.0,
        "Wh m-2 d-1": 1.0 / 24.0,
        "kWh m-2 d-1": 1000.0 / 24.0,
        "cal cm-2 d-1": 41840.0 / 86400.0,
    },
    "radiant exposure": {
        "MJ m-2": 1.0,
        "kJ m-2": 1e-3,
        "J m-2": 1e-6,
        "J cm-2": 1e-2,
        "Wh m-2": 3.6e-3,
        "kWh m-2": 3.6,
        "cal cm-2": 0.04184,
    },
    "speed": {
        "m s-1": 1.0,
        "km h-1": 1.0 / 3.6,
        "mph": 0.44704,
        "kn": 1852.0 / 3600.0,
        "ft s-1": 0.3048,
    },
    "water depth": {"mm": 1.0, "in": 25.4},
    "water depth per hour": {"mm h-1": 1.0, "in h-1": 25.4},
    "length": {"m": 1.0, "ft": 0.3048, "cm": 0.01, "km": 1000.0},
    "fraction": {"1": 1.0, "%": 0.01},
    "pressure": {
        "kPa": 1.0,
        "hPa": 0.1,
        "mbar": 0.1,
        "Pa": 1e-3,
        "bar": 100.0,
        "inHg": 3.386389,
        "mmHg": 0.1333224,
    },
    "mass": {"kg": 1.0, "g": 1e-3, "t": 1000.0, "lb": 0.45359237, "oz": 0.028349523125},
    "area": {"ha": 1.0, "acre": 0.40468564224, "m2": 1e-4},
    "time": {"h": 1.0, "d": 24.0, "min": 1.0 / 60.0, "s": 1.0 / 3600.0},
    "thermal time": {
        "degC h": 1.0,
        "degC d": 24.0,
        "degF h": 5.0 / 9.0,
        "degF d": 24.0 * 5.0 / 9.0,
    },
    "angle": {"deg": 1.0, "rad": 57.29577951308232},
    "conductivity": {"W m-1 K-1": 1.0},
    "conductance": {"W m-2 K-1": 1.0},
    "heat capacity": {"J m-3 K-1": 1.0, "MJ m-3 K-1": 1e6},
    "fruit per plant": {
        "g plant-1": 1.0,
        "kg plant-1": 1000.0,
        "lb plant-1": 453.59237,
        "oz plant-1": 28.349523125,
    },
    "plant density": {"plants ha-1": 1.0, "plants acre-1": 1.0 / 0.40468564224, "plants m-2": 1e4},
}
_THERMOMETERS = {
    "degC": Unit("degC", "temperature", 1.0, 0.0),
    "degF": Unit("degF", "temperature", 5.0 / 9.0, -160.0 / 9.0),
    "K": Unit("K", "temperature", 1.0, -273.15),
}
UNITS: dict[str, Unit] = _THERMOMETERS | {
    name: Unit(name, kind, factor)
    for kind, members in _PROPORTIONAL.items()
    for name, factor in members.items()
}

# Other spellings, compared without case, blanks and dots; "^", "**" and "/" are undone first.
_SPELLINGS = {
    "°c": "degC", "c": "degC", "celsius": "degC", "deg_c": "degC", "degreesc": "degC",
    "°f": "degF", "f": "degF", "fahrenheit": "degF", "deg_f": "degF", "degreesf": "degF",
    "kelvin": "K",
    "deltadegc": "delta_degC", "deltadegf": "delta_degF", "deltak": "delta_K",
    "m/s": "m s-1", "mps": "m s-1", "km/h": "km h-1", "kmh": "km h-1", "kph": "km h-1",
    "mi/h": "mph", "knot": "kn", "knots": "kn", "kt": "kn", "ft/s": "ft s-1",
    "w/m2": "W m-2", "wm-2": "W m-2", "kw/m2": "kW m-2",
    "mj/m2/h": "MJ m-2 h-1", "kj/m2/h": "kJ m-2 h-1",
    "mj/m2/d": "MJ m-2 d-1", "mj/m2/day": "MJ m-2 d-1", "mjm-2day-1": "MJ m-2 d-1",
    "kwh/m2/d": "kWh m-2 d-1", "kwh/m2/day": "kWh m-2 d-1", "langley/d": "cal cm-2 d-1",
    "ly/d": "cal cm-2 d-1", "ly/day": "cal cm-2 d-1", "langley": "cal cm-2", "ly": "cal cm-2",
    "mj/m2": "MJ m-2", "kj/m2": "kJ m-2", "j/m2": "J m-2", "j/cm2": "J cm-2",
    "wh/m2": "Wh m-2", "kwh/m2": "kWh m-2",
    "millimetre": "mm", "millimetres": "mm", "inch": "in", "inches": "in", '"': "in",
    "mm/h": "mm h-1", "in/h": "in h-1",
    "metre": "m", "metres": "m", "foot": "ft", "feet": "ft",
    "percent": "%", "pct": "%", "fraction": "1", "-": "1", "dimensionless": "1",
    "mb": "mbar", "millibar": "mbar", "hectopascal": "hPa", "inchesofmercury": "inHg",
    "pound": "lb", "pounds": "lb", "lbs": "lb", "ounce": "oz", "ounces": "oz", "gram": "g",
    "grams": "g", "kilogram": "kg", "tonne": "t", "hectare": "ha", "hectares": "ha",
    "acres": "acre", "ac": "acre", "m^2": "m2",
    "hour": "h", "hours": "h", "hr": "h", "day": "d", "days": "d", "minute": "min",
    "degch": "degC h", "degcd": "degC d", "degreedays": "degC d",
    "g/plant": "g plant-1", "kg/plant": "kg plant-1", "lb/plant": "lb plant-1",
    "plants/ha": "plants ha-1", "plants/acre": "plants acre-1", "plants/m2": "plants m-2",
    "degree": "deg", "degrees": "deg",
}  # fmt: skip


_SUPERSCRIPTS = str.maketrans({"²": "2", "¹": "1", "⁻": "-", "·": ""})


def _key(text: str) -> str:
    """Spelling without case, blanks, stars, dots and carets, so that variants meet."""
    plain = text.translate(_SUPERSCRIPTS)
    plain = plain.replace("**", "").replace("^", "").replace("*", "")
    return re.sub(r"[\s.()\[\]]+", "", plain).lower()


_BY_KEY: dict[str, str] = {_key(name): name for name in UNITS}
_BY_KEY |= {_key(spelling): name for spelling, name in _SPELLINGS.items()}
_SCALED = re.compile(r"^(?P<scale>\d+(?:\.\d+)?(?:[eE][+-]?\d+)?)\s*(?P<rest>[^\d\s].*)$")


def parse_unit(text: str) -> Unit:
    """Unit from its text; a leading number scales it ("0.1 degC" is tenths of a degree).

    Parameters
    ----------
    text : str
        Such as ``"degF"``, ``"W m-2"``, ``"W/m2"``, ``"MJ m-2 d-1"``, ``"0.1 mm"``.

    Returns
    -------
    Unit

    Raises
    ------
    InputError
        Where the unit is not known; the nearest known one is named.

    Examples
    --------
    >>> parse_unit("W/m²").name
    'W m-2'
    >>> parse_unit("tenths of degC") == parse_unit("0.1 degC")
    True
    """
    spelled = text.strip()
    known = _BY_KEY.get(_key(spelled))
    if known is not None and spelled:
        return UNITS[known]
    tenths = re.match(
        r"^(tenths?|hundredths?)\s*(?:of\s*)?(?:an?\s+)?(.*)$", spelled, re.IGNORECASE
    )
    if tenths:
        scale = "0.1" if tenths[1].lower().startswith("tenth") else "0.01"
        return parse_unit(f"{scale} {tenths[2]}")
    scaled = _SCALED.match(spelled)
    if scaled and _key(scaled["rest"]) in _BY_KEY and float(scaled["scale"]) > 0.0:
        unit = UNITS[_BY_KEY[_key(scaled["rest"])]]
        factor = float(scaled["scale"]) * unit.factor
        return Unit(f"{scaled['scale']} {unit.name}", unit.kind, factor, unit.offset)
    raise InputError(
        Fault(
            "unknown unit" if spelled else "no unit is stated",
            value=text,
            allowed=", ".join(UNITS),
            do=meant(spelled, UNITS, "state it as one of these"),
        )
    )


@overload
def convert(values: float, from_unit: str | Unit, to_unit: str | Unit) -> float: ...
@overload
def convert(
    values: NDArray[np.float64] | Sequence[float], from_unit: str | Unit, to_unit: str | Unit
) -> NDArray[np.float64]: ...
def convert(
    values: ArrayLike, from_unit: str | Unit, to_unit: str | Unit
) -> float | NDArray[np.float64]:
    """Values in another unit of the same kind.

    Parameters
    ----------
    values : float or array_like
        Any shape. [from_unit]
    from_unit, to_unit : str or Unit
        Units of one kind.

    Returns
    -------
    float or numpy.ndarray of float64
        A float where a float came in, else an array of the same shape. [to_unit]

    Raises
    ------
    InputError
        Where a unit is unknown or the two measure different things.

    Examples
    --------
    >>> convert(10.0, "mph", "m s-1")
    4.4704
    >>> convert([1.0, 2.0], "in", "mm").tolist()
    [25.4, 50.8]
    """
    source = parse_unit(from_unit) if isinstance(from_unit, str) else from_unit
    target = parse_unit(to_unit) if isinstance(to_unit, str) else to_unit
    if source.kind != target.kind:
        raise InputError(
            Fault(
                f"a {source.kind} cannot be turned into a {target.kind}",
                value=f"{source.name} -> {target.name}",
                allowed=", ".join(u.name for u in UNITS.values() if u.kind == target.kind),
            )
        )
    array = np.asarray(values, dtype=np.float64)
    if source == target:
        converted = array.copy()
    elif source.offset == target.offset:
        converted = array * (source.factor / target.factor)
    else:
        converted = (array * source.factor + (source.offset - target.offset)) / target.factor
    return float(converted) if np.ndim(values) == 0 else converted


def to_kept_digits(value: float) -> float | None:
    """Return the nearest number of `KEPT_DIGITS`, never minus zero; None where it is not finite.

    >>> to_kept_digits(12345678901.5), to_kept_digits(-0.0), to_kept_digits(float("inf"))
    (12345678900.0, 0.0, None)
    """
    return float(f"{value:.{KEPT_DIGITS}g}") + 0.0 if math.isfinite(value) else None
