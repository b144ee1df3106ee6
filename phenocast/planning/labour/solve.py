"""People for each week at least expected cost, what the plan risks, and how it fares at large.

The plan is cheapest for the few seasons that stand for all, so its cost over those few is a little
too good. It is therefore held against seasons that it was not made from: the crew stays as planned
and each season answers as well as it can, with hours beyond the contract, temporary workers, and
fruit that waits or is lost.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from phenocast._typing import FloatArray, IntArray
from phenocast.errors import Fault, InputError, NoAnswerError, refuse
from phenocast.planning.labour.crew_model import (
    EXTRA,
    HOURS_PER_TRAY,
    NEW,
    NEW_OVERTIME,
    TEMPORARY,
    TRAYS,
    CrewTerms,
    Numbers,
    crew_program,
    season_rows,
)
from phenocast.planning.labour.milp import Program, Reduction, Solution, reduce_seasons

Build = Callable[[FloatArray, FloatArray, FloatArray | None], tuple[Program, IntArray]]
"""Called with seasons ``[scenarios, ...]``, their probabilities and a first-stage decision to fix
(or None); returns the program and the numbers of its first-stage variables."""


@dataclass(frozen=True)
class TwoStage:
    """Costs of the three ways to decide; ``mean_season`` is None where its plan breaks a rule."""

    solution: Solution
    first: FloatArray
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
    seasons: FloatArray,
    probabilities: FloatArray,
    *,
    time_limit_s: float = 60.0,
    gap: float = 1e-4,
    mean: FloatArray | None = None,
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
    crew: FloatArray
    hired: FloatArray
    released: FloatArray
    extra_h: FloatArray
    temporary: FloatArray
    picked: FloatArray
    deferred: FloatArray
    lost: FloatArray
    costs: FloatArray
    shares: FloatArray
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


def conditional_value_at_risk(costs: FloatArray, shares: FloatArray, level: float) -> float:
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
    trays: FloatArray,
    hours_per_tray: FloatArray,
    *,
    scenarios: int = 50,
    heat: FloatArray | None = None,
    decided: FloatArray | None = None,
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
        `crew_model.season_rows`.
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
    refuse(
        (
            fixed.shape != (weeks,),
            Fault("weeks disagree", value=fixed.shape, allowed=f"{weeks} weeks"),
        )
    )
    notice = terms.notice_weeks if inside_notice is None else inside_notice
    fixed = _with_notice(terms, fixed, notice)
    reduction = reduce_seasons(trays, scenarios)
    kept = season_rows(terms, trays, each, heat)[reduction.kept]
    shares = reduction.probabilities

    held: list[Numbers] = []

    def build(
        seasons: FloatArray, probabilities: FloatArray, first: FloatArray | None
    ) -> tuple[Program, IntArray]:
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
    terms: CrewTerms, worth: TwoStage, numbers: Numbers, shares: FloatArray, reduction: Reduction
) -> CrewPlan:
    x = worth.solution.values
    cost = _recourse(terms, numbers, x)
    ahead = worth.recourse - float(shares @ cost)
    return CrewPlan(
        terms, np.round(x[numbers.crew]), x[numbers.hired], x[numbers.released],
        x[numbers.extra].sum(axis=0), x[numbers.temporary], x[numbers.picked],
        x[numbers.deferred], x[numbers.lost], ahead + cost, shares, worth, reduction, ahead,
    )  # fmt: skip


def _recourse(terms: CrewTerms, numbers: Numbers, x: FloatArray) -> FloatArray:
    """Cost of what each season does beside the core crew within its contract, ``[scenarios]``."""
    away = x[numbers.lost] + terms.deferral_loss * x[numbers.deferred]
    cost = x[numbers.temporary].sum(axis=1) * terms.temporary_cost
    cost += (terms.lost_values * away).sum(axis=1)
    for step, hours in zip(terms.extra, x[numbers.extra], strict=True):
        cost += step.cost * hours.sum(axis=1)
    return np.asarray(cost)


def _check(trays: FloatArray, each: FloatArray) -> None:
    shapes = trays.shape, each.shape
    if trays.ndim != 2 or trays.shape != each.shape:
        raise InputError(Fault("trays and hours disagree", "", shapes, "both [seasons, weeks]"))
    every = np.concatenate([trays, each])
    refuse(
        (not np.all(np.isfinite(every)), Fault("trays or hours are not numbers")),
        (np.any(every < 0.0), Fault("trays or hours are below zero")),
    )
    over = Fault(
        "there is no fruit left to plan for",
        do="the season may be over at the date of the plan; state an earlier --as-of",
    )
    refuse((not np.any(trays > 0.0), over), error=NoAnswerError)


def _with_notice(terms: CrewTerms, decided: FloatArray, notice: int) -> FloatArray:
    """Return the decided weeks with those inside the notice that follow them."""
    fixed = decided.copy()
    known = np.flatnonzero(~np.isnan(fixed))
    start = int(known[-1]) + 1 if len(known) else 0
    now = fixed[start - 1] if start else float(terms.crew_now)
    fixed[start : start + notice] = now
    return fixed


def _mean_season(kept: FloatArray, shares: FloatArray) -> FloatArray:
    """Return the mean season; its hours for a tray are the mean hours over the mean trays."""
    mean = np.tensordot(shares, kept, axes=1)
    trays = mean[TRAYS]
    hours = shares @ (kept[:, TRAYS] * kept[:, HOURS_PER_TRAY])
    mean[HOURS_PER_TRAY] = np.divide(hours, trays, out=np.zeros_like(hours), where=trays > 0.0)
    return mean


Cover = Literal["core", "overtime", "temporary", "some-lost", "always-lost"]

MOST_SEASONS = 500
"""Seasons that a plan is held against, evenly spaced over all; enough for a mean and a tail."""


def crew_hours(plan: CrewPlan, seasons: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return what the core crew does within its contract, and what all can do.

    Both are ``[seasons, weeks]`` and in hours of experienced people of the core crew [h];
    ``seasons`` is as of `crew_model.season_rows`.
    """
    terms, weeks = plan.terms, len(plan.crew)
    able = np.repeat(plan.crew[None], len(seasons), axis=0)
    beyond = able.copy()
    for since in range(min(weeks, max(terms.new_weeks, len(terms.beginner_loss)))):
        hired = np.maximum(plan.hired[: weeks - since], 0.0)
        # No more of them than are there still.
        hired = np.minimum(hired, plan.crew[since:])
        able[:, since:] -= terms.missing(since, seasons[:, NEW, since:]) * hired
        if since < terms.new_weeks:
            beyond[:, since:] -= (1.0 - seasons[:, NEW_OVERTIME, since:]) * hired
    core = np.maximum(able, 0.0) * terms.contract_h
    helpers = terms.temporary_most * terms.temporary_h * terms.temporary_rate
    everyone = core + helpers * seasons[:, TEMPORARY]
    for number, step in enumerate(terms.extra):
        everyone = everyone + step.hours * np.maximum(beyond, 0.0) * seasons[:, EXTRA + number]
    return core, everyone


