"""The seasons of many planting dates for many draws of the plant, read between nodes of the bed."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from phenocast.harvest.bearing import bear_plants
from phenocast.harvest.ripening import fill_ripe_at
from phenocast.phenology.air_days import fill_air_days
from phenocast.phenology.daily import AIR_DEVELOPMENT
from phenocast.phenology.days import surviving_share
from phenocast.phenology.development import develop_plants
from phenocast.phenology.work import (
    AIR_STEPS_A_DAY,
    ANTHESIS,
    FIRST_PICK,
    INDUCTION_RESPONSE,
    MARKETABLE_G,
    N_RANKS,
)
from phenocast.simulation.bed_season import BedSeason
from phenocast.simulation.node_weights import mix_nodes
from phenocast.simulation.option_dates import daily_of, weights_of, work_of
from phenocast.vector import LANES, everywhere, lane_of, load, row_of, side_by_side

Array = NDArray[np.float64]

RESULT_FIRST_PICK = 0
RESULT_BLOOM = 1
RESULT_EARLY = 2
RESULT_SEASON = 3
RESULT_ALIVE = 4
N_RESULTS = 5

DRAWS_TOGETHER = 8
"""Draws of a date that are all run or all read between other dates, whatever `LANES` is."""


def ripe_times(bed: BedSeason, plants: np.ndarray[Any, Any]) -> Array:
    """Return when the fruit of each day's flowers is ripe, ``[groups, ranks, days, LANES]``.

    Days count from the bed's first day on, for every planting date and film: only the air matters.
    Draws go side by side as in ``plants``, which are `phenocast.vector.lane_records`.
    """
    development = bed.air_daily[AIR_DEVELOPMENT]
    n_days = len(development)
    clock = np.concatenate([[0.0], np.cumsum(development), [0.0]])
    air_days = np.empty(AIR_STEPS_A_DAY * n_days, dtype=np.int64)
    fill_air_days(n_days, clock, air_days)
    times = side_by_side(len(plants), N_RANKS, n_days)
    for group, ripe_at in zip(plants, times, strict=True):
        fill_ripe_at(n_days, clock, air_days, group, ripe_at)
    return times


@njit(cache=True, nogil=True, error_model="numpy")
def option_seasons(  # type: ignore[no-untyped-def]
    tables,
    runs,
    induction,
    ripe_at,
    plants,
    first_pick_g,
    early_days,
    week_of_day,
    work,
    results,
    weekly,
):
    """Run the draws of one cultivar through the planting dates and write what is kept of them.

    Parameters
    ----------
    tables : `phenocast.simulation.option_dates.date_tables`.
    runs : ``[dates, draws / DRAWS_TOGETHER]`` bool: where plants are grown. Of the others only
        the share of plants that live is written.
    induction : ``[groups, ages, nodes, days, LANES]``, `node_induction` of the draws.
    ripe_at : ``[groups, ranks, days, LANES]``, `ripe_times` of the draws.
    plants : ``[dates, groups]``, the draws side by side as a nursery leaves them for each date.
    first_pick_g : cumulative fruit at which picking begins. [g per plant]
    early_days : ``[dates]``, days after planting that count as early, 0 or less for none.
    week_of_day : week of each day from the first planting date on.
    work : of the longest season at least; overwritten.
    results, weekly : ``[dates, draws, N_RESULTS]`` and ``[dates, draws, weeks]``, filled.
    """
    for group in range(induction.shape[0]):
        # the dates of a plant one after another, while its tables are at hand
        first = group * LANES
        n_own = min(LANES, results.shape[1] - first)
        for number in range(runs.shape[0]):
            daily = daily_of(tables, number)
            plant = plants[number, group]
            alive = surviving_share(daily, plant)
            for lane in range(n_own):
                results[number, first + lane, RESULT_ALIVE] = lane_of(alive, lane)
            if runs[number, first // DRAWS_TOGETHER]:
                offset = tables.offset[number]
                of_date = work_of(tables, number, work)
                mix_nodes(
                    induction[group],
                    weights_of(tables, number),
                    tables.newer[number],
                    offset,
                    work.rows[INDUCTION_RESPONSE],
                )
                develop_plants(daily, False, False, plant, of_date)
                bear_plants(
                    daily.shape[1], False, ripe_at[group], offset, plant, first_pick_g, of_date
                )
                _keep(
                    daily.shape[1],
                    min(early_days[number], daily.shape[1]),
                    week_of_day[offset:],
                    of_date,
                    results[number, first : first + n_own],
                    weekly[number, first : first + n_own],
                )


@njit(cache=True, nogil=True, error_model="numpy")
def _keep(  # type: ignore[no-untyped-def]
    n_days,
    early_days,
    week_of_day,
    work,
    results,
    weekly,
):
    """Sum the marketable fruit of up to eight plants by weeks; write it with their dates."""
    n_own = results.shape[0]
    weekly[:] = 0.0
    for lane in range(n_own):
        results[lane, RESULT_FIRST_PICK] = work.dates[FIRST_PICK, lane]
        results[lane, RESULT_BLOOM] = work.dates[ANTHESIS, lane]
    early = everywhere(0.0)
    total = everywhere(0.0)
    in_week = everywhere(0.0)
    for day in range(n_days):
        in_week += load(row_of(work.rows, MARKETABLE_G), day)
        if day == early_days - 1:
            early = total + in_week
        week = week_of_day[day]
        if day == n_days - 1 or week_of_day[day + 1] != week:
            for lane in range(n_own):
                weekly[lane, week] = lane_of(in_week, lane)
            total += in_week
            in_week = everywhere(0.0)
    for lane in range(n_own):
        results[lane, RESULT_EARLY] = lane_of(early, lane)
        results[lane, RESULT_SEASON] = lane_of(total, lane)
