"""Scores of probability forecasts: of an event, and of ordered categories such as weeks."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from phenocast.verification._checks import FloatArray, floats, require, require_probabilities


class BrierParts(NamedTuple):
    """Parts of a Brier score: ``score = reliability - resolution + uncertainty + within_bins``.

    reliability is 0 for a calibrated forecast, resolution is what the forecast tells apart,
    uncertainty is the score of the climatological frequency, within_bins is 0 unless forecasts of
    different probability were put in one bin.
    """

    score: float
    reliability: float
    resolution: float
    uncertainty: float
    within_bins: float

    @property
    def skill(self) -> float:
        """Skill against the climatological frequency of the same cases; NaN where it is certain."""
        return 1.0 - self.score / self.uncertainty if self.uncertainty > 0.0 else float("nan")


def brier_score(probability: ArrayLike, occurred: ArrayLike) -> FloatArray:
    """Squared error of the probability of an event.

    Parameters
    ----------
    probability : forecast probability, 0 to 1.
    occurred : 1 or true where the event occurred, 0 where not; broadcast against `probability`.

    Returns
    -------
    Score of each case, 0 (best) to 1, broadcast shape; NaN where anything is missing.

    Raises
    ------
    InputError : a probability outside 0 to 1; an outcome that is neither 0 nor 1.

    Examples
    --------
    >>> brier_score([0.1, 0.9], [0, 0]).round(2).tolist()
    [0.01, 0.81]
    """
    forecast, outcome = require_probabilities("probability", probability), _outcomes(occurred)
    return np.asarray((forecast - outcome) ** 2)


def brier_parts(
    probability: ArrayLike, occurred: ArrayLike, *, edges: ArrayLike | None = None
) -> BrierParts:
    """Mean Brier score of all cases, split into reliability, resolution and uncertainty.

    Parameters
    ----------
    probability, occurred : as `brier_score`, shape ``[n]``, nothing missing.
    edges : rising inner edges of probability bins, for forecasts with many distinct probabilities;
        without them every distinct probability is a group of its own.

    Returns
    -------
    BrierParts

    Raises
    ------
    InputError : as `brier_score`; no case, a missing value, or edges that do not rise.

    Notes
    -----
    Murphy (1973), J. Appl. Meteorol. 12:595-600; the remainder within bins after Stephenson, Coelho
    and Jolliffe (2008), Weather Forecast. 23:752-757, here in one term.

    Examples
    --------
    >>> parts = brier_parts([0.2, 0.2, 0.8, 0.8], [0, 0, 1, 0])
    >>> round(parts.score, 3), round(parts.reliability, 3), round(parts.resolution, 4)
    (0.19, 0.065, 0.0625)
    """
    forecast, outcome = require_probabilities("probability", probability), _outcomes(occurred)
    forecast, outcome = (array.ravel() for array in np.broadcast_arrays(forecast, outcome))
    require(
        forecast.size > 0 and np.isfinite(forecast + outcome),
        "no case, or a missing value",
        where="probability, occurred",
        allowed="at least one case, all complete",
    )
    if edges is None:
        _, group = np.unique(forecast, return_inverse=True)
    else:
        cuts = floats(edges)
        require(np.diff(cuts) > 0.0, "bin edges do not rise", where="edges", allowed="rising")
        group = np.digitize(forecast, cuts)
    count = np.bincount(group).astype(np.float64)
    used = count > 0.0
    stated = np.bincount(group, forecast)[used] / count[used]
    happened = np.bincount(group, outcome)[used] / count[used]
    weight = count[used] / forecast.size
    base_rate = float(np.mean(outcome))
    score = float(np.mean((forecast - outcome) ** 2))
    reliability = float(np.sum(weight * (stated - happened) ** 2))
    resolution = float(np.sum(weight * (happened - base_rate) ** 2))
    uncertainty = base_rate * (1.0 - base_rate)
    remainder = score - (reliability - resolution + uncertainty)
    return BrierParts(
        score, reliability, resolution, uncertainty, 0.0 if edges is None else remainder
    )


def ranked_probability_score(
    probabilities: ArrayLike, category: ArrayLike, *, normalised: bool = False
) -> FloatArray:
    """Score of a probability per ordered category, such as a week: near misses cost less.

    Parameters
    ----------
    probabilities : shape ``[..., k]``, summing to 1 over the last axis.
    category : index of the category that occurred, 0 to k - 1, shape ``[...]``.
    normalised : divide by k - 1, so that the score runs from 0 to 1.

    Returns
    -------
    Score of each case, shape ``[...]``: sum over categories of the squared difference of cumulated
    forecast and outcome; 0 is best. NaN where a probability is missing.

    Raises
    ------
    InputError : probabilities outside 0 to 1 or not summing to 1; a category that does not exist;
        one category only with `normalised`.

    Notes
    -----
    Epstein (1969), J. Appl. Meteorol. 8:985-987.

    Examples
    --------
    >>> ranked_probability_score([0.1, 0.3, 0.4, 0.2], [0, 1, 2, 3]).round(2).tolist()
    [1.21, 0.41, 0.21, 0.81]
    """
    forecast = require_probabilities("probabilities", probabilities)
    total = np.sum(forecast, axis=-1)
    require(
        ~(np.abs(total - 1.0) > 1e-6),
        "probabilities do not sum to 1",
        where="probabilities",
        allowed="1 over the last axis",
        value=np.asarray(total).tolist(),
    )
    k = forecast.shape[-1]
    index = np.asarray(category)
    require(
        np.issubdtype(index.dtype, np.integer) and bool(np.all((index >= 0) & (index < k))),
        "a category that does not exist",
        where="category",
        allowed=f"whole numbers from 0 to {k - 1}",
    )
    require(
        not normalised or k > 1,
        "one category has no order",
        where="probabilities",
        allowed="2 or more",
    )
    outcome = np.arange(k) >= index[..., np.newaxis]
    score = np.sum((np.cumsum(forecast, axis=-1) - outcome) ** 2, axis=-1)
    return np.asarray(score / (k - 1) if normalised else score)


def _outcomes(occurred: ArrayLike) -> FloatArray:
    outcome = floats(occurred)
    require(
        np.isnan(outcome) | (outcome == 0.0) | (outcome == 1.0),
        "an outcome that is neither 0 nor 1",
        where="occurred",
        allowed="0, 1, true, false",
    )
    return outcome
