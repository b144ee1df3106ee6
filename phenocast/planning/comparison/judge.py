"""Choosing among options whose values are known for the same weather years.

A scenario is one weather trace with one draw of the parameters and one draw of prices. All
options share the scenarios, so two of them are compared scenario by scenario, and what makes all of
them good or bad together drops out. Two questions are kept apart: how often one option beats
another (a share of scenarios), and how surely the mean of one is above that of another, for the
scenarios are a sample (a standard error of the paired difference).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import stdtrit

from phenocast._parallel import in_order
from phenocast._typing import BoolArray, FloatArray
from phenocast.errors import Fault, InputError
from phenocast.forecast.summary import LEVELS, ordered_quantiles

OPTIONS_AT_ONCE = 96
"""So many options of 2000 scenarios are 1.5 megabytes, about what the cache of a core holds; with
fewer at once threads wait for each other more than for memory."""


def by_blocks(work: Callable[[slice], None], options: int) -> None:
    """Call ``work`` with the rows of a few options after another, on several threads.

    Parameters
    ----------
    work : callable
        Given rows; writes what it finds of them into arrays of its own, and looks at no others.
    options : int
        How many there are.

    Examples
    --------
    >>> import numpy as np
    >>> squares = np.arange(100)
    >>> def square(rows: slice) -> None:
    ...     squares[rows] **= 2
    >>> by_blocks(square, 100)
    >>> int(squares[99])
    9801
    """
    rows = (slice(at, at + OPTIONS_AT_ONCE) for at in range(0, options, OPTIONS_AT_ONCE))
    for _ in in_order(work, ((one,) for one in rows)):
        pass


# Level of the two-sided interval of a paired difference: a convention for words.
LEVEL = 0.95


def paired_error(difference: ArrayLike, level: float = LEVEL) -> tuple[FloatArray, FloatArray]:
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
    difference : array ``[..., traces, draws]``
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
    behind_best_se : standard error of that mean; NaN where it cannot be told (one trace).
    behind_best_margin : half width of its interval of `LEVEL`; NaN likewise.
    best : row of the option of the highest mean among those that may be the best.
    """

    expected: FloatArray
    levels: FloatArray
    worst_tenth: FloatArray
    behind_best: FloatArray
    behind_best_se: FloatArray
    behind_best_margin: FloatArray
    best: int

    @property
    def not_clearly_worse(self) -> BoolArray:
        """Options whose mean difference to the best has an interval that reaches zero.

        Without an interval (one possible season) nothing is clearly worse. The interval is that of
        each pair; no allowance is made for having picked the best of many.
        """
        return ~(self.behind_best > self.behind_best_margin) | np.isnan(self.behind_best_margin)


def standing_of(values: FloatArray, trusted: BoolArray | None = None) -> Standing:
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


def may_be_best(options: int, trusted: BoolArray | None) -> BoolArray:
    """Return the options among which the best is looked for: all of them where none is trusted."""
    every = np.ones(options, dtype=np.bool_)
    return every if trusted is None or not trusted.any() else trusted


def beats(values: FloatArray, other: FloatArray) -> FloatArray:
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


def worst_mean(ordered: FloatArray, share: float = WORST_SHARE) -> FloatArray:
    """Return the mean of the lowest share of the last axis, along which values rise (CVaR).

    Examples
    --------
    >>> worst_mean(np.arange(20.0)[None, :]).tolist()
    [0.5]
    """
    count = max(1, round(share * ordered.shape[-1]))
    return np.asarray(ordered[..., :count].mean(axis=-1), dtype=np.float64)


@dataclass(frozen=True)
class Judgement(Standing):
    """How options stand beside the best, the reference and all others, arrays ``[options]``.

    Parameters
    ----------
    regret : mean of what the best option of each scenario would have given beyond this one; only
        trusted options count as the best, and a scenario without regret counts as 0.
    beats_reference : share of scenarios in which the option is better than the reference; ties
        count half.
    undominated : a trusted option, and no other of these has both a mean and a worst tenth at
        least as high.
    reference : row of the reference.
    """

    regret: FloatArray
    beats_reference: FloatArray
    undominated: BoolArray
    reference: int


def judge(values: ArrayLike, reference: int = 0, trusted: BoolArray | None = None) -> Judgement:
    """Judge options by their value in every scenario.

    Parameters
    ----------
    values : array ``[options, traces, draws]``, any unit in which more is better; also
        ``[options, scenarios]`` where every scenario is independent of every other.
    reference : row of the option that the others are held against.
    trusted : array of bool ``[options]``, optional
        Options that may be recommended; all of them where it is not given.

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
    ranked = may_be_best(len(table), trusted)
    top = table.max(axis=0, where=ranked[:, None], initial=-np.inf)
    regret, ahead = np.empty(len(table)), np.empty(len(table))

    def hold(rows: slice) -> None:
        regret[rows] = np.maximum(top - table[rows], 0.0).mean(axis=1)
        ahead[rows] = beats(table[rows], table[reference])

    by_blocks(hold, len(table))
    # Scenarios that are independent of each other are traces of one draw each.
    told = standing_of(grid if grid.ndim == 3 else grid[..., None], trusted)
    first = np.zeros(len(table), dtype=np.bool_)
    first[ranked] = undominated(told.expected[ranked], told.worst_tenth[ranked])
    return Judgement(
        **vars(told),
        regret=regret,
        beats_reference=ahead,
        undominated=first if trusted is None else first & trusted,
        reference=reference,
    )


def undominated(expected: ArrayLike, worst: ArrayLike) -> BoolArray:
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


def revenue(weekly_kg: ArrayLike, price_per_kg: ArrayLike) -> FloatArray:
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
