"""From planting to open flowers in one call."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from phenocast.phenology.cohorts import (
    TRACE,
    days_that_bear,
    emerge,
    open_rank,
    transplant_cohorts,
)
from phenocast.phenology.days import grow_days, surviving_share
from phenocast.phenology.running_sums import sum_for_plant, sum_weather
from phenocast.phenology.steps import Array, first_passing
from phenocast.phenology.work import (
    ANTHESIS,
    EMERGED,
    EMERGENCE,
    FIRST_PICK,
    FIRST_RIPE,
    N_RANKS,
    OPEN_1,
    REST_RELEASE,
    RESTING,
    SURVIVING_SHARE,
)


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
    sum_weather(daily, work)
    develop_plant(daily, True, plant, work, dates)


@njit(cache=True, nogil=True, error_model="numpy")
def develop_plant(daily: Array, whole: bool, plant: Any, work: Array, dates: Array) -> None:
    """Follow a plant as `develop` does, on a work block that `sum_weather` has filled.

    Only the induction row of the daily table may have changed since, so that many plants share the
    sums of one course of weather. Without ``whole``, flowers that cannot be ripe in the season are
    left out.
    """
    n_days = daily.shape[1]
    for row in range(EMERGED, OPEN_1 + N_RANKS):
        for day in range(n_days):
            work[row, day] = 0.0
    frost = sum_for_plant(daily, plant, work)
    enough_days = n_days if whole else days_that_bear(n_days, plant, work)
    initiated = grow_days(daily, plant, work, dates, enough_days)
    transplant_cohorts(plant, work)
    trusses = emerge(n_days, initiated, False, plant, work, dates)
    for rank in range(N_RANKS):
        open_rank(n_days, trusses, rank, frost, plant, work)
    if work[RESTING, n_days] > TRACE and 0.0 < dates[REST_RELEASE] <= n_days:
        trusses = emerge(n_days, initiated, True, plant, work, dates)
        for rank in range(N_RANKS):
            open_rank(n_days, trusses, rank, frost, plant, work)
    dates[EMERGENCE] = first_passing(work[EMERGED], 0.5, n_days)
    dates[ANTHESIS] = first_passing(work[OPEN_1], plant.first_anthesis_flowers, n_days)
    dates[FIRST_RIPE] = np.inf
    dates[FIRST_PICK] = np.inf
    dates[SURVIVING_SHARE] = surviving_share(daily, plant)
