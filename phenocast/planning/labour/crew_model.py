"""Crew terms, and the program of a plan: first the crew of each week, then each season's answer."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from phenocast._typing import FloatArray, IntArray
from phenocast.errors import Fault, refuse
from phenocast.parameters import labour as shipped_labour
from phenocast.planning.labour.milp import Program
from phenocast.planning.labour.overtime import ExtraHours, extra_hours, rules_stated
from phenocast.planning.picking import cooler_trays_per_day, experience
from phenocast.season import Labour


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
        Hours beyond the contract, in steps of rising cost; see `overtime.extra_hours`.
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
        helpers = self.temporary_most > 0
        counts = ("crew_now", "crew_least", "crew_most", "notice_weeks", "temporary_most")
        shares = [self.deferral_share, self.deferral_loss, self.loss_limit or 0.0]
        rules: list[tuple[object, str, str, str]] = [
            (not self.wage > 0.0, "the wage is not above zero", "wage", "above 0"),
            (not 0.0 < self.contract_h <= 168.0, "no number of hours of a week", "contract_h",
             "above 0, at most 168 h"),
            (not np.all(self.lost_values > 0.0), "a lost tray must cost something", "lost_value",
             "above 0: value_per_tray, or prices"),
            (self.crew_least > self.crew_most, "the least crew is larger than the largest",
             "crew_least", f"at most crew_most, {self.crew_most}"),
            (self.contract_weeks < 1, "a contract is shorter than a week", "contract_weeks",
             "1 or more"),
            *((getattr(self, key) < 0, "a number below zero", key, "0 or more") for key in counts),
            *((getattr(self, key) < 0.0, "a cost below zero", key, "0 or more")
              for key in ("hiring_cost", "release_cost")),
            *((not 0.0 <= share <= 1.0, "no share", key, "0 to 1")
              for key, share in zip(("deferral_share", "deferral_loss", "loss_limit"), shares,
                                    strict=True)),
            (not self.line_trays > 0.0, "a packing line that takes nothing", "line_trays",
             "above 0"),
            (not self.cooler_trays > 0.0, "a cooler that takes nothing", "cooler_trays",
             "above 0"),
            (helpers and not self.temporary_wage > 0.0, "the wage is not above zero",
             "temporary_wage", "above 0"),
            (helpers and not self.temporary_h > 0.0, "hours not above zero", "temporary_h",
             "above 0 h"),
            (helpers and not 0.0 < self.temporary_rate <= 2.0, "no rate", "temporary_rate",
             "above 0 to 2"),
        ]  # fmt: skip
        nobody = self.crew_most <= 0 and self.crew_now <= 0 and not helpers
        refuse(
            *((bad, Fault(what, f"labour.{key}", getattr(self, key), allowed))
              for bad, what, key, allowed in rules),
            (nobody, Fault("there are no workers at all", "labour",
                           "crew_now 0, crew_most 0, temporary_most 0",
                           do="state crew_most or temporary_most")),
        )  # fmt: skip

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


TRAYS, HOURS_PER_TRAY, NEW, TEMPORARY, NEW_OVERTIME, EXTRA = range(6)
"""Rows of a season, ``[scenarios, rows, weeks]``: ripe trays, hours for each, and what heat makes
of an hour of others than the core crew within its contract, as a share of an hour of that: people
of it who are new, temporary workers, hours beyond the contract from ``EXTRA`` on, one row a step.
``NEW_OVERTIME`` is 1 where people who are new may work beyond the contract, else 0."""


def season_rows(
    terms: CrewTerms, trays: FloatArray, hours_per_tray: FloatArray, heat: FloatArray | None = None
) -> FloatArray:
    """Return seasons as the program takes them, ``[seasons, rows, weeks]``.

    Parameters
    ----------
    terms : CrewTerms
    trays, hours_per_tray : arrays [seasons, weeks]
    heat : array [rows from `NEW` on, seasons, weeks], optional
        See `TRAYS`; all 1 where not given.

    Examples
    --------
    >>> terms = CrewTerms(wage=10.0, contract_h=40.0, extra=(), lost_value=9.0)
    >>> season_rows(terms, np.ones((2, 3)), np.ones((2, 3))).shape
    (2, 5, 3)
    """
    if heat is None:
        heat = np.ones((EXTRA - NEW + len(terms.extra), *np.shape(trays)))
    return np.concatenate([[trays, hours_per_tray], heat]).swapaxes(0, 1)


@dataclass(frozen=True)
class Numbers:
    """Numbers of the variables.

    ``crew``, ``hired`` and ``released`` are ``[weeks]``, ``extra`` ``[steps, scenarios, weeks]``,
    the others ``[scenarios, weeks]``.
    """

    crew: IntArray
    hired: IntArray
    released: IntArray
    extra: IntArray
    temporary: IntArray
    picked: IntArray
    deferred: IntArray
    lost: IntArray


def crew_program(
    terms: CrewTerms, seasons: FloatArray, shares: FloatArray, decided: FloatArray
) -> tuple[Program, Numbers]:
    """Build the program of a plan.

    Parameters
    ----------
    terms : CrewTerms
    seasons : array [scenarios, rows, weeks]
        See `season_rows`.
    shares : array [scenarios]
        Probabilities.
    decided : array [weeks]
        Core crew where it is already decided (past weeks, weeks inside the notice); NaN elsewhere.
    """
    n, _, weeks = seasons.shape
    p = Program()
    weight = np.repeat(shares[:, None], weeks, axis=1)
    free = np.isnan(decided)
    beyond = np.maximum(np.arange(weeks) + terms.contract_weeks - weeks, 0)
    beyond = np.where(free, beyond, 0)
    pay = terms.wage * terms.contract_h
    numbers = Numbers(
        crew=p.variables(weeks, cost=pay, whole=True),
        # A contract that outlasts the season is paid to its end.
        hired=p.variables(weeks, cost=terms.hiring_cost + pay * beyond),
        released=p.variables(weeks, cost=terms.release_cost),
        extra=p.variables(
            (len(terms.extra), n, weeks),
            cost=np.array([step.cost for step in terms.extra])[:, None, None] * weight,
        ),
        temporary=p.variables(
            (n, weeks), cost=terms.temporary_cost * weight, whole=terms.whole_temporary
        ),
        picked=p.variables((n, weeks)),
        deferred=p.variables((n, weeks), cost=terms.lost_values * terms.deferral_loss * weight),
        lost=p.variables((n, weeks), cost=terms.lost_values * weight),
    )
    still = still_there(decided, terms.crew_now)
    _crew_rows(p, numbers, terms, decided, still)
    _season_rows(p, numbers, terms, seasons, still)
    return p, numbers


def still_there(decided: FloatArray, crew_now: int) -> FloatArray:
    """Return which share of the people hired in one week is there in another, ``[hired, weeks]``.

    1 for all but those whose going is decided as well: who has been there longest goes first.

    Parameters
    ----------
    decided : array [weeks]
        Core crew of the first weeks, NaN from the first free week on.
    crew_now : int
        Crew before the first week.

    Examples
    --------
    >>> still_there(np.array([12.0, 3.0, np.nan]), 0)[0]
    array([1.  , 0.25, 0.25])
    """
    weeks = len(decided)
    share = np.ones((weeks, weeks))
    # People by the week of their hiring; in front of them those of before.
    there = np.zeros(weeks + 1)
    there[0] = crew_now
    hired = np.zeros(weeks + 1)
    for week, crew in enumerate(decided[~np.isnan(decided)]):
        change = crew - there.sum()
        hired[week + 1] = there[week + 1] = max(change, 0.0)
        left = np.cumsum(there)
        there = np.diff(np.maximum(left - max(-change, 0.0), 0.0), prepend=0.0)
        come = hired[1:] > 0.0
        share[come, week:] = (there[1:][come] / hired[1:][come])[:, None]
    return share


def _crew_rows(
    p: Program, v: Numbers, terms: CrewTerms, decided: FloatArray, still: FloatArray
) -> None:
    weeks, free = len(decided), np.isnan(decided)
    if not free.all():
        p.rows(
            f"crew already decided (past weeks, and notice_weeks, {terms.notice_weeks})",
            [(v.crew[~free], 1.0)],
            lower=decided[~free],
            upper=decided[~free],
        )
    p.rows(
        "people come and go",
        [(v.crew[:1], 1.0), (v.hired[:1], -1.0), (v.released[:1], 1.0)],
        lower=terms.crew_now,
        upper=terms.crew_now,
        given=True,
    )
    if weeks > 1:
        p.rows(
            "people come and go",
            [(v.crew[1:], 1.0), (v.crew[:-1], -1.0), (v.hired[1:], -1.0), (v.released[1:], 1.0)],
            lower=0.0,
            upper=0.0,
            given=True,
        )
    if free.any():
        p.rows(
            f"crew_most, the largest core crew ({terms.crew_most})", [(v.crew[free], 1.0)],
            upper=terms.crew_most,
        )  # fmt: skip
        p.rows(
            f"crew_least, the least core crew ({terms.crew_least})", [(v.crew[free], 1.0)],
            lower=terms.crew_least,
        )  # fmt: skip
    if terms.contract_weeks > 1:
        for week in np.flatnonzero(free):
            begun = slice(max(0, week - terms.contract_weeks + 1), week + 1)
            p.total(
                f"contract_weeks, the least length of a contract ({terms.contract_weeks})",
                [(v.crew[week : week + 1], 1.0), (v.hired[begun], -still[begun, week])],
                lower=0.0,
            )


def _season_rows(
    p: Program, v: Numbers, terms: CrewTerms, seasons: FloatArray, still: FloatArray
) -> None:
    trays = seasons[:, TRAYS]
    weeks = trays.shape[1]
    crew = np.broadcast_to(v.crew, trays.shape)
    hours: list[tuple[IntArray, float | FloatArray]] = [(crew, terms.contract_h)]
    hours += [(v.extra[step], seasons[:, EXTRA + step]) for step in range(len(terms.extra))]
    helper = terms.temporary_h * terms.temporary_rate
    hours += [(v.temporary, helper * seasons[:, TEMPORARY])]
    hours += [(v.picked, -seasons[:, HOURS_PER_TRAY])]
    barred: list[tuple[IntArray, float | FloatArray]] = []
    for since in range(min(weeks, max(terms.new_weeks, len(terms.beginner_loss)))):
        # People hired `since` weeks ago; nobody was hired before the plan starts.
        late = np.maximum(np.arange(weeks) - since, 0)
        known = np.where(np.arange(weeks) >= since, still[late, np.arange(weeks)], 0.0)
        hired = np.broadcast_to(v.hired[late], trays.shape)
        missing = terms.missing(since, seasons[:, NEW])
        hours += [(hired, -known * missing * terms.contract_h)]
        if since < terms.new_weeks:
            barred += [(hired, known * (1.0 - seasons[:, NEW_OVERTIME]))]
    p.rows("hours of the crews", hours, lower=0.0, given=True)
    for step, extra in enumerate(terms.extra):
        p.rows(
            "most_hours_per_week, the hours beyond the contract",
            [(v.extra[step], 1.0), (crew, -extra.hours),
             *((hired, extra.hours * share) for hired, share in barred)],
            upper=0.0,
        )  # fmt: skip
    p.rows(
        f"temporary_most, the largest number of temporary workers ({terms.temporary_most})",
        [(v.temporary, 1.0)],
        upper=terms.temporary_most,
    )
    p.rows(
        "fruit",
        [(v.picked[:, :1], 1.0), (v.deferred[:, :1], 1.0), (v.lost[:, :1], 1.0)],
        lower=trays[:, :1],
        upper=trays[:, :1],
        given=True,
    )
    if weeks > 1:
        p.rows(
            "fruit",
            [
                (v.picked[:, 1:], 1.0),
                (v.deferred[:, 1:], 1.0),
                (v.lost[:, 1:], 1.0),
                (v.deferred[:, :-1], terms.deferral_loss - 1.0),
            ],
            lower=trays[:, 1:],
            upper=trays[:, 1:],
            given=True,
        )
    most = terms.deferral_share * trays
    most[:, -1] = 0.0
    p.rows("fruit whose pick can wait", [(v.deferred, 1.0)], upper=most, given=True)
    if np.isfinite(terms.line_trays):
        p.rows(
            f"line_trays_per_day, the packing line ({terms.line_trays:g} trays a week)",
            [(v.picked, 1.0)], upper=terms.line_trays,
        )  # fmt: skip
    if np.isfinite(terms.cooler_trays):
        p.rows(
            f"cooler_trays_per_day, the cooler ({terms.cooler_trays:g} trays a week)",
            [(v.picked, 1.0)], upper=terms.cooler_trays,
        )  # fmt: skip
    if terms.loss_limit is not None:
        for scenario in range(len(trays)):
            p.total(
                f"loss_limit, the share of fruit that may be lost ({terms.loss_limit:g})",
                [(v.lost[scenario], 1.0), (v.deferred[scenario], terms.deferral_loss)],
                upper=terms.loss_limit * float(trays[scenario].sum()),
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
    shipped = shipped_labour()["crew"]

    def stated(name: str) -> float:
        own: float | None = getattr(labour, name)
        return shipped.value(name) if own is None else own

    extra = extra_hours(
        rules_stated(labour.overtime), labour.wage_per_h, labour.hours_per_week,
        labour.days_per_week, labour.most_hours_per_week or labour.hours_per_week,
    )  # fmt: skip
    days, cooler = labour.days_per_week, labour.cooler_trays_per_day
    if cooler is None and labour.cooler_positions is not None:
        cooler = cooler_trays_per_day(labour.cooler_positions, labour.hours_per_week / days)
    line = labour.line_trays_per_day
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
        temporary_rate=float(experience(0.0))
        if labour.temporary_rate is None
        else labour.temporary_rate,
        beginner_loss=tuple((1.0 - experience(np.arange(4.0))).tolist()),
        new_weeks=int(shipped_labour()["heat"].value("new_crew_weeks")),
        deferral_share=stated("deferral_share"),
        deferral_loss=stated("deferral_loss"),
        line_trays=np.inf if line is None else line * days,
        cooler_trays=np.inf if cooler is None else cooler * days,
        loss_limit=labour.loss_limit,
    )
