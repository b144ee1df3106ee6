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

TRAYS, HOURS_PER_TRAY = 0, 1
"""Rows of a season, ``[scenarios, 2, weeks]``: ripe trays, and hours for each."""


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
    terms: CrewTerms, seasons: Array, shares: Array, available: Array, decided: Array
) -> tuple[Program, Numbers]:
    """Build the program of a plan.

    Parameters
    ----------
    terms : CrewTerms
    seasons : array [scenarios, 2, weeks]
        See `TRAYS` and `HOURS_PER_TRAY`.
    shares : array [scenarios]
        Probabilities.
    available : array [weeks]
        Share of the hours in which heat lets people work, 0 to 1.
    decided : array [weeks]
        Core crew where it is already decided (past weeks, weeks inside the notice); NaN elsewhere.
    """
    n, _, weeks = seasons.shape
    trays, each = seasons[:, TRAYS], seasons[:, HOURS_PER_TRAY]
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
    _crew_rows(p, numbers, terms, decided, free)
    _season_rows(p, numbers, terms, trays, each, available)
    return p, numbers


def _crew_rows(
    p: Program, v: Numbers, terms: CrewTerms, decided: Array, free: NDArray[np.bool_]
) -> None:
    weeks = len(decided)
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
            bound = v.hired[max(0, week - terms.contract_weeks + 1) : week + 1]
            p.total(
                f"contract_weeks, the least length of a contract ({terms.contract_weeks})",
                [(v.crew[week : week + 1], 1.0), (bound, -1.0)],
                lower=0.0,
            )


def _season_rows(
    p: Program, v: Numbers, terms: CrewTerms, trays: Array, each: Array, available: Array
) -> None:
    weeks = trays.shape[1]
    work = terms.contract_h * available
    hours: list[tuple[Index, float | Array]] = [(np.broadcast_to(v.crew, trays.shape), work)]
    hours += [(v.extra[step], available) for step in range(len(terms.extra))]
    hours += [(v.temporary, terms.temporary_h * terms.temporary_rate * available)]
    hours += [(v.picked, -each)]
    for since, loss in enumerate(terms.beginner_loss[:weeks]):
        # People hired `since` weeks ago; nobody was hired before the plan starts.
        late = np.maximum(np.arange(weeks) - since, 0)
        known = np.where(np.arange(weeks) >= since, loss, 0.0)
        hours += [(np.broadcast_to(v.hired[late], trays.shape), -known * work)]
    p.rows("hours of the crews", hours, lower=0.0, given=True)
    for step, extra in enumerate(terms.extra):
        p.rows(
            "most_hours_per_week, the hours beyond the contract",
            [(v.extra[step], 1.0), (np.broadcast_to(v.crew, trays.shape), -extra.hours)],
            upper=0.0,
        )
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
