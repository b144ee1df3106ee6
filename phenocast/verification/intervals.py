"""Scores of quantiles and intervals, and how often intervals held the truth."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtri

from phenocast.verification._checks import FloatArray, floats, require, require_level


def pinball_loss(observed: ArrayLike, quantile: ArrayLike, level: ArrayLike) -> FloatArray:
    """Loss of a forecast quantile; its mean is least for the true quantile.

    Parameters
    ----------
    observed, quantile : arrays that broadcast.
    level : probability of the quantile, between 0 and 1, broadcast too.

    Returns
    -------
    Loss of each case, 0 or more, broadcast shape, in the unit of the forecast.

    Raises
    ------
    InputError : a level outside 0 to 1.

    Notes
    -----
    Koenker and Bassett (1978), Econometrica 46:33-50. The CRPS is twice its integral over levels.

    Examples
    --------
    >>> pinball_loss([115.0, 100.0], 110.0, 0.9).round(6).tolist()
    [4.5, 1.0]
    """
    tau = require_level("level", level)
    miss = floats(observed) - floats(quantile)
    return np.asarray(np.maximum(tau * miss, (tau - 1.0) * miss))


def interval_score(
    observed: ArrayLike, lower: ArrayLike, upper: ArrayLike, level: ArrayLike
) -> FloatArray:
    """Score of a central interval: its width, plus a penalty for a truth outside it.

    Parameters
    ----------
    observed, lower, upper : arrays that broadcast.
    level : stated coverage of the interval, between 0 and 1, such as 0.8.

    Returns
    -------
    Score of each case, broadcast shape, in the unit of the forecast; lower is better.

    Raises
    ------
    InputError : a lower end above the upper one; a level outside 0 to 1.

    Notes
    -----
    Gneiting and Raftery (2007), J. Amer. Stat. Assoc. 102:359-378, with alpha = 1 - level.

    Examples
    --------
    >>> interval_score([100.0, 90.0], 95.0, 110.0, 0.8).round(6).tolist()
    [15.0, 65.0]
    """
    alpha = 1.0 - require_level("level", level)
    low, high = _ends(lower, upper)
    y = floats(observed)
    outside = np.maximum(low - y, 0.0) + np.maximum(y - high, 0.0)
    return np.asarray(high - low + 2.0 / alpha * outside)


def coverage(observed: ArrayLike, lower: ArrayLike, upper: ArrayLike) -> float:
    """Share of cases whose observation lies in the interval, ends included.

    Parameters
    ----------
    observed, lower, upper : arrays that broadcast, at least one case.

    Returns
    -------
    Share, 0 to 1; NaN where anything is missing. [1]

    Raises
    ------
    InputError : a lower end above the upper one; no case.

    Examples
    --------
    >>> coverage([1.0, 2.0, 9.0, 4.0], 1.0, 5.0)
    0.75
    """
    low, high = _ends(lower, upper)
    y, low, high = np.broadcast_arrays(floats(observed), low, high)
    require(y.size > 0, "no case", where="observed", allowed="at least one")
    held = np.where(np.isnan(y + low + high), np.nan, (y >= low) & (y <= high))
    return float(np.mean(held))


class Proportion(NamedTuple):
    """A share with its interval. [1]"""

    share: float
    lower: float
    upper: float


def wilson_interval(successes: int, trials: int, level: float = 0.95) -> Proportion:
    """Share of successes with Wilson's interval, which holds for few trials and near 0 and 1.

    Parameters
    ----------
    successes, trials : counts, 0 <= successes <= trials, at least one trial.
    level : coverage of the interval, between 0 and 1.

    Returns
    -------
    Proportion

    Raises
    ------
    InputError : counts that cannot be; a level outside 0 to 1.

    Notes
    -----
    Wilson (1927), J. Amer. Stat. Assoc. 22:209-212.

    Examples
    --------
    >>> [round(x, 4) for x in wilson_interval(8, 10)]
    [0.8, 0.4902, 0.9433]
    """
    require(
        trials >= 1 and 0 <= successes <= trials,
        "counts that cannot be",
        where="successes, trials",
        allowed="0 <= successes <= trials, 1 <= trials",
        value=(successes, trials),
    )
    z = float(ndtri((1.0 + float(require_level("level", level))) / 2.0))
    share = successes / trials
    shrink = 1.0 + z * z / trials
    centre = (share + z * z / (2.0 * trials)) / shrink
    half = z / shrink * float(np.sqrt(share * (1.0 - share) / trials + (z / (2.0 * trials)) ** 2))
    return Proportion(share, max(0.0, centre - half), min(1.0, centre + half))


def _ends(lower: ArrayLike, upper: ArrayLike) -> tuple[FloatArray, FloatArray]:
    low, high = floats(lower), floats(upper)
    require(~(low > high), "lower end above the upper one", where="lower", allowed="lower <= upper")
    return low, high