@dataclass(frozen=True)
class Checked:
    """What a plan comes to over seasons at large: the one source of all that is said of it.

    Parameters
    ----------
    seasons : int
    expected_cost, cvar_90 : float
        Mean, and mean of the worst tenth.
    fruit_share : float
        Expected share of the fruit that is picked.
    full_share : float
        Share of seasons without any loss.
    core_share : float
        Share of seasons without any loss in which the core crew within its contract does it all.
    overtime_share, temporary_share : float
        Share of seasons in which hours beyond the contract are worked, and temporary workers come.
    short_share : float
        Share of all seasons, not only of those taken, with a week whose ripe fruit not even all
        hours beyond the contract and all temporary workers could pick.
    over_loss_limit : float or None
        Share of seasons that lose more than the stated limit, which binds the kept ones alone;
        None without a limit.
    taken : array [seasons]
        Numbers of the seasons among all.
    extra_h, temporary : arrays [seasons, weeks]
        Hours beyond the contract of the whole crew [h], and temporary workers.
    """

    seasons: int
    expected_cost: float
    cvar_90: float
    fruit_share: float
    full_share: float
    core_share: float
    overtime_share: float
    temporary_share: float
    short_share: float
    over_loss_limit: float | None
    taken: NDArray[np.int64]
    extra_h: FloatArray
    temporary: FloatArray

    @property
    def cover(self) -> Cover:
        """Who it takes to pick the fruit of every season, or that some of it is lost."""
        if self.full_share < 1.0:
            return "some-lost" if self.full_share > 0.0 else "always-lost"
        if self.core_share == 1.0:
            return "core"
        return "temporary" if self.temporary_share > 0.0 else "overtime"


