"""What a decision taken before the season is worth: two stages, many possible seasons.

``recourse`` is the best expected cost of one decision for all seasons. ``wait_and_see`` is the
mean cost if each season were known beforehand. ``mean_season`` is the expected cost of the decision
that is best for the mean season. The value of perfect information is recourse - wait_and_see, and
the value of the stochastic solution is mean_season - recourse (Birge and Louveaux, Introduction to
Stochastic Programming, chapter 4). Both are at least 0 where every program is solved to proof.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from phenocast.errors import NoAnswerError
from phenocast.planning.program import Index, Program, Solution

Array = NDArray[np.float64]

Build = Callable[[Array, Array, Array | None], tuple[Program, Index]]
"""Called with seasons ``[scenarios, ...]``, their probabilities and a first-stage decision to fix
(or None); returns the program and the numbers of its first-stage variables."""


@dataclass(frozen=True)
class TwoStage:
    """Costs of the three ways to decide; ``mean_season`` is None where its plan breaks a rule."""

    solution: Solution
    first: Array
    recourse: float
    wait_and_see: float
    mean_season: float | None

    @property
    def perfect_information(self) -> float:
        """Expected value of perfect information."""
        return self.recourse - self.wait_and_see

    @property
    def stochastic_solution(self) -> float | None:
        """Value of the stochastic solution; None where the mean season's plan breaks a rule."""
        return None if self.mean_season is None else self.mean_season - self.recourse


def solve_two_stage(
    build: Build,
    seasons: Array,
    probabilities: Array,
    *,
    time_limit_s: float = 60.0,
    gap: float = 1e-4,
    mean: Array | None = None,
) -> TwoStage:
    """Solve a two-stage program and value what it knows.

    Parameters
    ----------
    build : callable
        See `Build`.
    seasons : array [scenarios, ...]
    probabilities : array [scenarios]
    time_limit_s : float
        For each program [s].
    gap : float
        Relative gap of each.
    mean : array, optional
        The mean season, ``[...]``; the weighted mean of ``seasons`` where not given.

    Raises
    ------
    NoAnswerError
        Where no decision keeps the rules, naming them.

    Examples
    --------
    >>> def build(demand, share, fixed):
    ...     p = Program()
    ...     x = p.variables(1, cost=1.0, upper=9.0)
    ...     short = p.variables(len(demand), cost=3.0 * share)
    ...     p.rows("demand", [(x, 1.0), (short, 1.0)], lower=demand)
    ...     if fixed is not None:
    ...         p.rows("decided", [(x, 1.0)], lower=fixed, upper=fixed)
    ...     return p, x
    >>> found = solve_two_stage(build, np.array([2.0, 4.0]), np.array([0.5, 0.5]))
    >>> found.recourse, found.perfect_information, found.stochastic_solution
    (4.0, 1.0, 0.5)
    """
    program, first = build(seasons, probabilities, None)
    best = program.solve(time_limit_s=time_limit_s, gap=gap)
    alone = np.ones(1)
    known = 0.0
    for season, share in zip(seasons, probabilities, strict=True):
        one, _ = build(season[None], alone, None)
        known += float(share) * one.solve(time_limit_s=time_limit_s, gap=gap).objective
    if mean is None:
        mean = np.tensordot(probabilities, seasons, axes=1)
    middle, numbers = build(np.asarray(mean)[None], alone, None)
    decided = middle.solve(time_limit_s=time_limit_s, gap=gap).values[numbers]
    fixed, _ = build(seasons, probabilities, decided)
    mean_cost: float | None
    try:
        mean_cost = fixed.solve(time_limit_s=time_limit_s, gap=gap).objective
    except NoAnswerError:
        mean_cost = None
    return TwoStage(best, best.values[first], best.objective, known, mean_cost)
