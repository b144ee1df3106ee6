"""Degree-hours of an hourly (or finer) series."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from phenocast._typing import FloatArray
from phenocast.thermal_time._checks import require_positive
from phenocast.thermal_time.heat_rate import Cutoff, heat_rate


def degree_hours(
    t: ArrayLike,
    base: ArrayLike,
    upper: ArrayLike | None = None,
    cutoff: Cutoff = "none",
    *,
    step_h: float = 1.0,
) -> FloatArray:
    """Degree-hours of a series, summed over the last axis (time).

    Parameters
    ----------
    t : temperature of each step, shape ``[..., n]``. [degC]
    base, upper : lower and upper thresholds, broadcast against `t`. [degC]
    cutoff : "none", "horizontal", "intermediate" or "vertical" (see `heat_rate`).
    step_h : length of a step, more than 0. [h]

    Returns
    -------
    Degree-hours, shape ``[...]``. A missing temperature makes the sum NaN: it is never taken as 0.
    [degC h]

    Raises
    ------
    InputError : as `heat_rate`; a step that is not above 0.

    Examples
    --------
    >>> float(degree_hours([8.0, 12.0, 32.0], base=10.0, upper=30.0, cutoff="horizontal"))
    22.0
    """
    step = require_positive("step_h", step_h)
    return np.asarray(np.sum(heat_rate(t, base, upper, cutoff), axis=-1) * step)
