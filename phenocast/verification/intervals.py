"""How often intervals held the truth, and the interval of a share."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtri

from phenocast.verification._checks import floats, require, require_level


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
    y, low, high = np.broadcast_arrays(floats(observed), floats(lower), floats(upper))
    require(~(low > high), "lower end above the upper one", where="lower", allowed="lower <= upper")
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
