"""The crew plan as a two-stage integer program.

Before the season: people of the core crew in each week. In each possible season: hours beyond the
contract, temporary workers, fruit picked, deferred by a week and lost. Relatives in print: Ferrer
et al. 2008, Bohle et al. 2010, Ahumada and Villalobos 2011 (abstracts were read).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from phenocast.planning.crew_terms import CrewTerms
from phenocast.planning.program import Index, Program

Array = NDArray[np.float64]

TRAYS, HOURS_PER_TRAY, NEW, TEMPORARY, NEW_OVERTIME, EXTRA = range(6)
"""Rows of a season, ``[scenarios, rows, weeks]``: ripe trays, hours for each, and what heat makes
of an hour of others than the core crew within its contract, as a share of an hour of that: people
of it who are new, temporary workers, hours beyond the contract from ``EXTRA`` on, one row a step.
``NEW_OVERTIME`` is 1 where people who are new may work beyond the contract, else 0."""


def season_rows(
    terms: CrewTerms, trays: Array, hours_per_tray: Array, heat: Array | None = None
) -> Array:
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

    crew: Index
    hired: Index
    released: Index
    extra: Index
    temporary: Index
    picked: Index
    deferred: Index
    lost: Index


def crew_program(
    terms: CrewTerms, seasons: Array, shares: Array, decided: Array
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


def still_there(decided: Array, crew_now: int) -> Array:
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


def _crew_rows(p: Program, v: Numbers, terms: CrewTerms, decided: Array, still: Array) -> None:
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


def _season_rows(p: Program, v: Numbers, terms: CrewTerms, seasons: Array, still: Array) -> None:
    trays = seasons[:, TRAYS]
    weeks = trays.shape[1]
    crew = np.broadcast_to(v.crew, trays.shape)
    hours: list[tuple[Index, float | Array]] = [(crew, terms.contract_h)]
    hours += [(v.extra[step], seasons[:, EXTRA + step]) for step in range(len(terms.extra))]
    helper = terms.temporary_h * terms.temporary_rate
    hours += [(v.temporary, helper * seasons[:, TEMPORARY])]
    hours += [(v.picked, -seasons[:, HOURS_PER_TRAY])]
    barred: list[tuple[Index, float | Array]] = []
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
