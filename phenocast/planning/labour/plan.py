"""The labour of a season: from a forecast of all blocks to people in each week.

Blocks share the weather of each possible season, so a good week is good for all of them at once and
the spread of the sum is the true one.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from phenocast._typing import FloatArray
from phenocast.errors import Fault, InputError, NoAnswerError, applying, refuse
from phenocast.forecast.packout import KG_PER_G, Tray
from phenocast.forecast.result import SeasonForecast
from phenocast.harvest.weeks import iso_week, monday
from phenocast.planning.labour.crew_model import terms_of
from phenocast.planning.labour.crew_weeks import (
    LEAST_SHARE,
    CrewWeek,
    HeatWeek,
    crew_weeks,
    heat_of_plan,
    hour_warnings,
    work_shares,
    working_day,
)
from phenocast.planning.labour.heat_weeks import WorkDay, heat_weeks
from phenocast.planning.labour.overtime import example_of
from phenocast.planning.labour.solve import Checked, CrewPlan, check_plan, plan_crew
from phenocast.planning.picking import (
    PickingRates,
    loading_hours,
    packing_hours,
    picks_and_hours,
    shipped_rates,
)
from phenocast.planning.prices import PriceCurve
from phenocast.season import Labour, Season

RATES_ASSUMED = (
    "picking rates are shipped assumptions and taken without spread, though pickers of one "
    "gang can differ threefold; put your own tallies under labour.tallies"
)
_FIRST_WEEK = 0.05  # share of the busiest week's fruit from which a week counts as the first


@dataclass(frozen=True)
class BlockWeeks:
    """One block over all seasons, summed up so that hundreds of blocks take little memory.

    ``trays`` is ``[3, weeks]`` for P10, P50 and P90; ``picks`` a week and ``left_kg`` in the field
    are P50, ``[weeks]``.
    """

    block: str
    trays: FloatArray
    picks: FloatArray
    left_kg: FloatArray


@dataclass(frozen=True)
class LabourPlan:
    """Everything behind a plan.

    Parameters
    ----------
    weeks : tuple of str
        ISO weeks of the plan.
    trays, hours_per_tray : arrays [seasons, weeks]
        Of all blocks together; hours of picking, with what heat takes off, and of packing [h].
    packing_h, loading_h : arrays [seasons, weeks]
        Hours of packing in a shed (0 where pickers pack in the field) and of loading [h].
    plan : CrewPlan
    checked : Checked
        The plan held against seasons at large.
    rows : list of CrewWeek
        One pool of people picks and packs; ``packing_h`` tells how much of it is packing.
    day : WorkDay
    heat : list of HeatWeek
    available : (low, high), each [weeks]
        Share of hours that heat leaves, by the most and the least cautious curve, in the median
        season; the plan takes the low one of each season.
    blocks : tuple of BlockWeeks
    """

    as_of: date
    labour: Labour
    tray: Tray
    rates: PickingRates
    weeks: tuple[str, ...]
    trays: FloatArray
    hours_per_tray: FloatArray
    plan: CrewPlan
    checked: Checked
    rows: list[CrewWeek]
    packing_h: FloatArray
    loading_h: FloatArray
    day: WorkDay
    heat: list[HeatWeek]
    available: tuple[FloatArray, FloatArray]
    blocks: tuple[BlockWeeks, ...]
    warnings: tuple[str, ...]


def plan_labour(
    forecast: SeasonForecast,
    *,
    as_of: date,
    rates: PickingRates | None = None,
    curve: PriceCurve | None = None,
    scenarios: int = 50,
    time_limit_s: float = 30.0,
    gap: float = 1e-3,
) -> LabourPlan:
    """Plan the people of every week that is left of a season.

    Parameters
    ----------
    forecast : SeasonForecast
        Of a season that states its labour.
    as_of : date
        Day of the plan: earlier weeks are over.
    rates : PickingRates, optional
        From tallies; the shipped ones where not given.
    curve : PriceCurve, optional
        Prices; what a lost tray costs where the labour does not state it.
    scenarios : int
        Seasons kept for the program.
    time_limit_s : float
        For each solution of the program [s].
    gap : float
        Relative gap at which the search may stop.

    Raises
    ------
    InputError
        Where the season states no labour, or prices lack a week with fruit.
    NoAnswerError
        Where the season is over, or no plan keeps the rules (the rule in the way is named).
    """
    labour = stated_labour(forecast.season)
    shipped = rates is None or rates == shipped_rates()
    rates = shipped_rates() if rates is None else rates
    box = forecast.packout.tray
    labels, total = forecast.total_trays()
    trays = total.reshape(-1, len(labels))
    blocks, hours = _all_blocks(forecast, labour, rates, labels)
    first, stop = _span(labels, trays, labour, as_of)
    begun = int(np.argmax((trays > 0.0).any(axis=0))) - first
    labels, hours = labels[first:stop], hours[:, first:stop].copy()
    trays = trays[:, first:stop].copy()
    blocks = tuple(
        BlockWeeks(b.block, *(a[..., first:stop] for a in (b.trays, b.picks, b.left_kg)))
        for b in blocks
    )
    over = np.array([monday(week) <= as_of for week in labels])
    trays[:, over] = 0.0
    hours[:, over] = 0.0
    refuse((not np.any(trays > 0.0), _season_over(as_of)), error=NoAnswerError)
    terms = terms_of(labour, _lost_values(labour, curve, labels, trays, box))
    decided = _decided(labour, labels, as_of)
    if _known(labour, as_of) is not None:  # then it tells who was there before as well
        terms = replace(terms, crew_now=0)
    day = working_day(labour)
    hot = heat_weeks([trace.weather for trace in forecast.traces.traces], labels)
    shares = work_shares(
        hot, labels, day, terms, seasons=len(trays), new_until=begun + terms.new_weeks
    )
    # Heat stretches the hours of the field and leaves those of the shed alone.
    packing = np.zeros_like(trays)
    if labour.packed_in == "shed":
        packing = packing_hours(trays * box.fruit_kg, labour.packing_kg_per_h)
    needed = hours / np.maximum(shares.core, LEAST_SHARE) + packing
    each = np.divide(needed, trays, out=np.zeros_like(needed), where=trays > 0.0)
    plan = plan_crew(
        terms,
        trays,
        each,
        scenarios=scenarios,
        heat=shares.rows,
        decided=decided,
        inside_notice=0,
        time_limit_s=time_limit_s,
        gap=gap,
    )
    checked = check_plan(plan, trays, each, heat=shares.rows, time_limit_s=time_limit_s)
    rows = crew_weeks(plan, checked, labels, trays, each, as_of, shares.rows)
    return LabourPlan(
        as_of=as_of,
        labour=labour,
        tray=box,
        rates=rates,
        weeks=tuple(labels),
        trays=trays,
        hours_per_tray=each,
        plan=plan,
        checked=checked,
        rows=rows,
        packing_h=packing,
        loading_h=loading_hours(trays),
        day=day,
        heat=heat_of_plan(hot, labels, day, plan, checked, shares),
        available=shares.median,
        blocks=blocks,
        warnings=(
            *_crew_warnings(labour, labels, decided, as_of),
            *hour_warnings(labour, day, hot, terms),
            *([RATES_ASSUMED] if shipped else []),
            *_warnings(labour, trays, plan, shares.median[0], rows, checked),
        ),
    )


def stated_labour(season: Season) -> Labour:
    """Table of labour of a season.

    Raises
    ------
    InputError
        Where it states none.
    """
    if season.labour is None:
        raise InputError(
            Fault(
                "the season states no labour",
                where=f"{season.source_name}: labour",
                do="add a table [labour]; `phenocast template season` shows one",
            )
        )
    return season.labour


def check_before(labour: Labour, weeks: Sequence[str], as_of: date) -> None:
    """Refuse before the long work what no forecast can mend.

    Parameters
    ----------
    labour : Labour
    weeks : sequence of str
        ISO weeks from the first planting to the last day of any block.
    as_of : date
        Day of the plan.

    Raises
    ------
    InputError
        Where terms, contracts and overtime rules disagree.
    NoAnswerError
        Where the season is over on the day of the plan.

    Examples
    --------
    >>> check_before(Labour("EUR", 9.5, 40.0, 30), ["2027-W01"], date(2027, 1, 11))
    Traceback (most recent call last):
    phenocast.errors.NoAnswerError: labour: there is no fruit left to plan for...
    """
    terms_of(labour, 1.0)
    refuse((monday(weeks[-1]) <= as_of, _season_over(as_of, weeks[-1])), error=NoAnswerError)


def _all_blocks(
    forecast: SeasonForecast, labour: Labour, rates: PickingRates, labels: Sequence[str]
) -> tuple[tuple[BlockWeeks, ...], FloatArray]:
    """Return what each block gives in each week, and the hours of all ``[seasons, weeks]``."""
    place = {label: number for number, label in enumerate(labels)}
    seasons = int(np.prod(forecast.blocks[0].dates.shape[:2]))
    hours = np.zeros((seasons, len(labels)))
    blocks = []
    for block in forecast.blocks:
        columns = [place[label] for label in block.weeks]
        weekly = block.weekly_g.astype(np.float64)
        stated = block.setup.block
        carried = forecast.packout.picked_g(weekly, stated.plants_per_ha).reshape(seasons, -1)
        ripe = weekly.reshape(seasons, -1)
        picked, taken = picks_and_hours(rates, ripe, carried, stated.plants_per_ha, labour.fruit_g)
        trays = np.zeros((3, len(labels)))
        trays[:, columns] = np.quantile(
            carried * forecast.packout.trays_per_g(stated.plants), [0.1, 0.5, 0.9], axis=0
        )
        picks, left = np.zeros(len(labels)), np.zeros(len(labels))
        picks[columns] = np.quantile(picked, 0.5, axis=0)
        left[columns] = np.quantile(ripe - carried, 0.5, axis=0) * stated.plants * KG_PER_G
        blocks.append(BlockWeeks(stated.name, trays, picks, left))
        hours[:, columns] += taken * stated.area_ha
    return tuple(blocks), hours


def _span(labels: Sequence[str], trays: FloatArray, labour: Labour, as_of: date) -> tuple[int, int]:
    """Return the first week of the plan and the one after its last."""
    now = monday(iso_week(as_of + timedelta(days=7)))  # the first Monday after the day of the plan
    days = [monday(label) for label in labels]
    fruit = np.flatnonzero((trays > 0.0).any(axis=0))
    left = [number for number in fruit if days[number] >= now]
    refuse((not left, _season_over(as_of)), error=NoAnswerError)
    if labour.crew_so_far:
        start = min(now, monday(iso_week(labour.crew_so_far[0].from_day)))
    elif labour.crew_now or labour.crew_least:
        start = now
    else:
        start = max(now, days[left[0]])
    first = next(number for number, day in enumerate(days) if day >= start)
    return first, int(left[-1]) + 1


def _season_over(as_of: date, last_week: str | None = None) -> Fault:
    over = "the season is over on that day, or no block bears; state an earlier --as-of"
    return Fault(
        "there is no fruit left to plan for", "labour", f"as of {as_of}",
        f"before the last week of the season, {last_week}" if last_week else "",
        "state an earlier --as-of, or the blocks of the next season" if last_week else over,
    )  # fmt: skip


def _known(labour: Labour, day: date) -> int | None:
    """Return the crew that ``crew_so_far`` states for a day, None where it begins later."""
    known = [one.people for one in labour.crew_so_far if one.from_day <= day]
    return known[-1] if known else None


def _decided(labour: Labour, labels: Sequence[str], as_of: date) -> FloatArray:
    """Return the crew of weeks that have begun or lie inside the notice, NaN for the others."""
    decided = np.full(len(labels), np.nan)
    notice = timedelta(weeks=labour.notice_weeks)
    for number, label in enumerate(labels):
        first = monday(label)
        if first <= as_of or first - notice < as_of:
            known = _known(labour, first + timedelta(days=6))
            decided[number] = labour.crew_now if known is None else known
    return decided


def _crew_warnings(
    labour: Labour, labels: Sequence[str], decided: FloatArray, as_of: date
) -> list[str]:
    """Return what of ``crew_so_far`` and ``crew_now`` cannot be used, and why."""
    told = []
    free_from = monday(labels[0]) + timedelta(weeks=int((~np.isnan(decided)).sum()))
    for stated in labour.crew_so_far:
        since, people = stated.from_day, stated.people
        if since >= free_from:
            told.append(
                f"crew_so_far: {people} people from {since} on are not used: the weeks from "
                f"{free_from} on lie beyond the notice (notice_weeks {labour.notice_weeks}), so "
                "the plan decides them; for people who are agreed on state crew_least, or state "
                "them again with a later --as-of"
            )
    known = _known(labour, as_of)
    if known is not None and labour.crew_now not in (0, known):
        told.append(
            f"crew_now ({labour.crew_now}) and crew_so_far ({known} people on {as_of}) disagree: "
            "crew_so_far is used"
        )
    return told


def _lost_values(
    labour: Labour, curve: PriceCurve | None, labels: Sequence[str], trays: FloatArray, box: Tray
) -> float | tuple[float, ...]:
    if labour.value_per_tray is not None:
        return labour.value_per_tray
    if curve is None:
        raise InputError(
            Fault(
                "what a lost tray costs is not stated",
                where="labour.value_per_tray",
                do="state it, or a table [prices]",
            )
        )
    fruit = np.asarray((trays > 0.0).any(axis=0))
    places = curve.at([label for label, some in zip(labels, fruit, strict=True) if some])
    values = np.full(len(labels), float(curve.per_kg[places].mean()))
    values[fruit] = curve.per_kg[places]
    return tuple(float(v) for v in values * box.net_mass_kg)


def _warnings(
    labour: Labour,
    trays: FloatArray,
    plan: CrewPlan,
    low: FloatArray,
    rows: Sequence[CrewWeek],
    checked: Checked,
) -> list[str]:
    terms, solution = plan.terms, plan.worth.solution
    example = None if labour.overtime is None else labour.overtime.example
    medians = np.quantile(trays, 0.5, axis=0)
    # A handful of early trays says nothing of a capacity: the first week that counts.
    middle = float(medians[int(np.argmax(medians >= _FIRST_WEEK * medians.max()))])
    busiest = float(np.quantile(trays.max(axis=1), 0.5))
    idle = sum(
        row.planned == labour.crew_least and row.need_people[1] < row.planned for row in rows
    )
    outlast = plan.hired[max(0, len(rows) - labour.contract_weeks + 1) :]
    full = (
        (most, f"the {name} takes {most:.0f} trays a week, less than the")
        for name, most in (("packing line", terms.line_trays), ("cooler", terms.cooler_trays))
    )
    return applying(
        (checked.over_loss_limit,
         (f"loss_limit ({terms.loss_limit or 0.0:g}) is kept in the seasons that stand for all; "
         f"{100 * (checked.over_loss_limit or 0.0):.1f} % of {checked.seasons} seasons at large "
         "lose more")),
        (example, example_of(example or "")),
        *((most < max(middle, busiest),
           f"{takes} P50 of the first week with fruit ({middle:.0f}): fruit is lost from the "
           "start; capacities are stated for a day" if most < middle
           else f"{takes} busiest week of a median season ({busiest:.0f})")
          for most, takes in full),
        (idle and labour.crew_least > 0,
         (f"in {idle} weeks crew_least ({labour.crew_least}) keeps more people than the P90 "
         "need; they are paid all the same")),
        (np.any(outlast > 0.5),
         (f"contracts of {labour.contract_weeks} weeks run beyond the last week of the plan and "
         "are paid to their end")),
        (checked.fruit_share < 0.95,
         (f"the plan leaves {100 * (1 - checked.fruit_share):.0f} % of the fruit: at these "
         "wages, rates and values it costs more than it is worth, or the crew may not be "
         "larger; look at value_per_tray or prices, crew_most, and the rates of picking and "
         "packing")),
        (not solution.proven,
         (f"the time limit ended the search: the plan may cost up to {100 * solution.gap:.2f} % "
         "more than the best one")),
        (plan.worth.mean_season is None,
         "the plan for the mean season breaks a rule in some season; hedging is needed"),
        (low.min() < 0.999,
         ("heat takes hours from the crew in some weeks; the plan uses the most cautious of the "
         "published curves, and they differ widely")),
    )  # fmt: skip
