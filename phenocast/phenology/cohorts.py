"""Cohorts of trusses: from the day of initiation to open flowers.

The flowers initiated on one day are a cohort, and so is each truss that a transplant brings. For
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
    N_RANKS,
    N_TRANSPLANT_COHORTS,
    OPEN_1,
    REST_RELEASE,
    RESTING,
)

POPCORN_D = 4.0
"""Days before anthesis in which a bud shows white and is as tender as a green fruit."""


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
def open_flowers(
    n_days: int, held: bool, frost: bool, plant: Any, work: Array, dates: Array
) -> None:
    """Carry every cohort to open flowers, rank by rank.

    ``held`` False follows the plants that grow on through the winter; True those that are at rest
    when their truss would emerge. A resting plant keeps its bud at a ceiling until rest ends, so
    that trusses which differ in age in the autumn emerge close together in the spring.
    """
    bud_clock = work[BUD_CLOCK]
    air_clock = work[AIR_CLOCK]
    heat = work[CROWN_HEAT]
    rest = work[RESTING]
    to_emerge = plant.emergence_share * plant.initiation_to_anthesis
    to_open = plant.initiation_to_anthesis - to_emerge
    heat_scale = plant.heat_sensitivity / plant.bud_heat_half
    released_at = dates[REST_RELEASE]
    release_clock = np.inf
    if released_at <= n_days:
        release_clock = sum_at(bud_clock, released_at, n_days)
    for rank in range(N_RANKS):
        delay = 0.0
        flower_share = plant.rank1_share
        if rank == 1:
            delay = plant.rank2_delay
            flower_share = plant.rank2_share
        if rank == 2:
            delay = plant.rank3_delay
            flower_share = plant.rank3_share
        emerging = 0
        waiting = 0
        opening = 0
        opened = work[OPEN_1 + rank]
        for cohort in range(n_days + N_TRANSPLANT_COHORTS):
            flowers = work[COHORT_FLOWERS, cohort] * flower_share
            if flowers < 1e-12:
                continue
            start = work[COHORT_START, cohort]
            if held and start >= release_clock:
                break
            target = start + to_emerge + delay
            emerging = day_of(bud_clock, target, emerging, n_days)
            if emerging == n_days:
                break
            emerged_at = time_in_day(bud_clock, target, emerging)
            at_rest = sum_at(rest, emerged_at, n_days)
            if held:
                flowers *= at_rest
                kept = min(plant.rest_bud_ceiling * to_emerge, release_clock - start)
                target = max(target, release_clock + to_emerge - kept + delay)
                waiting = day_of(bud_clock, target, waiting, n_days)
                if waiting == n_days:
                    break
                emerged_at = time_in_day(bud_clock, target, waiting)
            elif start < release_clock:
                flowers *= 1.0 - at_rest
            if flowers < 1e-12:
                continue
            scaled = (sum_at(heat, emerged_at, n_days) - work[COHORT_HEAT, cohort]) * heat_scale
            if scaled > 0.0:
                flowers /= 1.0 + scaled**plant.bud_heat_exponent
            if rank == 0:
                put(work[EMERGED], emerged_at, flowers, n_days)
            target = sum_at(air_clock, emerged_at, n_days) + to_open
            opening = day_of(air_clock, target, opening, n_days)
            if opening == n_days:
                break
            open_at = time_in_day(air_clock, target, opening)
            if frost:
                popcorn_at = max(open_at - POPCORN_D, emerged_at)
                lived = (
                    sum_at(work[FROST_TIGHT_BUD], popcorn_at, n_days)
                    - sum_at(work[FROST_TIGHT_BUD], emerged_at, n_days)
                    + sum_at(work[FROST_POPCORN], open_at, n_days)
                    - sum_at(work[FROST_POPCORN], popcorn_at, n_days)
                )
                if lived < 0.0:
                    flowers *= math.exp(lived)
            put(opened, open_at, flowers, n_days)
