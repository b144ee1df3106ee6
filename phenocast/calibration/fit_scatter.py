"""How records scatter about what is expected, and what that makes of a fit: score and information.

Every record has an expected value. These functions return, for each, the log-likelihood, its slope
on the expected value and the information (expected, so that it is never negative), from which a
search takes its steps and the spread of the fitted numbers follows.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, special

from phenocast.calibration.fit_kernel import (
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
from phenocast.calibration.likelihood import interval_log_likelihood

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# Where a search starts, and the middle of what is believed before records speak: a share of the
# expected value and a floor, in the unit of the record. Judgement of this project; own assumption.
_RELATIVE = {MARKETABLE: 0.25, FRUIT: 0.25, FRUIT_NUMBER: 0.25, FRUIT_MASS: 0.08, OPEN_FLOWERS: 0.3}
_FLOOR = {MARKETABLE: 1.0, FRUIT: 1.0, FRUIT_NUMBER: 0.08, FRUIT_MASS: 0.5, OPEN_FLOWERS: 0.1}
_DATE_SD = {FIRST_PICKED: 3.0, FIRST_FLOWER: 3.0}
# How firmly: standard deviation of the logarithm of a scatter about its middle.
_LOG_SD = 1.0
LEAST_TO_ESTIMATE = 8
"""Fewest records of a kind from which its own scatter is estimated."""


@dataclass(frozen=True)
class Scatter:
    """Scatter of each kind of record, and spread of what records of a season or a plot share.

    Parameters
    ----------
    relative, floor : dict of int to float
        Standard deviation as a share of the expected value [1], and where nothing is expected, in
        the unit of the record.
    date_sd : dict of int to float
        Of the dates of first pick and first flower. [d]
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

    relative: dict[int, float] = field(default_factory=lambda: dict(_RELATIVE))
    floor: dict[int, float] = field(default_factory=lambda: dict(_FLOOR))
    date_sd: dict[int, float] = field(default_factory=lambda: dict(_DATE_SD))
    student_df: float | None = None
    season_shift: float = 2.5
    season_level: float = 0.15
    plot_level: float = 0.10
    alike: dict[str, float] = field(default_factory=dict)


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
    kind : ``[records]``, as `phenocast.calibration.fit_kernel` numbers them.
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
                start[own], observed[own], expected[own], scatter.date_sd[int(what)],
                scatter.student_df,
            )  # fmt: skip
        else:
            parts = _weight_terms(
                observed[own], np.maximum(expected[own], 0.0), scatter.relative[int(what)],
                scatter.floor[int(what)], scatter.student_df,
            )  # fmt: skip
        log_l[own], slope[own], information[own] = parts
    return Terms(log_l, slope, information)


def _weight_terms(
    observed: FloatArray, mean: FloatArray, relative: float, floor: float, df: float | None
) -> tuple[FloatArray, FloatArray, FloatArray]:
    variance = floor**2 + (relative * mean) ** 2
    scale = np.sqrt(variance)
    z = (observed - mean) / scale
    growth = relative**2 * mean / variance  # d ln(scale) / d mean
    if df is None:
        log_l = -0.5 * (z * z + np.log(2.0 * np.pi)) - np.log(scale)
        pull = z
        found, of_scale = 1.0, 2.0
        grip = z * z
    else:
        log_l = (
            special.gammaln((df + 1.0) / 2.0) - special.gammaln(df / 2.0)
            - 0.5 * np.log(df * np.pi) - (df + 1.0) / 2.0 * np.log1p(z * z / df) - np.log(scale)
        )  # fmt: skip
        pull = (df + 1.0) * z / (df + z * z)
        found, of_scale = (df + 1.0) / (df + 3.0), 2.0 * df / (df + 3.0)
        grip = pull * z
    slope = pull / scale + (grip - 1.0) * growth
    return log_l, slope, found / variance + of_scale * growth**2


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
    few records keeps a sensible one.
    """
    relative, floor, date_sd = dict(scatter.relative), dict(scatter.floor), dict(scatter.date_sd)
    wider = 1.0 / np.sqrt(np.clip(freedom, 0.2, 1.0))
    for what in np.unique(kind):
        own = (kind == what) & np.isfinite(expected)
        if own.sum() < LEAST_TO_ESTIMATE:
            continue
        what = int(what)

        def cost(logs: FloatArray, what: int = what, own: NDArray[np.bool_] = own) -> float:
            trial = _with(scatter, what, np.exp(logs))
            terms = record_terms(kind[own], start[own], observed[own], expected[own], trial)
            middle = _middle(what)
            held = 0.5 * float(np.sum(((logs - np.log(middle)) / _LOG_SD) ** 2))
            return held - float(terms.log_likelihood.sum())

        begin = np.log(_now(scatter, what))
        found = np.exp(
            optimize.minimize(
                cost, begin, method="Nelder-Mead",
                options={"xatol": 1e-3, "fatol": 1e-3, "maxiter": 200},
            ).x
        ) * wider  # fmt: skip
        if what in DATES:
            date_sd[what] = float(np.clip(found[0], 0.3, 60.0))
        else:
            relative[what] = float(np.clip(found[0], 0.01, 3.0))
            floor[what] = float(np.clip(found[1], 0.2 * _FLOOR[what], 50.0 * _FLOOR[what]))
    return replace(scatter, relative=relative, floor=floor, date_sd=date_sd)


def _middle(what: int) -> FloatArray:
    if what in DATES:
        return np.array([_DATE_SD[what]])
    return np.array([_RELATIVE[what], _FLOOR[what]])


def _now(scatter: Scatter, what: int) -> FloatArray:
    if what in DATES:
        return np.array([scatter.date_sd[what]])
    return np.array([scatter.relative[what], scatter.floor[what]])


def _with(scatter: Scatter, what: int, values: FloatArray) -> Scatter:
    if what in DATES:
        return replace(scatter, date_sd={**scatter.date_sd, what: float(values[0])})
    return replace(
        scatter,
        relative={**scatter.relative, what: float(values[0])},
        floor={**scatter.floor, what: float(values[1])},
    )


def scatter_words(scatter: Scatter, kinds: IntArray) -> dict[str, dict[str, float]]:
    """Return the scatter of the kinds that were recorded, by name, for a document."""
    found: dict[str, dict[str, float]] = {}
    for what in (int(one) for one in np.unique(kinds)):
        if what in DATES:
            found[KINDS[what]] = {"sd_d": scatter.date_sd[what]}
        else:
            found[KINDS[what]] = {
                "relative": scatter.relative[what],
                "floor": scatter.floor[what],
            }
    return found
