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
from phenocast.forecast.packout import Packout
from phenocast.forecast.summary import LEVELS, ordered_quantiles
from phenocast.planning.choice_blocks import by_blocks
from phenocast.planning.choice_money import Money, money_of
from phenocast.planning.choice_rows import plain
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
    ripe_quantiles, picked_quantiles : arrays [options, weeks, 3]
        P10, P50 and P90 of the fruit of each week, ripe and carried out of the field [g per plant].
    packout : Packout
        The chain from ripe fruit to packed trays.
    money : Money or None
        None where there are no prices.
    curve, costs : as stated.
    reference : int
        Row of the option that the others are held against.
    seed : int
        Of the draws of prices.
    """

    seasons: OptionSeasons
    ripe_quantiles: Array
    picked_quantiles: Array
    packout: Packout
    money: Money | None
    curve: PriceCurve | None
    costs: Costs | None
    reference: int
    seed: int


def digest_of(
    seasons: OptionSeasons,
    packout: Packout,
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
        Every option under every weather trace and draw.
    packout : Packout
        With as many draws.
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
    if curve is not None:
        costs = Costs(curve.currency) if costs is None else costs
        if costs.currency != curve.currency:
            raise InputError(
                Fault("costs and prices are in different currencies", "costs.currency",
                      costs.currency, curve.currency,
                      "state both in one; no rate of exchange is guessed")
            )  # fmt: skip
    ripe, picked, bears = week_quantiles(seasons.weekly_g, packout, seasons.block.plants_per_ha)
    money: Money | None = None
    if curve is not None and costs is not None:
        money = money_of(seasons, packout, curve, costs, seed, reference, bears)
    emptied = np.empty((*seasons.weekly_g.shape[:-1], 0), dtype=np.float32)
    return Digest(
        replace(seasons, weekly_g=emptied),
        ripe, picked, packout, money, curve, costs, reference, seed,
    )  # fmt: skip


def week_quantiles(
    weekly_g: NDArray[np.float32], packout: Packout, plants_per_ha: float
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Return P10, P50 and P90 of each week, a straight line between two cases.

    Parameters
    ----------
    weekly_g : array [options, traces, draws, weeks]
        Ripe fruit [g per plant].
    packout : Packout
    plants_per_ha : float

    Returns
    -------
    (ripe, picked, bears) : arrays [options, weeks, 3] twice, and [weeks]
        The last tells in which weeks any option is picked in any case.

    Examples
    --------
    >>> from phenocast.forecast.packout import tray
    >>> chain = Packout(tray("8 x 1 lb"), np.full(3, 0.5), 0.02)
    >>> weekly = np.array([[[[0.0, 1.0], [0.0, 2.0], [0.0, 3.0]]]])
    >>> ripe, picked, bears = week_quantiles(weekly, chain, 50_000.0)
    >>> ripe.tolist(), picked[0, 1].tolist(), bears.tolist()
    ([[[0.0, 0.0, 0.0], [1.2, 2.0, 2.8]]], [0.6, 1.0, 1.4], [False, True])
    """
    weeks = weekly_g.shape[-1]
    ripe = np.empty((len(weekly_g), weeks, len(LEVELS)))
    picked = np.empty_like(ripe)
    bears = np.empty(ripe.shape[:2], dtype=np.bool_)

    def sum_up(rows: slice) -> None:
        # One option at a time, always in the same place, stays in the cache.
        ordered = np.empty((weeks, weekly_g[0, ..., 0].size), dtype=weekly_g.dtype)
        for row in range(len(weekly_g))[rows]:
            fruit = weekly_g[row]
            for found, cases in (
                (ripe, fruit), (picked, packout.picked_g(fruit, plants_per_ha)),
            ):  # fmt: skip
                ordered[...] = cases.reshape(-1, weeks).T
                # Sorted in its own type, which is faster than as numbers of double length.
                ordered.sort(axis=-1)
                found[row] = ordered_quantiles(ordered)
            bears[row] = ordered[:, -1] > 0.0

    by_blocks(sum_up, len(weekly_g))
    return ripe, picked, np.asarray(bears.any(axis=0))


def week_rows(
    labels: Sequence[str], ripe: ArrayLike, trays: ArrayLike
) -> list[list[dict[str, Any]]]:
    """Return the weeks of every option, the first to the last in which one in ten has ripe fruit.

    Parameters
    ----------
    labels : sequence of str
    ripe, trays : arrays [options, weeks, 3]
        Ripe fruit [g per plant], and packed trays of the block.

    Examples
    --------
    >>> ripe = np.array([[[0.0, 0.0, 0.0], [1.0, 2.0, 4.0]]])
    >>> week_rows(["2027-W01", "2027-W02"], ripe, 10.0 * ripe)
    [[{'week': '2027-W02', 'g_per_plant': {...}, 'trays': {'p10': 10.0, 'p50': 20.0, 'p90': 40.0}}]]
    """
    grams = np.asarray(ripe, dtype=np.float64).round(1)
    picks = grams[..., -1] > 0.0
    # From the first pick on, and up to the last.
    shown = np.logical_or.accumulate(picks, axis=1)
    shown &= np.logical_or.accumulate(picks[:, ::-1], axis=1)[:, ::-1]
    rows = [
        {
            "week": labels[week],
            "g_per_plant": {"p10": low_g, "p50": middle_g, "p90": high_g},
            "trays": {"p10": low, "p50": middle, "p90": high},
        }
        for week, (low_g, middle_g, high_g), (low, middle, high) in zip(
            np.nonzero(shown)[1].tolist(),
            plain(grams[shown], 1),
            plain(np.asarray(trays, dtype=np.float64)[shown].round(0), 0),
            strict=True,
        )
    ]
    ends = np.cumsum(shown.sum(axis=1)).tolist()
    return [rows[start:end] for start, end in zip([0, *ends], ends, strict=False)]
