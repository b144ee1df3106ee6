"""How sure fitted parameters are: importance-weighted draws, profile likelihood, bootstrap.

Whole days leave ripples in the likelihood and some parameters bend it, so that its highest point is
not its middle and its curve there is not its width. Around the likeliest vector draws are taken
from the normal of Laplace's method, once for all cultivars, and every cultivar weighs them by how
far the records of its own blocks stray from that normal (`importance_weighted`).

The profile leaves the prior of the parameter itself out: an end that is open says that the records
alone do not bound it. Seasons drawn with return say how much an estimate hangs on single seasons;
where records say little the prior holds it, so that this interval is then narrower than what is not
known (`heat_intervals`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy import stats

from phenocast._typing import FloatArray, IntArray
from phenocast.calibration.cultivar.model import BlockRuns, spread_over_threads
from phenocast.calibration.cultivar.optimise import Point, Problem, part_terms, search
from phenocast.calibration.cultivar.parameters import CULTIVAR, HEAT, PLOT_LEVEL
from phenocast.calibration.cultivar.selection import Checkpoint
from phenocast.errors import Fault, refuse

if TYPE_CHECKING:
    from phenocast.calibration.cultivar.estimator import CultivarCalibrator

WEIGHED_DRAWS = 256
LEAST_EFFECTIVE = 20.0
"""Draws that the weighed ones must be worth; else a cultivar keeps what Laplace gave."""
_SEED = 20260711


@dataclass(frozen=True)
class ImportanceWeighted:
    """Middle and covariance by weighed draws.

    Parameters
    ----------
    vector : array ``[entries]``
        Middle of the posterior for numbers of cultivars and levels of their blocks.
    covariance : array ``[entries, entries]``
    worth : dict of str to float
        Effective sample size of the draws of a cultivar, of `WEIGHED_DRAWS`; below
        `LEAST_EFFECTIVE` they were not used. 0 for a cultivar with a number at its bound.
    """

    vector: FloatArray
    covariance: FloatArray
    worth: dict[str, float]


def importance_weighted(
    problem: Problem, point: Point, covariance: FloatArray, free: IntArray
) -> ImportanceWeighted:
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
    numbers = problem.layout.entries
    rng = np.random.default_rng(_SEED)
    root = np.linalg.cholesky(covariance[np.ix_(free, free)] + 1e-12 * np.eye(free.size))
    half = rng.standard_normal((WEIGHED_DRAWS // 2, free.size)) @ root.T
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
        if worth < LEAST_EFFECTIVE:
            continue
        moved = np.concatenate([own, levels])
        vector[moved] += weight @ away[:, moved]
        here = away[:, own] - weight @ away[:, own]
        tiny = 1e-12 * np.eye(own.size)
        wide = np.linalg.cholesky((here * weight[:, None]).T @ here + tiny)
        plain = np.linalg.cholesky(away[:, own].T @ away[:, own] / len(away) + tiny)
        turn[np.ix_(own, own)] = wide @ np.linalg.inv(plain)
    vector = np.clip(vector, problem.low, problem.high)
    return ImportanceWeighted(vector, turn @ covariance @ turn.T, worths)


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


SHARE = 0.90
# Steps of the walk to the ends of a profile, in standard deviations by Laplace, and their number.
_STEP_SD = 0.8
_MOST_STEPS = 8
_REFIT_STEPS = 10


def heat_intervals(
    fitted: CultivarCalibrator,
    *,
    profile: bool = False,
    bootstrap: int = 0,
    seed: int = 0,
    checkpoint: Checkpoint | None = None,
    progress: Callable[[str], None] | None = None,
) -> dict[str, Any]:
    """Intervals of every fitted heat sensitivity by each method that is asked for.

    Parameters
    ----------
    fitted : after its fit.
    profile : whether to walk the profile likelihoods.
    bootstrap : how often to draw the seasons again; 0 for never.
    seed : of the draws of seasons.
    checkpoint, progress : as in `CultivarCalibrator.fit`.

    Returns
    -------
    dict
        ``share`` of the intervals, ``heat_sensitivity``: for each cultivar ``laplace`` and where
        asked ``profile`` (None for an end that is open) and ``bootstrap``; ``bootstrap_repeats``,
        and ``notes``.

    Raises
    ------
    InputError
        When seasons are to be drawn from one season.
    """
    kept = Checkpoint() if checkpoint is None else checkpoint
    tell = progress or (lambda _what: None)
    layout = fitted.layout_
    entries = [int(i) for i in layout.where(CULTIVAR, names=HEAT) if i in fitted.free_]
    notes: list[str] = []
    found: list[dict[str, Any]] = []
    reach = float(stats.norm.ppf(0.5 + SHARE / 2.0))
    for i in entries:
        one = layout.entries[i]
        sd = float(np.sqrt(fitted.covariance_[i, i]))
        ends = [fitted.vector_[i] - reach * sd, fitted.vector_[i] + reach * sd]
        found.append({"cultivar": one.owner, "laplace": _values(fitted, i, ends)})
        if profile:
            tell(f"profile of {one.owner}")
            ends = kept.step(f"profile: {one.owner}", partial(_walk, fitted, i))["ends"]
            found[-1]["profile"] = _values(fitted, i, ends)
    if profile and any(None in one["profile"] for one in found):
        notes.append("a profile that is open: the records alone do not bound the heat sensitivity")
    if bootstrap and entries:
        drawn = _seasons_again(fitted, bootstrap, seed, kept, tell)
        for k, i in enumerate(entries):
            ends = np.quantile(drawn[:, i], [0.5 - SHARE / 2.0, 0.5 + SHARE / 2.0]).tolist()
            found[k]["bootstrap"] = _values(fitted, i, ends)
        seasons = len({block.season for block in fitted.blocks_})
        if seasons < 8:
            notes.append(f"{seasons} seasons drawn again and again tell little of other seasons")
    return {
        "share": SHARE,
        "heat_sensitivity": found,
        "bootstrap_repeats": bootstrap if entries else 0,
        "notes": notes,
    }


def _values(
    fitted: CultivarCalibrator, i: int, ends: list[float] | list[float | None]
) -> list[float | None]:
    one = fitted.layout_.entries[i]
    return [None if end is None else float(one.in_unit(end)) for end in ends]


def _walk(fitted: CultivarCalibrator, i: int) -> dict[str, Any]:
    """Ends of one profile, in standard deviations of the prior; None where it does not end."""
    problem = fitted.problem_
    flat = problem.reweighted(problem.weight)
    flat.prior = problem.prior.copy()
    flat.prior[i, :] = flat.prior[:, i] = 0.0
    others = fitted.free_[fitted.free_ != i]
    best = search(flat, fitted.vector_, fitted.free_, most_steps=_REFIT_STEPS)
    rise = 0.5 * float(stats.chi2.ppf(SHARE, 1))
    curve = float(np.linalg.inv(
        (best.information + flat.prior + 1e-9 * np.eye(len(best.vector)))[
            np.ix_(fitted.free_, fitted.free_)]
    )[list(fitted.free_).index(i), list(fitted.free_).index(i)])  # fmt: skip
    step = _STEP_SD * float(np.sqrt(min(max(curve, 1e-6), 4.0)))
    ends: list[float | None] = []
    for side in (-1.0, 1.0):
        here, cost, end = best.vector, best.cost, None
        for _ in range(_MOST_STEPS):
            trial = here.copy()
            trial[i] = np.clip(here[i] + side * step, problem.low[i], problem.high[i])
            if trial[i] == here[i]:
                break  # at the bound of the number, and still not unlikely
            point = search(flat, trial, others, most_steps=_REFIT_STEPS)
            if point.cost - best.cost >= rise:
                # between two steps the square root of the rise is close to a straight line
                low, high = (np.sqrt(max(c - best.cost, 0.0)) for c in (cost, point.cost))
                share = (np.sqrt(rise) - low) / max(high - low, 1e-9)
                end = float(here[i] + share * (trial[i] - here[i]))
                break
            here, cost = point.vector, point.cost
        ends.append(end)
    return {"ends": ends}


def _seasons_again(
    fitted: CultivarCalibrator,
    repeats: int,
    seed: int,
    checkpoint: Checkpoint,
    tell: Callable[[str], None],
) -> FloatArray:
    """Vectors of fits to seasons drawn with return, ``[repeats, entries]``."""
    problem = fitted.problem_
    season_of = np.empty(problem.runs.size, dtype=object)
    for part in problem.runs.parts:
        season_of[part.rows] = part.block.season
    names = sorted(set(season_of.tolist()))
    refuse(
        (len(names) < 2,
         Fault("seasons cannot be drawn again from one", "--bootstrap", names[0],
               "records of two seasons or more", "leave --bootstrap out")),
    )  # fmt: skip
    vectors = np.empty((repeats, len(fitted.vector_)))
    for number in range(repeats):
        tell(f"seasons drawn again, {number + 1} of {repeats}")

        def work(number: int = number) -> dict[str, Any]:
            rng = np.random.default_rng([seed, number])
            times = np.bincount(rng.integers(len(names), size=len(names)), minlength=len(names))
            weight = np.array([float(times[names.index(one)]) for one in season_of])
            again = problem.reweighted(problem.weight * weight)
            point = search(again, fitted.vector_, fitted.free_, most_steps=_REFIT_STEPS)
            return {"vector": point.vector.tolist()}

        vectors[number] = checkpoint.step(f"seasons again: {number}", work)["vector"]
    return vectors
