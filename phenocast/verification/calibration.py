"""Whether stated probabilities can be believed: PIT values and rank histograms.

A calibrated forecast has uniform PIT values and a flat rank histogram; U-shaped means too sure,
dome-shaped too unsure, sloping means biased. Ties are broken at random, so `rng` is an argument.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr

from phenocast.verification._checks import (
    FloatArray,
    floats,
    require,
    require_probabilities,
)


def pit_normal(observed: ArrayLike, mean: ArrayLike, sd: ArrayLike) -> FloatArray:
    """Probability that a normal forecast gave to values up to the observed one.

    Parameters
    ----------
    observed, mean, sd : arrays that broadcast; the standard deviation is more than 0.

    Returns
    -------
    PIT value of each case, 0 to 1, broadcast shape. [1]

    Raises
    ------
    InputError : a standard deviation that is not above 0.

    Examples
    --------
    >>> pit_normal([100.0, 103.0], 103.0, 6.0).round(4).tolist()
    [0.3085, 0.5]
    """
    spread = floats(sd)
    require(~(spread <= 0.0), "standard deviation is not above 0", where="sd", allowed="> 0")
    return np.asarray(ndtr((floats(observed) - floats(mean)) / spread))


def pit_categories(
    probabilities: ArrayLike, category: ArrayLike, rng: np.random.Generator
) -> FloatArray:
    """Randomised PIT of a forecast by ordered category, such as a week.

    Parameters
    ----------
    probabilities : shape ``[..., k]``, summing to 1 over the last axis.
    category : index of the category that occurred, 0 to k - 1, shape ``[...]``.
    rng : source of the random position inside the category's step.

    Returns
    -------
    PIT value of each case, shape ``[...]``: uniform between the cumulated probability below and up
    to the category. [1]

    Raises
    ------
    InputError : values that are not probabilities; a category that does not exist.

    Notes
    -----
    Czado, Gneiting and Held (2009), Biometrics 65:1254-1261.

    Examples
    --------
    >>> value = pit_categories([0.1, 0.3, 0.6], 1, np.random.default_rng(1))
    >>> 0.1 <= float(value) <= 0.4
    True
    """
    forecast = require_probabilities("probabilities", probabilities)
    index = np.asarray(category)
    k = forecast.shape[-1]
    require(
        np.issubdtype(index.dtype, np.integer) and bool(np.all((index >= 0) & (index < k))),
        "a category that does not exist",
        where="category",
        allowed=f"whole numbers from 0 to {k - 1}",
    )
    upto = np.cumsum(forecast, axis=-1)
    shape = np.broadcast_shapes(upto.shape[:-1], index.shape)
    at = np.broadcast_to(index, shape)[..., np.newaxis]
    high = np.take_along_axis(np.broadcast_to(upto, (*shape, k)), at, axis=-1)[..., 0]
    step = np.take_along_axis(np.broadcast_to(forecast, (*shape, k)), at, axis=-1)[..., 0]
    return np.asarray(high - step * rng.random(shape))


def ranks(observed: ArrayLike, members: ArrayLike, rng: np.random.Generator) -> NDArray[np.int64]:
    """Rank of each observation among the members of its ensemble, ties broken at random.

    Parameters
    ----------
    observed : shape ``[...]``.
    members : shape ``[..., m]``.
    rng : breaks ties.

    Returns
    -------
    Ranks from 1 (below all) to m + 1 (above all), shape ``[...]``.

    Raises
    ------
    InputError : a missing observation or member.

    Examples
    --------
    >>> int(ranks(100.0, [95.0, 98.0, 101.0, 104.0, 110.0], np.random.default_rng(1)))
    3
    """
    y, sample = floats(observed)[..., np.newaxis], floats(members)
    require(
        not (np.isnan(y).any() or np.isnan(sample).any()),
        "a missing observation or member has no rank",
        where="observed, members",
        allowed="complete cases",
    )
    below = np.sum(sample < y, axis=-1)
    ties = np.sum(sample == y, axis=-1)
    return np.asarray(1 + below + rng.integers(0, ties + 1), dtype=np.int64)


def rank_histogram(rank: ArrayLike, n_members: int) -> NDArray[np.int64]:
    """Count of cases at each rank.

    Parameters
    ----------
    rank : ranks from 1 to `n_members` + 1, any shape (see `ranks`).
    n_members : number of members of the ensembles.

    Returns
    -------
    Counts, shape ``[n_members + 1]``.

    Raises
    ------
    InputError : a rank that such an ensemble cannot give.

    Examples
    --------
    >>> rank_histogram([1, 3, 3], 2).tolist()
    [1, 0, 2]
    """
    values = np.asarray(rank, dtype=np.int64).ravel()
    require(
        (values >= 1) & (values <= n_members + 1),
        "a rank that such an ensemble cannot give",
        where="rank",
        allowed=f"1 to {n_members + 1}",
    )
    return np.bincount(values - 1, minlength=n_members + 1).astype(np.int64)
