"""The plan week by week: what is needed, who is planned, what is risked, when to decide."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from phenocast.planning.crew_plan import CrewPlan
from phenocast.planning.crew_program import EXTRA, NEW, NEW_OVERTIME, TEMPORARY, season_rows
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
    heat: Array | None = None,
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
    heat : array [rows, seasons, weeks], optional
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
    need = trays * hours_per_tray
    terms = plan.terms
    core, everyone = crew_hours(plan, season_rows(terms, trays, hours_per_tray, heat))
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
                need_people=(hours[0] / terms.contract_h, hours[1] / terms.contract_h),
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


def crew_hours(plan: CrewPlan, seasons: Array) -> tuple[Array, Array]:
    """Return what the core crew does within its contract, and what all can do.

    Both are ``[seasons, weeks]`` and in hours of experienced people of the core crew [h];
    ``seasons`` is as of `crew_program.season_rows`.
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


def _quantile(values: Array, level: float) -> float:
    return float(np.quantile(values, level))


def _p50_p90(values: Array) -> tuple[float, float]:
    return _quantile(values, 0.5), _quantile(values, 0.9)


def _kept(plan: CrewPlan, values: Array) -> tuple[float, float]:
    return (
        float(weighted_quantile(values, plan.shares, 0.5)),
        float(weighted_quantile(values, plan.shares, 0.9)),
    )
