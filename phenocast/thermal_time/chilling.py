"""Chill hours: the count that ends a plant's winter rest."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from phenocast._typing import FloatArray
from phenocast.thermal_time._checks import (
    floats,
    require_positive,
    require_rising,
)

CHILL_LOW_C = 0.0
CHILL_HIGH_C = 7.2
"""Bounds of an hour that chills [degC]: 32 and 45 degF in the original, recalled from memory of
Weinberger (1950), Proc. Amer. Soc. Hort. Sci. 56:122-128. An hour at either bound counts."""


def chill_hours(
    t: ArrayLike,
    low_c: ArrayLike = CHILL_LOW_C,
    high_c: ArrayLike = CHILL_HIGH_C,
    *,
    step_h: float = 1.0,
) -> FloatArray:
    """Hours from `low_c` to `high_c`, both ends counted, summed over the last axis (time).

    Parameters
    ----------
    t : temperature of each step, shape ``[..., n]``. [degC]
    low_c, high_c : bounds of an hour that chills. [degC]
    step_h : length of a step, more than 0. [h]

    Returns
    -------
    Hours, shape ``[...]``; NaN where a temperature is missing. [h]

    Raises
    ------
    InputError : unless low < high; a step that is not above 0.

    Examples
    --------
    >>> float(chill_hours([-0.1, 0.0, 5.0, 7.2, 7.3]))
    3.0
    """
    require_rising(("low_c", "high_c"), (low_c, high_c), "chill hours")
    step = require_positive("step_h", step_h)
    t = floats(t)
    chills = (t >= floats(low_c)) & (t <= floats(high_c))
    return np.asarray(np.sum(np.where(np.isnan(t), np.nan, chills), axis=-1) * step)
