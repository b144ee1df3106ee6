"""How sure a heat sensitivity is, in three ways: Laplace, profile likelihood, seasons drawn again.

Laplace, its draws weighed by the records (`fit_weighing`) and its spread wider by what bent curves
would move (`fit_misfit`), is the fast path and what the draws follow. The profile leaves the prior
of the number itself out: an end that is open says that the records alone do not bound it. Seasons
drawn with return say how much an estimate hangs on single seasons; where records say little the
prior holds it, so that this interval is then narrower than what is not known.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from phenocast.calibration.cultivars import CultivarCalibrator
from phenocast.calibration.fit_numbers import CULTIVAR, HEAT
from phenocast.calibration.fit_search import search
from phenocast.calibration.ledger import Ledger
from phenocast.errors import Fault, InputError

FloatArray = NDArray[np.float64]

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
    ledger: Ledger | None = None,
    progress: Callable[[str], None] | None = None,
) -> dict[str, Any]:
    """Intervals of every fitted heat sensitivity by each method that is asked for.

    Parameters
    ----------
    fitted : after its fit.
    profile : whether to walk the profile likelihoods.
    bootstrap : how often to draw the seasons again; 0 for never.
    seed : of the draws of seasons.
    ledger, progress : as in `CultivarCalibrator.fit`.

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
    kept = Ledger() if ledger is None else ledger
    tell = progress if progress is not None else _silent
    layout = fitted.layout_
    entries = [int(i) for i in layout.where(CULTIVAR, names=HEAT) if i in fitted.free_]
    notes: list[str] = []
    found: list[dict[str, Any]] = []
    reach = float(stats.norm.ppf(0.5 + SHARE / 2.0))
    for i in entries:
        one = layout.numbers[i]
        sd = float(np.sqrt(fitted.covariance_[i, i]))
        ends = [fitted.vector_[i] - reach * sd, fitted.vector_[i] + reach * sd]
        found.append({"cultivar": one.owner, "laplace": _values(fitted, i, ends)})
        if profile:
            tell(f"profile of {one.owner}")
            ends = kept.step(f"profile: {one.owner}", lambda i=i: _walk(fitted, i))["ends"]  # type: ignore[misc]
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
    one = fitted.layout_.numbers[i]
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
    ledger: Ledger,
    tell: Callable[[str], None],
) -> FloatArray:
    """Vectors of fits to seasons drawn with return, ``[repeats, entries]``."""
    problem = fitted.problem_
    season_of = np.empty(problem.runs.size, dtype=object)
    for part in problem.runs.parts:
        season_of[part.rows] = part.block.season
    names = sorted(set(season_of.tolist()))
    if len(names) < 2:
        raise InputError(
            Fault("seasons cannot be drawn again from one", "--bootstrap", names[0],
                  "records of two seasons or more", "leave --bootstrap out")
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

        vectors[number] = ledger.step(f"seasons again: {number}", work)["vector"]
    return vectors


def _silent(_what: str) -> None:
    return None
