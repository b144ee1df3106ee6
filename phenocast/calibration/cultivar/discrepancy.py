"""Model discrepancy: how far parameters may be led astray by response curves that are not right.

Laplace's method says how sure parameters are if the model's curves are right. Here curves may bend:
a basis function raises one curve around one temperature and lowers it elsewhere, so that its sum
over the days of the fit stays and the parameters keep their meaning. Records of one kind, film,
planting month and period share a deviation as well, for what no curve explains. Each curve bends as
far as the records themselves show: where they stray from the model no more than by chance, nothing
bends and the intervals stay as they were. Where they do, parameters move with the bends, and that
movement is added to what is not known.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from phenocast._typing import FloatArray, IntArray
from phenocast.calibration.cultivar.model import DATES, BlockRuns, spread_over_threads
from phenocast.calibration.cultivar.optimise import Point, Problem, part_terms
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


def basis_functions(values: FloatArray, nodes: Sequence[float]) -> FloatArray:
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
    >>> basis_functions(np.array([0.0, 12.0, 13.0]), (8.0, 12.0, 16.0)).tolist()
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
    weights = [[basis_functions(part.block.daily[curve.by], curve.nodes) for part in parts]
               for curve in CURVES]  # fmt: skip
    middles = [_middles(curve, own, parts) for curve, own in zip(CURVES, weights, strict=True)]
    of_induction = basis_functions(table_temperatures(), INDUCTION_NODES)
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
        return part.with_curves(daily=daily)

    return _slope(bent, vector)


def _slopes_on_induction(
    part: BlockRuns, vector: FloatArray, weights: FloatArray
) -> list[FloatArray]:
    """Slopes of the records on the bends of induction, which stays 1 at its optimum."""
    at_optimum = basis_functions(
        np.array([float(part.block.base[0]["induction_optimum"])]), INDUCTION_NODES
    )

    def bending(weight: FloatArray) -> Callable[[float], BlockRuns]:
        return lambda share: part.with_curves(bend=1.0 + share * weight)

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


PRIOR_SCALES = (0.0, 0.02, 0.04, 0.08, 0.15, 0.3, 0.6, 1.0)
"""Spreads of the bends of one curve that are tried, as shares: 1 is a curve doubled or gone."""
_ROUNDS = 4
SHIFT_COUNTS = 3.0
"""How often the square of the movement that bends show counts in the variance of a number. A bend
is shrunk and part of what is wrong hides in the numbers, so that more is astray than is seen; few
bends speak, as if a normal had its spread from two degrees of freedom (3.1 at 90 %)."""
TOLD = 5.0
"""Gain of log-likelihood from which bends are told: the right model gave up to 4.1 in 52 fits."""


@dataclass(frozen=True)
class Discrepancy:
    """What bends of the curves make of a fit.

    Parameters
    ----------
    gain : float
        Evidence for curves that bend against curves that do not. [log-likelihood]
    gains : dict of str to float
        The same for each curve that bends alone.
    strength : dict of str to float
        Spread of the bends of each curve, as a share.
    shift : array ``[entries]``
        How far the numbers would move were the bends let in.
    covariance : array ``[entries, entries]``
        To be added to that of the fit.
    """

    gain: float
    gains: dict[str, float]
    strength: dict[str, float]
    shift: FloatArray
    covariance: FloatArray


def model_discrepancy(problem: Problem, point: Point, free: IntArray) -> Discrepancy:
    """Return what bends of the curves make of a fit.

    Parameters
    ----------
    problem : records, runs and priors.
    point : where its search ended.
    free : entries that were free.

    Notes
    -----
    Records are taken as a normal around the likeliest numbers, as in Laplace's method, with the
    bends as further numbers whose prior is 0 with the strength of their curve; strengths are the
    likeliest of a grid (restricted likelihood: the numbers integrated out). A chamber trial counts
    as before: curves bend for blocks alone.
    """
    parts = problem.runs.parts
    bends = bends_of(parts, point.vector)
    moving = np.zeros(len(point.vector), dtype=bool)
    moving[free] = True
    n = len(bends.group)
    across, square, pull = np.zeros((len(point.vector), n)), np.zeros((n, n)), np.zeros(n)
    expected, slopes = problem.runs.slopes(point.vector, moving)
    for part, jacobian, bent in zip(parts, slopes, bends.slopes, strict=True):
        terms = part_terms(problem, part, expected[part.rows][None, :])
        weight = problem.weight[part.rows]
        curve = (weight * terms.information)[:, None]
        across[part.entries] += np.nan_to_num(jacobian).T @ (curve * bent)
        square += bent.T @ (curve * bent)
        pull += bent.T @ (weight * terms.slope)
    own = across[free]
    tied = np.linalg.solve((point.information + problem.prior)[np.ix_(free, free)], own)
    left = (point.gradient - problem.prior @ point.vector)[free]
    square -= own.T @ tied
    pull -= tied.T @ left
    names = tuple(dict.fromkeys(bends.group))
    at = np.array([names.index(name) for name in bends.group], dtype=np.int64)
    strength, gain = prior_scales(square, pull, at)
    gains: dict[str, float] = {}
    for one, name in enumerate(names):
        of = np.flatnonzero(at == one)
        gains[name] = prior_scales(square[np.ix_(of, of)], pull[of], np.zeros_like(of))[1]
    spread = strength[at]
    inner = np.eye(n) + spread[:, None] * square * spread[None, :]
    variance = spread[:, None] * np.linalg.solve(inner, np.diag(spread))
    bend = variance @ pull
    shift, covariance = np.zeros(len(moving)), np.zeros((len(moving), len(moving)))
    shift[free] = -tied @ bend
    covariance[np.ix_(free, free)] = tied @ variance @ tied.T
    covariance += SHIFT_COUNTS * np.outer(shift, shift)
    told = dict(zip(names, strength.tolist(), strict=True))
    return Discrepancy(gain, gains, told, shift, covariance)


def prior_scales(square: FloatArray, pull: FloatArray, group: IntArray) -> tuple[FloatArray, float]:
    """Return the likeliest strength of each group of bends, and the evidence it gains over 0.

    Parameters
    ----------
    square : information on the bends with everything else integrated out, ``[n, n]``.
    pull : slope of the log-likelihood on them, ``[n]``.
    group : group of each, ``[n]``, from 0.

    Examples
    --------
    >>> group = np.array([0, 0, 1, 1])
    >>> strong, gain = prior_scales(100.0 * np.eye(4), np.array([30.0, -30.0, 3.0, -3.0]), group)
    >>> strong.tolist(), gain > 5.0
    ([0.3, 0.0], True)
    """
    count = int(group.max(initial=-1)) + 1
    found = np.zeros(count)

    def evidence(strength: FloatArray) -> float:
        spread = strength[group]
        inner = np.eye(len(group)) + spread[:, None] * square * spread[None, :]
        _, log_inner = np.linalg.slogdet(inner)
        own = spread * pull
        return float(0.5 * (own @ np.linalg.solve(inner, own) - log_inner))

    for _ in range(_ROUNDS):
        before = found
        for one in range(count):
            tried = np.tile(found, (len(PRIOR_SCALES), 1))
            tried[:, one] = PRIOR_SCALES
            found = tried[int(np.argmax([evidence(strength) for strength in tried]))]
        if np.array_equal(found, before):
            break
    return found, evidence(found)
