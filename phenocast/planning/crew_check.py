"""A finished plan held against seasons that it was not made from.

The plan is cheapest for the few seasons that stand for all, so its cost over those few is a little
too good. Here the crew stays as planned and each of many other seasons answers as well as it can:
hours beyond the contract, temporary workers, fruit that waits or is lost.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from phenocast.planning.crew_plan import CrewPlan, conditional_value_at_risk
from phenocast.planning.crew_program import HOURS_PER_TRAY, TRAYS, crew_program, season_rows
from phenocast.planning.crew_table import crew_hours

Array = NDArray[np.float64]

Cover = Literal["core", "overtime", "temporary", "some-lost", "always-lost"]

MOST_SEASONS = 500
"""Seasons that a plan is held against, evenly spaced over all; enough for a mean and a tail."""


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
    extra_h: Array
    temporary: Array

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
    trays: Array,
    hours_per_tray: Array,
    *,
    heat: Array | None = None,
    most: int = MOST_SEASONS,
    time_limit_s: float = 60.0,
) -> Checked:
    """Hold a plan against seasons at large.

    Parameters
    ----------
    plan : CrewPlan
    trays, hours_per_tray, heat : arrays
        As given to `phenocast.planning.crew_plan.plan_crew`.
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
    >>> from phenocast.planning.crew_plan import plan_crew
    >>> from phenocast.planning.crew_terms import CrewTerms
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
    own = rows[:, TRAYS]
    share = np.full(len(taken), 1.0 / len(taken))
    terms = replace(plan.terms, loss_limit=None)
    program, v = crew_program(terms, rows, share, plan.crew.astype(np.float64))
    x = program.solve(time_limit_s=time_limit_s, gap=1e-4, relaxed=not terms.whole_temporary).values
    lost, deferred = x[v.lost], x[v.deferred]
    cost = x[v.temporary].sum(axis=1) * terms.temporary_cost
    cost += (terms.lost_values * (lost + terms.deferral_loss * deferred)).sum(axis=1)
    for step, hours in zip(terms.extra, x[v.extra], strict=True):
        cost += step.cost * hours.sum(axis=1)
    cost += plan.cost_ahead
    away = (lost + terms.deferral_loss * deferred).sum(axis=1)
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
        else float((away > (limit + 1e-6) * np.maximum(own.sum(axis=1), 1e-9)).mean()),
        taken=taken,
        extra_h=x[v.extra].sum(axis=0),
        temporary=x[v.temporary],
    )
