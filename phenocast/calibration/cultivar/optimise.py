"""The search for the likeliest parameters: damped scoring steps inside bounds, from several starts.

The vector is in standard deviations of the priors, effects of seasons and plots in their own unit.
Cost is minus the log of likelihood times prior; steps follow the expected information, which a
block hands over as a small square on its own entries.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy import linalg

from phenocast._typing import FloatArray, IntArray
from phenocast.calibration.cultivar.likelihood import Scatter, Terms, record_terms
from phenocast.calibration.cultivar.model import BlockRuns, Runs, spread_over_threads
from phenocast.calibration.cultivar.parameters import (
    CULTIVAR,
    PLOT_LEVEL,
    SEASON_LEVEL,
    SEASON_SHIFT,
    Layout,
)
from phenocast.calibration.cultivar.records import Chambers

MOST_STEPS = 60
ENOUGH = 0.01
"""A step that lowers the cost by less than this ends a search: a hundredth of one unit of
log-likelihood moves no number by more than a seventh of its spread."""
HOPS = 5
TRIES = 30
REACHES = (-4.0, -3.0, -2.0, -1.0, 1.0, 2.0, 3.0, 4.0)
"""Rounds of hops; in each, random throws and steps along the axes of what is unsure, in standard
deviations. Starts that disagree tell what they do not find."""
SOFTER = (1.0 / 30.0, 1.0 / 8.0, 1.0 / 2.0)
"""Weights of the records on the way in: while they weigh little no ripple holds a search."""


@dataclass(frozen=True)
class Point:
    """A vector with its cost and the information around it.

    Parameters
    ----------
    vector : array ``[entries]``
    cost : float
        Minus log of likelihood times prior.
    log_likelihood : float
    gradient : array ``[entries]``
        Of the log-likelihood.
    information : array ``[entries, entries]``
        Of the likelihood alone.
    steps : int
    converged : bool
    """

    vector: FloatArray
    cost: float
    log_likelihood: float
    gradient: FloatArray
    information: FloatArray
    steps: int = 0
    converged: bool = False

    def plain(self) -> dict[str, Any]:
        """Where a search ended, as plain values that a file can keep."""
        return {
            "vector": self.vector.tolist(),
            "cost": self.cost,
            "steps": self.steps,
            "converged": self.converged,
        }


class Problem:
    """Records, their blocks and a scatter: everything that a vector is judged by.

    Parameters
    ----------
    runs : Runs
    kind, start, observed : arrays ``[records]``
    scatter : Scatter
    weight : array ``[records]``, optional
        How often each record counts (a bootstrap draws seasons with return); once otherwise.
    chambers : Chambers, optional
        Trials that speak of induction alone.
    """

    def __init__(
        self,
        runs: Runs,
        kind: IntArray,
        start: FloatArray,
        observed: FloatArray,
        scatter: Scatter,
        weight: FloatArray | None = None,
        chambers: Chambers | None = None,
    ) -> None:
        self.runs, self.layout = runs, runs.layout
        self.kind, self.start, self.observed = kind, start, observed
        self.scatter = scatter
        self.chambers = chambers
        self.weight = np.ones(len(kind)) if weight is None else weight
        self.low, self.high = self.layout.low, self.layout.high
        self.prior = prior_precision(self.layout, scatter)

    def with_scatter(self, scatter: Scatter) -> Problem:
        """Return the same records under another scatter."""
        return Problem(
            self.runs, self.kind, self.start, self.observed, scatter, self.weight, self.chambers
        )

    def reweighted(self, weight: FloatArray, *, chambers: bool = True) -> Problem:
        """Return the same records counted otherwise, with the chamber trials or without."""
        kept = self.chambers if chambers else None
        return Problem(self.runs, self.kind, self.start, self.observed, self.scatter, weight, kept)

    def log_likelihood(self, vector: FloatArray) -> float:
        """Log-likelihood of the records, effects of seasons and plots as the vector has them."""
        expected = self.runs.predict(vector)
        terms = record_terms(self.kind, self.start, self.observed, expected, self.scatter)
        log_l = float(self.weight @ terms.log_likelihood)
        return log_l if self.chambers is None else log_l + self.chambers.log_likelihood(vector)

    def cost(self, vector: FloatArray) -> float:
        """Minus log of likelihood times prior."""
        return 0.5 * float(vector @ self.prior @ vector) - self.log_likelihood(vector)

    def point(self, vector: FloatArray, free: IntArray | None = None) -> Point:
        """Return a vector with slope and information on the entries that are free."""
        moving = np.ones(len(vector), dtype=bool)
        if free is not None:
            moving[:] = False
            moving[free] = True
        expected, slopes = self.runs.slopes(vector, moving)
        terms = record_terms(self.kind, self.start, self.observed, expected, self.scatter)
        size = len(vector)
        gradient, information = np.zeros(size), np.zeros((size, size))
        for part, jacobian in zip(self.runs.parts, slopes, strict=True):
            # a record that a trial cannot speak of (NaN) has neither slope nor information
            known = np.nan_to_num(jacobian)
            weight = self.weight[part.rows]
            entries = part.entries
            np.add.at(gradient, entries, known.T @ (weight * terms.slope[part.rows]))
            square = (known * (weight * terms.information[part.rows])[:, None]).T @ known
            information[np.ix_(entries, entries)] += square
        log_l = float(self.weight @ terms.log_likelihood)
        for one in () if self.chambers is None else self.chambers.terms(vector):
            log_l += one.log_likelihood
            gradient[one.entries] += one.slope
            information[np.ix_(one.entries, one.entries)] += one.information
        return Point(
            vector, 0.5 * float(vector @ self.prior @ vector) - log_l, log_l, gradient, information
        )


def prior_precision(layout: Layout, scatter: Scatter) -> FloatArray:
    """Return the inverse covariance of the prior.

    A cultivar's number has its stated spread whatever the others do; ``scatter.alike`` says how far
    cultivars share their deviation (correlation of the prior), which is what pools them.
    """
    size = len(layout.entries)
    precision = np.eye(size)
    by_name: dict[str, list[int]] = {}
    for i, number in enumerate(layout.entries):
        if number.group == CULTIVAR:
            by_name.setdefault(number.name, []).append(i)
        elif number.group == SEASON_SHIFT:
            precision[i, i] = scatter.season_shift**-2
        elif number.group == SEASON_LEVEL:
            precision[i, i] = scatter.season_level**-2
        elif number.group == PLOT_LEVEL:
            precision[i, i] = scatter.plot_level**-2
    for name, places in by_name.items():
        rho = scatter.alike.get(name, 0.0)
        n = len(places)
        if rho > 0.0 and n > 1:
            share = rho / (1.0 + (n - 1.0) * rho)
            precision[np.ix_(places, places)] = (np.eye(n) - share) / (1.0 - rho)
    return precision


def search(
    problem: Problem,
    start: FloatArray,
    free: IntArray | None = None,
    *,
    most_steps: int = MOST_STEPS,
) -> Point:
    """Search from a start.

    Parameters
    ----------
    problem : Problem
    start : array ``[entries]``
    free : entries that may move; all otherwise.
    most_steps : steps after which the search gives up.

    Returns
    -------
    Point
        ``converged`` False where the steps ran out.
    """
    size = len(start)
    moving = np.arange(size) if free is None else free
    here = problem.point(np.clip(start, problem.low, problem.high), moving)
    damping, steps, converged = 1e-3, 0, False
    while steps < most_steps and not converged:
        steps += 1
        slope = here.gradient - problem.prior @ here.vector
        at_low = (here.vector <= problem.low + 1e-12) & (slope < 0.0)
        at_high = (here.vector >= problem.high - 1e-12) & (slope > 0.0)
        own = moving[~(at_low | at_high)[moving]]
        if not own.size:
            converged = True
            break
        curve = (here.information + problem.prior)[np.ix_(own, own)]
        better = None
        for _ in range(12):
            step = _solve(curve, slope[own], damping)
            trial = here.vector.copy()
            trial[own] = np.clip(trial[own] + step, problem.low[own], problem.high[own])
            cost = problem.cost(trial)
            if cost < here.cost:
                better = trial
                damping = max(damping / 5.0, 1e-6)
                break
            damping *= 6.0
        if better is None:
            converged = True  # nothing around here is likelier, to the last digit that counts
            break
        gain = here.cost - cost
        here = problem.point(better, moving)
        converged = gain < ENOUGH
    return replace(here, steps=steps, converged=converged)


def search_softly(problem: Problem, start: FloatArray, free: IntArray | None = None) -> Point:
    """Search with records that first weigh little and then more, last with their full weight.

    Parameters
    ----------
    problem, start, free : as in `search`.
    """
    vector = start
    for share in SOFTER:
        soft = problem.reweighted(share * problem.weight)
        vector = search(soft, vector, free).vector
    return search(problem, vector, free)


def basin_hopping(
    problem: Problem,
    start: FloatArray,
    free: IntArray | None = None,
    *,
    seed: int = 0,
    softly: bool = True,
) -> Point:
    """Search, then hop over the ripples around where it ended, until no hop finds a better place.

    Whole days leave ripples in the cost along the ridge on which flowering and ripening make up for
    each other. The numbers of one cultivar are thrown about as their spread allows, which costs no
    more than the runs of its own blocks, and the best throw is searched from again.

    Parameters
    ----------
    problem, start, free : as in `search`.
    seed : of the throws.
    softly : whether the first search is one by `search_softly`; a start that came of one needs no
        second.
    """
    moving = np.arange(len(start)) if free is None else free
    best = (search_softly if softly else search)(problem, start, moving)
    for number in range(HOPS):
        hopped = _basin_hop(problem, best, moving, seed + number)
        if hopped is None:
            break
        again = search(problem, hopped, moving)
        gain = best.cost - again.cost
        if gain > 0.0:
            best = replace(again, steps=best.steps + again.steps)
        if gain < 10.0 * ENOUGH:
            break
    return best


def _basin_hop(problem: Problem, point: Point, free: IntArray, seed: int) -> FloatArray | None:
    """Vector with the best throw of each cultivar; None where no throw is better."""
    spread = covariance(problem, point, free)
    numbers = problem.layout.entries
    owners = sorted({numbers[i].owner for i in free if numbers[i].group == CULTIVAR})

    def throw(owner: str) -> tuple[IntArray, FloatArray] | None:
        own = np.array([i for i in free if numbers[i].group == CULTIVAR
                        and numbers[i].owner == owner])  # fmt: skip
        parts = [part for part in problem.runs.parts if part.block.cultivar == owner]
        rng = np.random.default_rng([seed, zlib.crc32(owner.encode())])
        root = np.linalg.cholesky(spread[np.ix_(own, own)] + 1e-12 * np.eye(own.size))
        values, axes = np.linalg.eigh(spread[np.ix_(own, own)])
        along = [
            reach * np.sqrt(max(values[k], 0.0)) * axes[:, k]
            for k in range(own.size)
            for reach in REACHES
        ]
        thrown = [
            (1.0, 2.0, 4.0)[number % 3] * (root @ rng.standard_normal(own.size))
            for number in range(TRIES)
        ]
        steps = np.array([np.zeros(own.size), *along, *thrown])
        trials = np.repeat(point.vector[None, :], len(steps), axis=0)
        trials[:, own] = np.clip(point.vector[own] + steps, problem.low[own], problem.high[own])
        trials[0] = point.vector
        costs = np.nan_to_num(_part_costs(problem, parts, trials), nan=np.inf, posinf=np.inf)
        best = int(np.argmin(costs))
        return None if costs[best] >= costs[0] - 10.0 * ENOUGH else (own, trials[best, own])

    thrown = [one for one in spread_over_threads(throw, owners) if one is not None]
    if not thrown:
        return None
    vector = point.vector.copy()
    for own, values in thrown:
        vector[own] = values
    return vector


def _part_costs(problem: Problem, parts: list[BlockRuns], vectors: FloatArray) -> FloatArray:
    """Cost of each vector ``[n, entries]`` by the records of some blocks alone, ``[n]``."""
    total = 0.5 * np.sum((vectors @ problem.prior) * vectors, axis=1)
    if problem.chambers is not None:
        total -= [problem.chambers.log_likelihood(vector) for vector in vectors]
    for part in parts:
        terms = part_terms(problem, part, part.predict(vectors))
        logs = terms.log_likelihood.reshape(len(vectors), -1)
        total -= logs @ problem.weight[part.rows]
    return np.asarray(total)


def part_terms(problem: Problem, part: BlockRuns, expected: FloatArray) -> Terms:
    """Likelihood terms of a block's records under predictions ``[n, records]``, one after another.

    Parameters
    ----------
    problem : Problem
    part : one block of its runs.
    expected : array ``[n, records]``
    """
    n, rows = len(expected), part.rows
    return record_terms(
        np.tile(part.kind, n), np.tile(problem.start[rows], n),
        np.tile(problem.observed[rows], n), expected.ravel(), problem.scatter,
    )  # fmt: skip


def _solve(curve: FloatArray, slope: FloatArray, damping: float) -> FloatArray:
    damped = curve + damping * np.diag(np.diag(curve))
    return np.asarray(linalg.cho_solve(linalg.cho_factor(damped, check_finite=False), slope))


def covariance(problem: Problem, point: Point, free: IntArray | None = None) -> FloatArray:
    """Return the covariance of the vector by Laplace: inverse of information plus prior precision.

    Entries that were not free have none.
    """
    size = len(point.vector)
    own = np.arange(size) if free is None else free
    full = np.zeros((size, size))
    curve = (point.information + problem.prior)[np.ix_(own, own)]
    full[np.ix_(own, own)] = linalg.inv(curve)
    return full


def marginal_log_likelihood(problem: Problem, point: Point) -> float:
    """Log-likelihood with the effects of seasons and plots integrated out, by Laplace."""
    effects = problem.layout.effects
    grid = np.ix_(effects, effects)
    own = point.vector[effects]
    prior = problem.prior[grid]
    _, log_prior = np.linalg.slogdet(prior)
    _, log_curve = np.linalg.slogdet(point.information[grid] + prior)
    return float(point.log_likelihood - 0.5 * own @ prior @ own + 0.5 * (log_prior - log_curve))
