"""Cohorts of trusses: from the day of initiation to open flowers, and what frost leaves of them.

The flowers initiated on a few days are a cohort, and so is each truss that a transplant brings. For
every cohort the running sum of development is searched for the moment at which it reaches what the
cohort needs, inside the day, so that a date is a continuous function of every parameter. Cohorts
come in order of age, so each search goes on from where the last one ended. Cohorts end on the same
days in all plants; one that holds next to nothing in a plant is followed without flowers there.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from phenocast._typing import FloatArray
from phenocast.phenology.prefix import reach_in_air
from phenocast.phenology.steps import exponential, first_day, put, reach, sum_at
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
    OPEN_2,
    OPEN_3,
    REST_RELEASE,
    RESTING,
    Work,
)
from phenocast.vector import (
    any_lane,
    everywhere,
    lanes,
    load,
    maximum,
    minimum,
    row_of,
    series,
    sqrt,
    store,
    take,
    where,
)

POPCORN_D = 4.0
"""Days before anthesis in which a bud shows white and is as tender as a green fruit."""


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def open_rank(
    opened: Any,
    share: Any,
    n_days: int,
    emerging: Any,
    emerged_at: Any,
    flowers: Any,
    to_open: Any,
    air: tuple[int, Any, Any],
    frost: tuple[int, int, Any, Any],
) -> bool:
    """Carry the flowers of one rank (0, 1 or 2) of a cohort from emergence to anthesis.

    ``emerging`` is the day in which ``emerged_at`` lies, `n_days` where the season ends before;
    ``flowers`` are those of the whole truss; ``frost`` is the first and the last night that harms
    buds, and the rows of their survival.
    """
    n_steps, air_clock, air_days = air
    day = minimum(emerging, n_days - 1)
    before = take(air_clock, day)
    target = before + (emerged_at - day) * (take(air_clock, day + 1) - before) + to_open
    opening, open_at = reach_in_air(n_days, n_steps, air_clock, air_days, target)
    opens = (opening < n_days) & (emerging < n_days)
    if not any_lane(opens):
        return False
    flowers = where(opens, flowers * share, 0.0)
    first_night, last_night, tight_bud, popcorn = frost
    if first_night <= last_night:
        last = minimum(opening, n_days - 1)
        # most cohorts open before the first frost or emerge after the last
        if any_lane((last >= first_night) & (day <= last_night)):
            flowers = _after_frost(
                n_days, day, last, emerged_at, open_at, flowers, tight_bud, popcorn
            )
    put(opened, where(opens, open_at, 0.0), flowers)
    return True


@njit(cache=True, nogil=True, error_model="numpy")
def _after_frost(
    n_days: int,
    emerging: Any,
    opening: Any,
    emerged_at: Any,
    open_at: Any,
    flowers: Any,
    tight_bud: Any,
    popcorn: Any,
) -> Any:
    """Flowers that frost leaves between emergence and anthesis."""
    # many meet no frost between two: the sums of their first and last day are the same
    if not any_lane(
        (take(tight_bud, opening + 1) < take(tight_bud, emerging))
        | (take(popcorn, opening + 1) < take(popcorn, emerging))
    ):
        return flowers
    popcorn_at = maximum(open_at - POPCORN_D, emerged_at)
    lived = (
        sum_at(tight_bud, popcorn_at, n_days)
        - sum_at(tight_bud, emerged_at, n_days)
        + sum_at(popcorn, open_at, n_days)
        - sum_at(popcorn, popcorn_at, n_days)
    )
    return where(lived < 0.0, flowers * exponential(lived), flowers)


TRACE = 1e-7
"""Flowers per plant below which a cohort is not followed: a season has hundreds of cohorts."""

HALF_A_TRUSS = 0.5
"""Trusses per plant at which emergence is dated."""


@njit(cache=True, nogil=True, error_model="numpy")
def transplant_cohorts(plant: Any, rows: FloatArray) -> None:
    """Set the cohorts that the transplant brings: up to three trusses, each less far on."""
    left = lanes(plant.trusses_at_planting)
    progress = minimum(lanes(plant.truss_progress), 1.0)
    to_emerge = lanes(plant.emergence_share) * lanes(plant.initiation_to_anthesis)
    for truss in range(N_TRANSPLANT_COHORTS):
        trusses = left
        reached = progress
        if truss < N_TRANSPLANT_COHORTS - 1:
            trusses = minimum(left, 1.0)
        if truss == 1:
            reached = progress * lanes(plant.second_truss_progress)
        if truss == 2:
            reached = progress * lanes(plant.third_truss_progress)
        left = left - trusses
        store(row_of(rows, COHORT_FLOWERS), truss, trusses * lanes(plant.flowers_per_truss))
        store(row_of(rows, COHORT_START), truss, -reached * to_emerge)
        store(row_of(rows, COHORT_HEAT), truss, everywhere(0.0))


@njit(cache=True, nogil=True, error_model="numpy")
def days_that_bear(n_days: int, plant: Any, work: Work) -> int:
    """Return the days after which no flower is initiated that could be ripe before the season ends.

    From the end of the season back: over ripening, opening and emergence at their shortest.
    """
    air_clock = row_of(work.weather, AIR_CLOCK)
    bud_clock = row_of(work.rows, BUD_CLOCK)
    shortest = minimum(lanes(plant.rank2_ripening), lanes(plant.rank3_ripening))
    to_ripe = lanes(plant.anthesis_to_ripe) * minimum(shortest, 1.0)
    to_anthesis = lanes(plant.initiation_to_anthesis)
    to_open = to_anthesis * (1.0 - lanes(plant.emergence_share))
    to_emerge = to_anthesis * lanes(plant.emergence_share)
    emerging = n_days
    while emerging > 0 and not any_lane(
        air_clock[emerging] + to_open + to_ripe <= air_clock[n_days]
    ):
        emerging -= 1
    latest = load(bud_clock, min(emerging + 1, n_days))
    initiating = emerging
    while initiating > 0 and not any_lane(load(bud_clock, initiating) + to_emerge <= latest):
        initiating -= 1
    return initiating + 1


@njit(cache=True, nogil=True, error_model="numpy")
def follow_cohorts(
    n_days: int, n_cohorts: int, held: bool, frost: tuple[int, int], plant: Any, work: Work
) -> None:
    """Carry every cohort to truss emergence and the flowers of each rank to anthesis.

    ``held`` False follows the plants that grow on through the winter; True those that are at rest
    when their truss would emerge. A resting plant keeps its buds at a ceiling until rest ends,
    lower for each further truss, so that trusses which differ much in age in the autumn emerge
    close together in the spring. ``frost`` is what `sum_frost` returns.
    """
    rows = work.rows
    bud_clock = row_of(rows, BUD_CLOCK)
    rest = row_of(rows, RESTING)
    emerged = row_of(rows, EMERGED)
    crown_heat = row_of(work.weather, CROWN_HEAT)
    to_emerge = lanes(plant.emergence_share) * lanes(plant.initiation_to_anthesis)
    ceiling = lanes(plant.rest_bud_ceiling) * to_emerge
    heat_scale = lanes(plant.heat_sensitivity) / lanes(plant.bud_heat_half)
    to_open = lanes(plant.initiation_to_anthesis) * (1.0 - lanes(plant.emergence_share))
    starts = row_of(rows, COHORT_START)
    sizes = row_of(rows, COHORT_FLOWERS)
    heats = row_of(rows, COHORT_HEAT)
    opened_1, opened_2, opened_3 = (
        row_of(rows, OPEN_1),
        row_of(rows, OPEN_2),
        row_of(rows, OPEN_3),
    )
    air = work.air_days.shape[0], row_of(work.weather, AIR_CLOCK), series(work.air_days)
    buds_in_frost = (frost[0], frost[1], row_of(rows, FROST_TIGHT_BUD), row_of(rows, FROST_POPCORN))
    released_at = load(series(work.dates), REST_RELEASE)
    # from the cold store: rest lies behind, and the truss is as far as the transplant says
    release_clock = where(
        released_at <= 0.0,
        -np.inf,
        where(released_at <= n_days, sum_at(bud_clock, released_at, n_days), np.inf),
    )
    rests = rested(n_days, work)
    if held:
        release_clock = where(rests, release_clock, 0.0)
    emergence = waiting = second = third = first_day(bud_clock)
    before = everywhere(0.0)
    # what has emerged, and until when it matters for the date of emergence
    trusses_out = everywhere(0.0)
    dated_by = everywhere(np.inf)
    for cohort in range(n_cohorts):
        flowers = load(sizes, cohort)
        start = load(starts, cohort)
        followed = flowers >= TRACE
        if held:
            waits = rests & (start < release_clock)
            if not any_lane(waits):
                return
            followed = followed & waits
        if not any_lane(followed):
            continue
        target = start + to_emerge
        emergence, emerged_at = reach(bud_clock, target, emergence, n_days)
        emerging = emergence[0]
        if not any_lane(emerging < n_days):
            return
        at_rest = sum_at(rest, emerged_at, n_days)
        emerging_day = emerging
        if held:
            followed = followed & (emerging < n_days)
            # each truss waits less far on than the one before it
            waits_at = ceiling * maximum(1.0 - lanes(plant.rest_truss_fall) * before, 0.0)
            before += where(followed, flowers / lanes(plant.flowers_per_truss), 0.0)
            flowers = flowers * at_rest
            reached = minimum(waits_at, release_clock - start)
            target = maximum(target, release_clock + to_emerge - reached)
            waiting, emerged_at = reach(bud_clock, target, waiting, n_days)
            emerging_day = waiting[0]
        else:
            flowers = where(start < release_clock, flowers * (1.0 - at_rest), flowers)
        followed = followed & (flowers >= TRACE) & (emerging_day < n_days)
        if not any_lane(followed):
            continue
        harm = sum_at(crown_heat, emerged_at, n_days) - load(heats, cohort)
        harm = maximum(harm * heat_scale, 0.0)
        flowers = where(followed, flowers / (1.0 + harm * sqrt(harm)), 0.0)  # to the power 1.5
        if any_lane(followed & (emerged_at < dated_by)):
            trusses = flowers / lanes(plant.flowers_per_truss)
            put(emerged, where(followed, emerged_at, 0.0), trusses)
            trusses_out += trusses
            # what emerges three days later does not reach the day on which half a truss is out
            half_out = (trusses_out >= HALF_A_TRUSS) & (dated_by == np.inf)
            dated_by = where(half_out, emerged_at + 3.0, dated_by)
        open_in_time = open_rank(
            opened_1,
            lanes(plant.rank1_share),
            n_days,
            emerging_day,
            emerged_at,
            flowers,
            to_open,
            air,
            buds_in_frost,
        )
        if not (open_in_time or any_lane(dated_by == np.inf)):
            return  # nor do those of a later cohort
        second, emerged_at = reach(bud_clock, target + lanes(plant.rank2_delay), second, n_days)
        open_rank(
            opened_2,
            lanes(plant.rank2_share),
            n_days,
            second[0],
            emerged_at,
            flowers,
            to_open,
            air,
            buds_in_frost,
        )
        third, emerged_at = reach(bud_clock, target + lanes(plant.rank3_delay), third, n_days)
        open_rank(
            opened_3,
            lanes(plant.rank3_share),
            n_days,
            third[0],
            emerged_at,
            flowers,
            to_open,
            air,
            buds_in_frost,
        )


@njit(cache=True, nogil=True, error_model="numpy")
def rested(n_days: int, work: Work) -> Any:
    """Say which plants rested and were released within the season."""
    released_at = load(series(work.dates), REST_RELEASE)
    return (
        (load(row_of(work.rows, RESTING), n_days) > TRACE)
        & (released_at > 0.0)
        & (released_at <= n_days)
    )
