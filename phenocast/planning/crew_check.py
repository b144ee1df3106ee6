"""A finished plan held against seasons that it was not made from.

The plan is cheapest for the few seasons that stand for all, so its cost over those few is a little
too good. Here the crew stays as planned and each of many other seasons answers as well as it can:
hours beyond the contract, temporary workers, fruit that waits or is lost.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from phenocast.planning.crew_plan import CrewPlan, conditional_value_at_risk
from phenocast.planning.crew_program import crew_program

Array = NDArray[np.float64]

MOST_SEASONS = 500
"""Seasons that a plan is held against, evenly spaced over all; enough for a mean and a tail."""


@dataclass(frozen=True)
class Checked:
    """What a plan comes to over seasons at large.

    Parameters
    ----------
    seasons : int
    expected_cost, cvar_90 : float
        Mean, and mean of the worst tenth.
    fruit_share : float
        Expected share of the fruit that is picked.
    full_share : float
        Share of seasons without any loss.
    over_loss_limit : float or None
        Share of seasons that lose more than the stated limit, which binds the kept ones alone;
        None without a limit.
    """

    seasons: int
    expected_cost: float
    cvar_90: float
    fruit_share: float
    full_share: float
    over_loss_limit: float | None


def check_plan(
    plan: CrewPlan,
    trays: Array,
    hours_per_tray: Array,
    *,
    available: Array | None = None,
    most: int = MOST_SEASONS,
    time_limit_s: float = 60.0,
) -> Checked:
    """Hold a plan against seasons at large.

    Parameters
    ----------
    plan : CrewPlan
    trays, hours_per_tray, available : arrays
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
    own, each = np.asarray(trays)[taken], np.asarray(hours_per_tray)[taken]
    share = np.full(len(taken), 1.0 / len(taken))
    terms = replace(plan.terms, loss_limit=None)
    weeks = own.shape[1]
    program, v = crew_program(
        terms, np.stack([own, each], axis=1), share,
        np.ones(weeks) if available is None else np.asarray(available, dtype=np.float64),
        plan.crew.astype(np.float64),
    )  # fmt: skip
    x = program.solve(
        time_limit_s=time_limit_s, gap=1e-4, relaxed=not terms.whole_temporary
    ).values
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
    return Checked(
        seasons=len(taken),
        expected_cost=float(cost.mean()),
        cvar_90=conditional_value_at_risk(cost, share, 0.9),
        fruit_share=float(picked.sum()) / total if total > 0.0 else 1.0,
        full_share=float((away <= 1e-6 * np.maximum(picked, 1.0)).mean()),
        over_loss_limit=None
        if limit is None
        else float((away > (limit + 1e-6) * np.maximum(own.sum(axis=1), 1e-9)).mean()),
    )
