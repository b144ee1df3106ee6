"""What a cooperative states of labour and prices, as frozen descriptions, and their checks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING

from phenocast.errors import Fault, unknown_name
from phenocast.parameters import overtime_examples, packs, price_shapes
from phenocast.season.describe import ClockHours
from phenocast.season.known import Path

if TYPE_CHECKING:
    from phenocast.season.planning_tables import LabourTable, OvertimeStated, PricesTable

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")


@dataclass(frozen=True)
class Overtime:
    """Overtime rules as stated: steps of (hours, multiplier), or the name of an example."""

    example: str | None = None
    day: tuple[tuple[float, float], ...] = ()
    week: tuple[tuple[float, float], ...] = ()
    longest_day_h: float = 24.0
    longest_week_h: float = 168.0


@dataclass(frozen=True)
class Labour:
    """The labour of a cooperative as stated; money in ``currency``.

    Names and units are those of the keys of ``[labour]``; None where a shipped number stands in.
    ``crew_so_far`` holds days and the people from that day on. ``work_hours``, ``earliest`` and
    ``latest`` are hours of the clock that people go by, summer time included, unlike all other
    hours of a season file.
    """

    currency: str
    wage_per_h: float
    hours_per_week: float
    crew_most: int
    days_per_week: int = 6
    most_hours_per_week: float | None = None
    overtime: Overtime | None = None
    crew_now: int = 0
    crew_least: int = 0
    crew_so_far: tuple[tuple[date, int], ...] = ()
    notice_weeks: int = 0
    contract_weeks: int = 1
    hiring_cost: float = 0.0
    release_cost: float = 0.0
    temporary_most: int = 0
    temporary_wage_per_h: float | None = None
    temporary_hours_per_week: float | None = None
    temporary_rate: float | None = None
    pack: str = "8 x 1 lb"
    tray_kg: float | None = None
    over_pack: float | None = None
    left_share: float | None = None
    value_per_tray: float | None = None
    packed_in: str = "field"
    packing_kg_per_h: float | None = None
    line_trays_per_day: float | None = None
    cooler_trays_per_day: float | None = None
    cooler_positions: int | None = None
    deferral_share: float | None = None
    deferral_loss: float | None = None
    loss_limit: float | None = None
    fruit_g: float | None = None
    work_hours: ClockHours | None = None
    earliest: float | None = None
    latest: float | None = None
    long_week_h: float | None = None
    tallies: str | None = None


@dataclass(frozen=True)
class Prices:
    """Prices as stated: a file of weeks, prices of months, or one price with or without a shape."""

    currency: str
    file: str | None = None
    months: Mapping[str, float] = field(default_factory=dict)
    per_kg: float | None = None
    shape: str | None = None
    season_sd: float | None = None
    week_sd: float | None = None
    week_memory: float | None = None
    supply_correlation: float = 0.0


def labour_of(table: LabourTable | None) -> Labour | None:
    """Return the labour that the file states."""
    if table is None:
        return None
    stated = {name: getattr(table, name) for name in type(table).model_fields}
    stated["crew_so_far"] = tuple((entry.from_day, entry.people) for entry in table.crew_so_far)
    stated["overtime"] = _overtime(table.overtime)
    return Labour(**stated)


def prices_of(table: PricesTable | None) -> Prices | None:
    """Return the prices that the file states."""
    if table is None:
        return None
    stated = {name: getattr(table, name) for name in type(table).model_fields}
    stated["months"] = dict(table.months or {})
    return Prices(**stated)


def _overtime(table: OvertimeStated | None) -> Overtime | None:
    if table is None:
        return None
    day, week = ([(step[0], step[1]) for step in steps] for steps in (table.day, table.week))
    return Overtime(
        table.example, tuple(day), tuple(week), table.longest_day_h, table.longest_week_h
    )


def planning_faults(
    labour: LabourTable | None, prices: PricesTable | None, has_prices: bool, path: Path
) -> list[Fault]:
    """Return the faults of labour and prices that need more than one key.

    Parameters
    ----------
    labour, prices : tables or None
        Where they are in order by themselves.
    has_prices : bool
        Whether the file has a table of prices, sound or not.
    path : callable
    """
    faults = [] if prices is None else _price_faults(prices, path)
    if labour is None:
        return faults
    if prices is not None and prices.currency != labour.currency:
        faults.append(
            Fault(
                "labour and prices are in different currencies",
                path("labour", "currency"),
                labour.currency,
                prices.currency,
                "state both in one; no rate of exchange is guessed",
            )
        )
    return faults + _labour_faults(labour, has_prices, path)


def _price_faults(prices: PricesTable, path: Path) -> list[Fault]:
    faults: list[Fault] = []
    ways = [key for key in ("file", "months", "per_kg") if getattr(prices, key) not in (None, {})]
    if len(ways) != 1:
        faults.append(
            Fault(
                "prices are stated in no way, or in more than one",
                path("prices"),
                ", ".join(ways) or "none",
                "one of file, months, per_kg",
            )
        )
    if prices.shape is not None:
        shapes = sorted(name for name in price_shapes() if name != "spread")
        if prices.shape not in shapes:
            faults.append(
                unknown_name("shape of prices", prices.shape, shapes, path("prices", "shape"))
            )
        if prices.per_kg is None:
            faults.append(
                Fault("a shape needs a price", path("prices", "shape"), do="state per_kg, in March")
            )
    for month, price in (prices.months or {}).items():
        if month not in _MONTHS:
            faults.append(unknown_name("month", month, _MONTHS, path("prices", "months", month)))
        if not price > 0.0:
            faults.append(
                Fault(
                    "a price is not above zero", path("prices", "months", month), price, "above 0"
                )
            )
    return faults


def _labour_faults(labour: LabourTable, has_prices: bool, path: Path) -> list[Fault]:
    faults: list[Fault] = []

    def tell(key: str, what: str, value: object = None, allowed: str = "", do: str = "") -> None:
        faults.append(Fault(what, path("labour", key), value, allowed, do))

    if labour.crew_most == 0 and labour.temporary_most == 0:
        tell(
            "crew_most",
            "there are no workers at all",
            0,
            "1 or more people",
            "state crew_most or temporary_most",
        )
    if labour.crew_least > labour.crew_most:
        tell(
            "crew_least",
            "the least crew is larger than the largest",
            labour.crew_least,
            f"at most crew_most, {labour.crew_most}",
        )
    if labour.temporary_most > 0 and labour.temporary_wage_per_h is None:
        tell("temporary_wage_per_h", "temporary workers have no wage", do="state it")
    most = labour.most_hours_per_week
    if most is not None and most < labour.hours_per_week:
        tell(
            "most_hours_per_week",
            "fewer hours than the contract",
            most,
            f"at least hours_per_week, {labour.hours_per_week:g}",
        )
    if most is not None and most > labour.hours_per_week and labour.overtime is None:
        tell(
            "overtime",
            "hours beyond the contract, and no overtime rules",
            do="state the rules of your country, as overtime = {week = [[40, 1.5]]}",
        )
    if labour.tray_kg is None and labour.pack not in packs():
        faults.append(unknown_name("pack", labour.pack, sorted(packs()), path("labour", "pack")))
    if labour.value_per_tray is None and not has_prices:
        tell(
            "value_per_tray",
            "what a lost tray costs is not stated",
            None,
            "value_per_tray, or a table [prices]",
            "state one of them",
        )
    if labour.cooler_positions is not None and labour.cooler_trays_per_day is not None:
        tell(
            "cooler_positions",
            "the cooler is stated twice",
            None,
            "cooler_positions or cooler_trays_per_day",
        )
    overtime = labour.overtime
    if overtime is not None and overtime.example is not None:
        known = sorted(overtime_examples())
        if overtime.example not in known:
            faults.append(
                unknown_name(
                    "set of overtime rules", overtime.example, known, path("labour", "overtime")
                )
            )
    for kind, steps in (("day", overtime.day), ("week", overtime.week)) if overtime else ():
        for step in steps:
            if len(step) != 2:
                tell("overtime", f"a step of the {kind} is no pair", step, "[hours, multiplier]")
    if (labour.earliest, labour.latest) != (None, None):
        first, last = labour.earliest or 0.0, 24.0 if labour.latest is None else labour.latest
        hours = labour.work_hours
        if first >= last:
            tell("latest", "not after the earliest hour", last, f"above {first:g}")
        elif hours is not None and not first <= hours.start < hours.start + hours.length_h <= last:
            outside, within = [hours.start, hours.end], f"within {first:g} to {last:g}"
            tell("work_hours", "hours outside earliest to latest", outside, within)
    days = [entry.from_day for entry in labour.crew_so_far]
    if days != sorted(set(days)):
        tell("crew_so_far", "the days are out of order or come twice")
    return faults
