"""The plan week by week: what is needed, who is planned, what is risked, and what heat leaves.

Rest that heat asks for is paid and picks nothing, so it raises the people needed. One pass and no
iteration: what heat leaves of an hour is set before the plan for each kind of hour (within the
contract, each step beyond it, of people who are new, of temporary workers) and does not depend on
how many of them the plan buys. The most cautious curve counts throughout, a step beyond the
contract with its mean or its first hour, whichever leaves less, and no kind of hour counts for more
than one within the contract.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from phenocast._typing import FloatArray
from phenocast.harvest.weeks import monday
from phenocast.parameters import labour as shipped_labour
from phenocast.planning.labour.crew_model import (
    EXTRA,
    NEW,
    NEW_OVERTIME,
    TEMPORARY,
    CrewTerms,
    season_rows,
)
from phenocast.planning.labour.heat_weeks import Start, WeekHeat, WorkDay, better_start
from phenocast.planning.labour.solve import Checked, CrewPlan, crew_hours
from phenocast.season import Labour

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


LEAST_SHARE = 1e-3
"""Where heat leaves no time at all, a tray takes a thousand times as long."""


def working_day(labour: Labour) -> WorkDay:
    """Return the working day as stated, or from the shipped start on with the shipped breaks.

    Of stated hours, what the contract does not fill are breaks.

    Examples
    --------
    >>> from phenocast.season import ClockHours
    >>> working_day(Labour("EUR", 9.5, 40.0, 30, 5, work_hours=ClockHours(6.0, 14.5))).breaks_h
    0.5
    """
    shipped, hours = shipped_labour()["day"], labour.work_hours
    start, breaks = shipped.value("start"), shipped.value("breaks")
    if hours is not None:
        start = hours.start
        breaks = max(hours.length_h - labour.hours_per_week / labour.days_per_week, 0.0)
    elif labour.earliest is not None:
        start = max(start, labour.earliest)
    return WorkDay(
        start, labour.hours_per_week, breaks, labour.days_per_week, labour.earliest, labour.latest
    )


def hour_warnings(
    labour: Labour, day: WorkDay, heat: Sequence[WeekHeat], terms: CrewTerms
) -> list[str]:
    """Return what of the working day is assumed or does not fit, each once.

    Examples
    --------
    >>> from phenocast.season import ClockHours
    >>> six = Labour("EUR", 9.5, 40.0, 30, 5, work_hours=ClockHours(6.0, 13.0), latest=14.0)
    >>> terms = CrewTerms(wage=9.5, contract_h=40.0, extra=(), lost_value=9.0)
    >>> hour_warnings(six, working_day(six), [], terms)
    ['work_hours hold 7.0 h, the contract 8.0 h a day: the day is taken to end at 14:00']
    """
    told = []
    contract = terms.contract_h / day.days
    if labour.work_hours is None:
        dark = sum(row.dark_h(day.start, 1.0) > 0.0 for row in heat)
        told.append(
            "labour.work_hours is not stated: the day is assumed to start at "
            f"{_clock(day.start)} by the local clock"
        )
        if dark:
            told[0] += f"; in {dark} weeks that is before sunrise, and a later day has more heat"
    elif labour.work_hours.length_h < contract - 1e-6:
        told.append(
            f"work_hours hold {labour.work_hours.length_h:.1f} h, the contract {contract:.1f} h a "
            f"day: the day is taken to end at {_clock((day.start + contract) % 24.0)}"
        )
    longest = terms.contract_h + sum(step.hours for step in terms.extra)
    end = day.start + day.span_h(max(longest, terms.temporary_h if terms.temporary_most else 0.0))
    if day.latest is not None and end > day.latest + 1e-6:
        told.append(
            f"the longest day that the plan may use ends at {_clock(end % 24.0)}, after latest "
            f"({_clock(day.latest)}): start earlier or lower most_hours_per_week"
        )
    return told


@dataclass(frozen=True)
class WorkShares:
    """What heat leaves of the hours of each week.

    Parameters
    ----------
    core : array [seasons, weeks]
        Of an hour of the core crew within its contract, by the most cautious curve.
    median : (low, high), each [weeks]
        The same in the median season, by the most and the least cautious curve.
    rows : array [rows, seasons, weeks]
        Of other hours, as shares of ``core``; see `crew_model.season_rows`.
    """

    core: FloatArray
    median: tuple[FloatArray, FloatArray]
    rows: FloatArray


def work_shares(
    heat: Sequence[WeekHeat], weeks: Sequence[str], day: WorkDay, terms: CrewTerms,
    *, seasons: int, new_until: int = 0,
) -> WorkShares:  # fmt: skip
    """Return what heat leaves of the hours of each week.

    Parameters
    ----------
    heat : sequence of WeekHeat
    weeks : sequence of str
        Weeks without heat figures lose nothing.
    day : WorkDay
    terms : CrewTerms
    seasons : int
        A multiple of the seasons of ``heat``: every draw of a possible season has its heat.
    new_until : int
        So many first weeks in which everybody is new to the heat.

    Examples
    --------
    >>> terms = CrewTerms(wage=14.0, contract_h=40.0, extra=(), lost_value=9.0)
    >>> work_shares([], ["2027-W01"], WorkDay(6.0, 40.0, 0.5, 6), terms, seasons=2).core.tolist()
    [[1.0], [1.0]]
    """
    core, rows = (
        np.ones((seasons, len(weeks))),
        np.ones((3 + len(terms.extra), seasons, len(weeks))),
    )
    low, high = np.ones(len(weeks)), np.ones(len(weeks))
    contract = day.span_h(terms.contract_h)
    by_week = {row.week: row for row in heat}
    for number, week in enumerate(weeks):
        if week not in by_week:
            continue
        row, used = by_week[week], number >= new_until
        repeat = seasons // len(row.wbgt_c)

        def left(
            start: float, span: float, used: bool, row: WeekHeat = row, repeat: int = repeat
        ) -> FloatArray:
            return np.repeat(row.share(start, span, acclimatised=used)[0], repeat)

        cautious, bold = row.share(day.start, contract, acclimatised=used)
        low[number], high[number] = np.median(cautious), np.median(bold)
        core[:, number] = np.repeat(cautious, repeat)
        whole = np.maximum(core[:, number], LEAST_SHARE)
        rows[NEW - NEW, :, number] = left(day.start, contract, False) / whole
        helper = day.span_h(terms.temporary_h) if terms.temporary_most else contract
        rows[TEMPORARY - NEW, :, number] = left(day.start, helper, False) / whole
        end = day.start + contract
        for step, extra in enumerate(terms.extra, EXTRA - NEW):
            span = extra.hours / day.days
            worst = np.minimum(left(end, span, used), left(end, min(span, 1.0), used))
            rows[step, :, number] = worst / whole
            end += span
        beyond = end - day.start - contract
        if beyond > 0.0:
            hot = row.above_h(day.start + contract, beyond, day.days, acclimatised=False) > 0.0
            rows[NEW_OVERTIME - NEW, :, number] = 1.0 - np.repeat(hot, repeat)
            if not used:  # then the rule for people who are new holds for all
                rows[EXTRA - NEW :, :, number] *= rows[NEW_OVERTIME - NEW, :, number]
    return WorkShares(core, (low, high), np.minimum(rows, 1.0))


@dataclass(frozen=True)
class HeatWeek:
    """Heat of a week in the hours that the plan works; pairs are P50 and P90 over the seasons.

    Parameters
    ----------
    week : str
    hours_a_person : (mean, P90, most)
        Of the core crew, over the seasons that the plan is held against [h].
    new_people : int
        Of the core crew, hired within the weeks that count as new.
    highest_wbgt_c, highest_heat_index_c : pair
        [degC]
    above_acclimatised_h, above_new_h : pair
        Hours above the NIOSH limits [h]: of the core crew with its hours beyond the contract; and
        of people who are new, within the contract or the longer week of temporary workers.
    overtime_above_h : pair
        Of the first, hours beyond the contract [h].
    work_share, work_share_new : (low, high)
        Share of the contract hours that published curves leave, from the most to the least cautious
        curve, in the median season.
    starts : tuple of Start
        The same working day from other hours on, only where hours are above a limit.
    """

    week: str
    hours_a_person: tuple[float, float, float]
    new_people: int
    highest_wbgt_c: Pair
    highest_heat_index_c: Pair
    above_acclimatised_h: Pair
    above_new_h: Pair
    overtime_above_h: Pair
    work_share: Pair
    work_share_new: Pair
    starts: tuple[Start, ...]

    def better_start(self) -> Start | None:
        """Return the start with the fewest hours above the limits; None where none is better."""
        return better_start(self.starts) if self.starts else None

    def suggestion(self) -> str:
        """Return in words what an earlier or later start would do; empty where nothing helps.

        Hours are said to be above the limit or not; none is called anything better.
        """
        best = self.better_start()
        if best is None:
            return ""
        now = self.starts[0]
        text = (
            f"start at {_clock(best.clock_h)} instead of {_clock(now.clock_h)}, breaks kept in: "
            f"{best.above_new_h:.0f} instead of {now.above_new_h:.0f} hours above the limit for a "
            f"new crew, {best.above_acclimatised_h:.0f} instead of "
            f"{now.above_acclimatised_h:.0f} for an acclimatised one"
        )
        return text + (f"; {best.dark_h:.1f} h a day in the dark" if best.dark_h >= 0.5 else "")


def _clock(hour: float) -> str:
    return f"{int(hour):02d}:{round(hour % 1 * 60):02d}"


def heat_of_plan(
    heat: Sequence[WeekHeat], weeks: Sequence[str], day: WorkDay, plan: CrewPlan, checked: Checked,
    shares: WorkShares,
) -> list[HeatWeek]:  # fmt: skip
    """Return the heat of the hours that a plan works, week by week.

    Parameters
    ----------
    heat : sequence of WeekHeat
    weeks : sequence of str
        Weeks of the plan.
    day : WorkDay
    plan : CrewPlan
    checked : Checked
        Its hours beyond the contract over seasons at large.
    shares : WorkShares
        As given to the plan.
    """
    terms, place = plan.terms, {week: number for number, week in enumerate(weeks)}
    contract = day.span_h(terms.contract_h)
    helper_h = terms.temporary_h if terms.temporary_most else 0.0
    new_span = day.span_h(max(terms.contract_h, helper_h))
    result = []
    for row in heat:
        number = place[row.week]
        crew = float(plan.crew[number])
        hired = np.maximum(plan.hired[max(0, number - terms.new_weeks + 1) : number + 1], 0.0)
        new_people = min(float(hired.sum()), crew)
        # Overtime is spread over those who may work it.
        barred = 1.0 - shares.rows[NEW_OVERTIME - NEW, checked.taken, number]
        beyond = checked.extra_h[:, number] / np.maximum(crew - barred * new_people, 1.0)
        future = checked.taken * len(row.wbgt_c) // len(shares.core)
        above, overtime, wbgt, index = np.zeros((4, len(beyond)))
        # Few seasons differ in their hours, to a tenth: one look at the clock for each.
        for extra in np.unique(beyond.round(1)):
            mine = beyond.round(1) == extra
            span = day.span_h(terms.contract_h + extra)
            hours = row.above_h(day.start, span, day.days, acclimatised=True)
            within = row.above_h(day.start, contract, day.days, acclimatised=True)
            above[mine], overtime[mine] = hours[future[mine]], (hours - within)[future[mine]]
            wbgt[mine], index[mine] = (one[future[mine]] for one in row.highest(day.start, span))
        new = row.above_h(day.start, new_span, day.days, acclimatised=False)
        left = [
            tuple(float(np.median(end)) for end in row.share(day.start, contract, acclimatised=one))
            for one in (True, False)
        ]
        worked = terms.contract_h + beyond
        warm = max(float(np.quantile(new, 0.9)), pair(above)[1]) >= 0.5
        result.append(
            HeatWeek(
                week=row.week,
                hours_a_person=(float(worked.mean()), pair(worked)[1], float(worked.max())),
                new_people=round(new_people),
                highest_wbgt_c=pair(wbgt),
                highest_heat_index_c=pair(index),
                above_acclimatised_h=pair(above),
                above_new_h=pair(new),
                overtime_above_h=pair(overtime),
                work_share=(left[0][0], left[0][1]),
                work_share_new=(left[1][0], left[1][1]),
                starts=row.starts(day, float(worked.mean())) if warm else (),
            )
        )
    return result
