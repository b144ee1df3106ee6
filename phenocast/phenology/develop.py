"""From planting to open flowers: the day loop of the plant, and its cohorts of trusses.

Two passes. The first goes through the days and keeps the states that depend on their own past:
establishment, induction, leaves, branch crowns, vigour and winter rest; it says how many flowers
are initiated on each day. The second follows each day's flowers as a cohort: it looks up on which
day the running sum of development reaches what the cohort needs, and interpolates inside the day,
so that every date is a continuous function of every parameter.

The equations are this project's own; their numbers stand in `calibration/cultivars.toml` with
their sources.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit

from phenocast.phenology.daily import (
    AIR_DEVELOPMENT,
    AIR_HEAT_27,
    AIR_MEAN,
    BRANCH_WARMTH,
    CHILL,
    COVER,
    CROWN_DEVELOPMENT,
    CROWN_HEAT_30,
    CROWN_HEAT_33,
    CROWN_MEAN,
    FLOWER_MIN,
    INDUCTION_RESPONSE,
    LEAF_WARMTH,
    PHOTOPERIOD,
    SOLAR,
)
from phenocast.phenology.steps import (
    Array,
    day_of,
    first_passing,
    normal_share,
    put,
    ramp,
    sum_at,
    time_in_day,
)
from phenocast.phenology.work import (
    AIR_CLOCK,
    AIR_HEAT,
    AIR_SUM,
    ANTHESIS,
    BRANCH_CROWNS,
    BUD_CLOCK,
    COHORT_FLOWERS,
    COHORT_HEAT,
    COHORT_START,
    CROWN_HEAT,
    EMERGED,
    EMERGENCE,
    FIRST_PICK,
    FIRST_RIPE,
    FLOWER_INITIATION,
    FLOWERS_INITIATED,
    FROST_FRUIT,
    FROST_OPEN,
    FROST_POPCORN,
    FROST_TIGHT_BUD,
    GROWTH_LIGHT,
    INDUCED_SHARE,
    INDUCTION_RATE,
    LEAVES,
    N_RANKS,
    N_TRANSPLANT_COHORTS,
    OPEN_1,
    REST_RELEASE,
    RESTING,
    SURVIVING_SHARE,
    VIGOUR,
)

INDUCTION_MEMORY_D = 7
"""Days over which the rate of initiation follows the induction increments."""

PHOTOPERIOD_RAMP_H = 0.5
"""Half-width of the change from short-day to long-day growth. [h]"""

POPCORN_D = 4.0
"""Days before anthesis in which a bud shows white and is as tender as a green fruit."""

TWO_PI = 2.0 * math.pi


@njit(cache=True, nogil=True, error_model="numpy")
def photoperiod_response(photoperiod_h: float, crown_c: float, plant: Any) -> float:
    """Photoperiod response of induction on one day, 0 to 1.

    The same equations as `phenocast.phenology.induction`, for one day inside the loop.
    """
    if plant.long_day_promoted > 0.5:
        if crown_c <= plant.long_day_neutral:
            return 1.0
        if crown_c < plant.long_day_plateau_from:
            dependence = (
                plant.long_day_plateau
                * (crown_c - plant.long_day_neutral)
                / (plant.long_day_plateau_from - plant.long_day_neutral)
            )
        elif crown_c <= plant.long_day_plateau_to:
            dependence = plant.long_day_plateau
        elif crown_c < plant.long_day_obligate:
            dependence = plant.long_day_plateau + (
                1.0 - plant.long_day_plateau
            ) * (crown_c - plant.long_day_plateau_to) / (
                plant.long_day_obligate - plant.long_day_plateau_to
            )
        else:
            dependence = 1.0
        excess = (photoperiod_h - plant.critical_photoperiod_18) / plant.photoperiod_width
        return 1.0 - dependence / (1.0 + math.exp(excess))
    clipped = min(max(crown_c, 9.0), 24.0)
    critical = plant.critical_photoperiod_18 - plant.critical_photoperiod_slope * (clipped - 18.0)
    excess = (photoperiod_h - critical) / plant.photoperiod_width
    if excess > 40.0:
        return 0.0
    return 1.0 / (1.0 + math.exp(excess))


@njit(cache=True, nogil=True, error_model="numpy")
def frost_log_survival(temperature_c: float, critical_c: float, plant: Any) -> float:
    """Logarithm of the share that lives through a night with this minimum at flower height.

    Half of the organs die ``frost_half_below_c`` below the critical temperature of their stage.
    """
    margin = (temperature_c - critical_c + plant.frost_half_below) / plant.frost_width
    if margin >= 12.0:
        return 0.0
    if margin <= -12.0:
        return margin
    return -math.log(1.0 + math.exp(-margin))


@njit(cache=True, nogil=True, error_model="numpy")
def running_sums(daily: Array, plant: Any, work: Array) -> bool:
    """Fill the prefix sums that depend on the weather alone; say whether any night had frost."""
    n_days = daily.shape[1]
    for row in range(BUD_CLOCK, GROWTH_LIGHT + 1):
        work[row, 0] = 0.0
    frost = False
    most_gain = 1.0 / plant.long_day_speed - 1.0
    warmest_critical = max(
        max(plant.frost_bud, plant.frost_popcorn),
        max(plant.frost_open, plant.frost_green),
    )
    harmless = warmest_critical - plant.frost_half_below + 12.0 * plant.frost_width
    for day in range(n_days):
        gain = most_gain * ramp(
            daily[PHOTOPERIOD, day], plant.long_day_speed_photoperiod, PHOTOPERIOD_RAMP_H
        )
        work[BUD_CLOCK, day + 1] = (
            work[BUD_CLOCK, day] + (1.0 + gain) * daily[CROWN_DEVELOPMENT, day]
        )
        work[AIR_CLOCK, day + 1] = work[AIR_CLOCK, day] + daily[AIR_DEVELOPMENT, day]
        work[CROWN_HEAT, day + 1] = work[CROWN_HEAT, day] + daily[CROWN_HEAT_30, day]
        work[AIR_HEAT, day + 1] = work[AIR_HEAT, day] + daily[AIR_HEAT_27, day]
        work[AIR_SUM, day + 1] = work[AIR_SUM, day] + daily[AIR_MEAN, day]
        work[GROWTH_LIGHT, day + 1] = (
            work[GROWTH_LIGHT, day] + daily[COVER, day] * daily[SOLAR, day]
        )
        tight = popcorn = opened = fruit = 0.0
        night = daily[FLOWER_MIN, day]
        if night < harmless:
            frost = True
            tight = frost_log_survival(night, plant.frost_bud, plant)
            popcorn = frost_log_survival(night, plant.frost_popcorn, plant)
            opened = frost_log_survival(night, plant.frost_open, plant)
            fruit = frost_log_survival(night, plant.frost_green, plant)
        work[FROST_TIGHT_BUD, day + 1] = work[FROST_TIGHT_BUD, day] + tight
        work[FROST_POPCORN, day + 1] = work[FROST_POPCORN, day] + popcorn
        work[FROST_OPEN, day + 1] = work[FROST_OPEN, day] + opened
        work[FROST_FRUIT, day + 1] = work[FROST_FRUIT, day] + fruit
    return frost


@njit(cache=True, nogil=True, error_model="numpy")
def grow_days(daily: Array, plant: Any, work: Array, dates: Array) -> None:
    """Go through the days: induction, leaves, crowns, vigour, rest, and the flowers initiated."""
    n_days = daily.shape[1]
    requirement = plant.induction_requirement
    spread = plant.induction_spread * requirement
    induction = plant.induction_carried * requirement
    cap = plant.induction_store * requirement
    share = normal_share((induction - requirement) / spread)
    most_share = share
    crowns = plant.crowns_at_planting
    crown_power = crowns**plant.crown_exponent
    vigour = 1.0
    vigour_loss = plant.vigour_heat_loss * plant.heat_sensitivity
    leaves = 0.0
    warmth = 0.0
    establishment_width = plant.establishment_spread * plant.establishment_development + 1.0
    initiated_at = 0.0 if induction >= requirement else np.inf
    recent = 0.0
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
        share = normal_share((induction - requirement) / spread)
        most_share = share
    work[RESTING, 0] = resting
    for day in range(n_days):
        photoperiod = daily[PHOTOPERIOD, day]
        # induction
        rate = daily[INDUCTION_RESPONSE, day]
        if rate > 0.0:
            rate *= photoperiod_response(photoperiod, daily[CROWN_MEAN, day], plant)
            rate *= 1.0 - barred
        heat = daily[CROWN_HEAT_30, day]
        before = induction
        induction += rate - plant.supraoptimal_penalty * heat
        induction = min(max(induction, 0.0), cap)
        if induction != before:
            share = normal_share((induction - requirement) / spread)
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
        pace = recent / (min(day + 1, INDUCTION_MEMORY_D) * plant.induction_full_rate)
        pace = min(max(pace, 0.0), 1.0)
        # leaves and branch crowns
        warmth += daily[CROWN_DEVELOPMENT, day]
        established = normal_share((warmth - plant.establishment_development) / establishment_width)
        leaf_rate = established * daily[LEAF_WARMTH, day] / plant.phyllochron
        leaves += leaf_rate
        short = 1.0 - ramp(photoperiod, plant.branch_photoperiod, PHOTOPERIOD_RAMP_H)
        branching = short * established * daily[BRANCH_WARMTH, day] / plant.branch_requirement
        if branching > 0.0:
            crowns += branching * crowns * (1.0 - crowns / plant.crowns_maximum)
            crown_power = crowns**plant.crown_exponent
        # vigour, a slow memory of heat
        vigour += (1.0 - vigour) / plant.vigour_memory - vigour * vigour_loss * heat
        vigour = max(vigour, 0.0)
        # winter rest: short days and cold bring it on, chill or warmth in longer days end it
        if released_at == np.inf:
            long_day = ramp(photoperiod, plant.rest_release_photoperiod, PHOTOPERIOD_RAMP_H)
            cold = daily[CHILL, day] * (1.0 - long_day)
            if cold > 0.0:
                chill += cold
                resting = normal_share((chill - plant.rest_onset_chill) / plant.rest_onset_spread)
            step = cold / plant.rest_release_chill
            if long_day > 0.0:
                depth = min(chill / plant.rest_onset_chill, 1.0)
                step += depth * long_day * daily[CROWN_DEVELOPMENT, day] / plant.rest_release_warmth
            barred = resting
            if release + step >= 1.0:
                released_at = day + (1.0 - release) / step
                barred = resting * forgets
                induction *= 1.0 - barred
                share = normal_share((induction - requirement) / spread)
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
        trusses = crown_power * vigour * (
            newly + leaf_rate / plant.leaves_per_truss * share * pace
        )
        trusses *= 1.0 - barred
        flowers = trusses * plant.flowers_per_truss
        cohort = N_TRANSPLANT_COHORTS + day
        work[COHORT_START, cohort] = 0.5 * (work[BUD_CLOCK, day] + work[BUD_CLOCK, day + 1])
        work[COHORT_HEAT, cohort] = 0.5 * (work[CROWN_HEAT, day] + work[CROWN_HEAT, day + 1])
        work[COHORT_FLOWERS, cohort] = flowers
        work[INDUCED_SHARE, day] = share
        work[BRANCH_CROWNS, day] = crowns
        work[VIGOUR, day] = vigour
        work[LEAVES, day] = leaves
        work[FLOWERS_INITIATED, day] = flowers
    dates[FLOWER_INITIATION] = initiated_at
    dates[REST_RELEASE] = released_at


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
def open_flowers(n_days: int, held: bool, frost: bool, plant: Any, work: Array, dates: Array) -> None:
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
    return 1.0 - plant.plant_loss_largest / (1.0 + math.exp(-excess))


@njit(cache=True, nogil=True, error_model="numpy")
def develop(daily: Array, plant: Any, work: Array, dates: Array) -> None:
    """Follow a plant from planting to open flowers.

    Parameters
    ----------
    daily : array ``[N_DAILY, n_days]``, see `phenocast.phenology.daily`.
    plant : one record of `plant_records`.
    work, dates : from `make_work(n_days)`; overwritten. Afterwards ``work`` holds open flowers per
        plant and day in its rows ``OPEN_1`` to ``OPEN_3``, and `phenocast.harvest.bear` goes on
        from there.

    Examples
    --------
    See `phenocast.harvest.grow`, which does the whole in one call.
    """
    n_days = daily.shape[1]
    for row in range(EMERGED, OPEN_1 + N_RANKS):
        for day in range(n_days):
            work[row, day] = 0.0
    frost = running_sums(daily, plant, work)
    grow_days(daily, plant, work, dates)
    transplant_cohorts(plant, work)
    open_flowers(n_days, False, frost, plant, work, dates)
    if work[RESTING, n_days] > 1e-9 and dates[REST_RELEASE] <= n_days:
        open_flowers(n_days, True, frost, plant, work, dates)
    dates[EMERGENCE] = first_passing(work[EMERGED], 0.5, n_days)
    dates[ANTHESIS] = first_passing(work[OPEN_1], plant.first_anthesis_flowers, n_days)
    dates[FIRST_RIPE] = np.inf
    dates[FIRST_PICK] = np.inf
    dates[SURVIVING_SHARE] = surviving_share(daily, plant)
