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

from phenocast.errors import Fault, InputError
from phenocast.planning.choice_blocks import by_blocks
from phenocast.planning.choice_standing import Standing, beats, may_be_best, standing_of

Array = NDArray[np.float64]


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

    regret: Array
    beats_reference: Array
    undominated: NDArray[np.bool_]
    reference: int


def judge(
    values: ArrayLike, reference: int = 0, trusted: NDArray[np.bool_] | None = None
) -> Judgement:
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
    # Scenarios that are independent of each other are futures of one draw each.
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
