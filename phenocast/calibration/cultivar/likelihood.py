"""How likely records are about what is expected: dates between visits, amounts, shares of plants.

For a search every record has its log-likelihood, the slope on the expected value and the
information (expected, so that it is never negative), from which the steps and the spread of the
fitted parameters follow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize, special, stats

from phenocast._typing import BoolArray, FloatArray, IntArray
from phenocast.calibration.cultivar.model import (
    DATES,
    FIRST_FLOWER,
    FIRST_PICKED,
    FRUIT,
    FRUIT_MASS,
    FRUIT_NUMBER,
    KINDS,
    MARKETABLE,
    OPEN_FLOWERS,
)
from phenocast.errors import Fault, InputError, refuse


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
    refuse(
        (
            value is not None and not (np.isfinite(value) and value > 0.0),
            Fault("not above 0", where, value, "> 0"),
        )
    )


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


# Where a search starts, and the centre of what is believed before records speak. Of amounts: a
# share of the expected value, a floor, and a grain (variance per expected unit: fruit are whole),
# in the unit of the record; of dates a standard deviation [d]. Judgement of this project; own
# assumption.
_START: dict[int, tuple[float, ...]] = {
    MARKETABLE: (0.25, 1.0, 0.2),
    FRUIT: (0.25, 1.0, 0.2),
    FRUIT_NUMBER: (0.25, 0.08, 0.01),
    FRUIT_MASS: (0.08, 0.5, 0.0),
    OPEN_FLOWERS: (0.3, 0.1, 0.02),
    FIRST_PICKED: (3.0,),
    FIRST_FLOWER: (3.0,),
}
# How firmly: standard deviation of the logarithm of a scatter about its middle.
_LOG_SD = 1.0
LEAST_TO_ESTIMATE = 8
"""Fewest records of a kind from which its own scatter is estimated."""


@dataclass(frozen=True)
class Scatter:
    """Scatter of each kind of record, and spread of what records of a season or a plot share.

    Parameters
    ----------
    by_kind : dict of int to tuple of float
        Of weights and numbers a share [1], a floor and a grain in the unit of the record: variance
        ``floor**2 + grain * m + (share * m)**2`` about an expected value m. Of dates the standard
        deviation [d].
    student_df : float or None
        Degrees of freedom of Student's t, which lets a wrong record count for less; None for the
        normal.
    season_shift : float
        Spread between seasons of what makes all blocks of a season late. [d]
    season_level, plot_level : float
        Spread of the logarithm of supply between seasons, and between blocks of a season. [1]
    alike : dict of str to float
        How alike the cultivars are in each number: correlation of their priors, 0 to under 1. [1]
    """

    by_kind: dict[int, tuple[float, ...]] = field(default_factory=lambda: dict(_START))
    student_df: float | None = None
    season_shift: float = 2.5
    season_level: float = 0.15
    plot_level: float = 0.10
    alike: dict[str, float] = field(default_factory=dict)

    def variance(self, what: int, mean: FloatArray) -> FloatArray:
        """Variance of weights or numbers of a kind about what is expected."""
        share, floor, grain = self.by_kind[what]
        return np.asarray(floor**2 + grain * mean + (share * mean) ** 2)

    def with_kind(self, what: int, values: Sequence[float]) -> Scatter:
        """Return the scatter with other numbers of one kind; a grain left out is 0."""
        padded = (*values, 0.0)[: len(_START[what])]
        return replace(self, by_kind={**self.by_kind, what: tuple(map(float, padded))})


@dataclass(frozen=True)
class Terms:
    """Log-likelihood, slope on the expected value and information of every record."""

    log_likelihood: FloatArray
    slope: FloatArray
    information: FloatArray


def record_terms(
    kind: IntArray, start: FloatArray, observed: FloatArray, expected: FloatArray, scatter: Scatter
) -> Terms:
    """Return the terms of every record.

    Parameters
    ----------
    kind : ``[records]``, as `phenocast.calibration.cultivar.model` numbers them.
    start : ``[records]``; of a date, the last visit that did not see it (-inf for none). [d]
    observed : ``[records]``; of a date, the first visit that saw it (inf for never). [d]
    expected : ``[records]``; NaN where a trial cannot say (mass of fruit that is not there).
    scatter : Scatter

    Examples
    --------
    >>> kind, start, picked = np.array([0]), np.zeros(1), np.array([12.0])
    >>> one = record_terms(kind, start, picked, np.array([10.0]), Scatter())
    >>> bool(one.slope[0] > 0.0), bool(one.information[0] > 0.0)
    (True, True)
    """
    log_l = np.zeros(len(kind))
    slope = np.zeros(len(kind))
    information = np.zeros(len(kind))
    for what in np.unique(kind):
        own = kind == what
        own &= np.isfinite(expected)
        if not own.any():
            continue
        if what in DATES:
            parts = _date_terms(
                start[own], observed[own], expected[own], scatter.by_kind[int(what)][0],
                scatter.student_df,
            )  # fmt: skip
        else:
            mean = np.maximum(expected[own], 0.0)
            parts = _weight_terms(observed[own], mean, scatter, int(what))
        log_l[own], slope[own], information[own] = parts
    return Terms(log_l, slope, information)


def _weight_terms(
    observed: FloatArray, mean: FloatArray, scatter: Scatter, what: int
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Terms of weights and numbers.

    Extended quasi-likelihood (Nelder and Pregibon 1987, Biometrika 74:221-232; recalled from
    memory): its slope ``(y - m) / V(m)`` is right on average for every distribution with this mean,
    while that of a normal density would be led astray where few fruit make the scatter lopsided.
    """
    variance, df = scatter.variance(what, mean), scatter.student_df
    share_of_mean, floor, grain = scatter.by_kind[what]
    if df is not None:
        scale = np.sqrt(variance)
        z = (observed - mean) / scale
        log_l = (
            special.gammaln((df + 1.0) / 2.0) - special.gammaln(df / 2.0)
            - 0.5 * np.log(df * np.pi) - (df + 1.0) / 2.0 * np.log1p(z * z / df) - np.log(scale)
        )  # fmt: skip
        pull = (df + 1.0) * z / (df + z * z)
        # d ln(scale) / d mean
        growth = (0.5 * grain + share_of_mean**2 * mean) / variance
        slope = pull / scale + (pull * z - 1.0) * growth
        share = (df + 1.0) / (df + 3.0), 2.0 * df / (df + 3.0)
        return log_l, slope, share[0] / variance + share[1] * growth**2
    of_observed = scatter.variance(what, observed)
    a, b, c = floor**2, grain, share_of_mean**2
    turn = _inverse_quadratic(mean, a, b, c) - _inverse_quadratic(observed, a, b, c)
    log_l = (
        (observed + b / (2.0 * c)) * turn
        - np.log(variance / of_observed) / (2.0 * c)
        - 0.5 * np.log(2.0 * np.pi * of_observed)
    )
    return log_l, (observed - mean) / variance, 1.0 / variance


