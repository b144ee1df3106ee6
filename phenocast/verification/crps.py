"""Continuous ranked probability score of an ensemble.

The score has the unit of the forecast (days, for a date), and is the absolute error where the
forecast is a single value. Lower is better.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from phenocast.verification._checks import FloatArray, floats, require


def crps_ensemble(
    observed: ArrayLike, members: ArrayLike, *, estimator: Literal["nrg", "fair"] = "nrg"
) -> FloatArray:
    """Score of ensemble forecasts.

    Parameters
    ----------
    observed : shape ``[...]``.
    members : shape ``[..., m]``; members are exchangeable, and finite.
    estimator : "nrg" scores the members as the whole forecast (their step function); "fair" scores
        the distribution they are a sample of, may be negative, and needs two members.

    Returns
    -------
    Score of each case, shape ``[...]``, in the unit of the forecast; NaN where anything is missing.

    Raises
    ------
    InputError : no member; one member with "fair"; an unknown estimator.

    Notes
    -----
    ``mean |x - y| - sum |x_i - x_j| / (2 m**2)`` (Hersbach 2000, Weather Forecast. 15:559-570),
    with ``2 m (m - 1)`` for the fair one (Ferro 2014, Q. J. R. Meteorol. Soc. 140:1917-1923).

    Examples
    --------
    >>> members = [95.0, 98.0, 101.0, 104.0, 110.0]
    >>> [round(float(crps_ensemble(100.0, members, estimator=e)), 2) for e in ("nrg", "fair")]
    [1.52, 0.8]
    """
    require(
        estimator in {"nrg", "fair"},
        "unknown estimator",
        where="estimator",
        allowed="nrg, fair",
        value=estimator,
    )
    sample = np.sort(floats(members), axis=-1)
    m = sample.shape[-1]
    fewest = 2 if estimator == "fair" else 1
    require(m >= fewest, "too few members", where="members", allowed=f"{fewest} or more", value=m)
    error = np.mean(np.abs(sample - floats(observed)[..., np.newaxis]), axis=-1)
    # of a sorted sample, the sum of |x_i - x_j| over i < j is a weighted sum of the values
    weights = 2.0 * np.arange(m) - (m - 1)
    pairs = np.sum(weights * sample, axis=-1)
    return np.asarray(error - pairs / (m * m if estimator == "nrg" else m * (m - 1)))
