"""Bends: small changes of the model's response curves, and what each would do to every record.

A fit moves numbers and takes the curves as right. A bend raises one curve around one temperature
and lowers it elsewhere, so that its sum over the days of the fit stays: the numbers keep their
meaning. Records of one kind, film, planting month and period share a deviation as well, for what
no curve explains.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from phenocast.calibration.fit_kernel import DATES
from phenocast.calibration.fit_runs import BlockRuns, spread_over_threads
from phenocast.phenology.daily import (
    AIR_DEVELOPMENT,
    AIR_HEAT_27,
    AIR_MEAN,
    BRANCH_WARMTH,
    CROWN_DEVELOPMENT,
    CROWN_HEAT_30,
    CROWN_HEAT_33,
    CROWN_MEAN,
    LEAF_WARMTH,
)
from phenocast.simulation.responses import table_temperatures

FloatArray = NDArray[np.float64]

STEP = 0.25
"""Share by which a curve is raised and lowered for a slope: wide enough to pass over the kinks of
whole days."""
PERIOD_D = 28.0
"""Length of the periods whose records share a deviation. [d]"""


@dataclass(frozen=True)
class Curve:
    """A response curve that may bend.

    Parameters
    ----------
    name : str
        As a warning calls it.
    rows : rows of the daily table that the curve gives; they bend together.
    by : row that says which part of the curve a day is on.
    nodes : middles of the bends, in the unit of that row. Judgement: every 4 degC, and every
        doubling of heat.
    """

    name: str
    rows: tuple[int, ...]
    by: int
    nodes: tuple[float, ...]


_WARMTH = (8.0, 12.0, 16.0, 20.0, 24.0, 28.0, 32.0, 36.0)
CURVES = (
    Curve("flowers and fruit in the air", (AIR_DEVELOPMENT,), AIR_MEAN, _WARMTH[:-1]),
    Curve("buds in the crown", (CROWN_DEVELOPMENT,), CROWN_MEAN, _WARMTH),
    Curve("leaves and branches", (LEAF_WARMTH, BRANCH_WARMTH), CROWN_MEAN, _WARMTH),
    Curve("heat of the crown", (CROWN_HEAT_30, CROWN_HEAT_33), CROWN_HEAT_30,
          (0.0, 16.0, 64.0, 144.0, 256.0)),
    Curve("heat of the air", (AIR_HEAT_27,), AIR_HEAT_27, (0.0, 9.0, 36.0, 81.0, 144.0)),
)  # fmt: skip
INDUCTION = "induction"
INDUCTION_NODES = (2.0, 6.0, 10.0, 14.0, 18.0, 22.0, 26.0, 30.0)
"""Crown temperatures of the bends of induction, which works hour by hour. [degC]"""
SHARED = "records of a film, planting month and period"


def hats(values: FloatArray, nodes: Sequence[float]) -> FloatArray:
    """Weight of each node at each value: 1 at the node, falling to 0 at the next.

    Parameters
    ----------
    values : array ``[n]``
    nodes : rising, ``[k]``; the outer ones hold beyond themselves.

    Returns
    -------
    array ``[k, n]``
        Every column sums to 1.

    Examples
    --------
    >>> hats(np.array([0.0, 12.0, 13.0]), (8.0, 12.0, 16.0)).tolist()
    [[1.0, 0.0, 0.0], [0.0, 1.0, 0.75], [0.0, 0.0, 0.25]]
    """
    return np.array([np.interp(values, nodes, one) for one in np.eye(len(nodes))])


@dataclass(frozen=True)
class Bends:
    """What bends do to the records.

    Parameters
    ----------
    group : tuple of str ``[bends]``
        Name of the curve of each bend, or `SHARED`.
    slopes : list of arrays ``[records of the part, bends]``
        Change of each record with each bend, one array a part of the runs. Bends and shared
        deviations are shares of 1.
    """

    group: tuple[str, ...]
    slopes: list[FloatArray]


def bends_of(parts: Sequence[BlockRuns], vector: FloatArray) -> Bends:
    """Return the slopes of the records of some blocks on every bend that touches one of them.

    Parameters
    ----------
    parts : the blocks of a fit with their records.
    vector : array ``[entries]``
        Numbers around which the curves bend.
    """
    cells_of = [_cells(part) for part in parts]
    weights = [[hats(part.block.daily[curve.by], curve.nodes) for part in parts]
               for curve in CURVES]  # fmt: skip
    middles = [_middles(curve, own, parts) for curve, own in zip(CURVES, weights, strict=True)]
    of_induction = hats(table_temperatures(), INDUCTION_NODES)
    cells = sorted({cell for own in cells_of for cell in own if cell is not None})
    group = [curve.name for curve in CURVES for _ in curve.nodes]
    group += [INDUCTION] * len(INDUCTION_NODES) + [SHARED] * len(cells)

    def work(number: int) -> FloatArray:
        part = parts[number]
        columns = [
            _slope_on_rows(part, vector, curve.rows, own[number][k], middle[:, k])
            for curve, own, middle in zip(CURVES, weights, middles, strict=True)
            for k in range(len(curve.nodes))
        ]
        columns += _slopes_on_induction(part, vector, of_induction)
        expected = part.predict(vector[None, :])[0]
        columns += [
            np.where([one == cell for one in cells_of[number]], expected, 0.0) for cell in cells
        ]
        # a record that a trial cannot speak of (NaN) has no slope
        return np.nan_to_num(np.array(columns).T)

    slopes = spread_over_threads(work, range(len(parts)))
    touched = np.any([np.any(one != 0.0, axis=0) for one in slopes], axis=0)
    kept = tuple(name for name, keep in zip(group, touched, strict=True) if keep)
    return Bends(kept, [one[:, touched] for one in slopes])


def _middles(curve: Curve, weights: list[FloatArray], parts: Sequence[BlockRuns]) -> FloatArray:
    """Mean weight of each node over what the curve gives on all days, ``[rows, nodes]``."""
    found = []
    for row in curve.rows:
        given = [part.block.daily[row] for part in parts]
        total = max(sum(float(one.sum()) for one in given), 1e-12)
        found.append(sum(w @ one for w, one in zip(weights, given, strict=True)) / total)
    return np.array(found)


def _slope_on_rows(
    part: BlockRuns,
    vector: FloatArray,
    rows: tuple[int, ...],
    weight: FloatArray,
    middle: FloatArray,
) -> FloatArray:
    """Slope of the records on a bend of some daily rows, ``[records]``."""
    if not np.any(part.block.daily[list(rows)] * (weight - middle[:, None])):
        return np.zeros(len(part.kind))

    def bent(share: float) -> BlockRuns:
        daily = part.daily.copy()
        for row, own in zip(rows, middle, strict=True):
            daily[row] *= 1.0 + share * (weight - own)
        return replace(part, daily=daily)

    return _slope(bent, vector)


def _slopes_on_induction(
    part: BlockRuns, vector: FloatArray, weights: FloatArray
) -> list[FloatArray]:
    """Slopes of the records on the bends of induction, which stays 1 at its optimum."""
    at_optimum = hats(np.array([float(part.block.base[0]["induction_optimum"])]), INDUCTION_NODES)

    def bending(weight: FloatArray) -> Callable[[float], BlockRuns]:
        return lambda share: replace(part, bend=1.0 + share * weight)

    return [_slope(bending(weight), vector) for weight in weights - at_optimum]


def _slope(bent: Callable[[float], BlockRuns], vector: FloatArray) -> FloatArray:
    """Slope of the records of a block that bends by a share, ``[records]``."""
    up, down = (bent(share).predict(vector[None, :])[0] for share in (STEP, -STEP))
    return np.asarray((up - down) / (2.0 * STEP))


def _cells(part: BlockRuns) -> list[tuple[int, str, int, int] | None]:
    """Kind, film, planting month and period of every record; None for dates."""
    block = part.block
    return [
        None if kind in DATES
        else (int(kind), block.film, block.planting.month, int(stop // PERIOD_D))
        for kind, stop in zip(part.kind, part.stop, strict=True)
    ]  # fmt: skip
