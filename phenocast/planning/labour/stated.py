"""From what the season file states to the terms of the plan, its rules, prices and rates."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from phenocast.parameters import labour as shipped_labour
from phenocast.planning.labour.crew_model import CrewTerms
from phenocast.planning.labour.overtime import OvertimeRules, example_rules, extra_hours
from phenocast.planning.picking import experience
from phenocast.planning.prices import PriceCurve, curve_from_months, shape_months
from phenocast.planning.tray import cooler_trays_per_day
from phenocast.season import Labour, Overtime, Prices


def rules_stated(overtime: Overtime | None) -> OvertimeRules:
    """Return the overtime rules that a season states; without any, every hour is plain.

    Examples
    --------
    >>> rules_stated(None).pay_hours([9.0] * 6)
    54.0
    """
    if overtime is None:
        return OvertimeRules("none stated")
    if overtime.example is not None:
        return example_rules(overtime.example)
    day, week = (
        tuple((hours, times) for hours, times in steps) for steps in (overtime.day, overtime.week)
    )
    return OvertimeRules("as stated", day, week, overtime.longest_day_h, overtime.longest_week_h)


def example_of(name: str) -> str:
    """Return the warning that goes with a shipped example of overtime rules.

    Examples
    --------
    >>> example_of("example-plain")[:33]
    "overtime rules 'example-plain' ar"
    """
    return (
        f"overtime rules '{name}' are a shipped example and nobody's law: state those that bind "
        "you under labour.overtime"
    )


def terms_of(labour: Labour, lost_value: float | tuple[float, ...]) -> CrewTerms:
    """Return the terms of a plan.

    Parameters
    ----------
    labour : Labour
    lost_value : float or tuple of float
        What a lost tray costs, in every week or week by week.

    Examples
    --------
    >>> terms_of(Labour("EUR", 12.0, 40.0, 30), 9.0).beginner_loss
    (0.4, 0.147..., 0.054..., 0.019...)
    """
    numbers = shipped_labour()["crew"]
    most = labour.most_hours_per_week or labour.hours_per_week
    extra = extra_hours(
        rules_stated(labour.overtime),
        labour.wage_per_h,
        labour.hours_per_week,
        labour.days_per_week,
        most,
    )
    losses = 1.0 - experience(np.arange(4.0))
    rate = labour.temporary_rate
    if rate is None:
        rate = float(experience(0.0))
    cooler = np.inf
    if labour.cooler_trays_per_day is not None:
        cooler = labour.cooler_trays_per_day * labour.days_per_week
    elif labour.cooler_positions is not None:
        hours = labour.hours_per_week / labour.days_per_week
        cooler = cooler_trays_per_day(labour.cooler_positions, hours) * labour.days_per_week
    line = np.inf
    if labour.line_trays_per_day is not None:
        line = labour.line_trays_per_day * labour.days_per_week
    return CrewTerms(
        wage=labour.wage_per_h,
        contract_h=labour.hours_per_week,
        extra=extra,
        lost_value=lost_value,
        crew_now=labour.crew_now,
        crew_least=labour.crew_least,
        crew_most=labour.crew_most,
        notice_weeks=labour.notice_weeks,
        contract_weeks=labour.contract_weeks,
        hiring_cost=labour.hiring_cost,
        release_cost=labour.release_cost,
        temporary_most=labour.temporary_most,
        temporary_wage=labour.temporary_wage_per_h or 0.0,
        temporary_h=labour.temporary_hours_per_week or labour.hours_per_week,
        temporary_rate=rate,
        beginner_loss=tuple(float(loss) for loss in losses),
        new_weeks=int(shipped_labour()["heat"].value("new_crew_weeks")),
        deferral_share=_stated(labour.deferral_share, numbers.value("deferral_share")),
        deferral_loss=_stated(labour.deferral_loss, numbers.value("deferral_loss")),
        line_trays=line,
        cooler_trays=cooler,
        loss_limit=labour.loss_limit,
    )


def _stated(stated: float | None, shipped: float) -> float:
    return shipped if stated is None else stated


def curve_stated(prices: Prices, weeks: Sequence[str]) -> PriceCurve:
    """Return the price curve of prices that are stated without a file, for the weeks wanted.

    A file of prices is read by `io` and goes through `prices.curve_from_table`.

    Examples
    --------
    >>> curve_stated(Prices("EUR", per_kg=2.5), ["2027-W03", "2027-W04"]).per_kg
    array([2.5, 2.5])
    """
    months = dict(prices.months)
    if prices.per_kg is not None:
        months = {"mar": prices.per_kg}
        if prices.shape is not None:
            months = shape_months(prices.shape, prices.per_kg)
    return curve_from_months(
        months,
        weeks,
        prices.currency,
        season_sd=prices.season_sd,
        week_sd=prices.week_sd,
        week_memory=prices.week_memory,
        supply_correlation=prices.supply_correlation,
    )