def check_plan(
    plan: CrewPlan,
    trays: FloatArray,
    hours_per_tray: FloatArray,
    *,
    heat: FloatArray | None = None,
    most: int = MOST_SEASONS,
    time_limit_s: float = 60.0,
) -> Checked:
    """Hold a plan against seasons at large.

    Parameters
    ----------
    plan : CrewPlan
    trays, hours_per_tray, heat : arrays
        As given to `phenocast.planning.labour.solve.plan_crew`.
    most : int
        Seasons taken, evenly spaced over all.
    time_limit_s : float
        [s]

    Raises
    ------
    NoAnswerError
        Where the time ended first.

    Examples
    --------
    >>> from phenocast.planning.labour.solve import plan_crew
    >>> from phenocast.planning.labour.crew_model import CrewTerms
    >>> terms = CrewTerms(wage=10.0, contract_h=40.0, extra=(), lost_value=9.0)
    >>> trays, each = np.array([[400.0], [800.0]]), np.full((2, 1), 0.2)
    >>> plan = plan_crew(terms, trays[:1], each[:1])
    >>> check_plan(plan, trays, each).fruit_share
    0.666...
    """
    taken = np.unique(np.linspace(0, len(trays) - 1, min(most, len(trays))).round().astype(int))
    every = season_rows(plan.terms, trays, hours_per_tray, heat)
    need = every[:, TRAYS] * every[:, HOURS_PER_TRAY]
    short = (need > crew_hours(plan, every)[1] + 1e-6 * (1.0 + need)).any(axis=1)
    rows = every[taken]
    share = np.full(len(taken), 1.0 / len(taken))
    terms = replace(plan.terms, loss_limit=None)
    program, v = crew_program(terms, rows, share, plan.crew.astype(np.float64))
    x = program.solve(time_limit_s=time_limit_s, gap=1e-4, relaxed=not terms.whole_temporary).values
    cost = _recourse(terms, v, x) + plan.cost_ahead
    away = (x[v.lost] + terms.deferral_loss * x[v.deferred]).sum(axis=1)
    picked = x[v.picked].sum(axis=1)
    total = float(picked.sum() + away.sum())
    limit = plan.terms.loss_limit
    full = away <= 1e-6 * np.maximum(picked, 1.0)
    beyond = x[v.extra].sum(axis=(0, 2)) > 1e-6
    helped = x[v.temporary].sum(axis=1) > 1e-6
    return Checked(
        seasons=len(taken),
        expected_cost=float(cost.mean()),
        cvar_90=conditional_value_at_risk(cost, share, 0.9),
        fruit_share=float(picked.sum()) / total if total > 0.0 else 1.0,
        full_share=float(full.mean()),
        core_share=float((full & ~beyond & ~helped).mean()),
        overtime_share=float(beyond.mean()),
        temporary_share=float(helped.mean()),
        short_share=float(short.mean()),
        over_loss_limit=None
        if limit is None
        else float((away > (limit + 1e-6) * np.maximum(rows[:, TRAYS].sum(axis=1), 1e-9)).mean()),
        taken=taken,
        extra_h=x[v.extra].sum(axis=0),
        temporary=x[v.temporary],
    )
