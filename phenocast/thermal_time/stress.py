"""Heat stress of a series: how long, and by how much, a temperature stood above a cut-off."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from phenocast._typing import FloatArray
from phenocast.thermal_time._checks import floats, require_positive


def hours_above(t: ArrayLike, cutoff_c: ArrayLike, *, step_h: float = 1.0) -> FloatArray:
    """Hours above a cut-off (strictly), summed over the last axis (time).

    Parameters
    ----------
    t : temperature of each step, shape ``[..., n]``. [degC]
    cutoff_c : cut-off, broadcast against `t`. [degC]
    step_h : length of a step, more than 0. [h]

    Returns
    -------
    Hours, shape ``[...]``; NaN where a temperature is missing. [h]

    Raises
    ------
    InputError : a step that is not above 0.

    Examples
    --------
    >>> float(hours_above([29.0, 30.0, 30.5, 33.0], 30.0))
    2.0
    """
    step = require_positive("step_h", step_h)
    t = floats(t)
    above = np.where(np.isnan(t), np.nan, t > floats(cutoff_c))
    return np.asarray(np.sum(above, axis=-1) * step)


def degree_hours_above(t: ArrayLike, cutoff_c: ArrayLike, *, step_h: float = 1.0) -> FloatArray:
    """Degree-hours above a cut-off, summed over the last axis (time).

    Parameters
    ----------
    t : temperature of each step, shape ``[..., n]``. [degC]
    cutoff_c : cut-off, broadcast against `t`. [degC]
    step_h : length of a step, more than 0. [h]

    Returns
    -------
    Degree-hours, shape ``[...]``; NaN where a temperature is missing. [degC h]

    Raises
    ------
    InputError : a step that is not above 0.

    Examples
    --------
    >>> float(degree_hours_above([29.0, 30.0, 30.5, 33.0], 30.0))
    3.5
    """
    step = require_positive("step_h", step_h)
    excess = np.maximum(floats(t) - floats(cutoff_c), 0.0)
    return np.asarray(np.sum(excess, axis=-1) * step)
