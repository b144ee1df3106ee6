"""People for each week at least expected cost, and what the plan risks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from phenocast.errors import Fault, InputError, NoAnswerError
from phenocast.planning.crew_program import (
    HOURS_PER_TRAY,
    TRAYS,
    Numbers,
    crew_program,
    season_rows,
)
from phenocast.planning.crew_terms import CrewTerms
from phenocast.planning.program import Index, Program
from phenocast.planning.scenarios import Reduction, reduce_seasons
from phenocast.planning.two_stage import TwoStage, solve_two_stage

Array = NDArray[np.float64]


@dataclass(frozen=True)
class CrewPlan:
    """A plan and its figures.

    Parameters
    ----------
    crew, hired, released : array [weeks]
        People of the core crew, and who comes and goes at the start of the week.
    extra_h, temporary, picked, deferred, lost : array [scenarios, weeks]
        What each kept season would need: hours beyond the contract [h], temporary workers, and
        trays.
    costs : array [scenarios]
    shares : array [scenarios]
        Probabilities of the kept seasons.
    worth : TwoStage
        Expected cost, and what hedging and knowing would be worth.
    reduction : Reduction
    cost_ahead : float
        Of contracts, hiring and release, the same in every season.
    """

    terms: CrewTerms
    crew: Array
    hired: Array
    released: Array
    extra_h: Array
    temporary: Array
    picked: Array
    deferred: Array
    lost: Array
    costs: Array
    shares: Array
    worth: TwoStage
    reduction: Reduction
    cost_ahead: float = 0.0

    @property
    def expected_cost(self) -> float:
        """Mean over the kept seasons."""
        return float(self.shares @ self.costs)

    @property
    def fruit_share(self) -> float:
        """Expected share of the fruit that is picked."""
        picked = float(self.shares @ self.picked.sum(axis=1))
        away = self.lost + self.terms.deferral_loss * self.deferred
        lost = float(self.shares @ away.sum(axis=1))
        return picked / (picked + lost) if picked + lost > 0.0 else 1.0

    @property
    def full_share(self) -> float:
        """Probability that no fruit is lost in the season."""
        away = (self.lost + self.terms.deferral_loss * self.deferred).sum(axis=1)
        return float(self.shares[away <= 1e-6 * np.maximum(self.picked.sum(axis=1), 1.0)].sum())

    def cvar(self, level: float = 0.9) -> float:
        """Mean cost of the worst ``1 - level`` of the seasons."""
        return conditional_value_at_risk(self.costs, self.shares, level)


def conditional_value_at_risk(costs: Array, shares: Array, level: float) -> float:
    """Return the mean of the greatest costs that make up a probability of ``1 - level``.

    Examples
    --------
    >>> conditional_value_at_risk(np.array([1.0, 2.0, 9.0]), np.array([0.5, 0.4, 0.1]), 0.8)
    5.5
    """
    order = np.argsort(costs)[::-1]
    tail = 1.0 - level
    before = np.cumsum(shares[order]) - shares[order]
    taken = np.clip(tail - before, 0.0, shares[order])
    return round(float(taken @ costs[order]) / tail, 9)


def plan_crew(
    terms: CrewTerms,
    trays: Array,
    hours_per_tray: Array,
    *,
    scenarios: int = 50,
    heat: Array | None = None,
    decided: Array | None = None,
    inside_notice: int | None = None,
    time_limit_s: float = 60.0,
    gap: float = 1e-3,
) -> CrewPlan:
    """Plan the core crew of every week at least expected cost.

    Parameters
    ----------
    terms : CrewTerms
    trays : array [seasons, weeks]
        Ripe trays of all blocks together in every possible season; 0 in weeks already past.
    hours_per_tray : array [seasons, weeks]
        Hours of experienced pickers for one tray [h].
    scenarios : int
        Seasons kept for the program; see `scenarios.reduce_seasons`.
    heat : array [rows, seasons, weeks], optional
        What heat makes of an hour of others than the core crew within its contract; see
        `crew_program.season_rows`.
    decided : array [weeks], optional
        Core crew of past weeks and others already decided; NaN elsewhere. Weeks inside the notice
        are fixed to ``terms.crew_now`` (or to the last decided crew) by this function.
    inside_notice : int, optional
        Weeks after the decided ones that lie inside the notice, where the plan starts later than
        its date; ``terms.notice_weeks`` where not given.
    time_limit_s : float
        For the plan itself; the values of knowing and hedging take as long again at most [s].
    gap : float
        Relative gap to the best possible plan at which the search may stop.

    Raises
    ------
    InputError
        Where shapes disagree or there is no fruit to plan for.
    NoAnswerError
        Where no plan keeps the rules: the rule in the way is named.

    Examples
    --------
    >>> terms = CrewTerms(wage=10.0, contract_h=40.0, extra=(), lost_value=9.0)
    >>> plan = plan_crew(terms, np.array([[400.0, 800.0]]), np.full((1, 2), 0.2))
    >>> plan.crew, plan.expected_cost
    (array([2., 4.]), 2400.0)
    """
    trays = np.asarray(trays, dtype=np.float64)
    each = np.asarray(hours_per_tray, dtype=np.float64)
    _check(trays, each)
    weeks = trays.shape[1]
    fixed = np.full(weeks, np.nan) if decided is None else np.asarray(decided, dtype=np.float64)
    if fixed.shape != (weeks,):
        raise InputError(Fault("weeks disagree", value=fixed.shape, allowed=f"{weeks} weeks"))
    notice = terms.notice_weeks if inside_notice is None else inside_notice
    fixed = _with_notice(terms, fixed, notice)
    reduction = reduce_seasons(trays, scenarios)
    kept = season_rows(terms, trays, each, heat)[reduction.kept]
    shares = reduction.probabilities

    held: list[Numbers] = []

    def build(seasons: Array, probabilities: Array, first: Array | None) -> tuple[Program, Index]:
        program, numbers = crew_program(terms, seasons, probabilities, fixed)
        if first is not None:
            crew = np.round(first)
            program.rows(
                "the plan of the mean season", [(numbers.crew, 1.0)], lower=crew, upper=crew
            )
        held.append(numbers)
        return program, numbers.crew

    worth = solve_two_stage(build, kept, shares, time_limit_s=time_limit_s, gap=gap,
                            mean=_mean_season(kept, shares))  # fmt: skip
    return _plan(terms, worth, held[0], shares, reduction)


def _plan(
    terms: CrewTerms, worth: TwoStage, numbers: Numbers, shares: Array, reduction: Reduction
) -> CrewPlan:
    x = worth.solution.values
    crew = np.round(x[numbers.crew])
    extra = x[numbers.extra]
    temporary, lost, deferred = x[numbers.temporary], x[numbers.lost], x[numbers.deferred]
    recourse = temporary.sum(axis=1) * terms.temporary_cost
    recourse += (terms.lost_values * (lost + terms.deferral_loss * deferred)).sum(axis=1)
    for step, hours in zip(terms.extra, extra, strict=True):
        recourse += step.cost * hours.sum(axis=1)
    ahead = worth.recourse - float(shares @ recourse)
    return CrewPlan(
        terms, crew, x[numbers.hired], x[numbers.released], extra.sum(axis=0), temporary,
        x[numbers.picked], deferred, lost, ahead + recourse, shares, worth, reduction, ahead,
    )  # fmt: skip


def _check(trays: Array, each: Array) -> None:
    if trays.ndim != 2 or trays.shape != each.shape:
        raise InputError(Fault("trays and hours disagree", value=(trays.shape, each.shape),
                               allowed="both [seasons, weeks]"))  # fmt: skip
    if not (np.all(np.isfinite(trays)) and np.all(np.isfinite(each))):
        raise InputError(Fault("trays or hours are not numbers"))
    if np.any(trays < 0.0) or np.any(each < 0.0):
        raise InputError(Fault("trays or hours are below zero"))
    if not np.any(trays > 0.0):
        raise NoAnswerError(
            Fault("there is no fruit left to plan for",
                  do="the season may be over at the date of the plan; state an earlier --as-of")
        )  # fmt: skip


def _with_notice(terms: CrewTerms, decided: Array, notice: int) -> Array:
    """Return the decided weeks with those inside the notice that follow them."""
    fixed = decided.copy()
    known = np.flatnonzero(~np.isnan(fixed))
    start = int(known[-1]) + 1 if len(known) else 0
    now = fixed[start - 1] if start else float(terms.crew_now)
    fixed[start : start + notice] = now
    return fixed


def _mean_season(kept: Array, shares: Array) -> Array:
    """Return the mean season; its hours for a tray are the mean hours over the mean trays."""
    mean = np.tensordot(shares, kept, axes=1)
    trays = mean[TRAYS]
    hours = shares @ (kept[:, TRAYS] * kept[:, HOURS_PER_TRAY])
    mean[HOURS_PER_TRAY] = np.divide(hours, trays, out=np.zeros_like(hours), where=trays > 0.0)
    return mean
