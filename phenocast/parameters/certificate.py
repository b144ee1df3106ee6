"""One number with its birth certificate: value, unit, bounds, spread, basis and source."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

from phenocast.errors import Fault, InputError

BASES = ("measured", "fitted", "assumed")
_NUMBERS = ("value", "lower", "upper", "sd")


@dataclass(frozen=True)
class Parameter:
    """A number of the model, and where it comes from.

    Parameters
    ----------
    value : float
        The value, in ``unit``.
    unit : str
        Unit; "1" where there is none.
    lower, upper : float
        Bounds within which the number is believed to lie, in ``unit``.
    sd : float
        Standard deviation of what is not known about it, in ``unit``; 0 where it is held fixed.
    basis : str
        "measured", "fitted" or "assumed".
    conditions : str
        For which conditions the number holds.
    source : str
        Key of the source in ``calibration/references.toml``.
    where : str
        Where in the source.
    read : bool
        Whether the source itself was read; False where the number was recalled from memory.

    Raises
    ------
    InputError
        When the bounds, the spread or the basis make no sense.

    Examples
    --------
    >>> p = Parameter(0.66, "1", 0.4, 0.78, 0.09, "assumed", "new film", "ham1993", "p. 1", False)
    >>> p.value
    0.66
    """

    value: float
    unit: str
    lower: float
    upper: float
    sd: float
    basis: str
    conditions: str
    source: str
    where: str
    read: bool

    def __post_init__(self) -> None:
        faults = [
            Fault(f"{name} is not a finite number", value=getattr(self, name))
            for name in _NUMBERS
            if not math.isfinite(getattr(self, name))
        ]
        if not faults and not self.lower <= self.value <= self.upper:
            faults.append(
                Fault(
                    "the value lies outside its bounds",
                    value=self.value,
                    allowed=f"{self.lower} to {self.upper} {self.unit}",
                )
            )
        if self.sd < 0.0:
            faults.append(Fault("a spread cannot be negative", value=self.sd, allowed="0 or more"))
        if self.basis not in BASES:
            faults.append(Fault("unknown basis", value=self.basis, allowed=", ".join(BASES)))
        if faults:
            raise InputError(faults)

    def to_dict(self) -> dict[str, Any]:
        """Return the certificate as a plain mapping, in the order of the file.

        Examples
        --------
        >>> p = Parameter(1.0, "1", 0.0, 2.0, 0.1, "fitted", "", "own", "", True)
        >>> list(p.to_dict())[:3]
        ['value', 'unit', 'lower']
        """
        return {f.name: getattr(self, f.name) for f in fields(self)}

    def with_value(self, value: float) -> Parameter:
        """Return the same certificate with another value, its bounds widened to hold it.

        Examples
        --------
        >>> Parameter(1.0, "1", 0.0, 2.0, 0.1, "fitted", "", "own", "", True).with_value(3.0).upper
        3.0
        """
        return replace(
            self, value=value, lower=min(self.lower, value), upper=max(self.upper, value)
        )


_FIELDS = tuple(f.name for f in fields(Parameter))
_TEXTS = ("unit", "basis", "conditions", "source", "where")


def parameter_from_mapping(entry: Mapping[str, Any], where: str) -> Parameter:
    """Return a parameter from a table of a file.

    Parameters
    ----------
    entry : mapping
        The table, with every field of `Parameter` and no other key.
    where : str
        Path of the table, for the message.

    Returns
    -------
    Parameter

    Raises
    ------
    InputError
        With every fault of the entry: a field that is missing, unknown or of the wrong type.

    Examples
    --------
    >>> parameter_from_mapping({"value": 1.0}, "film.black.solar_reflectance")
    Traceback (most recent call last):
    phenocast.errors.InputError: film.black.solar_reflectance: the birth certificate lacks unit...
    """
    faults = []
    missing = [name for name in _FIELDS if name not in entry]
    unknown = [name for name in entry if name not in _FIELDS]
    if missing:
        faults.append(
            Fault(
                f"the birth certificate lacks {', '.join(missing)}",
                where=where,
                do="state it; see DEVELOPERS.md",
            )
        )
    if unknown:
        faults.append(
            Fault(
                "unknown field in a birth certificate",
                where=where,
                value=", ".join(unknown),
                allowed=", ".join(_FIELDS),
            )
        )
    for name in _NUMBERS:
        number = entry.get(name)
        if name in entry and (isinstance(number, bool) or not isinstance(number, int | float)):
            faults.append(Fault(f"{name} is not a number", where=where, value=number))
    faults += [
        Fault(f"{name} is not a text", where=where, value=entry[name])
        for name in _TEXTS
        if not isinstance(entry.get(name, ""), str)
    ]
    if not isinstance(entry.get("read", True), bool):
        faults.append(Fault("read is not true or false", where=where, value=entry["read"]))
    if faults:
        raise InputError(faults)
    numbers = {name: float(entry[name]) for name in _NUMBERS}
    texts = {name: entry[name] for name in _FIELDS if name not in _NUMBERS}
    try:
        return Parameter(**{**texts, **numbers})
    except InputError as told:
        raise InputError(
            [Fault(f.what, where=where, value=f.value, allowed=f.allowed) for f in told.faults]
        ) from None
