"""Choosing among options whose values are known for the same set of possible seasons.

A scenario is one possible season with one draw of what is not known and one draw of prices. All
options share the scenarios, so two of them are compared scenario by scenario, and what makes all of
them good or bad together drops out. Two questions are kept apart: how often one option beats
another (a share of scenarios), and how surely the mean of one is above that of another, for the
scenarios are a sample (a standard error of the paired difference).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import stdtrit

from phenocast.errors import Fault, InputError

Array = NDArray[np.float64]

WORST_SHARE = 0.1
# An option is called not clearly worse than the best while the best beats it in fewer scenarios
# than this: a convention for words, the probability itself is printed beside it.
CLEAR_PROBABILITY = 0.8
# Level of the two-sided interval of a paired difference: a convention for words as well.
LEVEL = 0.95


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
    behind_best : mean of what the best option gives beyond this one.
    behind_best_se : standard error of that mean; NaN where it cannot be told (one possible season).
    behind_best_margin : half width of its interval of ``LEVEL``; NaN likewise.
    best, reference : rows of the option of the highest mean and of the reference.
    """

    expected: Array
    worst_tenth: Array
    regret: Array
    beats_reference: Array
    best_beats: Array
    undominated: NDArray[np.bool_]
    behind_best: Array
    behind_best_se: Array
    behind_best_margin: Array
    best: int
    reference: int

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


def judge(values: ArrayLike, reference: int = 0) -> Judgement:
    """Judge options by their value in every scenario.

    Parameters
    ----------
    values : array ``[options, futures, draws]``, any unit in which more is better; also
        ``[options, scenarios]`` where every scenario is independent of every other.
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
    grid = np.asarray(values, dtype=np.float64)
    if grid.ndim not in (2, 3) or grid.size == 0:
        raise InputError(Fault("there is nothing to choose from", "options", grid.shape,
                               "at least one option and one scenario"))  # fmt: skip
    table = grid.reshape(len(grid), -1)
    if not np.all(np.isfinite(table)):
        row = int(np.argwhere(~np.isfinite(table))[0][0])
        raise InputError(Fault("a value is missing", f"option {row}"))
    if not 0 <= reference < len(table):
        raise InputError(Fault("the reference is no option", "reference", reference,
                               f"0 to {len(table) - 1}"))  # fmt: skip
    expected = table.mean(axis=1)
    best = int(np.argmax(expected))
    top = table.max(axis=0)
    worst, regret, beats, beaten = (np.empty(len(table)) for _ in range(4))
    error, margin = np.empty(len(table)), np.empty(len(table))
    shape = (*grid.shape[1:], 1)[:2]
    for row, values_of in enumerate(table):  # one option at a time: thousands of them fit memory
        worst[row] = worst_mean(values_of)
        regret[row] = (top - values_of).mean()
        beats[row] = _beats(values_of, table[reference])
        beaten[row] = 1.0 - _beats(values_of, table[best])
        error[row], margin[row] = paired_error((table[best] - values_of).reshape(shape))
    return Judgement(
        expected=expected,
        worst_tenth=worst,
        regret=regret,
        beats_reference=beats,
        best_beats=beaten,
        undominated=undominated(expected, worst),
        behind_best=np.asarray(expected[best] - expected),
        behind_best_se=error,
        behind_best_margin=margin,
        best=best,
        reference=reference,
    )


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
        rest = table - of_season[..., :, None] - of_draw[..., None, :] + mean[..., None, None]
        both = (rest**2).sum(axis=(-2, -1)) / ((seasons - 1) * (draws - 1))
        size = seasons * draws
        variance = np.maximum(between + among - both, np.maximum(between, among)) / size
        parts = between**2 / (seasons - 1) + among**2 / (draws - 1)
        freedom = np.divide(
            (between + among) ** 2, parts, out=np.ones_like(parts), where=parts > 0.0
        )
    error = np.sqrt(np.maximum(variance, 0.0))
    return error, np.asarray(stdtrit(freedom, 0.5 + level / 2.0) * error, dtype=np.float64)


def worst_mean(values: ArrayLike, share: float = WORST_SHARE) -> Array:
    """Return the mean of the lowest share of the last axis (CVaR of the low tail).

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


def _beats(values: Array, other: Array) -> float:
    """Return the share of scenarios in which one option is better; ties count half."""
    return float((values > other).mean() + 0.5 * (values == other).mean())
