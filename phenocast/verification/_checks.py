"""Refusals that the scores share."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from phenocast.errors import Fault, InputError

FloatArray = NDArray[np.float64]


def floats(values: ArrayLike) -> FloatArray:
    """Values as a float64 array."""
    return np.asarray(values, dtype=np.float64)


def require(ok: ArrayLike, what: str, *, where: str, allowed: str, value: object = None) -> None:
    """Raise InputError unless every element of `ok` is true."""
    if not bool(np.all(ok)):
        raise InputError(Fault(what=what, where=where, value=value, allowed=allowed))


def require_level(name: str, level: ArrayLike) -> FloatArray:
    """Levels as floats, refused unless strictly between 0 and 1."""
    levels = floats(level)
    require(
        (levels > 0.0) & (levels < 1.0),
        f"{name} is not between 0 and 1",
        where=name,
        allowed="more than 0, less than 1",
        value=levels.tolist(),
    )
    return levels
