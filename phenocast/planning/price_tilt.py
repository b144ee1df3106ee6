"""What the options of a comparison earn when early fruit is dearer, or cheaper, than stated.

A tilt t multiplies the price of a week by 1 + t x, where x falls in a straight line of the calendar
from +1 in the first week with fruit to -1 in the last, the same for every option. Revenue is then
R + t D with a D of every scenario, so that quantiles and the best option are found from the
scenarios themselves at each tilt, not from quantiles; at 0 they are those of the comparison.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from phenocast.forecast.summary import LEVELS, ordered_quantiles
from phenocast.planning.choice_blocks import by_blocks
from phenocast.planning.choice_standing import Standing, standing_of

Array = NDArray[np.float64]

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
    revenue: Array
    revenue_mean: Array
    told: Standing


def week_lean(places: Sequence[int] | NDArray[np.int64]) -> Array:
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
    revenue: Array, lean: Array, margin: Array, tilts: Sequence[float] = TILTS,
    trusted: NDArray[np.bool_] | None = None,
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
    tilt: float, revenue: Array, lean: Array, margin: Array, trusted: NDArray[np.bool_] | None
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
