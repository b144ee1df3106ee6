"""How options stand against the one of the highest mean, in scenarios that they share."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from phenocast.forecast.summary import LEVELS, ordered_quantiles
from phenocast.planning.choice_blocks import by_blocks
from phenocast.planning.choice_pairs import paired_error

Array = NDArray[np.float64]

WORST_SHARE = 0.1
# An option is called not clearly worse than the best while the best beats it in fewer scenarios
# than this: a convention for words, the probability itself is printed beside it.
CLEAR_PROBABILITY = 0.8


@dataclass(frozen=True)
class Standing:
    """What the scenarios say of each option beside the best, arrays of shape ``[options]``.

    Parameters
    ----------
    expected : mean value.
    levels : ``[options, 3]``, P10, P50 and P90.
    worst_tenth : mean of the lowest tenth of the values (CVaR).
    best_beats : share of scenarios in which the option of the highest mean is better than this;
        ties count half.
    behind_best : mean of what the best option gives beyond this one.
    behind_best_se : standard error of that mean; NaN where it cannot be told (one possible season).
    behind_best_margin : half width of its interval of `phenocast.planning.choice_pairs.LEVEL`; NaN
        likewise.
    best : row of the option of the highest mean.
    """

    expected: Array
    levels: Array
    worst_tenth: Array
    best_beats: Array
    behind_best: Array
    behind_best_se: Array
    behind_best_margin: Array
    best: int

    @property
    def not_clearly_beaten(self) -> NDArray[np.bool_]:
        """Options that the best does not beat in enough scenarios to call them clearly worse."""
        return self.best_beats < CLEAR_PROBABILITY

    @property
    def means_not_told_apart(self) -> NDArray[np.bool_]:
        """Options whose mean could be that of the best but for the sample; the best is one.

        The interval is that of each pair; no allowance is made for having picked the best of many.
        """
        alone = np.isnan(self.behind_best_margin)
        return np.where(alone, self.behind_best == 0.0, self.behind_best <= self.behind_best_margin)

    @property
    def in_the_noise(self) -> NDArray[np.bool_]:
        """Options that are not clearly worse than the best, by the one measure or the other."""
        return self.not_clearly_beaten | self.means_not_told_apart


def standing_of(values: Array) -> Standing:
    """Return how options stand against the best of them.

    Parameters
    ----------
    values : array ``[options, futures, draws]``
        Finite; any unit in which more is better.

    Examples
    --------
    >>> told = standing_of(np.array([[[10.0], [10.0]], [[13.0], [9.0]], [[8.0], [8.0]]]))
    >>> told.best, told.behind_best.tolist(), told.best_beats.tolist()
    (1, [1.0, 0.0, 3.0], [0.5, 0.5, 1.0])
    """
    options = len(values)
    table = values.reshape(options, -1)
    expected = table.mean(axis=1)
    best = int(np.argmax(expected))
    worst, beaten, error, margin = (np.empty(options) for _ in range(4))
    levels = np.empty((options, len(LEVELS)))

    def stand(rows: slice) -> None:
        mine = table[rows]
        ordered = np.sort(mine, axis=-1)
        levels[rows] = ordered_quantiles(ordered)
        worst[rows] = _lowest_mean(ordered, WORST_SHARE)
        beaten[rows] = 1.0 - beats(mine, table[best])
        error[rows], margin[rows] = paired_error(values[best] - values[rows])

    by_blocks(stand, options)
    behind = np.asarray(expected[best] - expected)
    return Standing(expected, levels, worst, beaten, behind, error, margin, best)


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


def worst_mean(values: ArrayLike, share: float = WORST_SHARE) -> Array:
    """Return the mean of the lowest share of the last axis (CVaR of the low tail).

    Examples
    --------
    >>> worst_mean(np.arange(20.0)[None, :]).tolist()
    [0.5]
    """
    table = np.sort(np.asarray(values, dtype=np.float64), axis=-1)
    return _lowest_mean(table, share)


def _lowest_mean(ordered: Array, share: float) -> Array:
    """`worst_mean` of values that rise along the last axis."""
    count = max(1, round(share * ordered.shape[-1]))
    return np.asarray(ordered[..., :count].mean(axis=-1), dtype=np.float64)
