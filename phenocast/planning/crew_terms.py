"""What a cooperative states of its crew: contracts, limits and pay, checked all at once."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from phenocast.errors import Fault, InputError
from phenocast.planning.crew_rules import ExtraHours


@dataclass(frozen=True)
class CrewTerms:
    """Terms of the core crew, of temporary workers and of the packing house.

    Parameters
    ----------
    wage : float
        Plain wage of an hour of the core crew.
    contract_h : float
        Hours a week that are paid to each of the core crew in any case [h].
    extra : tuple of ExtraHours
        Hours beyond the contract, in steps of rising cost; see `crew_rules.extra_hours`.
    lost_value : float or tuple of float
        What a tray of fruit that is not picked in time costs, in every week or week by week.
    crew_now : int
        People in the core crew before the first week of the plan.
    crew_least, crew_most : int
        Limits of the core crew, as by housing.
    notice_weeks : int
        Weeks between the decision and the first or last day of someone of the core crew.
    contract_weeks : int
        Least weeks for which someone is hired.
    hiring_cost, release_cost : float
        For each person.
    temporary_most : int
        Temporary workers of a week at most.
    temporary_wage : float
        Cost of an hour of a temporary worker.
    temporary_h : float
        Hours of a temporary worker in a week [h].
    temporary_rate : float
        Rate of a temporary worker against an experienced picker.
    whole_temporary : bool
        Whether temporary workers come for whole weeks only; otherwise by the hour.
    beginner_loss : tuple of float
        Share of work missing in the first, second, ... week after hiring.
    new_weeks : int
        Weeks after hiring in which people are held to the heat limit of those who are new to it.
    deferral_share, deferral_loss : float
        Share of a week's fruit whose pick can wait a week, and what is lost of it.
    line_trays, cooler_trays : float
        Trays that packing line and cooler take in a week.
    loss_limit : float or None
        Share of a season's fruit that may be lost in any season, as a rule of the plan.

    Raises
    ------
    InputError
        With every fault.

    Examples
    --------
    >>> CrewTerms(wage=14.0, contract_h=40.0, extra=(), lost_value=9.0, crew_most=0)
    Traceback (most recent call last):
    phenocast.errors.InputError: labour: there are no workers at all (...); state crew_most...
    """

    wage: float
    contract_h: float
    extra: tuple[ExtraHours, ...]
    lost_value: float | tuple[float, ...]
    crew_now: int = 0
    crew_least: int = 0
    crew_most: int = 10_000
    notice_weeks: int = 0
    contract_weeks: int = 1
    hiring_cost: float = 0.0
    release_cost: float = 0.0
    temporary_most: int = 0
    temporary_wage: float = 0.0
    temporary_h: float = 0.0
    temporary_rate: float = 1.0
    whole_temporary: bool = False
    beginner_loss: tuple[float, ...] = ()
    new_weeks: int = 2
    deferral_share: float = 0.0
    deferral_loss: float = 1.0
    line_trays: float = math.inf
    cooler_trays: float = math.inf
    loss_limit: float | None = None

    def __post_init__(self) -> None:
        faults: list[Fault] = []

        def ask(good: bool, what: str, key: str, allowed: str, do: str = "") -> None:
            if not good:
                faults.append(Fault(what, f"labour.{key}", getattr(self, key), allowed, do))

        ask(self.wage > 0.0, "the wage is not above zero", "wage", "above 0")
        ask(
            0.0 < self.contract_h <= 168.0,
            "no number of hours of a week",
            "contract_h",
            "above 0, at most 168 h",
        )
        ask(
            bool(np.all(self.lost_values > 0.0)),
            "a lost tray must cost something",
            "lost_value",
            "above 0",
            "state value_per_tray, or prices",
        )
        ask(
            self.crew_least <= self.crew_most,
            "the least crew is larger than the largest",
            "crew_least",
            f"at most crew_most, {self.crew_most}",
        )
        for key in ("crew_now", "crew_least", "crew_most", "notice_weeks", "temporary_most"):
            ask(getattr(self, key) >= 0, "a number below zero", key, "0 or more")
        ask(
            self.contract_weeks >= 1,
            "a contract is shorter than a week",
            "contract_weeks",
            "1 or more",
        )
        for key in ("hiring_cost", "release_cost"):
            ask(getattr(self, key) >= 0.0, "a cost below zero", key, "0 or more")
        for key in ("deferral_share", "deferral_loss"):
            ask(0.0 <= getattr(self, key) <= 1.0, "no share", key, "0 to 1")
        ask(
            self.loss_limit is None or 0.0 <= self.loss_limit <= 1.0,
            "no share",
            "loss_limit",
            "0 to 1",
        )
        ask(self.line_trays > 0.0, "a packing line that takes nothing", "line_trays", "above 0")
        ask(self.cooler_trays > 0.0, "a cooler that takes nothing", "cooler_trays", "above 0")
        if self.temporary_most > 0:
            ask(
                self.temporary_wage > 0.0, "the wage is not above zero", "temporary_wage", "above 0"
            )
            ask(self.temporary_h > 0.0, "hours not above zero", "temporary_h", "above 0 h")
            ask(0.0 < self.temporary_rate <= 2.0, "no rate", "temporary_rate", "above 0 to 2")
        if self.crew_most <= 0 and self.temporary_most <= 0 and self.crew_now <= 0:
            faults.append(
                Fault("there are no workers at all", "labour",
                      "crew_now 0, crew_most 0, temporary_most 0",
                      do="state crew_most or temporary_most")
            )  # fmt: skip
        if faults:
            raise InputError(faults)

    @property
    def lost_values(self) -> NDArray[np.float64]:
        """What a lost tray costs, one number or one for each week."""
        return np.asarray(self.lost_value, dtype=np.float64)

    def missing(self, since: int, new: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the share of work missing of people hired ``since`` weeks ago.

        ``new`` is the work that heat leaves people who are new to it, as a share of what it leaves
        the others.

        Examples
        --------
        >>> terms = CrewTerms(14.0, 40.0, (), 9.0, beginner_loss=(0.4,))
        >>> [float(terms.missing(week, np.array(0.5))) for week in range(3)]
        [0.7, 0.5, 0.0]
        """
        loss = self.beginner_loss[since] if since < len(self.beginner_loss) else 0.0
        return 1.0 - (1.0 - loss) * (new if since < self.new_weeks else np.ones_like(new))

    @property
    def temporary_cost(self) -> float:
        """Cost of one temporary worker for a week."""
        return self.temporary_wage * self.temporary_h
