"""Cohorts of trusses: from the day of initiation to open flowers.

The flowers initiated on a few days are a cohort, and so is each truss that a transplant brings. For
every cohort the running sum of development is searched for the moment at which it reaches what the
cohort needs, inside the day, so that a date is a continuous function of every parameter. Cohorts
come in order of age, so each search goes on from where the last one ended.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit

from phenocast.phenology.steps import Array, day_of, put, sum_at, time_in_day
from phenocast.phenology.work import (
    AIR_CLOCK,
    BUD_CLOCK,
    COHORT_FLOWERS,
    COHORT_HEAT,
    COHORT_START,
    CROWN_HEAT,
    EMERGED,
    FROST_POPCORN,
    FROST_TIGHT_BUD,
    N_TRANSPLANT_COHORTS,
    OPEN_1,
    REST_RELEASE,
    RESTING,
    TRUSS_CLOCK,
    TRUSS_FLOWERS,
)

POPCORN_D = 4.0
"""Days before anthesis in which a bud shows white and is as tender as a green fruit."""

TRACE = 1e-7
"""Flowers per plant below which a cohort is not followed: a season has hundreds of cohorts."""


@njit(cache=True, nogil=True, error_model="numpy")
def transplant_cohorts(plant: Any, work: Array) -> None:
    """Set the cohorts that the transplant brings: up to three trusses, each less far on."""
    left = plant.trusses_at_planting
    progress = min(plant.truss_progress, 1.0)
    for truss in range(N_TRANSPLANT_COHORTS):
        trusses = left
        reached = progress
        if truss < N_TRANSPLANT_COHORTS - 1:
            trusses = min(left, 1.0)
        if truss == 1:
            reached = progress * plant.second_truss_progress
        if truss == 2:
            reached = progress * plant.third_truss_progress
        left -= trusses
        work[COHORT_FLOWERS, truss] = trusses * plant.flowers_per_truss
        work[COHORT_START, truss] = -reached * plant.emergence_share * plant.initiation_to_anthesis
        work[COHORT_HEAT, truss] = 0.0


@njit(cache=True, nogil=True, error_model="numpy")
def days_that_bear(n_days: int, plant: Any, work: Array) -> int:
    """Return the days after which no flower is initiated that could be ripe before the season ends.

    From the end of the season back: over ripening, opening and emergence at their shortest.
    """
    air_clock = work[AIR_CLOCK]
    bud_clock = work[BUD_CLOCK]
    to_ripe = plant.anthesis_to_ripe * min(1.0, min(plant.rank2_ripening, plant.rank3_ripening))
    to_open = plant.initiation_to_anthesis * (1.0 - plant.emergence_share)
    to_emerge = plant.initiation_to_anthesis * plant.emergence_share
    emerging = n_days
    while emerging > 0 and air_clock[emerging] + to_open + to_ripe > air_clock[n_days]:
        emerging -= 1
    latest = bud_clock[min(emerging + 1, n_days)]
    initiating = emerging
    while initiating > 0 and bud_clock[initiating] + to_emerge > latest:
        initiating -= 1
    return initiating + 1


@njit(cache=True, nogil=True, error_model="numpy")
def emerge(
    n_days: int, n_cohorts: int, held: bool, plant: Any, work: Array, dates: Array
) -> int:
    """Carry every cohort to truss emergence; return how many have trusses to follow further.

    ``held`` False follows the plants that grow on through the winter; True those that are at rest
    when their truss would emerge. A resting plant keeps its buds at a ceiling until rest ends,
    lower for each further truss, so that trusses which differ much in age in the autumn emerge
    close together in the spring.
    """
    bud_clock = work[BUD_CLOCK]
    heat = work[CROWN_HEAT]
    rest = work[RESTING]
    to_emerge = plant.emergence_share * plant.initiation_to_anthesis
    ceiling = plant.rest_bud_ceiling * to_emerge
    heat_scale = plant.heat_sensitivity / plant.bud_heat_half
    released_at = dates[REST_RELEASE]
    release_clock = np.inf
    if released_at <= 0.0:
        # from the cold store: rest lies behind, and the truss is as far as the transplant says
        release_clock = -np.inf
    elif released_at <= n_days:
        release_clock = sum_at(bud_clock, released_at, n_days)
    emerging = 0
    waiting = 0
    before = 0.0
    truss = 0
    for cohort in range(n_cohorts):
        flowers = work[COHORT_FLOWERS, cohort]
        start = work[COHORT_START, cohort]
        if held and start >= release_clock:
            return truss
        if flowers < TRACE:
            continue
        target = start + to_emerge
        emerging = day_of(bud_clock, target, emerging, n_days)
        if emerging == n_days:
            return truss
        emerged_at = time_in_day(bud_clock, target, emerging)
        at_rest = sum_at(rest, emerged_at, n_days)
        if held:
            # each truss waits less far on than the one before it
            waits_at = ceiling * max(1.0 - plant.rest_truss_fall * before, 0.0)
            before += flowers / plant.flowers_per_truss
            flowers *= at_rest
            reached = min(waits_at, release_clock - start)
            target = max(target, release_clock + to_emerge - reached)
            waiting = day_of(bud_clock, target, waiting, n_days)
            if waiting == n_days:
                return truss
            emerged_at = time_in_day(bud_clock, target, waiting)
        elif start < release_clock:
            flowers *= 1.0 - at_rest
        if flowers < TRACE:
            continue
        harm = (sum_at(heat, emerged_at, n_days) - work[COHORT_HEAT, cohort]) * heat_scale
        if harm > 0.0:
            flowers /= 1.0 + harm * math.sqrt(harm)  # to the power 1.5
        put(work[EMERGED], emerged_at, flowers / plant.flowers_per_truss, n_days)
        work[TRUSS_FLOWERS, truss] = flowers
        work[TRUSS_CLOCK, truss] = target
        truss += 1
    return truss


@njit(cache=True, nogil=True, error_model="numpy")
def open_rank(
    n_days: int, n_trusses: int, rank: int, frost: bool, plant: Any, work: Array
) -> None:
    """Carry the flowers of one rank (0, 1 or 2) from emergence of their truss to anthesis."""
    bud_clock = work[BUD_CLOCK]
    air_clock = work[AIR_CLOCK]
    tight_bud = work[FROST_TIGHT_BUD]
    popcorn = work[FROST_POPCORN]
    opened = work[OPEN_1 + rank]
    delay = 0.0
    share = plant.rank1_share
    if rank == 1:
        delay = plant.rank2_delay
        share = plant.rank2_share
    if rank == 2:
        delay = plant.rank3_delay
        share = plant.rank3_share
    to_open = plant.initiation_to_anthesis * (1.0 - plant.emergence_share)
    emerging = 0
    opening = 0
    for truss in range(n_trusses):
        flowers = work[TRUSS_FLOWERS, truss] * share
        target = work[TRUSS_CLOCK, truss] + delay
        emerging = day_of(bud_clock, target, emerging, n_days)
        if emerging == n_days:
            return
        emerged_at = time_in_day(bud_clock, target, emerging)
        before = air_clock[emerging]
        target = before + (emerged_at - emerging) * (air_clock[emerging + 1] - before) + to_open
        opening = day_of(air_clock, target, opening, n_days)
        if opening == n_days:
            return
        open_at = time_in_day(air_clock, target, opening)
        # most cohorts never meet a frost: the sums of their first and last day are the same
        if frost and (
            tight_bud[opening + 1] < tight_bud[emerging]
            or popcorn[opening + 1] < popcorn[emerging]
        ):
            popcorn_at = max(open_at - POPCORN_D, emerged_at)
            lived = (
                sum_at(tight_bud, popcorn_at, n_days)
                - sum_at(tight_bud, emerged_at, n_days)
                + sum_at(popcorn, open_at, n_days)
                - sum_at(popcorn, popcorn_at, n_days)
            )
            if lived < 0.0:
                flowers *= math.exp(lived)
        put(opened, open_at, flowers, n_days)