def _inverse_quadratic(t: FloatArray, a: float, b: float, c: float) -> FloatArray:
    """Integral of ``1 / (a + b t + c t**2)`` up to a constant; a and c above 0, b and t from 0."""
    bend = 4.0 * a * c - b * b
    if bend > 1e-12 * (b * b + 4.0 * a * c):
        root = np.sqrt(bend)
        return np.asarray(2.0 / root * np.arctan((2.0 * c * t + b) / root))
    if bend < -1e-12 * (b * b + 4.0 * a * c):
        root = np.sqrt(-bend)
        return np.asarray(np.log((2.0 * c * t + b - root) / (2.0 * c * t + b + root)) / root)
    return np.asarray(-2.0 / (2.0 * c * t + b))


def _date_terms(
    lower: FloatArray, upper: FloatArray, mean: FloatArray, sd: float, df: float | None
) -> tuple[FloatArray, FloatArray, FloatArray]:
    step = 0.02 * sd
    low, mid, high = (
        interval_log_likelihood(lower, upper, mean + d, sd, student_df=df)
        for d in (-step, 0.0, step)
    )
    curve = -(high - 2.0 * mid + low) / step**2
    return mid, (high - low) / (2.0 * step), np.clip(curve, 1e-4 / sd**2, 2.0 / sd**2)


def estimated_scatter(
    kind: IntArray,
    start: FloatArray,
    observed: FloatArray,
    expected: FloatArray,
    scatter: Scatter,
    freedom: float,
) -> Scatter:
    """Return the scatter that makes records likeliest about what is expected.

    Parameters
    ----------
    kind, start, observed, expected, scatter : as in `record_terms`.
    freedom : share of the records that the fitted numbers leave free, 0 to 1: a fit follows its
        own noise, and the scatter is widened for it by the square root of this. [1]

    Notes
    -----
    A scatter is drawn to where the search began by a normal in its logarithm, so that a kind with
    few records keeps a sensible one. Weights are judged by squared errors over variance, which is
    right for any distribution.
    """
    estimated, wider = scatter, 1.0 / np.sqrt(np.clip(freedom, 0.2, 1.0))
    for what in np.unique(kind):
        own = (kind == what) & np.isfinite(expected)
        if own.sum() < LEAST_TO_ESTIMATE:
            continue
        what = int(what)
        start_of = _START[what]
        middle = np.array(start_of if start_of[-1] > 0.0 else start_of[:-1])

        def cost(
            logs: FloatArray, what: int = what, own: BoolArray = own, middle: FloatArray = middle
        ) -> float:
            trial = scatter.with_kind(what, np.exp(logs).tolist())
            if what in DATES or trial.student_df is not None:
                terms = record_terms(kind[own], start[own], observed[own], expected[own], trial)
                fits = float(terms.log_likelihood.sum())
            else:
                mean = np.maximum(expected[own], 0.0)
                variance = trial.variance(what, mean)
                fits = -0.5 * float(np.sum((observed[own] - mean) ** 2 / variance
                                           + np.log(variance)))  # fmt: skip
            held = 0.5 * float(np.sum(((logs - np.log(middle)) / _LOG_SD) ** 2))
            return held - fits

        begin = np.log(scatter.by_kind[what][: middle.size])
        found = np.exp(
            optimize.minimize(
                cost, begin, method="Nelder-Mead",
                options={"xatol": 1e-3, "fatol": 1e-3, "maxiter": 400},
            ).x
        ) * wider  # fmt: skip
        if what in DATES:
            found = np.clip(found, 0.3, 60.0)
        else:
            found[2:] *= wider  # the grain is a variance: it widens by the square
            found = np.clip(
                found,
                np.array([0.01, 0.2, 1e-3])[: found.size] * [1.0, *middle[1:]],
                np.array([3.0, 50.0 * middle[1], 1e3])[: found.size],
            )
        estimated = estimated.with_kind(what, found.tolist())
    return estimated


def scatter_words(scatter: Scatter, kinds: IntArray) -> dict[str, dict[str, float]]:
    """Return the scatter of the kinds that were recorded, by name, for a document."""
    return {
        KINDS[what]: dict(
            zip(
                ("sd_d",) if what in DATES else ("relative", "floor", "grain"),
                scatter.by_kind[what],
                strict=True,
            )
        )
        for what in (int(one) for one in np.unique(kinds))
    }
