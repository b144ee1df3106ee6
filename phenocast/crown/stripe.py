"""Striped film: how far the stripe reaches into the soil between two shoulders."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Values = float | NDArray[np.float64]


def stripe_weight(width_m: Values, depth_m: Values, offset_m: Values = 0.0) -> NDArray[np.float64]:
    """Weight of the stripe in the soil temperature at a depth, the rest being the shoulders'.

    Parameters
    ----------
    width_m : float or array of float64
        Width of the stripe. [m]
    depth_m : float or array of float64
        Depth under the surface, above 0. [m]
    offset_m : float or array of float64
        Distance from the centre line of the stripe. [m]

    Returns
    -------
    array of float64, the broadcast shape
        Weight, 0 to 1: [atan((a - y)/z) + atan((a + y)/z)] / pi with a half the width. [-]

    Notes
    -----
    Exact steady solution for a half-space whose surface has one temperature on a strip and
    another beside it; Carslaw and Jaeger (1959) type. On the centre line (2/pi) atan(a/z).

    Examples
    --------
    >>> round(float(stripe_weight(0.30, 0.10)), 3)
    0.626
    """
    half = np.asarray(width_m, dtype=np.float64) / 2.0
    depth = np.asarray(depth_m, dtype=np.float64)
    offset = np.asarray(offset_m, dtype=np.float64)
    return np.asarray(
        (np.arctan((half - offset) / depth) + np.arctan((half + offset) / depth)) / np.pi,
        dtype=np.float64,
    )


def mixing_weight(
    width_m: Values, depth_m: Values, offset_m: Values, lateral_extra: Values
) -> NDArray[np.float64]:
    """Weight of the stripe for weather that changes by the hour.

    The daily wave has less time than the steady state to spread sideways, so the stripe keeps
    more of its own temperature: the steady weight plus a lateral extra, which fades as the steady
    weight fades, so that a stripe of no width still has no weight.

    Parameters
    ----------
    width_m, depth_m, offset_m : float or array of float64
        As in `stripe_weight`. [m]
    lateral_extra : float or array of float64
        Weight added where the stripe is wide. [-]

    Returns
    -------
    array of float64
        Weight, 0 to 1. [-]

    Examples
    --------
    >>> float(mixing_weight(0.0, 0.10, 0.0, 0.1))
    0.0
    >>> round(float(mixing_weight(0.30, 0.10, 0.0, 0.1)), 3)
    0.726
    """
    steady = stripe_weight(width_m, depth_m, offset_m)
    # Under a tenth the extra shrinks with the steady weight, so the limit Ws -> 0 holds.
    extra = np.asarray(lateral_extra, dtype=np.float64) * np.minimum(1.0, steady / 0.1)
    return np.minimum(1.0, steady + extra)
