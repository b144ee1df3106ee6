"""The plan week by week: what is needed, who is planned, what is risked, when to decide."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from phenocast.planning.crew_plan import CrewPlan
from phenocast.planning.scenarios import weighted_quantile
from phenocast.planning.weeks import monday

Array = NDArray[np.float64]


@dataclass(frozen=True)
class CrewWeek:
    """One row of the plan.

    Parameters
    ----------
    week : str
    trays : tuple of float
        P10, P50, P90 of ripe trays over all seasons.
    need_h : tuple of float
        P50, P90 of the hours that experienced pickers would take [h].
    need_people : tuple of float
        The same in people at contract hours, heat taken off.
    planned : int
        Core crew.
    change : int
        People who come (above 0) or go (below 0) at the start of the week.
    temporary : tuple of float
        P50, P90 of temporary workers over the kept seasons.
    extra_h : tuple of float
        P50, P90 of hours beyond the contract over the kept seasons [h].
    short_of_core : float
        Probability that the core crew in its contract hours does not suffice.
    short_of_all : float
        Probability that not even with all hours beyond the contract and all temporary workers.
    decide_by : date or None
        Last day on which the crew of the week can still be changed; None for a decided week.
    """

    week: str
    trays: tuple[float, float, float]
    need_h: tuple[float, float]
    need_people: tuple[float, float]
    planned: int
    change: int
    temporary: tuple[float, float]
    extra_h: tuple[float, float]
    short_of_core: float
    short_of_all: float
    decide_by: date | None


def crew_weeks(
    plan: CrewPlan,
    weeks: Sequence[str],
    trays: Array,
    hours_per_tray: Array,
    as_of: date,
    available: Array | None = None,
) -> list[CrewWeek]:
    """Return the plan week by week, its risks over all seasons, not only the kept ones.

    Parameters
    ----------
    plan : CrewPlan
    weeks : sequence of str
        ISO weeks of the plan.
    trays, hours_per_tray : arrays [seasons, weeks]
        As given to `plan_crew`.
    as_of : date
        Day of the plan.
    available : array [weeks], optional
        As given to `plan_crew`.

    Examples
    --------
    >>> from phenocast.planning.crew_plan import plan_crew
    >>> from phenocast.planning.crew_terms import CrewTerms
    >>> terms = CrewTerms(wage=10.0, contract_h=40.0, extra=(), lost_value=9.0)
    >>> trays, each = np.array([[400.0, 800.0]]), np.full((1, 2), 0.2)
    >>> plan = plan_crew(terms, trays, each)
    >>> rows = crew_weeks(plan, ["2027-W03", "2027-W04"], trays, each, date(2026, 12, 1))
    >>> rows[1].planned, rows[1].change, rows[1].decide_by
    (4, 2, datetime.date(2027, 1, 25))
    """
    open_share = np.ones(len(weeks)) if available is None else available
    need = trays * hours_per_tray
    terms = plan.terms
    core = core_hours(plan, open_share)
    beyond = sum(step.hours for step in terms.extra) * plan.crew * open_share
    helpers = terms.temporary_most * terms.temporary_h * terms.temporary_rate * open_share
    everyone = core + beyond + helpers
    each_h = terms.contract_h * np.maximum(open_share, 1e-9)
    slack = 1e-6 * (1.0 + need)
    rows = []
    for number, week in enumerate(weeks):
        first = monday(week)
        notice = first - timedelta(weeks=terms.notice_weeks)
        before = terms.crew_now if number == 0 else int(plan.crew[number - 1])
        hours = _p50_p90(need[:, number])
        rows.append(
            CrewWeek(
                week=week,
                trays=(_quantile(trays[:, number], 0.1), *_p50_p90(trays[:, number])),
                need_h=hours,
                need_people=(hours[0] / each_h[number], hours[1] / each_h[number]),
                planned=int(plan.crew[number]),
                change=int(plan.crew[number]) - before,
                temporary=_kept(plan, plan.temporary[:, number]),
                extra_h=_kept(plan, plan.extra_h[:, number]),
                short_of_core=float((need > core + slack)[:, number].mean()),
                short_of_all=float((need > everyone + slack)[:, number].mean()),
                decide_by=notice if notice >= as_of else None,
            )
        )
    return rows


def core_hours(plan: CrewPlan, available: Array) -> Array:
    """Return what the core crew does in its contract hours, in hours of experienced pickers."""
    able = plan.crew.astype(np.float64)
    for since, loss in enumerate(plan.terms.beginner_loss[: len(able)]):
        able[since:] -= loss * np.maximum(plan.hired[: len(able) - since], 0.0)
    return np.maximum(able, 0.0) * plan.terms.contract_h * available


def _quantile(values: Array, level: float) -> float:
    return float(np.quantile(values, level))


def _p50_p90(values: Array) -> tuple[float, float]:
    return _quantile(values, 0.5), _quantile(values, 0.9)


def _kept(plan: CrewPlan, values: Array) -> tuple[float, float]:
    return (
        float(weighted_quantile(values, plan.shares, 0.5)),
        float(weighted_quantile(values, plan.shares, 0.9)),
    )
