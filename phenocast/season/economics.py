"""What is stated of labour, prices and costs: descriptions, and the checks of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import BeforeValidator, Field
from pydantic.dataclasses import dataclass as described

from phenocast.errors import Fault, broken, unknown_name
from phenocast.parameters import overtime_examples, packs, price_shapes
from phenocast.season.kinds import OF_TABLES, Day, Hour, Hours, Number, Text, Whole, listed
from phenocast.season.site import ClockHours

if TYPE_CHECKING:
    from phenocast.season.validation import Path

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")


@described(frozen=True, config=OF_TABLES)
class Overtime:
    """Overtime rules as stated: steps of (hours, multiplier), or the name of an example."""

    example: Text | None = None
    day: tuple[tuple[Number, ...], ...] = ()
    week: tuple[tuple[Number, ...], ...] = ()
    longest_day_h: Number = Field(default=24.0, gt=0.0, le=24.0)
    longest_week_h: Number = Field(default=168.0, gt=0.0, le=168.0)


def overtime_table(value: Any) -> Any:
    """Return the name of an example as the table that holds it."""
    return {"example": value} if isinstance(value, str) else value


@described(frozen=True, config=OF_TABLES)
class Crew:
    """How many people there are from a day on."""

    from_day: Annotated[Day, Field(alias="from")]
    people: Annotated[Whole, Field(ge=0, le=100_000)]


@described(frozen=True, config=OF_TABLES)
class Labour:
    """The labour of a cooperative as stated; money in ``currency``.

    Names and units are those of the keys of ``[labour]``; None where a shipped number stands in.
    ``crew_so_far`` holds days and the people from that day on. ``work_hours``, ``earliest`` and
    ``latest`` are hours of the clock that people go by, summer time included, unlike all other
    hours of a season file.
    """

    currency: Text
    wage_per_h: Annotated[Number, Field(gt=0.0, le=1_000_000.0)]
    hours_per_week: Annotated[Number, Field(gt=0.0, le=168.0)]
    crew_most: Annotated[Whole, Field(ge=0, le=100_000)]
    days_per_week: Whole = Field(default=6, ge=1, le=7)
    most_hours_per_week: Number | None = Field(default=None, gt=0.0, le=168.0)
    overtime: Annotated[Overtime | None, BeforeValidator(overtime_table)] = None
    crew_now: Whole = Field(default=0, ge=0, le=100_000)
    crew_least: Whole = Field(default=0, ge=0, le=100_000)
    crew_so_far: Annotated[tuple[Crew, ...], BeforeValidator(listed)] = ()
    notice_weeks: Whole = Field(default=0, ge=0, le=52)
    contract_weeks: Whole = Field(default=1, ge=1, le=52)
    hiring_cost: Number = Field(default=0.0, ge=0.0, le=1e9)
    release_cost: Number = Field(default=0.0, ge=0.0, le=1e9)
    temporary_most: Whole = Field(default=0, ge=0, le=100_000)
    temporary_wage_per_h: Number | None = Field(default=None, gt=0.0, le=1_000_000.0)
    temporary_hours_per_week: Number | None = Field(default=None, gt=0.0, le=168.0)
    temporary_rate: Number | None = Field(default=None, gt=0.0, le=2.0)
    pack: Text = "8 x 1 lb"
    tray_kg: Number | None = Field(default=None, gt=0.0, le=50.0)
    over_pack: Number | None = Field(default=None, ge=0.0, le=0.5)
    left_share: Number | None = Field(default=None, ge=0.0, le=0.9)
    value_per_tray: Number | None = Field(default=None, gt=0.0, le=1e9)
    packed_in: Literal["field", "shed"] = "field"
    packing_kg_per_h: Number | None = Field(default=None, gt=0.0, le=1000.0)
    line_trays_per_day: Number | None = Field(default=None, gt=0.0, le=1e9)
    cooler_trays_per_day: Number | None = Field(default=None, gt=0.0, le=1e9)
    cooler_positions: Whole | None = Field(default=None, ge=1, le=1000)
    deferral_share: Number | None = Field(default=None, ge=0.0, le=1.0)
    deferral_loss: Number | None = Field(default=None, ge=0.0, le=1.0)
    loss_limit: Number | None = Field(default=None, ge=0.0, le=1.0)
    fruit_g: Number | None = Field(default=None, gt=0.0, le=100.0)
    work_hours: Hours | None = None
    earliest: Hour | None = None
    latest: Hour | None = None
    long_week_h: Number | None = Field(default=None, gt=0.0, le=168.0)
    tallies: Text | None = None


@described(frozen=True, config=OF_TABLES)
class Prices:
    """Prices as stated: a file of weeks, prices of months, or one price with or without a shape."""

    currency: Text
    file: Text | None = None
    months: Mapping[Text, Number] = field(default_factory=dict)
    per_kg: Number | None = Field(default=None, gt=0.0, le=1e9)
    shape: Text | None = None
    season_sd: Number | None = Field(default=None, ge=0.0, le=2.0)
    week_sd: Number | None = Field(default=None, ge=0.0, le=2.0)
    week_memory: Number | None = Field(default=None, ge=0.0, le=0.99)
    supply_correlation: Number = Field(default=0.0, ge=-1.0, le=1.0)


@described(frozen=True, config=OF_TABLES)
class Costs:
    """Costs of planting and harvest as stated, money in ``currency``; what is not stated is zero.

    Parameters
    ----------
    currency : str
    film_per_ha : mapping of str to float
        Film, laid, by name. [currency ha-1]
    transplant_each : mapping of str to float
        One plant, by type of transplant. [currency plant-1]
    planting_per_ha : float
        Bed, planting and all else that does not depend on the fruit. [currency ha-1]
    harvest_per_kg : float
        Picking, packing and all else that goes with the fruit. [currency kg-1]
    """

    currency: Text
    film_per_ha: Mapping[Text, Number] = field(default_factory=dict)
    transplant_each: Mapping[Text, Number] = field(default_factory=dict)
    planting_per_ha: Number = Field(default=0.0, ge=0.0, le=1e9)
    harvest_per_kg: Number = Field(default=0.0, ge=0.0, le=1e9)


def price_faults(prices: Prices, path: Path) -> list[Fault]:
    """Return the faults of prices that need more than one key."""
    ways = [key for key in ("file", "months", "per_kg") if getattr(prices, key) not in (None, {})]
    shapes = sorted(name for name in price_shapes() if name != "spread")
    shape = path("prices", "shape")
    faults = broken(
        (
            len(ways) != 1,
            Fault(
                "prices are stated in no way, or in more than one", path("prices"),
                ", ".join(ways) or "none", "one of file, months, per_kg",
            ),
        ),
        (
            prices.shape not in (None, *shapes),
            unknown_name("shape of prices", prices.shape or "", shapes, shape),
        ),
        (
            prices.shape is not None and prices.per_kg is None,
            Fault("a shape needs a price", shape, do="state per_kg, in March"),
        ),
    )  # fmt: skip
    for month, price in prices.months.items():
        where = path("prices", "months", month)
        faults += broken(
            (month not in _MONTHS, unknown_name("month", month, _MONTHS, where)),
            (not price > 0.0, Fault("a price is not above zero", where, price, "above 0")),
        )
    return faults


def labour_faults(labour: Labour, has_prices: bool, path: Path) -> list[Fault]:
    """Return the faults of labour that need more than one key.

    Parameters
    ----------
    labour : Labour
    has_prices : bool
        Whether the file has a table of prices, sound or not.
    path : callable
    """

    def fault(key: str, what: str, value: object = None, allowed: str = "", do: str = "") -> Fault:
        return Fault(what, path("labour", key), value, allowed, do)

    least, most = labour.hours_per_week, labour.most_hours_per_week or labour.hours_per_week
    rules = labour.overtime or Overtime()
    examples = sorted(overtime_examples())
    first, last = labour.earliest or 0.0, 24.0 if labour.latest is None else labour.latest
    hours = labour.work_hours or ClockHours(first, last)
    limited = (labour.earliest, labour.latest) != (None, None)
    days = [entry.from_day for entry in labour.crew_so_far]
    return broken(
        (
            labour.crew_most == 0 and labour.temporary_most == 0,
            fault("crew_most", "there are no workers at all", 0, "1 or more people",
                  "state crew_most or temporary_most"),
        ),
        (
            labour.crew_least > labour.crew_most,
            fault("crew_least", "the least crew is larger than the largest", labour.crew_least,
                  f"at most crew_most, {labour.crew_most}"),
        ),
        (
            labour.temporary_most > 0 and labour.temporary_wage_per_h is None,
            fault("temporary_wage_per_h", "temporary workers have no wage", do="state it"),
        ),
        (
            most < least,
            fault("most_hours_per_week", "fewer hours than the contract", most,
                  f"at least hours_per_week, {least:g}"),
        ),
        (
            most > least and labour.overtime is None,
            fault("overtime", "hours beyond the contract, and no overtime rules",
                  do="state the rules of your country, as overtime = {week = [[40, 1.5]]}"),
        ),
        (
            labour.tray_kg is None and labour.pack not in packs(),
            unknown_name("pack", labour.pack, sorted(packs()), path("labour", "pack")),
        ),
        (
            labour.value_per_tray is None and not has_prices,
            fault("value_per_tray", "what a lost tray costs is not stated", None,
                  "value_per_tray, or a table [prices]", "state one of them"),
        ),
        (
            labour.cooler_positions is not None and labour.cooler_trays_per_day is not None,
            fault("cooler_positions", "the cooler is stated twice", None,
                  "cooler_positions or cooler_trays_per_day"),
        ),
        (
            rules.example not in (None, *examples),
            unknown_name("set of overtime rules", rules.example or "", examples,
                         path("labour", "overtime")),
        ),
        *(
            (
                len(step) != 2,
                fault("overtime", f"a step of the {kind} is no pair", list(step),
                      "[hours, multiplier]"),
            )
            for kind, steps in (("day", rules.day), ("week", rules.week))
            for step in steps
        ),
        (
            limited and first >= last,
            fault("latest", "not after the earliest hour", last, f"above {first:g}"),
        ),
        (
            limited and first < last and labour.work_hours is not None
            and not first <= hours.start < hours.start + hours.length_h <= last,
            fault("work_hours", "hours outside earliest to latest", [hours.start, hours.end],
                  f"within {first:g} to {last:g}"),
        ),
        (
            days != sorted(set(days)),
            fault("crew_so_far", "the days are out of order or come twice"),
        ),
    )  # fmt: skip
