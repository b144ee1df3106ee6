"""A few seasons that stand for many: k-medoids with the error of the reduction beside it.

The kept seasons are real draws of the forecast, never means of several. They are found by
partitioning around medoids (Kaufman and Rousseeuw 1990) with the swap step that prices all medoids
at once for each candidate (Schubert and Rousseeuw 2019); distances are Euclidean over weeks.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial.distance import cdist

from phenocast._typing import FloatArray, IntArray
from phenocast.errors import Fault, refuse

LARGEST_SEARCH = 2000
"""Seasons among which medoids are searched; the rest are still assigned, weighed and measured."""


@dataclass(frozen=True)
class Reduction:
    """The kept seasons and what was lost by keeping no more.

    Parameters
    ----------
    kept : array of int [k]
        Numbers of the kept seasons, rising.
    probabilities : array [k]
        Share of all seasons that each stands for.
    distance_share : float
        Mean distance of a season to the one that stands for it, as a share of the mean distance
        between the season and the mean season: 0 is perfect, 1 is no better than one mean season.
    mean_error, p90_error : float
        Largest error of any week's mean and 90 % quantile, as a share of the busiest week's.
    """

    kept: IntArray
    probabilities: FloatArray
    distance_share: float
    mean_error: float
    p90_error: float


def reduce_seasons(seasons: FloatArray, k: int) -> Reduction:
    """Return ``k`` seasons that stand for all.

    Parameters
    ----------
    seasons : array [n, weeks]
    k : int
        How many to keep, 1 or more; all of them where ``k`` is not below ``n``.

    Raises
    ------
    InputError
        Where there is no season, a value is not finite, or ``k`` is below 1.

    Examples
    --------
    >>> found = reduce_seasons(np.array([[1.0], [1.1], [5.0], [5.2], [5.1]]), 2)
    >>> found.kept, found.probabilities
    (array([0, 4]), array([0.4, 0.6]))
    """
    seasons = np.asarray(seasons, dtype=np.float64)
    refuse(
        (
            seasons.ndim != 2 or len(seasons) == 0,
            Fault("no seasons to reduce", value=seasons.shape, allowed="[n, weeks]"),
        ),
        (not np.all(np.isfinite(seasons)), Fault("a season holds what is not a number")),
        (k < 1, Fault("too few seasons to keep", value=k, allowed="1 or more")),
    )
    n = len(seasons)
    if k >= n:
        return Reduction(np.arange(n), np.full(n, 1.0 / n), 0.0, 0.0, 0.0)
    # Evenly spaced numbers keep every future's share of the search.
    searched = np.unique(np.linspace(0, n - 1, min(n, LARGEST_SEARCH)).round().astype(np.int64))
    kept = np.sort(searched[_medoids(cdist(seasons[searched], seasons[searched]), k)])
    distance = cdist(seasons, seasons[kept])
    nearest = distance.argmin(axis=1)
    shares = np.bincount(nearest, minlength=k) / n
    return Reduction(kept, shares, *_errors(seasons, kept, shares, distance.min(axis=1)))


def _medoids(distance: FloatArray, k: int) -> IntArray:
    """Return the columns of a square distance matrix that stand for all rows best."""
    chosen = [int(distance.sum(axis=1).argmin())]
    near = distance[chosen[0]].copy()
    while len(chosen) < k:
        gain = np.maximum(near[:, None] - distance, 0.0).sum(axis=0)
        gain[chosen] = -1.0
        chosen.append(int(gain.argmax()))
        near = np.minimum(near, distance[chosen[-1]])
    medoids = np.array(chosen, dtype=np.int64)
    if k == 1:
        return medoids
    while True:
        improved = False
        owner, first, second = _two_nearest(distance, medoids)
        leaving = np.bincount(owner, weights=second - first, minlength=k)
        for candidate in range(len(distance)):
            if candidate in medoids:
                continue
            d = distance[candidate]
            closer = d < first
            shared = float((d - first)[closer].sum())
            own = np.where(closer, first - second, np.minimum(d - second, 0.0))
            change = leaving + np.bincount(owner, weights=own, minlength=k) + shared
            best = int(change.argmin())
            if change[best] < -1e-9 * max(first.sum(), 1e-300):
                medoids[best] = candidate
                owner, first, second = _two_nearest(distance, medoids)
                leaving = np.bincount(owner, weights=second - first, minlength=k)
                improved = True
        if not improved:
            return medoids


def _two_nearest(
    distance: FloatArray, medoids: IntArray
) -> tuple[IntArray, FloatArray, FloatArray]:
    block = distance[:, medoids]
    two = np.argpartition(block, 1, axis=1)[:, :2]
    values = np.take_along_axis(block, two, axis=1)
    swap = values[:, 0] > values[:, 1]
    owner = np.where(swap, two[:, 1], two[:, 0])
    return owner, values.min(axis=1), values.max(axis=1)


def _errors(
    seasons: FloatArray, kept: IntArray, shares: FloatArray, distance: FloatArray
) -> tuple[float, float, float]:
    mean = seasons.mean(axis=0)
    spread = float(np.linalg.norm(seasons - mean, axis=1).mean())
    busiest = float(mean.max()) or 1.0
    mean_error = float(np.abs(shares @ seasons[kept] - mean).max()) / busiest
    p90 = np.quantile(seasons, 0.9, axis=0)
    kept_p90 = weighted_quantile(seasons[kept], shares, 0.9)
    p90_error = float(np.abs(kept_p90 - p90).max()) / (float(p90.max()) or 1.0)
    return float(distance.mean()) / spread if spread > 0.0 else 0.0, mean_error, p90_error


def weighted_quantile(values: FloatArray, shares: FloatArray, level: float) -> FloatArray:
    """Return the least value that a share ``level`` of the seasons does not exceed, per column.

    Parameters
    ----------
    values : array [n, ...]
    shares : array [n]
        Adding up to 1.
    level : float

    Examples
    --------
    >>> weighted_quantile(np.array([[1.0], [2.0], [9.0]]), np.array([0.5, 0.4, 0.1]), 0.9)
    array([2.])
    """
    order = np.argsort(values, axis=0)
    ranked = np.take_along_axis(values, order, axis=0)
    below = np.cumsum(shares[order], axis=0)
    at = np.argmax(below >= level - 1e-12, axis=0)
    return np.asarray(np.take_along_axis(ranked, at[None], axis=0)[0])
