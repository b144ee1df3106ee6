"""What a comparison keeps of its options once their weeks are summed up.

Fruit by week of every option and scenario is by far the largest thing that a comparison holds.
Money and the quantiles of each week are taken from it once, and then it can go.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from phenocast.errors import Fault, InputError
from phenocast.forecast.options import OptionSeasons
from phenocast.forecast.summary import LEVEL_NAMES, LEVELS, ordered_quantiles
from phenocast.planning.choice_blocks import by_blocks
from phenocast.planning.choice_money import Money, money_of
from phenocast.planning.prices import PriceCurve
from phenocast.season import Costs

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Digest:
    """The options of a comparison without their weeks, with what was taken from these.

    Parameters
    ----------
    seasons : OptionSeasons
        ``weekly_g`` has no week left.
    week_quantiles : array [options, weeks, 3]
        P10, P50 and P90 of the fruit of each week [g per plant].
    money : Money or None
        None where there are no prices.
    curve, costs : as stated.
    reference : int
        Row of the option that the others are held against.
    seed : int
        Of the draws of prices.
    """

    seasons: OptionSeasons
    week_quantiles: Array
    money: Money | None
    curve: PriceCurve | None
    costs: Costs | None
    reference: int
    seed: int


def digest_of(
    seasons: OptionSeasons,
    *,
    seed: int,
    curve: PriceCurve | None = None,
    costs: Costs | None = None,
    reference: int = 0,
) -> Digest:
    """Take money and quantiles from the weeks of the options.

    Parameters
    ----------
    seasons : OptionSeasons
        Every option under every future and draw.
    seed : int
        As they were run.
    curve : PriceCurve, optional
        Without prices the options are judged by their fruit and money is left out.
    costs : Costs, optional
        What is not stated costs nothing, and that is told.
    reference : int
        Row of the option that the others are held against; where prices follow the supply, its
        fruit stands for that of the region.

    Raises
    ------
    InputError
        When costs and prices are in different currencies, or a week with fruit has no price.
    """
    money: Money | None = None
    if curve is not None:
        costs = Costs(curve.currency) if costs is None else costs
        if costs.currency != curve.currency:
            raise InputError(
                Fault("costs and prices are in different currencies", "costs.currency",
                      costs.currency, curve.currency,
                      "state both in one; no rate of exchange is guessed")
            )  # fmt: skip
        money = money_of(seasons, curve, costs, seed, reference)
    options, weeks = len(seasons.weekly_g), seasons.weekly_g.shape[-1]
    found = np.empty((options, weeks, len(LEVELS)))

    def sum_up(rows: slice) -> None:
        for row in range(options)[rows]:  # one option at a time stays in the cache
            found[row] = week_quantiles(seasons.weekly_g[row].reshape(-1, weeks))

    by_blocks(sum_up, options)
    emptied = np.empty((*seasons.weekly_g.shape[:-1], 0), dtype=np.float32)
    return Digest(
        replace(seasons, weekly_g=emptied), found, money, curve, costs, reference, seed
    )


def week_quantiles(weekly_g: ArrayLike) -> Array:
    """Return P10, P50 and P90 of each week, ``[weeks, 3]``, a straight line between two cases.

    Parameters
    ----------
    weekly_g : array [cases, weeks]

    Examples
    --------
    >>> week_quantiles(np.array([[0.0, 1.0], [10.0, 2.0], [20.0, 3.0]])).tolist()
    [[2.0, 10.0, 18.0], [1.2, 2.0, 2.8]]
    """
    # Sorted week by week in its own type, which is faster than as numbers of double length.
    ordered = np.ascontiguousarray(np.asarray(weekly_g).T)
    return ordered_quantiles(np.sort(ordered, axis=-1))


def week_rows(
    labels: Sequence[str], quantiles: ArrayLike, trays_per_g: float
) -> list[dict[str, Any]]:
    """Return the weeks from the first to the last in which one season in ten picks anything.

    Parameters
    ----------
    labels : sequence of str
    quantiles : array [weeks, 3]
        Of `week_quantiles`.
    trays_per_g : float
        Trays of the block that one gram of every plant fills.

    Examples
    --------
    >>> week_rows(["2027-W01", "2027-W02"], [[0.0, 0.0, 0.0], [1.0, 2.0, 4.0]], 10.0)
    [{'week': '2027-W02', 'g_per_plant': {...}, 'trays': {'p10': 10.0, 'p50': 20.0, 'p90': 40.0}}]
    """
    table = np.asarray(quantiles, dtype=np.float64)
    picked = np.flatnonzero(table[:, -1].round(1) > 0.0)
    if not len(picked):
        return []
    shown = range(int(picked[0]), int(picked[-1]) + 1)
    grams, trays = table.round(1).tolist(), (table * trays_per_g).round(0).tolist()
    return [
        {
            "week": labels[week],
            "g_per_plant": dict(zip(LEVEL_NAMES, grams[week], strict=True)),
            "trays": dict(zip(LEVEL_NAMES, trays[week], strict=True)),
        }
        for week in shown
    ]
