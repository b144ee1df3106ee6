"""The day loop of the plant: the states that depend on their own past.

Establishment, induction, leaves, branch crowns, vigour and winter rest; together they say how many
flowers are initiated on each day. The equations are this project's own; their numbers stand in
`calibration/cultivars.toml` with their sources.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit

from phenocast.phenology.cohorts import TRACE
from phenocast.phenology.daily import (
    BRANCH_WARMTH,
    CHILL,
    CROWN_DEVELOPMENT,
    CROWN_HEAT_30,
    CROWN_HEAT_33,
    CROWN_MEAN,
    INDUCTION_RESPONSE,
    LEAF_WARMTH,
    PHOTOPERIOD,
)
from phenocast.phenology.photoperiod import fill_photoperiod_responses
from phenocast.phenology.running_sums import PHOTOPERIOD_RAMP_H
from phenocast.phenology.steps import Array, normal_share, ramp
from phenocast.phenology.work import (
    BRANCH_CROWNS,
    BRANCHING,
    BUD_CLOCK,
    COHORT_ENDS,
    COHORT_FLOWERS,
    COHORT_HEAT,
    COHORT_START,
    CROWN_HEAT,
    ESTABLISHED,
    FLOWER_INITIATION,
    FLOWERS_INITIATED,
    INDUCED_SHARE,
    INDUCTION_RATE,
    INDUCTION_SUM,
    LEAF_RATE,
    LEAVES,
    N_TRANSPLANT_COHORTS,
    PHOTOPERIOD_RESPONSE,
    REST_RELEASE,
    RESTING,
    VIGOUR,
)

INDUCTION_MEMORY_D = 7
"""Days over which the rate of initiation follows the induction increments."""


@njit(cache=True, nogil=True, error_model="numpy")
def grow_days(daily: Array, plant: Any, work: Array, dates: Array, enough_days: int) -> int:
    """Go through the days: induction, leaves, crowns, vigour, rest, and the flowers initiated.

    Return how many cohorts there are, with those of the transplant. After ``enough_days`` it ends
    with the first cohort that ends while winter rest lies behind; the rows of what the plant is
    like are then filled no further.
    """
    n_days = daily.shape[1]
    # quotients that do not change in a season: a division costs as much as the rest of a line
    requirement = plant.induction_requirement
    per_spread = 1.0 / (plant.induction_spread * requirement)
    per_full_week = 1.0 / (INDUCTION_MEMORY_D * plant.induction_full_rate)
    per_truss = 1.0 / plant.leaves_per_truss
    per_largest = 1.0 / plant.crowns_maximum
    per_memory = 1.0 / plant.vigour_memory
    per_chill = 1.0 / plant.rest_release_chill
    penalty = plant.supraoptimal_penalty
    induction = plant.induction_carried * requirement
    cap = plant.induction_store * requirement
    share = normal_share((induction - requirement) * per_spread)
    most_share = share
    crowns = plant.crowns_at_planting
    power = plant.crown_exponent
    crown_power = crowns**power
    vigour = 1.0
    vigour_loss = plant.vigour_heat_loss * plant.heat_sensitivity
    leaves = 0.0
    initiated_at = 0.0 if induction >= requirement else np.inf
    recent = 0.0
    # the cohort under way: its flowers, and those times the clock and the heat at initiation
    gathered = gathered_clock = gathered_heat = 0.0
    cohort = N_TRANSPLANT_COHORTS
    # winter rest: a plant from the cold store has it behind it
    chill = plant.chill_carried
    resting = 0.0
    if chill > 0.0:
        resting = normal_share((chill - plant.rest_onset_chill) / plant.rest_onset_spread)
    release = chill / plant.rest_release_chill
    released_at = np.inf
    since_release = 0.0
    forgets = 1.0 - plant.initiation_after_rest
    barred = resting
    if release >= 1.0:
        released_at = 0.0
        barred = resting * forgets
        induction *= 1.0 - barred
        share = normal_share((induction - requirement) * per_spread)
        most_share = share
    work[RESTING, 0] = resting
    fill_day_rates(daily, plant, work)
    for day in range(n_days):
        # induction
        rate = work[INDUCTION_RATE, day] * (1.0 - barred)
        heat = daily[CROWN_HEAT_30, day]
        before = induction
        induction += rate - penalty * heat
        induction = min(max(induction, 0.0), cap)
        if induction != before:
            share = normal_share((induction - requirement) * per_spread)
            if induction >= requirement and initiated_at == np.inf:
                initiated_at = day + (requirement - before) / (induction - before)
        newly = 0.0
        if share > most_share:
            newly = share - most_share
            most_share = share
        recent += rate
        if day >= INDUCTION_MEMORY_D:
            recent -= work[INDUCTION_RATE, day - INDUCTION_MEMORY_D]
        work[INDUCTION_RATE, day] = rate
        pace = recent * per_full_week
        if day + 1 < INDUCTION_MEMORY_D:
            pace *= INDUCTION_MEMORY_D / (day + 1.0)
        pace = min(max(pace, 0.0), 1.0)
        # leaves and branch crowns
        leaf_rate = work[LEAF_RATE, day]
        leaves += leaf_rate
        branching = work[BRANCHING, day]
        new_power = 0.0
        if branching > 0.0:
            growth = branching * (1.0 - crowns * per_largest)
            crowns += crowns * growth
            # power of (1 + growth) by its series: growth is under .05 a day, so within 1e-7
            new_power = (
                crown_power * power * growth
                * (1.0 + 0.5 * (power - 1.0) * growth * (1.0 + (power - 2.0) * growth / 3.0))
            )
            crown_power += new_power
        # vigour, a slow memory of heat
        vigour += (1.0 - vigour) * per_memory - vigour * vigour_loss * heat
        vigour = max(vigour, 0.0)
        # winter rest: short days and cold bring it on, chill or warmth in longer days end it
        if released_at == np.inf:
            photoperiod = daily[PHOTOPERIOD, day]
            long_day = ramp(photoperiod, plant.rest_release_photoperiod, PHOTOPERIOD_RAMP_H)
            cold = daily[CHILL, day] * (1.0 - long_day)
            if cold > 0.0:
                chill += cold
                resting = normal_share((chill - plant.rest_onset_chill) / plant.rest_onset_spread)
            step = cold * per_chill
            if long_day > 0.0:
                depth = min(chill / plant.rest_onset_chill, 1.0)
                step += depth * long_day * daily[CROWN_DEVELOPMENT, day] / plant.rest_release_warmth
            barred = resting
            if release + step >= 1.0:
                released_at = day + (1.0 - release) / step
                barred = resting * forgets
                induction *= 1.0 - barred
                share = normal_share((induction - requirement) * per_spread)
                most_share = share
            release += step
        elif barred > 0.0:
            # a plant that rested does not form flowers again until it has grown for a while
            since_release += daily[CROWN_DEVELOPMENT, day]
            barred = resting * forgets * (1.0 - ramp(
                since_release, plant.rest_memory, 0.2 * plant.rest_memory
            ))
        work[RESTING, day + 1] = resting
        # flowers: one terminal truss a crown as plants are induced, then with the leaves
        trusses = vigour * (
            crown_power * (newly + share * pace * leaf_rate * per_truss)
            + share * pace * new_power
        )
        trusses *= 1.0 - barred
        flowers = trusses * plant.flowers_per_truss
        half = 0.5 * flowers
        gathered += flowers
        gathered_clock += half * (work[BUD_CLOCK, day] + work[BUD_CLOCK, day + 1])
        gathered_heat += half * (work[CROWN_HEAT, day] + work[CROWN_HEAT, day + 1])
        if work[COHORT_ENDS, day] > 0.0:
            if gathered >= TRACE:
                work[COHORT_START, cohort] = gathered_clock / gathered
                work[COHORT_HEAT, cohort] = gathered_heat / gathered
                work[COHORT_FLOWERS, cohort] = gathered
                cohort += 1
            gathered = gathered_clock = gathered_heat = 0.0
            if day >= enough_days and released_at < np.inf:
                for later in range(day + 1, n_days):
                    work[RESTING, later + 1] = resting
                break
        work[INDUCED_SHARE, day] = share
        work[INDUCTION_SUM, day] = induction
        work[BRANCH_CROWNS, day] = crowns
        work[VIGOUR, day] = vigour
        work[LEAVES, day] = leaves
        work[FLOWERS_INITIATED, day] = flowers
    dates[FLOWER_INITIATION] = initiated_at
    dates[REST_RELEASE] = released_at
    return cohort


@njit(cache=True, nogil=True, error_model="numpy")
def fill_day_rates(daily: Array, plant: Any, work: Array) -> None:
    """Fill the daily rates that do not hang on the state of the plant, several days at once.

    They are induction without winter rest, new leaves, and the growth of branch crowns.
    """
    n_days = daily.shape[1]
    photoperiod = daily[PHOTOPERIOD]
    induction = daily[INDUCTION_RESPONSE]
    leaf_warmth = daily[LEAF_WARMTH]
    branch_warmth = daily[BRANCH_WARMTH]
    established = work[ESTABLISHED, :n_days]
    responses = work[PHOTOPERIOD_RESPONSE, :n_days]
    fill_photoperiod_responses(photoperiod, daily[CROWN_MEAN], plant, responses)
    rates = work[INDUCTION_RATE, :n_days]
    for day in range(n_days):
        rates[day] = induction[day] * responses[day]
    per_phyllochron = 1.0 / plant.phyllochron
    leaf_rates = work[LEAF_RATE, :n_days]
    for day in range(n_days):
        leaf_rates[day] = established[day] * leaf_warmth[day] * per_phyllochron
    per_branch = 1.0 / plant.branch_requirement
    middle = plant.branch_photoperiod
    branching = work[BRANCHING, :n_days]
    for day in range(n_days):
        short = 1.0 - ramp(photoperiod[day], middle, PHOTOPERIOD_RAMP_H)
        branching[day] = short * established[day] * branch_warmth[day] * per_branch


@njit(cache=True, nogil=True, error_model="numpy")
def surviving_share(daily: Array, plant: Any) -> float:
    """Share of plants that live through the heat of the first days after planting.

    The share lost is a logistic in crown degree-hours above 33 degC.
    """
    heat = 0.0
    n_days = min(plant.plant_loss_days, float(daily.shape[1]))
    whole = int(n_days)
    for day in range(whole):
        heat += daily[CROWN_HEAT_33, day]
    if n_days > whole:
        heat += (n_days - whole) * daily[CROWN_HEAT_33, whole]
    excess = (heat - plant.plant_loss_heat_half) / plant.plant_loss_heat_scale
    return float(1.0 - plant.plant_loss_largest / (1.0 + math.exp(-excess)))
