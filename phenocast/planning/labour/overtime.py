"""Overtime by a stated rule set, and what a cooperative states of its crew.

A rule set multiplies the wage above limits of a day and of a week; the numbers are local law: the
user states them. An hour is paid once at the highest multiplier that it falls under: hours already
paid above the plain wage for the day do not count again toward the week's limit.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from phenocast.errors import Fault, broken, named, raise_any, refuse
from phenocast.parameters import overtime_examples
from phenocast.season import Overtime

Steps = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class OvertimeRules:
    """Limits above which an hour is paid more.

    Parameters
    ----------
    name : str
    day : tuple of (hours, multiplier)
        Above so many hours of a day [h] the wage is multiplied; rising in both.
    week : tuple of (hours, multiplier)
        The same for plain hours of a week.
    longest_day_h, longest_week_h : float
        Hours that may not be exceeded at any pay [h].
    example : bool
        Whether this is a shipped example and nobody's law.

    Raises
    ------
    InputError
        Where steps do not rise, or a multiplier is below 1.

    Examples
    --------
    >>> OvertimeRules("ours", week=((40.0, 1.5),)).pay_hours([9.0] * 5)
    47.5
    """

    name: str
    day: Steps = ()
    week: Steps = ()
    longest_day_h: float = 24.0
    longest_week_h: float = 168.0
    example: bool = False

    def __post_init__(self) -> None:
        faults = []
        for kind, steps, most in (("day", self.day, 24.0), ("week", self.week, 168.0)):
            where = f"overtime rules '{self.name}', {kind}"
            limits, pays = [s[0] for s in steps], [s[1] for s in steps]
            faults += broken(
                (
                    any(not 0.0 <= limit <= most for limit in limits),
                    Fault(
                        f"a limit is no number of hours of a {kind}",
                        where,
                        limits,
                        f"0 to {most:g} h",
                    ),
                ),
                (
                    any(not 1.0 <= pay <= 10.0 for pay in pays),
                    Fault("a multiplier of the wage is out of range", where, pays, "1 to 10"),
                ),
                (
                    limits != sorted(set(limits)) or pays != sorted(pays),
                    Fault(
                        "the steps do not rise",
                        where,
                        list(steps),
                        do="order them by hours; pay never falls with more hours",
                    ),
                ),
            )
        faults += broken(
            (
                not 0.0 < self.longest_day_h <= 24.0,
                Fault(
                    "the longest day is no length of a day",
                    f"overtime rules '{self.name}'",
                    self.longest_day_h,
                    "above 0 to 24 h",
                ),
            ),
            (
                not 0.0 < self.longest_week_h <= 168.0,
                Fault(
                    "the longest week is no length of a week",
                    f"overtime rules '{self.name}'",
                    self.longest_week_h,
                    "above 0 to 168 h",
                ),
            ),
        )
        raise_any(faults)

    def pay_hours(self, hours_by_day: Sequence[float]) -> float:
        """Return the hours of plain wage that a week's work is paid as [h].

        Parameters
        ----------
        hours_by_day : sequence of float
            Hours worked on each day of one week [h].

        Raises
        ------
        InputError
            Where a day or the week is longer than the rules allow, or there are more than 7 days.
        """
        days = np.asarray(hours_by_day, dtype=np.float64)
        refuse(
            (len(days) > 7, Fault("a week has at most seven days", value=len(days))),
            (
                np.any(~(days >= 0.0)) or np.any(days > self.longest_day_h),
                Fault(
                    "a day is longer than the rules allow",
                    value=days.tolist(),
                    allowed=f"0 to {self.longest_day_h:g} h",
                ),
            ),
            (
                days.sum() > self.longest_week_h,
                Fault(
                    "the week is longer than the rules allow",
                    value=float(days.sum()),
                    allowed=f"{self.longest_week_h:g} h",
                ),
            ),
        )
        plain_limit = self.day[0][0] if self.day else np.inf
        plain = float(np.minimum(days, plain_limit).sum())
        paid = sum(_stepped(float(day), self.day) - min(float(day), plain_limit) for day in days)
        return paid + _stepped(plain, self.week)


def _stepped(hours: float, steps: Steps) -> float:
    """Return hours weighted by the multiplier of the step that each falls under."""
    edges = [limit for limit, _ in steps] + [np.inf]
    paid = min(hours, edges[0])
    for (low, pay), high in zip(steps, edges[1:], strict=True):
        paid += pay * max(0.0, min(hours, high) - low)
    return paid


def example_rules(name: str) -> OvertimeRules:
    """Return a shipped example by name. It is nobody's law: state your own.

    Raises
    ------
    InputError
        Where no example has the name.

    Examples
    --------
    >>> example_rules("example-long-day").pay_hours([11.0])
    11.5
    """
    numbers = named("set of overtime rules", name, overtime_examples(), "overtime")
    day, week = (
        tuple(
            (numbers.value(f"{step}_limit"), numbers.value(f"{step}_multiplier"))
            for step in (kind, f"second_{kind}")
            if f"{step}_limit" in numbers
        )
        for kind in ("day", "week")
    )
    return OvertimeRules(name, day, week, example=True)


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


@dataclass(frozen=True)
class ExtraHours:
    """One step of hours beyond the contract: at most ``hours`` each, at ``cost`` an hour."""

    hours: float
    cost: float


def extra_hours(
    rules: OvertimeRules, wage: float, contract_h: float, days: int, most_h: float
) -> tuple[ExtraHours, ...]:
    """Return what hours beyond the contract cost one worker in a week, in steps that rise.

    Work is spread evenly over the days. ``most_h`` is cut to what the rules allow.

    Parameters
    ----------
    rules : OvertimeRules
    wage : float
        Plain wage of an hour.
    contract_h : float
        Hours of a week that are paid in any case [h].
    days : int
        Working days of a week, 1 to 7.
    most_h : float
        Hours of a week at most [h].

    Raises
    ------
    InputError
        Where the contract itself is longer than the rules allow.

    Examples
    --------
    >>> extra_hours(example_rules("example-day-and-week"), 10.0, 36.0, 6, 60.0)
    (ExtraHours(hours=4.0, cost=10.0), ExtraHours(hours=20.0, cost=15.0))
    """
    refuse((not 1 <= days <= 7, Fault("working days of a week", value=days, allowed="1 to 7")))
    longest = min(rules.longest_week_h, rules.longest_day_h * days)
    refuse(
        (
            contract_h > longest,
            Fault(
                "the contract is longer than the overtime rules allow",
                "labour.hours_per_week",
                contract_h,
                f"at most {longest:g} h a week",
                "shorten hours_per_week or state other rules",
            ),
        )
    )
    most = min(most_h, longest)
    edges = sorted(
        {contract_h, most}
        | {limit * days for limit, _ in rules.day} | {limit for limit, _ in rules.week}
    )  # fmt: skip
    edges = [edge for edge in edges if contract_h <= edge <= most]
    steps: list[ExtraHours] = []
    for low, high in pairwise(edges):
        if high - low < 1e-9:
            continue
        paid = rules.pay_hours([high / days] * days) - rules.pay_hours([low / days] * days)
        hours, cost = high - low, wage * paid / (high - low)
        # Where the pay of a day is below that of the week, later hours can be cheaper than earlier
        # ones; such steps are one step at their mean pay, as a plan would buy the cheap ones first.
        while steps and steps[-1].cost >= cost - 1e-9:
            before = steps.pop()
            cost = (before.hours * before.cost + hours * cost) / (before.hours + hours)
            hours += before.hours
        steps.append(ExtraHours(hours, cost))
    return tuple(steps)
