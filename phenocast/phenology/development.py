"""From planting to open flowers in one call."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from phenocast._typing import FloatArray
from phenocast.phenology.daily import FLOWER_MIN
from phenocast.phenology.daily import INDUCTION_RESPONSE as DAILY_RESPONSE
from phenocast.phenology.growth import grow_days, surviving_share
from phenocast.phenology.prefix import sum_for_plants, sum_frost, sum_weather
from phenocast.phenology.steps import clear, first_passing
from phenocast.phenology.trusses import (
    HALF_A_TRUSS,
    days_that_bear,
    follow_cohorts,
    rested,
    transplant_cohorts,
)
from phenocast.phenology.work import (
    ANTHESIS,
    EMERGED,
    EMERGENCE,
    FIRST_PICK,
    FIRST_RIPE,
    INDUCTION_RESPONSE,
    N_RANKS,
    OPEN_1,
    SURVIVING_SHARE,
    Work,
)
from phenocast.vector import any_lane, everywhere, lanes, row_of, series, store


@njit(cache=True, nogil=True, error_model="numpy")
def develop(daily: FloatArray, plant: Any, work: Work) -> None:
    """Follow eight plants from planting to open flowers.

    Parameters
    ----------
    daily : array ``[N_DAILY, n_days]``, see `phenocast.phenology.daily`.
    plant : one record of `lane_records`.
    work : from `make_work(n_days)`; overwritten. Afterwards ``work.rows`` holds open flowers per
        plant and day in its rows ``OPEN_1`` to ``OPEN_3``, and `phenocast.harvest.bear` goes on
        from there.

    Examples
    --------
    See `phenocast.harvest.grow`, which does the whole in one call.
    """
    for day in range(daily.shape[1]):
        store(row_of(work.rows, INDUCTION_RESPONSE), day, everywhere(daily[DAILY_RESPONSE, day]))
    sum_weather(daily, work)
    develop_plants(daily, True, True, plant, work)


@njit(cache=True, nogil=True, error_model="numpy")
def develop_plants(daily: FloatArray, whole: bool, states: bool, plant: Any, work: Work) -> None:
    """Follow plants as `develop` does, on what `sum_weather` has filled.

    The row ``INDUCTION_RESPONSE`` of the plants is read in place of that of the daily table, so
    that many plants share the sums of one course of weather. Without ``whole``, flowers that cannot
    be ripe in the season are left out; without ``states``, the rows of what the plants are like on
    each day, ``INDUCTION_SUM`` to ``FLOWERS_INITIATED``.
    """
    n_cohorts = initiate_flowers(daily, whole, states, plant, work)
    open_flowers(daily[FLOWER_MIN], n_cohorts, plant, work)


@njit(cache=True, nogil=True, error_model="numpy")
def initiate_flowers(daily: FloatArray, whole: bool, states: bool, plant: Any, work: Work) -> int:
    """Follow plants as `develop_plants` does to the flowers they initiate; return their cohorts.

    No frost is felt until then.
    """
    n_days = daily.shape[1]
    sum_for_plants(daily, plant, work)
    enough_days = n_days if whole else days_that_bear(n_days, plant, work)
    n_cohorts = grow_days(daily, states, plant, work, enough_days)
    transplant_cohorts(plant, work.rows)
    store(series(work.dates), SURVIVING_SHARE, surviving_share(daily, plant))
    return n_cohorts


@njit(cache=True, nogil=True, error_model="numpy")
def open_flowers(flower_min_c: FloatArray, n_cohorts: int, plant: Any, work: Work) -> None:
    """Follow the flowers that `initiate_flowers` left to anthesis.

    It may be called again with other nights.

    Parameters
    ----------
    flower_min_c : array ``[n_days]``, lowest temperature of an open flower on each day. [degC]
    n_cohorts, plant, work : of `initiate_flowers`.
    """
    n_days = flower_min_c.shape[0]
    rows = work.rows
    clear(rows, EMERGED, OPEN_1 + N_RANKS, n_days)
    frost = sum_frost(flower_min_c, plant, rows)
    follow_cohorts(n_days, n_cohorts, False, frost, plant, work)
    if any_lane(rested(n_days, work)):
        follow_cohorts(n_days, n_cohorts, True, frost, plant, work)
    dates = series(work.dates)
    store(dates, EMERGENCE, first_passing(row_of(rows, EMERGED), everywhere(HALF_A_TRUSS), n_days))
    enough_flowers = lanes(plant.first_anthesis_flowers)
    store(dates, ANTHESIS, first_passing(row_of(rows, OPEN_1), enough_flowers, n_days))
    store(dates, FIRST_RIPE, everywhere(np.inf))
    store(dates, FIRST_PICK, everywhere(np.inf))
