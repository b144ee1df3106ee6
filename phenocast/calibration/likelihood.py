"""How likely records are under a model: dates between visits, and shares of plants.

Every function returns one log-likelihood per record, so that a caller may add, weigh or leave out
records; none of them knows where the expectation came from.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy import special, stats

from phenocast.calibration._checks import FloatArray
from phenocast.errors import Fault, InputError


def interval_log_likelihood(
    lower: ArrayLike,
    upper: ArrayLike,
    location: ArrayLike,
    scale: ArrayLike,
    *,
    student_df: float | None = None,
) -> FloatArray:
    """Log-likelihood of events known to lie between two visits.

    Parameters
    ----------
    lower : last visit without the event; -inf where the first visit already saw it. [d]
    upper : first visit with the event; +inf where it was never seen; equal to `lower` where the
        moment itself is known (a density then, not a probability). [d]
    location : expected date, broadcast against the bounds. [d]
    scale : standard deviation of the normal, or scale of Student's t, above 0. [d]
    student_df : degrees of freedom of Student's t, above 0; None for the normal. Few of them (about
        4) let a wrong date count for less. [1]

    Returns
    -------
    Log-likelihoods, broadcast shape. [1; log per day where the moment is known]

    Raises
    ------
    InputError : a bound that is NaN or below its partner, an exact date that is infinite, a
        location that is not finite, a scale or degrees of freedom not above 0.

    Notes
    -----
    ``ln(F((upper - m)/s) - F((lower - m)/s))``, turned to the left tail and taken as a difference
    of logarithms, so that a date ten spreads away still has a finite value and a slope.
    Interval censoring: Zhang and Sun (2009), Stat. Methods Med. Res. 19:53-70.

    Examples
    --------
    >>> interval_log_likelihood([40.0, 40.0], [43.0, np.inf], 46.0, 2.7).round(4).tolist()
    [-2.1192, -0.0132]
    """
    low, high, middle, spread = np.broadcast_arrays(
        *(np.asarray(value, dtype=np.float64) for value in (lower, upper, location, scale))
    )
    _refuse(np.isnan(low) | np.isnan(high) | (high < low), "visits are missing or not in order",
            "lower, upper", (low, high), "lower <= upper [d]")  # fmt: skip
    exact = low == high
    _refuse(exact & np.isinf(low), "an exact date is infinite", "lower, upper", (low, high), "")
    _refuse(~np.isfinite(middle), "expected date is not finite", "location", (middle,), "")
    _refuse(~(np.isfinite(spread) & (spread > 0.0)), "scale is not above 0", "scale", (spread,),
            "> 0 [d]")  # fmt: skip
    _require_above_zero(student_df, "student_df")
    a, b = (low - middle) / spread, (high - middle) / spread
    # both bounds above the middle: look at them from the other side, where tails do not round to 1
    turned = a > 0.0
    left, right = np.where(turned, -b, a), np.where(turned, -a, b)
    log_left, log_right = _log_cdf(left, student_df), _log_cdf(right, student_df)
    with np.errstate(divide="ignore", invalid="ignore"):
        gap = np.where(np.isneginf(log_left), -np.inf, log_left - log_right)
        between = log_right + np.log(-np.expm1(gap))
    # an interval too narrow for a difference of two tails: density at its middle times its width
    narrow = ~exact & (~np.isfinite(between) | (gap > -1e-9))
    centre = np.where(np.isfinite(a) & np.isfinite(b), 0.5 * (a + b), 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        thin = _log_density(centre, student_df) + np.log(b - a)
    point = _log_density(centre, student_df) - np.log(spread)
    return np.asarray(np.where(exact, point, np.where(narrow, thin, between)))


def share_log_likelihood(
    flowering: ArrayLike, plants: ArrayLike, probability: ArrayLike
) -> FloatArray:
    """Log-likelihood of how many plants of a chamber came to flower (binomial).

    Parameters
    ----------
    flowering : plants that flowered, a whole number from 0 to `plants`. [1]
    plants : plants of the treatment, whole. [1]
    probability : expected share, 0 to 1. [1]

    Returns
    -------
    Log-probabilities, broadcast shape; -inf where the share says it cannot be. [1]

    Raises
    ------
    InputError : numbers that are not whole or out of range; a share outside 0 to 1.

    Examples
    --------
    >>> share_log_likelihood(7, 10, 0.6).round(4).tolist()
    -1.5372
    """
    k, n = np.broadcast_arrays(_not_negative(flowering, "flowering"),
                               _not_negative(plants, "plants"))  # fmt: skip
    p = _not_negative(probability, "probability")
    _refuse((k != np.floor(k)) | (n != np.floor(n)) | (k > n), "plants are not whole, or more "
            "flowered than there were", "flowering, plants", (k, n), "0 to plants")  # fmt: skip
    _refuse(p > 1.0, "share is above 1", "probability", (p,), "0 to 1")
    ways = special.gammaln(n + 1.0) - special.gammaln(k + 1.0) - special.gammaln(n - k + 1.0)
    return np.asarray(ways + special.xlogy(k, p) + special.xlog1py(n - k, -p))


def plants_of_percentage(percent: ArrayLike, plants: ArrayLike) -> FloatArray:
    """Whole plants behind a published percentage.

    Parameters
    ----------
    percent : percentage that flowered, 0 to 100. [%]
    plants : plants of the treatment, whole, 1 or more. [1]

    Returns
    -------
    Plants that flowered, whole. [1]

    Raises
    ------
    InputError : a percentage that no whole number of so many plants gives to the nearest percent.

    Examples
    --------
    >>> plants_of_percentage([83, 100], 12).tolist()
    [10.0, 12.0]
    """
    share, n = np.broadcast_arrays(_not_negative(percent, "percent"),
                                   _not_negative(plants, "plants"))  # fmt: skip
    _refuse((n < 1.0) | (n != np.floor(n)), "plants are not whole", "plants", (n,), "1, 2, 3, …")
    k = np.round(share * n / 100.0)
    off = (share > 100.0) | (np.abs(100.0 * k / n - share) > 0.5 + 1e-9)
    _refuse(off, "no whole number of plants gives this percentage", "percent, plants", (share, n),
            "within half a percent of a whole number of plants")  # fmt: skip
    return np.asarray(k)


def _log_cdf(z: FloatArray, student_df: float | None) -> FloatArray:
    if student_df is None:
        return np.asarray(special.log_ndtr(z))
    return np.asarray(stats.t.logcdf(z, student_df))


def _log_density(z: FloatArray, student_df: float | None) -> FloatArray:
    if student_df is None:
        return np.asarray(-0.5 * (z * z + np.log(2.0 * np.pi)))
    return np.asarray(stats.t.logpdf(z, student_df))


def _not_negative(values: ArrayLike, where: str) -> FloatArray:
    array = np.asarray(values, dtype=np.float64)
    _refuse(~(np.isfinite(array) & (array >= 0.0)), "missing, or below 0", where, (array,), ">= 0")
    return array


def _require_above_zero(value: float | None, where: str) -> None:
    if value is not None and not (np.isfinite(value) and value > 0.0):
        raise InputError(Fault("not above 0", where, value, "> 0"))


def _refuse(
    bad: FloatArray | np.ndarray[tuple[int, ...], np.dtype[np.bool_]],
    what: str,
    where: str,
    values: tuple[FloatArray, ...],
    allowed: str,
) -> None:
    if np.any(bad):
        at = tuple(int(i) for i in np.argwhere(bad)[0])
        shown = [float(value[at]) for value in values]
        place = f"{where}{list(at)}" if at else where
        raise InputError(Fault(what, place, shown if len(shown) > 1 else shown[0], allowed))
