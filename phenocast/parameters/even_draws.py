"""Draws that lie evenly: one from each slice of probability, and the normal at such a share."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

NORMAL = NormalDist()


def even_shares(rng: np.random.Generator, n: int) -> NDArray[np.float64]:
    """Return one draw from each of n equal slices of probability, in random order ``[n]``.

    Mean and spread of what is read off at these shares are far closer to the stated ones than those
    of n independent draws.

    Examples
    --------
    >>> sorted((even_shares(np.random.default_rng(1), 4) * 4).astype(int).tolist())
    [0, 1, 2, 3]
    """
    return (rng.permutation(n) + rng.random(n)) / n


def normal_scores(shares: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the scores below which these shares of a standard normal lie, ``[n]``.

    From the standard library, because the larger one takes longer to load than all draws take.

    Parameters
    ----------
    shares : array ``[n]``
        0 to 1; at the ends -inf and inf.

    Examples
    --------
    >>> normal_scores(np.array([0.0, 0.5, 0.975])).round(2).tolist()
    [-inf, 0.0, 1.96]
    """
    scores = np.where(shares <= 0.0, -np.inf, np.inf)
    inside = (shares > 0.0) & (shares < 1.0)
    scores[inside] = [NORMAL.inv_cdf(share) for share in shares[inside].tolist()]
    return scores
