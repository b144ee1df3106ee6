"""Photoperiod response of flower initiation, and the share of plants that have been induced.

The induction increment of a day is the temperature response of the crown (see
`phenocast.thermal_time.responses.wang_engel`) times one of the photoperiod responses below; the
plants of a block are induced when the sum of increments passes their requirement, in days at the
optimum.

The forms are this project's own. They were chosen to meet the growth-chamber tables of Heide (1977)
for short-day types (the critical photoperiod falls as the crown warms) and the published pattern of
day-neutral types: neutral when cool, promoted by long days at middle temperatures, long days
obligatory when hot (Sonsteby and Heide 2009; Nishiyama and Kanahama 2002). The fit and its
residuals are kept in `calibration/fits/induction_fit.md`.

All functions work on arrays that broadcast together, and pass NaN through.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from phenocast._typing import FloatArray
from phenocast.errors import Fault, InputError

REFERENCE_CROWN_C = 18.0
"""Crown temperature at which a critical photoperiod is stated [degC]: a convention."""

COOLEST_CHAMBER_C = 9.0
WARMEST_CHAMBER_C = 24.0
"""Range of the chambers that show the critical photoperiod moving with temperature [degC]. Outside
it the critical photoperiod keeps its value at the edge: no measurement says where it goes."""


def critical_photoperiod(
    tm: ArrayLike, critical_18_h: ArrayLike, slope_h_per_c: ArrayLike
) -> FloatArray:
    """Photoperiod at which a short-day type is half induced, at a mean crown temperature.

    Parameters
    ----------
    tm : mean crown temperature of the day, any shape. [degC]
    critical_18_h : critical photoperiod at 18 degC. [h]
    slope_h_per_c : fall of the critical photoperiod per degree of warming. [h degC-1]

    Returns
    -------
    Critical photoperiod, broadcast shape. [h]

    Examples
    --------
    >>> critical_photoperiod([12.0, 18.0, 30.0], 13.0, 0.5).tolist()
    [16.0, 13.0, 10.0]
    """
    clipped = np.clip(np.asarray(tm, dtype=np.float64), COOLEST_CHAMBER_C, WARMEST_CHAMBER_C)
    return np.asarray(critical_18_h, dtype=np.float64) - np.asarray(
        slope_h_per_c, dtype=np.float64
    ) * (clipped - REFERENCE_CROWN_C)


def photoperiod_response_short_day(
    p: ArrayLike,
    tm: ArrayLike,
    critical_18_h: ArrayLike,
    slope_h_per_c: ArrayLike,
    width_h: ArrayLike,
) -> FloatArray:
    """Photoperiod response of a short-day type: 1 in short days, 0 in long, 0.5 at the critical.

    Parameters
    ----------
    p : photoperiod that the plant feels, any shape. [h]
    tm : mean crown temperature of the day. [degC]
    critical_18_h : critical photoperiod at 18 degC. [h]
    slope_h_per_c : fall of the critical photoperiod per degree of warming. [h degC-1]
    width_h : width of the transition (logistic scale), more than 0. [h]

    Returns
    -------
    Response from 0 to 1, broadcast shape: ``1 / (1 + exp((p - Pc) / width))`` with
    ``Pc = critical_18 - slope * (clip(tm, 9, 24) - 18)``. [1]

    Raises
    ------
    InputError : a width that is not above 0.

    Examples
    --------
    >>> photoperiod_response_short_day([10.0, 13.0, 16.0], 18.0, 13.0, 0.5, 0.4).round(3).tolist()
    [0.999, 0.5, 0.001]
    """
    from scipy.special import expit  # slow to load, and only fits and reports come here

    width = _positive(width_h, "width_h")
    critical = critical_photoperiod(tm, critical_18_h, slope_h_per_c)
    return np.asarray(expit((critical - np.asarray(p, dtype=np.float64)) / width))


def long_day_dependence(
    tm: ArrayLike,
    neutral_c: float,
    plateau_from_c: float,
    plateau_to_c: float,
    obligate_c: float,
    plateau_strength: float,
) -> FloatArray:
    """How far a day-neutral type depends on long days at a mean crown temperature.

    Parameters
    ----------
    tm : mean crown temperature of the day, any shape. [degC]
    neutral_c : at and below this it is neutral (dependence 0). [degC]
    plateau_from_c, plateau_to_c : between these the dependence is `plateau_strength`. [degC]
    obligate_c : at and above this long days are obligatory (dependence 1). [degC]
    plateau_strength : dependence on the plateau, 0 to 1. [1]

    Returns
    -------
    Dependence from 0 to 1, linear between the four temperatures. [1]

    Raises
    ------
    InputError : temperatures out of order, or a strength outside 0 to 1.

    Examples
    --------
    >>> long_day_dependence([5.0, 12.0, 20.0, 30.0], 9.0, 15.0, 23.0, 28.0, 0.5).tolist()
    [0.0, 0.25, 0.5, 1.0]
    """
    knots = (neutral_c, plateau_from_c, plateau_to_c, obligate_c)
    if not all(low < high for low, high in pairwise(knots)):
        raise InputError(
            Fault(
                what="temperatures of the long-day dependence are out of order",
                value=knots,
                allowed="neutral < plateau from < plateau to < obligate",
                do="give them in rising order",
            )
        )
    if not 0.0 <= plateau_strength <= 1.0:
        raise InputError(
            Fault(
                what="strength of the long-day dependence is outside its range",
                where="plateau_strength",
                value=plateau_strength,
                allowed="0 to 1",
                do="give a share from 0 to 1",
            )
        )
    heights = [0.0, plateau_strength, plateau_strength, 1.0]
    return np.asarray(np.interp(np.asarray(tm, dtype=np.float64), knots, heights))


def photoperiod_response_long_day_promoted(
    p: ArrayLike,
    tm: ArrayLike,
    critical_h: ArrayLike,
    width_h: ArrayLike,
    neutral_c: float,
    plateau_from_c: float,
    plateau_to_c: float,
    obligate_c: float,
    plateau_strength: float,
) -> FloatArray:
    """Photoperiod response of a day-neutral type: long days promote it, the more the warmer it is.

    Parameters
    ----------
    p : photoperiod that the plant feels, any shape. [h]
    tm : mean crown temperature of the day. [degC]
    critical_h : photoperiod at the middle of the transition. [h]
    width_h : width of the transition (logistic scale), more than 0. [h]
    neutral_c, plateau_from_c, plateau_to_c, obligate_c, plateau_strength :
        see `long_day_dependence`.

    Returns
    -------
    Response from 0 to 1, broadcast shape. [1]
    ``1 - k(tm) * (1 - 1 / (1 + exp(-(p - Pc) / width)))`` with k the `long_day_dependence`.

    Raises
    ------
    InputError : a width that is not above 0; temperatures out of order; a strength outside 0 to 1.

    Examples
    --------
    >>> knots = (9.0, 15.0, 23.0, 28.0, 0.5)
    >>> crown = [8.0, 20.0, 30.0]
    >>> response = photoperiod_response_long_day_promoted(10.0, crown, 13.5, 0.35, *knots)
    >>> response.round(3).tolist()
    [1.0, 0.5, 0.0]
    """
    from scipy.special import expit

    width = _positive(width_h, "width_h")
    dependence = long_day_dependence(
        tm, neutral_c, plateau_from_c, plateau_to_c, obligate_c, plateau_strength
    )
    shortfall = expit((np.asarray(critical_h, dtype=np.float64) - np.asarray(p, float)) / width)
    return np.asarray(1.0 - dependence * shortfall)


def share_induced(
    induction_sum: ArrayLike, requirement: ArrayLike, relative_spread: ArrayLike
) -> FloatArray:
    """Share of plants that have been induced, when requirements differ between plants as a normal.

    Parameters
    ----------
    induction_sum : sum of the daily increments so far, any shape. [days at the optimum]
    requirement : mean requirement of the plants, more than 0. [days at the optimum]
    relative_spread : standard deviation between plants over the requirement, more than 0. [1]

    Returns
    -------
    Share from 0 to 1, broadcast shape: ``Phi((sum - requirement) / (spread * requirement))``. [1]

    Raises
    ------
    InputError : a requirement or a spread that is not above 0.

    Examples
    --------
    >>> share_induced([8.0, 16.0, 24.0], 16.0, 0.3).round(3).tolist()
    [0.048, 0.5, 0.952]
    """
    from scipy.special import ndtr

    mean = _positive(requirement, "requirement")
    spread = _positive(relative_spread, "relative_spread")
    total = np.asarray(induction_sum, dtype=np.float64)
    return np.asarray(ndtr((total - mean) / (spread * mean)))


def _positive(value: ArrayLike, name: str) -> FloatArray:
    array = np.asarray(value, dtype=np.float64)
    if np.any(array <= 0.0):
        raise InputError(
            Fault(
                what=f"{name} is not above 0",
                where=name,
                value=float(np.min(array)),
                allowed="> 0",
                do="give a positive number",
            )
        )
    return array
