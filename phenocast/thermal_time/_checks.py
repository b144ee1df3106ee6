"""Refusals that the thermal-time functions share."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from phenocast._typing import FloatArray
from phenocast.errors import Fault, InputError


def floats(values: ArrayLike) -> FloatArray:
    """Values as a float64 array (a view where they are one already)."""
    return np.asarray(values, dtype=np.float64)


def require_rising(names: Sequence[str], values: Sequence[ArrayLike], what: str) -> None:
    """Refuse cardinal temperatures that do not rise; equal neighbours and NaN are refused too."""
    arrays = [floats(value) for value in values]
    for low_name, high_name, low, high in zip(
        names[:-1], names[1:], arrays[:-1], arrays[1:], strict=True
    ):
        if not bool(np.all(low < high)):
            raise InputError(
                Fault(
                    what=f"{what}: {low_name} is not below {high_name}",
                    where=low_name,
                    value=(low.tolist(), high.tolist()),
                    allowed=" < ".join(names) + " [degC]",
                    do="give the temperatures in rising order",
                )
            )


def require_choice(name: str, value: str, known: Sequence[str]) -> None:
    """Refuse a word that is not one of the known ones."""
    if value not in known:
        raise InputError(
            Fault(
                what=f"unknown {name}",
                where=name,
                value=value,
                allowed=", ".join(known),
                do="use one of the names listed",
            )
        )


def require_positive(name: str, value: ArrayLike) -> FloatArray:
    """Values as floats, refused unless every one is above 0."""
    array = floats(value)
    if not bool(np.all(array > 0.0)):
        raise InputError(
            Fault(
                what=f"{name} is not above 0",
                where=name,
                value=array.tolist(),
                allowed="> 0",
                do="give a positive number",
            )
        )
    return array
