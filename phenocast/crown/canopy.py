"""The canopy that grows over the bed: cover from warmth, or from what the grower measured."""

from __future__ import annotations

import numpy as np

from phenocast._typing import FloatArray
from phenocast.errors import Fault, InputError, broken


def canopy_degree_days(
    air_c: FloatArray,
    *,
    base_c: float,
    ceiling_c: float,
    delay_h: int,
) -> FloatArray:
    """Warmth that the canopy has grown on since planting.

    Parameters
    ----------
    air_c : array of float64, shape [n]
        Hourly air temperature from the hour of planting on. [degC]
    base_c : float
        Temperature under which leaves do not grow. [degC]
    ceiling_c : float
        Temperature above which more warmth adds nothing. [degC]
    delay_h : int
        Hours after planting in which the plant roots and does not grow. [h]

    Returns
    -------
    array of float64, shape [n]
        Degree-days to the end of each hour. [degC d]

    Examples
    --------
    >>> canopy_degree_days(np.full(48, 15.0), base_c=5.0, ceiling_c=26.0, delay_h=24)[-1].round(6)
    np.float64(10.0)
    """
    warm = np.clip(np.asarray(air_c, dtype=np.float64), base_c, ceiling_c) - base_c
    warm[:delay_h] = 0.0
    return np.asarray(np.cumsum(warm) / 24.0, dtype=np.float64)


def canopy_cover(
    degree_days_above_5c: FloatArray,
    *,
    initial: float,
    maximum: float,
    midpoint_degree_days: float,
    scale_degree_days: float,
) -> FloatArray:
    """Share of the bed top that leaves cover, logistic in degree-days.

    Parameters
    ----------
    degree_days_above_5c : array of float64, any shape
        Warmth since planting, `canopy_degree_days`. [degC d]
    initial, maximum : float
        Cover at planting and of the grown canopy. [-]
    midpoint_degree_days, scale_degree_days : float
        Warmth at which half the growth is done, and the width of the rise. [degC d]

    Returns
    -------
    array of float64, same shape
        Cover, initial to maximum; exactly the initial cover at 0 degree-days. [-]

    Notes
    -----
    The logistic form and its numbers are assumptions (calibration/films.toml, `bed.canopy_*`).
    It depends on air and not on film: canopies under different films grow alike.

    Examples
    --------
    >>> canopy_cover(np.array([0.0, 850.0, 5000.0]), initial=0.05, maximum=0.7,
    ...              midpoint_degree_days=850.0, scale_degree_days=140.0).round(3)
    array([0.05 , 0.374, 0.7  ])
    """
    warmth = np.asarray(degree_days_above_5c, dtype=np.float64)
    rise = 1.0 / (1.0 + np.exp(-(warmth - midpoint_degree_days) / scale_degree_days))
    start = 1.0 / (1.0 + np.exp(midpoint_degree_days / scale_degree_days))
    share = (rise - start) / (1.0 - start)
    return np.asarray(initial + (maximum - initial) * share, dtype=np.float64)


def measured_cover(
    hours: FloatArray,
    measured_hours: FloatArray,
    measured_share: FloatArray,
) -> FloatArray:
    """Cover of each hour from a grower's own readings, straight lines between them.

    Parameters
    ----------
    hours : array of float64, shape [n]
        Hours since planting at which cover is wanted. [h]
    measured_hours : array of float64, shape [m]
        Hours since planting of the readings, rising. [h]
    measured_share : array of float64, shape [m]
        Cover read, 0 to 1. [-]

    Returns
    -------
    array of float64, shape [n]
        Cover; before the first and after the last reading it stays at that reading. [-]

    Raises
    ------
    InputError
        Readings that are not in order of time, or outside 0 to 1.

    Examples
    --------
    >>> measured_cover(np.array([0.0, 12.0, 24.0]), np.array([0.0, 24.0]), np.array([0.1, 0.2]))
    array([0.1 , 0.15, 0.2 ])
    """
    at = np.asarray(measured_hours, dtype=np.float64)
    share = np.asarray(measured_share, dtype=np.float64)
    bad = share[~((share >= 0.0) & (share <= 1.0))]
    faults = broken(
        (
            at.size == 0 or at.shape != share.shape,
            Fault("canopy readings need one cover for each time", value=at.size),
        ),
        (
            np.any(np.diff(at) <= 0.0),
            Fault("canopy readings are not in order of time", do="sort them by date"),
        ),
        (
            bad.size,
            Fault(
                "canopy cover out of range",
                value=next(iter(bad.tolist()), None),
                allowed="0 to 1 of the bed top",
            ),
        ),
    )
    if faults:
        raise InputError(faults)
    return np.asarray(np.interp(hours, at, share), dtype=np.float64)
