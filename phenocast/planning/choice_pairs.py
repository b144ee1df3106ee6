"""How surely the mean of one option is above that of another, from scenarios they share."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import stdtrit

Array = NDArray[np.float64]

# Level of the two-sided interval of a paired difference: a convention for words.
LEVEL = 0.95


def paired_error(difference: ArrayLike, level: float = LEVEL) -> tuple[Array, Array]:
    """Return the standard error of each mean difference, and the half width of its interval.

    Possible seasons and draws of what is not known are crossed: every season is run with the same
    draws, so that neither the scenarios of one season nor those of one draw are independent. With
    the mean squares of seasons, draws and their interaction the variance of the grand mean over
    both is (M_seasons + M_draws - M_both) / (seasons x draws), the estimate of random effects in a
    two-way table (Scheffe 1959, The Analysis of Variance, chapter 7; recalled from memory), and
    never less than what seasons or draws alone make of it. Degrees of freedom after Satterthwaite
    (1946).

    Parameters
    ----------
    difference : array ``[..., futures, draws]``
        With one draw the seasons alone are the sample.
    level : float
        Of the interval of Student's t.

    Returns
    -------
    (error, margin) : arrays ``[...]``
        NaN with one season: nothing tells then how much another would differ.

    Examples
    --------
    >>> seasons = np.array([1.0, 2.0, 3.0, 6.0])
    >>> error, margin = paired_error(np.repeat(seasons[:, None], 50, axis=1))
    >>> float(error), float(seasons.std(ddof=1) / 2.0)
    (1.0801..., 1.0801...)
    """
    table = np.asarray(difference, dtype=np.float64)
    seasons, draws = table.shape[-2:]
    unknown = np.full(table.shape[:-2], np.nan)
    if seasons < 2:
        return unknown, unknown.copy()
    of_season, of_draw = table.mean(axis=-1), table.mean(axis=-2)
    mean = of_season.mean(axis=-1)
    between = draws * of_season.var(axis=-1, ddof=1)
    if draws < 2:
        variance, freedom = between / seasons, np.full(mean.shape, seasons - 1.0)
    else:
        among = seasons * of_draw.var(axis=-1, ddof=1)
        rest = table - (of_season - mean[..., None])[..., :, None]
        rest -= of_draw[..., None, :]
        both = np.einsum("...fd,...fd->...", rest, rest) / ((seasons - 1) * (draws - 1))
        size = seasons * draws
        variance = np.maximum(between + among - both, np.maximum(between, among)) / size
        parts = between**2 / (seasons - 1) + among**2 / (draws - 1)
        freedom = np.divide(
            (between + among) ** 2, parts, out=np.ones_like(parts), where=parts > 0.0
        )
    error = np.sqrt(np.maximum(variance, 0.0))
    return error, np.asarray(stdtrit(freedom, 0.5 + level / 2.0) * error, dtype=np.float64)
