"""How options stand against the best, in scenarios that they share."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from phenocast.forecast.summary import LEVELS, ordered_quantiles
from phenocast.planning.choice_blocks import by_blocks
from phenocast.planning.choice_pairs import paired_error

Array = NDArray[np.float64]

WORST_SHARE = 0.1


@dataclass(frozen=True)
class Standing:
    """What the scenarios say of each option beside the best, arrays of shape ``[options]``.

    Parameters
    ----------
    expected : mean value.
    levels : ``[options, 3]``, P10, P50 and P90.
    worst_tenth : mean of the lowest tenth of the values (CVaR).
    behind_best : mean of what the best option gives beyond this one; below 0 where an option that
        may not be the best has the higher mean.
    behind_best_se : standard error of that mean; NaN where it cannot be told (one possible season).
    behind_best_margin : half width of its interval of `phenocast.planning.choice_pairs.LEVEL`; NaN
        likewise.
    best : row of the option of the highest mean among those that may be the best.
    """

    expected: Array
    levels: Array
    worst_tenth: Array
    behind_best: Array
    behind_best_se: Array
    behind_best_margin: Array
    best: int

    @property
    def not_clearly_worse(self) -> NDArray[np.bool_]:
        """Options whose mean difference to the best has an interval that reaches zero.

        Without an interval (one possible season) nothing is clearly worse. The interval is that of
        each pair; no allowance is made for having picked the best of many.
        """
        return ~(self.behind_best > self.behind_best_margin) | np.isnan(self.behind_best_margin)


def standing_of(values: Array, trusted: NDArray[np.bool_] | None = None) -> Standing:
    """Return how options stand against the best of them.

    Parameters
    ----------
    values : array ``[options, traces, draws]``
        Finite; any unit in which more is better.
    trusted : array of bool ``[options]``, optional
        Options that may be the best; all where it is not given, or where none may.

    Examples
    --------
    >>> table = np.array([[[10.0], [10.0]], [[13.0], [9.0]], [[8.0], [8.0]]])
    >>> told = standing_of(table)
    >>> told.best, told.behind_best.tolist()
    (1, [1.0, 0.0, 3.0])
    >>> told = standing_of(table, np.array([True, False, True]))
    >>> told.best, told.behind_best.tolist()
    (0, [0.0, -1.0, 2.0])
    """
    options = len(values)
    table = values.reshape(options, -1)
    expected = table.mean(axis=1)
    best = int(np.argmax(np.where(may_be_best(options, trusted), expected, -np.inf)))
    worst, error, margin = (np.empty(options) for _ in range(3))
    levels = np.empty((options, len(LEVELS)))

    def stand(rows: slice) -> None:
        mine = table[rows]
        ordered = np.sort(mine, axis=-1)
        levels[rows] = ordered_quantiles(ordered)
        worst[rows] = worst_mean(ordered)
        error[rows], margin[rows] = paired_error(values[best] - values[rows])

    by_blocks(stand, options)
    behind = np.asarray(expected[best] - expected)
    return Standing(expected, levels, worst, behind, error, margin, best)


def may_be_best(options: int, trusted: NDArray[np.bool_] | None) -> NDArray[np.bool_]:
    """Return the options among which the best is looked for: all of them where none is trusted."""
    every = np.ones(options, dtype=np.bool_)
    return every if trusted is None or not trusted.any() else trusted


def beats(values: Array, other: Array) -> Array:
    """Return the share of scenarios in which each option is better; ties count half.

    Parameters
    ----------
    values : array [options, scenarios]
    other : array [scenarios]

    Examples
    --------
    >>> beats(np.array([[1.0, 2.0, 3.0, 4.0]]), np.array([1.0, 1.0, 5.0, 5.0])).tolist()
    [0.375]
    """
    better = np.count_nonzero(values > other, axis=-1)
    level = np.count_nonzero(values == other, axis=-1)
    return np.asarray((better + 0.5 * level) / len(other))


def worst_mean(ordered: Array, share: float = WORST_SHARE) -> Array:
    """Return the mean of the lowest share of the last axis, along which values rise (CVaR).

    Examples
    --------
    >>> worst_mean(np.arange(20.0)[None, :]).tolist()
    [0.5]
    """
    count = max(1, round(share * ordered.shape[-1]))
    return np.asarray(ordered[..., :count].mean(axis=-1), dtype=np.float64)
