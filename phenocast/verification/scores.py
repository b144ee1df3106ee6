"""Scores of forecasts: CRPS of ensembles, coverage of intervals.

The CRPS has the unit of the forecast (days, for a date), and is the absolute error where the
forecast is a single value. Lower is better. A missing forecast or observation makes a score NaN:
decide on the cases before scoring, and say so.
"""

from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtri

from phenocast._typing import FloatArray
from phenocast.errors import Fault, refuse


def floats(values: ArrayLike) -> FloatArray:
    """Values as a float64 array."""
    return np.asarray(values, dtype=np.float64)


def require(ok: ArrayLike, what: str, *, where: str, allowed: str, value: object = None) -> None:
    """Raise InputError unless every element of `ok` is true."""
    refuse((not bool(np.all(ok)), Fault(what=what, where=where, value=value, allowed=allowed)))


def require_level(name: str, level: ArrayLike) -> FloatArray:
    """Levels as floats, refused unless strictly between 0 and 1."""
    levels = floats(level)
    require(
        (levels > 0.0) & (levels < 1.0),
        f"{name} is not between 0 and 1",
        where=name,
        allowed="more than 0, less than 1",
        value=levels.tolist(),
    )
    return levels


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
