"""What is not normal about the numbers of a cultivar: draws from a normal, weighed by the records.

Whole days leave ripples in the likelihood and some numbers bend it, so that its highest point is
not its middle and its curve there is not its width. Around the likeliest vector draws are taken
from the normal of Laplace's method, once for all cultivars, and every cultivar weighs them by how
far the records of its own blocks stray from that normal. Middle and spread of its numbers follow
from the weighed draws; what cultivars share stays as it was.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from phenocast.calibration.fit_numbers import CULTIVAR, PLOT_LEVEL
from phenocast.calibration.fit_runs import BlockRuns, spread_over_threads
from phenocast.calibration.fit_search import Point, Problem, part_terms

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

DRAWS = 256
LEAST_WORTH = 20.0
"""Draws that the weighed ones must be worth; else a cultivar keeps what Laplace gave."""
_SEED = 20260711


@dataclass(frozen=True)
class Weighed:
    """Middle and covariance by weighed draws.

    Parameters
    ----------
    vector : array ``[entries]``
        Middle of the posterior for numbers of cultivars and levels of their blocks.
    covariance : array ``[entries, entries]``
    worth : dict of str to float
        How many even draws those of a cultivar are worth, of `DRAWS`; below `LEAST_WORTH` they
        were not used. 0 for a cultivar with a number at its bound.
    """

    vector: FloatArray
    covariance: FloatArray
    worth: dict[str, float]


def weighed(problem: Problem, point: Point, covariance: FloatArray, free: IntArray) -> Weighed:
    """Return middle and covariance of the posterior, numbers of each cultivar by weighed draws.

    Parameters
    ----------
    problem : Problem
    point : where its search ended.
    covariance : by Laplace, ``[entries, entries]``; 0 where nothing was free.
    free : entries that were free.

    Notes
    -----
    Importance sampling with weights cut at their mean times the square root of their number
    (Ionides 2008, J. Comput. Graph. Stat. 17:295-311; recalled from memory). Draws come in pairs
    on both sides of the middle, and the covariance of the draws themselves stands in the
    denominator, so that weights that are all alike change nothing. Draws outside a bound weigh
    nothing. A cultivar with a number pressed against its bound keeps what Laplace gave: weighed,
    the number would pass for almost certain, where as a rule it is the model that does not suit.
    Chamber trials count as the normal has them.
    """
    numbers = problem.layout.numbers
    rng = np.random.default_rng(_SEED)
    root = np.linalg.cholesky(covariance[np.ix_(free, free)] + 1e-12 * np.eye(free.size))
    half = rng.standard_normal((DRAWS // 2, free.size)) @ root.T
    away = np.zeros((2 * len(half), len(point.vector)))
    away[:, free] = np.concatenate([half, -half])
    drawn = np.clip(point.vector + away, problem.low, problem.high)
    slope = point.gradient - problem.prior @ point.vector
    owners = sorted({numbers[i].owner for i in free if numbers[i].group == CULTIVAR})
    by_owner = [
        (np.array([i for i in free if numbers[i].group == CULTIVAR and numbers[i].owner == one]),
         [part for part in problem.runs.parts if part.block.cultivar == one])
        for one in owners
    ]  # fmt: skip

    def weigh(task: tuple[IntArray, list[BlockRuns]]) -> tuple[FloatArray, float, IntArray]:
        own, parts = task
        here = point.vector[own]
        if np.any((here <= problem.low[own]) | (here >= problem.high[own])):
            return np.full(len(away), np.nan), 0.0, own
        logs = away[:, own] @ slope[own]
        levels = []
        for part in parts:
            logs += _strays(problem, part, point.vector, drawn, free)
            levels += [i for i in part.entries if numbers[i].group == PLOT_LEVEL and i in free]
        inside = np.all(drawn[:, own] == (point.vector + away)[:, own], axis=1)
        weight = np.where(inside, np.exp(logs - np.max(logs, where=inside, initial=-np.inf)), 0.0)
        weight = np.minimum(weight, weight.mean() * np.sqrt(len(weight)))
        total = float(weight.sum())
        worth = total**2 / float(weight @ weight) if total > 0.0 else 0.0
        return weight / max(total, 1e-300), worth, np.array(levels, dtype=np.int64)

    vector, turn, worths = point.vector.copy(), np.eye(len(point.vector)), {}
    for name, (own, _), (weight, worth, levels) in zip(
        owners, by_owner, spread_over_threads(weigh, by_owner), strict=True
    ):
        worths[name] = worth
        if worth < LEAST_WORTH:
            continue
        moved = np.concatenate([own, levels])
        vector[moved] += weight @ away[:, moved]
        here = away[:, own] - weight @ away[:, own]
        tiny = 1e-12 * np.eye(own.size)
        wide = np.linalg.cholesky((here * weight[:, None]).T @ here + tiny)
        plain = np.linalg.cholesky(away[:, own].T @ away[:, own] / len(away) + tiny)
        turn[np.ix_(own, own)] = wide @ np.linalg.inv(plain)
    vector = np.clip(vector, problem.low, problem.high)
    return Weighed(vector, turn @ covariance @ turn.T, worths)


def _strays(
    problem: Problem, part: BlockRuns, middle: FloatArray, drawn: FloatArray, free: IntArray
) -> FloatArray:
    """Log-likelihood of a block's records in each draw, less what the normal makes of it."""
    moving = np.zeros(len(middle), dtype=bool)
    moving[free] = True
    expected, slopes = part.slopes(middle, moving)
    rows, n = part.rows, len(drawn)
    known = np.nan_to_num(slopes)
    at = part_terms(problem, part, expected[None, :])
    pull = known.T @ (problem.weight[rows] * at.slope)
    square = (known * (problem.weight[rows] * at.information)[:, None]).T @ known
    own = drawn[:, part.entries]
    logs = part_terms(problem, part, part.predict(drawn)).log_likelihood.reshape(n, rows.size)
    step = own - middle[part.entries]
    normal = step @ pull - 0.5 * np.einsum("ni,ij,nj->n", step, square, step)
    return np.asarray((logs - at.log_likelihood) @ problem.weight[rows] - normal)
