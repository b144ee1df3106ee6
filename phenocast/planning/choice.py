"""Choosing among options whose values are known for the same set of possible seasons.

Rows are options, columns are scenarios: one possible season with one draw of what is not known and
one draw of prices. Because all options share the scenarios, two of them are compared scenario by
scenario, and what makes all of them good or bad together drops out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from phenocast.errors import Fault, InputError

Array = NDArray[np.float64]

WORST_SHARE = 0.1
# An option is called not clearly worse than the best while the best beats it in fewer scenarios
# than this: a convention for words, the probability itself is printed beside it.
CLEAR_PROBABILITY = 0.8


@dataclass(frozen=True)
class Judgement:
    """What the scenarios say of each option, arrays of shape ``[options]``.

    Parameters
    ----------
    expected : mean value.
    worst_tenth : mean of the lowest tenth of the values (CVaR).
    regret : mean of what the best option of each scenario would have given beyond this one.
    beats_reference : share of scenarios in which the option is better than the reference; ties
        count half.
    best_beats : share of scenarios in which the option of the highest mean is better than this.
    undominated : no other option has both a mean and a worst tenth at least as high.
    best, reference : rows of the option of the highest mean and of the reference.
    """

    expected: Array
    worst_tenth: Array
    regret: Array
    beats_reference: Array
    best_beats: Array
    undominated: NDArray[np.bool_]
    best: int
    reference: int

    @property
    def in_the_noise(self) -> NDArray[np.bool_]:
        """Options that are not clearly worse than the best."""
        return self.best_beats < CLEAR_PROBABILITY


def judge(values: ArrayLike, reference: int = 0) -> Judgement:
    """Judge options by their value in every scenario.

    Parameters
    ----------
    values : array ``[options, scenarios]``, any unit in which more is better.
    reference : row of the option that the others are held against.

    Raises
    ------
    InputError
        When there is no option or no scenario, a value is missing, or the reference is no option.

    Examples
    --------
    >>> told = judge([[10.0, 10.0], [13.0, 9.0], [8.0, 8.0]])
    >>> told.best, told.beats_reference.tolist(), told.regret.tolist()
    (1, [0.5, 0.5, 0.0], [1.5, 0.5, 3.5])
    """
    table = np.asarray(values, dtype=np.float64)
    if table.ndim != 2 or table.size == 0:
        raise InputError(Fault("there is nothing to choose from", "options", table.shape,
                               "at least one option and one scenario"))  # fmt: skip
    if not np.all(np.isfinite(table)):
        row = int(np.argwhere(~np.isfinite(table))[0][0])
        raise InputError(Fault("a value is missing", f"option {row}"))
    if not 0 <= reference < len(table):
        raise InputError(Fault("the reference is no option", "reference", reference,
                               f"0 to {len(table) - 1}"))  # fmt: skip
    expected = table.mean(axis=1)
    worst = worst_mean(table)
    best = int(np.argmax(expected))
    top = table.max(axis=0)
    return Judgement(
        expected=expected,
        worst_tenth=worst,
        regret=np.asarray((top - table).mean(axis=1), dtype=np.float64),
        beats_reference=_beats(table, table[reference]),
        best_beats=np.asarray(1.0 - _beats(table, table[best]), dtype=np.float64),
        undominated=undominated(expected, worst),
        best=best,
        reference=reference,
    )


def worst_mean(values: ArrayLike, share: float = WORST_SHARE) -> Array:
    """Return the mean of the lowest share of each row (CVaR of the low tail).

    Examples
    --------
    >>> worst_mean(np.arange(20.0)[None, :]).tolist()
    [0.5]
    """
    table = np.sort(np.asarray(values, dtype=np.float64), axis=-1)
    count = max(1, round(share * table.shape[-1]))
    return np.asarray(table[..., :count].mean(axis=-1), dtype=np.float64)


def undominated(expected: ArrayLike, worst: ArrayLike) -> NDArray[np.bool_]:
    """Return which options nothing beats in both the mean and the worst tenth.

    Examples
    --------
    >>> undominated([3.0, 2.0, 1.0], [1.0, 2.0, 0.5]).tolist()
    [True, True, False]
    """
    mean = np.asarray(expected, dtype=np.float64)
    low = np.asarray(worst, dtype=np.float64)
    as_good = (mean[None, :] >= mean[:, None]) & (low[None, :] >= low[:, None])
    better = (mean[None, :] > mean[:, None]) | (low[None, :] > low[:, None])
    return np.asarray(~np.any(as_good & better, axis=1))


def revenue(weekly_kg: ArrayLike, price_per_kg: ArrayLike) -> Array:
    """Return the revenue of each option and scenario.

    Parameters
    ----------
    weekly_kg : array ``[options, scenarios, weeks]`` [kg]
    price_per_kg : array ``[scenarios, weeks]`` [currency kg-1]
        The same for every option: a price-taker's.

    Examples
    --------
    >>> revenue(np.ones((1, 2, 3)), np.array([[1.0, 1.0, 1.0], [2.0, 2.0, 2.0]])).tolist()
    [[3.0, 6.0]]
    """
    return np.asarray(
        np.einsum("osw,sw->os", np.asarray(weekly_kg), np.asarray(price_per_kg)), dtype=np.float64
    )


def _beats(table: Array, other: Array) -> Array:
    better = (table > other[None, :]).mean(axis=1)
    equal = (table == other[None, :]).mean(axis=1)
    return np.asarray(better + 0.5 * equal, dtype=np.float64)
