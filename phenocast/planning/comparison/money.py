"""Revenue, costs and margin of every option in every scenario, as stated and at tilted prices.

A tilt t multiplies the price of a week by 1 + t x, where x falls in a straight line of the calendar
from +1 in the first week with fruit to -1 in the last, the same for every option. Revenue is then
R + t D with a D of every scenario, so that quantiles and the best option are found from the
scenarios themselves at each tilt, not from quantiles; at 0 they are those of the comparison.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from phenocast._typing import BoolArray, FloatArray, IntArray
from phenocast.forecast.options import Option, OptionSeasons
from phenocast.forecast.packout import KG_PER_G, Packout
from phenocast.forecast.summary import LEVELS, ordered_quantiles
from phenocast.planning.comparison.judge import Standing, by_blocks, revenue, standing_of
from phenocast.planning.prices import PriceCurve, draw_prices
from phenocast.season import Block, Costs

# Tenths up to half the price either way: no price falls to nothing.
TILTS = (-0.5, -0.4, -0.3, -0.2, -0.1, 0.0, 0.1, 0.2, 0.3, 0.4, 0.5)


@dataclass(frozen=True)
class Tilted:
    """The money of every option at one tilt, of the whole block.

    Parameters
    ----------
    tilt : share by which the first week with fruit is dearer, and the last cheaper.
    revenue : array ``[options, 3]``, P10, P50 and P90.
    revenue_mean : array ``[options]``.
    told : how the options stand by their margin.
    """

    tilt: float
    revenue: FloatArray
    revenue_mean: FloatArray
    told: Standing


def week_lean(places: Sequence[int] | IntArray) -> FloatArray:
    """Return the x of each week: +1 for the first, -1 for the last, a straight line between.

    Parameters
    ----------
    places : whole numbers in order
        Position of each week with fruit on the calendar, in weeks; one week alone leans nowhere.

    Examples
    --------
    >>> week_lean([3, 4, 7]).tolist()
    [1.0, 0.5, -1.0]
    >>> week_lean([3]).tolist()
    [0.0]
    """
    place = np.asarray(places, dtype=np.float64)
    if len(place) < 2:
        return np.zeros(len(place))
    return np.asarray(1.0 - 2.0 * (place - place[0]) / (place[-1] - place[0]))


def tilted(
    revenue: FloatArray, lean: FloatArray, margin: FloatArray, tilts: Sequence[float] = TILTS,
    trusted: BoolArray | None = None,
) -> Iterator[Tilted]:  # fmt: skip
    """Yield the money of the options at each tilt.

    Parameters
    ----------
    revenue, lean, margin : arrays ``[options, traces, draws]``
        Revenue as stated, revenue that one whole tilt adds, and margin as stated; what is taken
        off the revenue does not change with prices.
    tilts : sequence of float
    trusted : array of bool ``[options]``, optional
        Options that may be the best, as in `standing_of`.

    Examples
    --------
    >>> revenue, lean = np.array([[[10.0]], [[9.0]]]), np.array([[[1.0]], [[4.0]]])
    >>> [one.told.best for one in tilted(revenue, lean, revenue - 2.0, tilts=(0.0, 0.5))]
    [0, 1]
    """
    for tilt in tilts:
        yield _at(tilt, revenue, lean, margin, trusted)


def _at(
    tilt: float,
    revenue: FloatArray,
    lean: FloatArray,
    margin: FloatArray,
    trusted: BoolArray | None,
) -> Tilted:
    options = len(revenue)
    margins = np.empty_like(margin)
    levels, means = np.empty((options, len(LEVELS))), np.empty(options)

    def lean_on(rows: slice) -> None:
        added = tilt * lean[rows]
        margins[rows] = margin[rows] + added
        earned = (revenue[rows] + added).reshape(len(added), -1)
        levels[rows] = ordered_quantiles(np.sort(earned, axis=-1))
        means[rows] = earned.mean(axis=1)

    by_blocks(lean_on, options)
    return Tilted(tilt, levels, means, standing_of(margins, trusted))


@dataclass(frozen=True)
class FixedCost:
    """What an option costs before its first fruit, for the whole block; money."""

    film: float = 0.0
    transplants: float = 0.0
    planting: float = 0.0

    @property
    def total(self) -> float:
        """Sum of the parts."""
        return self.film + self.transplants + self.planting


@dataclass(frozen=True)
class Money:
    """The money of a comparison, of the whole block.

    Parameters
    ----------
    revenue : array [options, traces, draws]
        What packed fruit earns: the price holds for the nominal mass of a tray.
    fixed : tuple of FixedCost
        One an option.
    harvest_per_g : float
        Cost of harvesting one gram from every plant of the block.
    picked_g : array [options, traces, draws]
        Marketable fruit carried out of the field [g per plant].
    lean : array [options, traces, draws]
        Revenue that one whole tilt of the prices adds (`phenocast.planning.comparison.money`).
    fruit_weeks : tuple of str
        ISO weeks in which any option bears in any scenario, in order.
    """

    revenue: FloatArray
    fixed: tuple[FixedCost, ...]
    harvest_per_g: float
    picked_g: FloatArray
    lean: FloatArray
    fruit_weeks: tuple[str, ...]

    def harvest_means(self) -> FloatArray:
        """Return the mean cost of the harvest of every option, ``[options]``."""
        return np.asarray(self.harvest().reshape(len(self.fixed), -1).mean(axis=1))

    def harvest(self) -> FloatArray:
        """Return the cost of the harvest, ``[options, traces, draws]``."""
        return np.asarray(self.picked_g * self.harvest_per_g)

    def margins(self) -> FloatArray:
        """Return what is left of the revenue of every option, ``[options, traces, draws]``."""
        fixed = np.array([one.total for one in self.fixed])
        margins = self.harvest()
        np.subtract(self.revenue, margins, out=margins)
        margins -= fixed[:, None, None]
        return margins


def fixed_cost(costs: Costs, block: Block, film: str, transplant: str) -> FixedCost:
    """Return what a way to plant a block costs before its first fruit.

    Parameters
    ----------
    costs : Costs
        What is not stated is zero.
    block : Block
    film, transplant : str

    Examples
    --------
    >>> from datetime import date
    >>> block = Block("East", "Marl", "black", "plug", date(2026, 10, 1), 50_000.0, 2.0)
    >>> costs = Costs("EUR", {"black": 900.0}, {"plug": 0.2}, planting_per_ha=1500.0)
    >>> fixed_cost(costs, block, "black", "plug")
    FixedCost(film=1800.0, transplants=20000.0, planting=3000.0)
    >>> fixed_cost(costs, block, "silver", "bare-root").total
    3000.0
    """
    return FixedCost(
        block.area_ha * costs.film_per_ha.get(film, 0.0),
        block.plants * costs.transplant_each.get(transplant, 0.0),
        block.area_ha * costs.planting_per_ha,
    )


def not_stated(costs: Costs, options: Sequence[Option]) -> list[str]:
    """Return the costs that differ between options and are stated for some of them only.

    Examples
    --------
    >>> from datetime import date
    >>> ways = [Option(date(2026, 10, 1), film, "Marl", "plug") for film in ("black", "silver")]
    >>> not_stated(Costs("EUR", {"black": 900.0}), ways)
    ['film silver', 'transplant plug']
    """
    asked = (
        ("film", costs.film_per_ha, [option.film for option in options]),
        ("transplant", costs.transplant_each, [option.transplant for option in options]),
    )
    return [
        f"{kind} {name}"
        for kind, stated, names in asked
        for name in dict.fromkeys(names)
        if name not in stated
    ]


def money_of(
    seasons: OptionSeasons,
    packout: Packout,
    curve: PriceCurve,
    costs: Costs,
    seed: int,
    reference: int,
    bears: BoolArray | None = None,
) -> Money:
    """Return the money of every option under one draw of prices for each scenario.

    Parameters
    ----------
    seasons : OptionSeasons
    packout : Packout
        The chain from ripe fruit to packed trays.
    curve : PriceCurve
    costs : Costs
    seed : int
        Of the draws of prices.
    reference : int
        Row of the option whose fruit stands for the supply that moves prices, for every option: a
        price-taker's.
    bears : array [weeks], optional
        In which weeks any option is picked in any scenario; looked for where it is not given.

    Raises
    ------
    InputError
        When a week with fruit has no price.
    """
    block = seasons.block
    shape = seasons.season_g.shape
    draws = shape[1] * shape[2]
    weekly = seasons.weekly_g.reshape(shape[0], draws, -1)
    bearing = np.flatnonzero(weekly.any(axis=(0, 1)) if bears is None else bears)
    fruit_weeks = tuple(seasons.weeks[week] for week in bearing)
    place = curve.at(fruit_weeks)
    supply = np.zeros((draws, len(curve.weeks)))
    supply[:, place] = weekly[reference][:, bearing]
    # Weeks without fruit earn nothing at any price, so that they need none and stay where they are.
    price = np.zeros(weekly.shape[1:])
    price[:, bearing] = draw_prices(curve, draws, seed, supply)[:, place]
    leaning = np.zeros(weekly.shape[1:])
    leaning[:, bearing] = price[:, bearing] * week_lean(place)
    kg_per_g = block.plants * KG_PER_G
    paid_kg_per_g = packout.trays_per_g(block.plants) * packout.tray.net_mass_kg
    earned, lean, picked = (np.empty((shape[0], draws)) for _ in range(3))

    def earn(rows: slice) -> None:
        # One option at a time, always in the same place, stays in the cache.
        kg = np.empty((1, *price.shape))
        for row in range(shape[0])[rows]:
            carried = packout.picked_g(seasons.weekly_g[row], block.plants_per_ha)
            carried = carried.reshape(draws, -1)
            picked[row] = carried.sum(axis=-1, dtype=np.float64)
            np.multiply(carried, paid_kg_per_g, out=kg[0])
            earned[row] = revenue(kg, price)[0]
            lean[row] = revenue(kg, leaning)[0]

    by_blocks(earn, shape[0])
    return Money(
        earned.reshape(shape),
        tuple(fixed_cost(costs, block, one.film, one.transplant) for one in seasons.options),
        costs.harvest_per_kg * kg_per_g,
        picked.reshape(shape),
        lean.reshape(shape),
        fruit_weeks,
    )
