"""The day loop of the plant: the states that depend on their own past.

Establishment, induction, leaves, branch crowns, vigour and winter rest; together they say how many
flowers are initiated on each day. The equations are this project's own; their numbers stand in
`calibration/cultivars.toml` with their sources. Those of the photoperiod are the equations of
`phenocast.phenology.induction`, written for eight plants at once.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from phenocast._typing import FloatArray
from phenocast.phenology.daily import (
    BRANCH_WARMTH,
    CHILL,
    CROWN_DEVELOPMENT,
    CROWN_HEAT_30,
    CROWN_HEAT_33,
    CROWN_MEAN,
    LEAF_WARMTH,
    PHOTOPERIOD,
)
from phenocast.phenology.induction import (
    COOLEST_CHAMBER_C,
    REFERENCE_CROWN_C,
    WARMEST_CHAMBER_C,
)
from phenocast.phenology.prefix import PHOTOPERIOD_RAMP_H
from phenocast.phenology.steps import each_power, exponential, normal_share, ramp
from phenocast.phenology.trusses import TRACE
from phenocast.phenology.work import (
    BRANCH_CROWNS,
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
    INDUCTION_RESPONSE,
    INDUCTION_SUM,
    LEAVES,
    N_TRANSPLANT_COHORTS,
    REST_RELEASE,
    RESTING,
    VIGOUR,
    Work,
)
from phenocast.vector import (
    LANES,
    any_lane,
    clip,
    everywhere,
    lanes,
    load,
    maximum,
    minimum,
    row_of,
    series,
    store,
    where,
    with_lane,
)


@njit(cache=True, nogil=True, error_model="numpy")
def photoperiod_response(photoperiod_h: float, crown_c: float, plant: Any) -> Any:
    """Photoperiod response of one day, 0 to 1.

    Parameters
    ----------
    photoperiod_h : photoperiod that the plant feels. [h]
    crown_c : mean crown temperature. [degC]
    plant : one record of `phenocast.phenology.plant_records`, or of `lane_records` for eight.

    Examples
    --------
    >>> from phenocast.parameters import cultivars, transplants
    >>> from phenocast.phenology import plant_records
    >>> plant = plant_records(cultivars()["Basalt"], transplants()["plug"])[0]
    >>> photoperiod_response(10.0, 18.0, plant) > 0.9, photoperiod_response(16.0, 18.0, plant) < 0.1
    (True, True)
    """
    promoted = lanes(plant.long_day_promoted) > 0.5
    response = lanes(plant.long_day_promoted)
    if any_lane(promoted):
        response = _long_day_promoted(photoperiod_h, crown_c, plant)
    if any_lane(lanes(plant.long_day_promoted) <= 0.5):
        response = where(promoted, response, _short_day(photoperiod_h, crown_c, plant))
    return response


@njit(cache=True, nogil=True, error_model="numpy")
def _long_day_promoted(photoperiod_h: float, crown_c: float, plant: Any) -> Any:
    """Photoperiod response of a day, 0 to 1, of a type that long days promote."""
    neutral = lanes(plant.long_day_neutral)
    plateau_to = lanes(plant.long_day_plateau_to)
    plateau = lanes(plant.long_day_plateau)
    per_rise = 1.0 / (lanes(plant.long_day_plateau_from) - neutral)
    per_second_rise = 1.0 / (lanes(plant.long_day_obligate) - plateau_to)
    per_width = 1.0 / lanes(plant.photoperiod_width)
    rise = clip((crown_c - neutral) * per_rise, 0.0, 1.0)
    second_rise = clip((crown_c - plateau_to) * per_second_rise, 0.0, 1.0)
    dependence = plateau * rise + (1.0 - plateau) * second_rise
    critical = lanes(plant.critical_photoperiod_18)
    excess = exponential((photoperiod_h - critical) * per_width)
    return 1.0 - dependence / (1.0 + excess)


@njit(cache=True, nogil=True, error_model="numpy")
def _short_day(photoperiod_h: float, crown_c: float, plant: Any) -> Any:
    """Photoperiod response of a day, 0 to 1, of a short-day type."""
    per_width = 1.0 / lanes(plant.photoperiod_width)
    clipped = min(max(crown_c, COOLEST_CHAMBER_C), WARMEST_CHAMBER_C)
    critical = lanes(plant.critical_photoperiod_18) - lanes(plant.critical_photoperiod_slope) * (
        clipped - REFERENCE_CROWN_C
    )
    return 1.0 / (1.0 + exponential((photoperiod_h - critical) * per_width))


INDUCTION_MEMORY_D = 7
"""Days over which the rate of initiation follows the induction increments."""


@njit(cache=True, nogil=True, error_model="numpy")
def grow_days(daily: FloatArray, states: bool, plant: Any, work: Work, enough_days: int) -> int:
    """Go through the days: induction, leaves, crowns, vigour, rest, and the flowers initiated.

    Return how many cohorts there are, with those of the transplant. After ``enough_days`` it ends
    with the first cohort that ends while winter rest of all plants lies behind. With ``states`` the
    rows of what the plants are like are filled until then.
    """
    n_days = daily.shape[1]
    rows = work.rows
    crown_heat = row_of(work.weather, CROWN_HEAT)
    # quotients that do not change in a season: a division costs as much as the rest of a line
    requirement = lanes(plant.induction_requirement)
    per_spread = 1.0 / (lanes(plant.induction_spread) * requirement)
    per_full_week = 1.0 / (INDUCTION_MEMORY_D * lanes(plant.induction_full_rate))
    per_truss = 1.0 / lanes(plant.leaves_per_truss)
    per_largest = 1.0 / lanes(plant.crowns_maximum)
    per_memory = 1.0 / lanes(plant.vigour_memory)
    per_chill = 1.0 / lanes(plant.rest_release_chill)
    per_release_warmth = 1.0 / lanes(plant.rest_release_warmth)
    per_phyllochron = 1.0 / lanes(plant.phyllochron)
    per_branch = 1.0 / lanes(plant.branch_requirement)
    penalty = lanes(plant.supraoptimal_penalty)
    induction = lanes(plant.induction_carried) * requirement
    cap = lanes(plant.induction_store) * requirement
    share = normal_share((induction - requirement) * per_spread)
    most_share = share
    crowns = lanes(plant.crowns_at_planting)
    power = lanes(plant.crown_exponent)
    crown_power = each_power(crowns, power)
    vigour = everywhere(1.0)
    vigour_loss = lanes(plant.vigour_heat_loss) * lanes(plant.heat_sensitivity)
    leaves = everywhere(0.0)
    initiated_at = where(induction >= requirement, 0.0, np.inf)
    recent = everywhere(0.0)
    # the cohort under way: its flowers, and those times the clock and the heat at initiation
    gathered = everywhere(0.0)
    gathered_clock = everywhere(0.0)
    gathered_heat = everywhere(0.0)
    cohort = N_TRANSPLANT_COHORTS
    # winter rest: a plant from the cold store has it behind it
    chill = lanes(plant.chill_carried)
    onset = lanes(plant.rest_onset_chill)
    per_onset = 1.0 / onset
    per_onset_spread = 1.0 / lanes(plant.rest_onset_spread)
    resting = where(chill > 0.0, normal_share((chill - onset) * per_onset_spread), 0.0)
    release = chill / lanes(plant.rest_release_chill)
    since_release = everywhere(0.0)
    forgets = 1.0 - lanes(plant.initiation_after_rest)
    released = release >= 1.0
    released_at = where(released, 0.0, np.inf)
    barred = where(released, resting * forgets, resting)
    induction = where(released, induction * (1.0 - barred), induction)
    share = where(released, normal_share((induction - requirement) * per_spread), share)
    most_share = where(released, share, most_share)
    store(row_of(rows, RESTING), 0, resting)
    clock = load(row_of(rows, BUD_CLOCK), 0)
    for day in range(n_days):
        # induction
        photoperiod = daily[PHOTOPERIOD, day]
        response = photoperiod_response(photoperiod, daily[CROWN_MEAN, day], plant)
        rate = load(row_of(rows, INDUCTION_RESPONSE), day) * response * (1.0 - barred)
        heat = daily[CROWN_HEAT_30, day]
        before = induction
        induction = clip(induction + (rate - penalty * heat), 0.0, cap)
        newly = everywhere(0.0)
        moved = induction != before
        if any_lane(moved):
            share = where(moved, normal_share((induction - requirement) * per_spread), share)
            first = moved & (induction >= requirement) & (initiated_at == np.inf)
            if any_lane(first):
                reached_at = day + (requirement - before) / (induction - before)
                initiated_at = where(first, reached_at, initiated_at)
            newly = maximum(share - most_share, 0.0)
            most_share = maximum(share, most_share)
        recent += rate
        if day >= INDUCTION_MEMORY_D:
            recent -= load(row_of(rows, INDUCTION_RATE), day - INDUCTION_MEMORY_D)
        store(row_of(rows, INDUCTION_RATE), day, rate)
        pace = recent * per_full_week
        if day + 1 < INDUCTION_MEMORY_D:
            pace *= INDUCTION_MEMORY_D / (day + 1.0)
        pace = clip(pace, 0.0, 1.0)
        # leaves and branch crowns
        established = load(row_of(rows, ESTABLISHED), day)
        leaf_rate = established * daily[LEAF_WARMTH, day] * per_phyllochron
        leaves += leaf_rate
        short = 1.0 - ramp(photoperiod, lanes(plant.branch_photoperiod), PHOTOPERIOD_RAMP_H)
        branching = short * established * daily[BRANCH_WARMTH, day] * per_branch
        new_power = everywhere(0.0)
        if any_lane(branching > 0.0):
            growth = branching * (1.0 - crowns * per_largest)
            crowns += crowns * growth
            # power of (1 + growth) by its series: growth is under .05 a day, so within 1e-7
            cubic = 1.0 + (power - 2.0) * growth * (1.0 / 3.0)
            new_power = crown_power * power * growth * (1.0 + 0.5 * (power - 1.0) * growth * cubic)
            crown_power += new_power
        # vigour, a slow memory of heat
        vigour += (1.0 - vigour) * per_memory - vigour * vigour_loss * heat
        vigour = maximum(vigour, 0.0)
        # winter rest: short days and cold bring it on, chill or warmth in longer days end it
        unreleased = released_at == np.inf
        if any_lane(unreleased):
            long_day = ramp(photoperiod, lanes(plant.rest_release_photoperiod), PHOTOPERIOD_RAMP_H)
            cold = where(unreleased, daily[CHILL, day] * (1.0 - long_day), 0.0)
            if any_lane(cold > 0.0):
                chill += cold
                share_resting = normal_share((chill - onset) * per_onset_spread)
                resting = where(cold > 0.0, share_resting, resting)
            step = cold * per_chill
            if any_lane(long_day > 0.0):
                depth = minimum(chill * per_onset, 1.0)
                step = where(
                    unreleased & (long_day > 0.0),
                    step + depth * long_day * daily[CROWN_DEVELOPMENT, day] * per_release_warmth,
                    step,
                )
            barred = where(unreleased, resting, barred)
            ends = unreleased & (release + step >= 1.0)
            if any_lane(ends):
                released_at = where(ends, day + (1.0 - release) / step, released_at)
                barred = where(ends, resting * forgets, barred)
                induction = where(ends, induction * (1.0 - barred), induction)
                share = where(ends, normal_share((induction - requirement) * per_spread), share)
                most_share = where(ends, share, most_share)
            release = where(unreleased, release + step, release)
        growing_on = ~unreleased & (barred > 0.0)
        if any_lane(growing_on):
            # a plant that rested does not form flowers again until it has grown for a while
            since_release = where(
                growing_on, since_release + daily[CROWN_DEVELOPMENT, day], since_release
            )
            memory = lanes(plant.rest_memory)
            forgotten = ramp(since_release, memory, 0.2 * memory)
            barred = where(growing_on, resting * forgets * (1.0 - forgotten), barred)
        store(row_of(rows, RESTING), day + 1, resting)
        # flowers: one terminal truss a crown as plants are induced, then with the leaves
        trusses = vigour * (
            crown_power * (newly + share * pace * leaf_rate * per_truss) + share * pace * new_power
        )
        trusses *= 1.0 - barred
        flowers = trusses * lanes(plant.flowers_per_truss)
        half = 0.5 * flowers
        clock_before = clock
        clock = load(row_of(rows, BUD_CLOCK), day + 1)
        gathered += flowers
        gathered_clock += half * (clock_before + clock)
        gathered_heat += half * (crown_heat[day] + crown_heat[day + 1])
        if work.weather[COHORT_ENDS, day] > 0.0:
            enough = gathered >= TRACE
            if any_lane(enough):
                mean_clock = where(enough, gathered_clock / gathered, clock)
                mean_heat = where(enough, gathered_heat / gathered, 0.0)
                store(row_of(rows, COHORT_START), cohort, mean_clock)
                store(row_of(rows, COHORT_HEAT), cohort, mean_heat)
                store(row_of(rows, COHORT_FLOWERS), cohort, where(enough, gathered, 0.0))
                cohort += 1
            gathered = everywhere(0.0)
            gathered_clock = everywhere(0.0)
            gathered_heat = everywhere(0.0)
            if day >= enough_days and not any_lane(released_at == np.inf):
                for later in range(day + 1, n_days):
                    store(row_of(rows, RESTING), later + 1, resting)
                break
        if states:
            store(row_of(rows, INDUCED_SHARE), day, share)
            store(row_of(rows, INDUCTION_SUM), day, induction)
            store(row_of(rows, BRANCH_CROWNS), day, crowns)
            store(row_of(rows, VIGOUR), day, vigour)
            store(row_of(rows, LEAVES), day, leaves)
            store(row_of(rows, FLOWERS_INITIATED), day, flowers)
    dates = series(work.dates)
    store(dates, FLOWER_INITIATION, initiated_at)
    store(dates, REST_RELEASE, released_at)
    return cohort


@njit(cache=True, nogil=True, error_model="numpy")
def surviving_share(daily: FloatArray, plant: Any) -> Any:
    """Share of plants that live through the heat of the first days after planting.

    The share lost is a logistic in crown degree-hours above 33 degC.
    """
    heat = everywhere(0.0)
    for lane in range(LANES):
        n_days = min(plant.plant_loss_days[lane], float(daily.shape[1]))
        days = int(n_days)
        felt = 0.0
        for day in range(days):
            felt += daily[CROWN_HEAT_33, day]
        if n_days > days:
            felt += (n_days - days) * daily[CROWN_HEAT_33, days]
        heat = with_lane(heat, lane, felt)
    excess = (heat - lanes(plant.plant_loss_heat_half)) / lanes(plant.plant_loss_heat_scale)
    return 1.0 - lanes(plant.plant_loss_largest) / (1.0 + exponential(-excess))
