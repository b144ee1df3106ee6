"""What a comparison keeps of its options once their weeks are summed up, and how it is printed.

Fruit by week of every option and scenario is by far the largest thing that a comparison holds.
Money and the quantiles of each week are taken from it once, and then it can go. Some hundreds of
numbers of every option are printed, rounded all at once to the figures that one by one would give.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from phenocast._typing import BoolArray, FloatArray
from phenocast.errors import Fault, InputError
from phenocast.forecast.options import OptionSeasons
from phenocast.forecast.packout import Packout
from phenocast.forecast.summary import LEVELS, ordered_quantiles
from phenocast.planning.comparison.judge import Standing, by_blocks
from phenocast.planning.comparison.money import Money, money_of
from phenocast.planning.prices import PriceCurve
from phenocast.season import Costs
from phenocast.units import KEPT_DIGITS, to_kept_digits

# A number scaled to whole ones is off by less than this while it is below a thousand million.
_DOUBT = 1e-6
_LARGE = 1e9


class PlainRows(list[dict[str, Any]]):
    """Entries that are plain data already: `phenocast.io.plain_data` takes them as they are."""

    is_plain_data = True


def printed(values: FloatArray, digits: int) -> list[Any]:
    """Return the numbers of an array as ``round`` rounds each of them, in lists as deep as it.

    Scaled, made whole and scaled back, which is several times faster. That gives the float nearest
    to the decimals, as ``round`` does, wherever it is plain which whole number is the nearest;
    numbers that lie all but in the middle of two, or are very large, are left to ``round``.

    Parameters
    ----------
    values : array of any shape
    digits : int
        Places after the point, 0 to 9.

    Returns
    -------
    list
        As `plain` gives it.

    Examples
    --------
    >>> printed(np.array([0.125, 2.675, np.nan]), 2)  # 2.675 is a little less than it looks
    [0.12, 2.67, None]
    """
    scale = 10.0**digits
    # What is not finite, or becomes so, is in doubt too.
    with np.errstate(invalid="ignore", over="ignore"):
        scaled = values * scale
        whole = np.rint(scaled)
        found = whole / scale
        sure = (np.abs(scaled - whole) < 0.5 - _DOUBT) & (np.abs(scaled) < _LARGE)
    for place in np.argwhere(~sure):
        at = tuple(place)
        found[at] = round(float(values[at]), digits)
    return plain(found, digits)


def plain(rounded: FloatArray, digits: int) -> list[Any]:
    """Return numbers of few decimals as JSON holds them: no minus zero, and None for no number.

    Parameters
    ----------
    rounded : array of any shape
        Each the float nearest to a decimal number of so many places.
    digits : int
        These places; a number too large to keep them in ten significant digits loses some.

    Examples
    --------
    >>> plain(np.array([[-0.0, 12.5], [np.inf, 12345678901.5]]), 1)
    [[0.0, 12.5], [None, 12345678900.0]]
    """
    told: list[Any] = (rounded + 0.0).tolist()
    kept = np.abs(rounded) < 10.0 ** (KEPT_DIGITS - digits)
    for place in np.argwhere(~kept):
        row = told
        for step in place[:-1]:
            row = row[step]
        row[place[-1]] = to_kept_digits(row[place[-1]])
    return told


def level_rows(levels: FloatArray, digits: int) -> list[dict[str, float]]:
    """Return P10, P50 and P90 of every row by their names, rounded for print.

    Parameters
    ----------
    levels : array [rows, 3]
    digits : int

    Examples
    --------
    >>> level_rows(np.array([[1.04, 2.0, 3.06]]), 1)
    [{'p10': 1.0, 'p50': 2.0, 'p90': 3.1}]
    """
    rows = printed(levels, digits)
    return [{"p10": low, "p50": middle, "p90": high} for low, middle, high in rows]


def mean_rows(means: FloatArray, levels: FloatArray) -> list[dict[str, float]]:
    """Return the mean of every row, which is its headline, with its P10, P50 and P90.

    Examples
    --------
    >>> mean_rows(np.array([2.4]), np.array([[1.0, 2.0, 3.0]]))
    [{'mean': 2.0, 'p10': 1.0, 'p50': 2.0, 'p90': 3.0}]
    """
    return [
        {"mean": mean, **row}
        for mean, row in zip(printed(means, 0), level_rows(levels, 0), strict=True)
    ]


def standing_columns(told: Standing) -> dict[str, list[Any]]:
    """Return how every option stands, a column for each key."""
    return {
        "expected": printed(told.expected, 2),
        "worst_tenth": printed(told.worst_tenth, 2),
        "difference_to_best": [
            {"mean": mean, "standard_error": error, "low_95": low, "high_95": high}
            for mean, error, low, high in zip(
                printed(-told.behind_best, 2),
                printed(told.behind_best_se, 3),
                printed(-told.behind_best - told.behind_best_margin, 2),
                printed(-told.behind_best + told.behind_best_margin, 2),
                strict=True,
            )
        ],
        "not_clearly_worse": told.not_clearly_worse.tolist(),
    }


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
    ripe_quantiles: FloatArray
    picked_quantiles: FloatArray
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
) -> tuple[FloatArray, FloatArray, BoolArray]:
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
