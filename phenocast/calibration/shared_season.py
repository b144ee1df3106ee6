"""An effect that all records of a season share: they err together, and count for less."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from phenocast.calibration._checks import FloatArray, finite
from phenocast.calibration.likelihood import interval_log_likelihood
from phenocast.errors import Fault, InputError


def season_log_likelihood(
    residuals: ArrayLike, season: ArrayLike, *, residual_sd: float, season_sd: float
) -> FloatArray:
    """Log-likelihood of each season's residuals, normal with a shared normal season effect.

    Parameters
    ----------
    residuals : observed less expected, shape ``[n]``. [any unit, such as d]
    season : label of the season of each record, shape ``[n]``.
    residual_sd : standard deviation inside a season, above 0. [same unit]
    season_sd : standard deviation between seasons, 0 or more. [same unit]

    Returns
    -------
    One value per season, in the sorted order of the labels.

    Raises
    ------
    InputError : missing residuals, lengths that differ, deviations out of range.

    Notes
    -----
    Covariance of a season of m records: ``s**2 I + b**2 J``; its determinant is ``s**(2(m-1)) (s**2
    + m b**2)`` and its inverse follows from the rank-one update. Laird and Ware (1982), Biometrics
    38:963-974.

    Examples
    --------
    >>> season_log_likelihood([1.0, 2.0, -1.0], [2024, 2024, 2025], residual_sd=1.0, season_sd=2.0
    ... ).round(4).tolist()
    [-3.4365, -1.8237]
    """
    error, labels, seasons = _grouped(residuals, season, residual_sd, season_sd)
    s2, b2 = residual_sd**2, season_sd**2
    m = np.bincount(labels, minlength=seasons).astype(np.float64)
    total = np.bincount(labels, weights=error, minlength=seasons)
    square = np.bincount(labels, weights=error**2, minlength=seasons)
    quadratic = (square - b2 * total**2 / (s2 + m * b2)) / s2
    log_det = (m - 1.0) * np.log(s2) + np.log(s2 + m * b2)
    return np.asarray(-0.5 * (m * np.log(2.0 * np.pi) + log_det + quadratic))


def season_interval_log_likelihood(
    lower: ArrayLike,
    upper: ArrayLike,
    location: ArrayLike,
    season: ArrayLike,
    *,
    scale: float,
    season_sd: float,
    student_df: float | None = None,
) -> FloatArray:
    """Log-likelihood of each season's dates between visits, with a shared normal season effect.

    Parameters
    ----------
    lower, upper, location : as in `interval_log_likelihood`, shape ``[n]``. [d]
    season : label of the season of each record, shape ``[n]``.
    scale : spread inside a season, above 0. [d]
    season_sd : standard deviation between seasons, 0 or more. [d]
    student_df : as in `interval_log_likelihood`. [1]

    Returns
    -------
    One value per season, in the sorted order of the labels.

    Raises
    ------
    InputError : as `interval_log_likelihood`; lengths that differ; a season_sd below 0.

    Notes
    -----
    The season effect is integrated out on an even grid, finer than the sharpest product the records
    of a season can form (the trapezium rule is exact to rounding for such smooth bells).

    Examples
    --------
    >>> season_interval_log_likelihood([40.0, 43.0], [43.0, 46.0], [45.0, 45.0], [1, 1], scale=2.0,
    ...                                season_sd=3.0).round(4).tolist()
    [-2.6303]
    """
    low, high, middle = np.broadcast_arrays(
        *(np.asarray(value, dtype=np.float64) for value in (lower, upper, location))
    )
    single = interval_log_likelihood(low, high, middle, scale, student_df=student_df)
    _, labels, seasons = _grouped(np.zeros(low.shape), season, scale, season_sd)
    if season_sd == 0.0:
        return np.asarray(np.bincount(labels, weights=single, minlength=seasons))
    found = np.empty(seasons)
    for one in range(seasons):
        own = labels == one
        ends = np.concatenate([low[own] - middle[own], high[own] - middle[own]])
        ends = ends[np.isfinite(ends)]
        margin = 10.0 * season_sd
        first = min(0.0, float(ends.min(initial=0.0))) - margin
        last = max(0.0, float(ends.max(initial=0.0))) + margin
        sharpest = 1.0 / np.sqrt(1.0 / season_sd**2 + own.sum() / scale**2)
        effect = np.linspace(first, last, int(np.ceil((last - first) / (0.4 * sharpest))) + 1)
        given = interval_log_likelihood(
            low[own], high[own], middle[own] + effect[:, None], scale, student_df=student_df
        ).sum(axis=1)
        prior = -0.5 * ((effect / season_sd) ** 2 + np.log(2.0 * np.pi)) - np.log(season_sd)
        found[one] = special.logsumexp(given + prior) + np.log(effect[1] - effect[0])
    return found


def _grouped(
    residuals: ArrayLike, season: ArrayLike, scale: float, season_sd: float
) -> tuple[FloatArray, np.ndarray[tuple[int], np.dtype[np.intp]], int]:
    error = finite(residuals, "residuals", dimensions=1, shortest=(1,))
    names = np.asarray(season)
    if names.shape != error.shape:
        raise InputError(
            Fault("not one season for every record", "season", (names.shape, error.shape))
        )
    if not (np.isfinite(scale) and scale > 0.0):
        raise InputError(Fault("scatter inside a season is not above 0", "scale", scale, "> 0"))
    if not (np.isfinite(season_sd) and season_sd >= 0.0):
        raise InputError(Fault("below 0", "season_sd", season_sd, ">= 0"))
    found, labels = np.unique(names, return_inverse=True)
    return error, labels, found.size
