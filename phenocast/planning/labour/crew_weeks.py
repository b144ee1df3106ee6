"""The plan week by week: what is needed, who is planned, what is risked, when to decide."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from phenocast._typing import FloatArray
from phenocast.harvest.weeks import monday
from phenocast.planning.labour.crew_model import (
    season_rows,
)
from phenocast.planning.labour.solve import Checked, CrewPlan, crew_hours

Pair = tuple[float, float]


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
        P50, P90 of temporary workers over the seasons that the plan is held against.
    extra_h : tuple of float
        P50, P90 of hours beyond the contract over the same seasons [h].
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
    checked: Checked,
    weeks: Sequence[str],
    trays: FloatArray,
    hours_per_tray: FloatArray,
    as_of: date,
    heat: FloatArray | None = None,
) -> list[CrewWeek]:
    """Return the plan week by week, its risks over all seasons, not only the kept ones.

    Parameters
    ----------
    plan : CrewPlan
    checked : Checked
        The plan held against seasons at large: all that is said of the hours bought.
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
    >>> from phenocast.planning.labour.solve import check_plan, plan_crew
    >>> from phenocast.planning.labour.crew_model import CrewTerms
    >>> terms = CrewTerms(wage=10.0, contract_h=40.0, extra=(), lost_value=9.0)
    >>> trays, each = np.array([[400.0, 800.0]]), np.full((1, 2), 0.2)
    >>> plan = plan_crew(terms, trays, each)
    >>> checked = check_plan(plan, trays, each)
    >>> rows = crew_weeks(plan, checked, ["2027-W03", "2027-W04"], trays, each, date(2026, 12, 1))
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
        hours = pair(need[:, number])
        rows.append(
            CrewWeek(
                week=week,
                trays=(float(np.quantile(trays[:, number], 0.1)), *pair(trays[:, number])),
                need_h=hours,
                need_people=(hours[0] / terms.contract_h, hours[1] / terms.contract_h),
                planned=int(plan.crew[number]),
                change=int(plan.crew[number]) - before,
                temporary=pair(checked.temporary[:, number]),
                extra_h=pair(checked.extra_h[:, number]),
                short_of_core=float((need > core + slack)[:, number].mean()),
                short_of_all=float((need > everyone + slack)[:, number].mean()),
                decide_by=notice if notice >= as_of else None,
            )
        )
    return rows


def pair(values: FloatArray) -> Pair:
    """Return P50 and P90 of some values, one a season.

    Examples
    --------
    >>> pair(np.arange(11.0))
    (5.0, 9.0)
    """
    p50, p90 = np.quantile(values, [0.5, 0.9])
    return float(p50), float(p90)
