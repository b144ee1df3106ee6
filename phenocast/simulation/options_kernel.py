"""The seasons of one planting date for many draws of the plant, on the bed read between nodes."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from phenocast.harvest.bearing import bear_plants
from phenocast.harvest.ripening import fill_ripe_at
from phenocast.harvest.windows import fill_windows
from phenocast.phenology import Work
from phenocast.phenology.air_days import fill_air_days
from phenocast.phenology.daily import AIR_DEVELOPMENT, CROWN_HEAT_30
from phenocast.phenology.development import develop_plants
from phenocast.phenology.lanes import LANES, everywhere, lane_of, load, row_of, side_by_side
from phenocast.phenology.running_sums import sum_weather
from phenocast.phenology.work import (
    AIR_STEPS_A_DAY,
    FIRST_PICK,
    INDUCTION_RESPONSE,
    MARKETABLE_G,
    N_RANKS,
    SURVIVING_SHARE,
)
from phenocast.simulation.bed_season import BedSeason, grown_cover
from phenocast.simulation.planting_dates import NodeBeds, NodeMix, mix_nodes

Array = NDArray[np.float64]

RESULT_FIRST_PICK = 0
RESULT_HEAT = 1
RESULT_EARLY = 2
RESULT_SEASON = 3
RESULT_ALIVE = 4


def option_seasons(
    mix: NodeMix,
    daily: Array,
    induction: Array,
    ripe_at: Array,
    first_pick_g: float,
    plants: np.ndarray[Any, Any],
    work: Work,
    early_days: int,
    week_of_day: NDArray[np.int64],
    results: Array,
    weekly: NDArray[np.float32],
    rows: NDArray[np.int64],
) -> None:
    """Run the draws of one option and write them into their rows.

    Parameters
    ----------
    mix : what each node of the bed counts on each day of the planting date, `node_mix`.
    daily : the daily table of the planting date, `daily_of_planting`.
    induction : ``[groups, ages, nodes, days, LANES]``, `node_induction` of the draws.
    ripe_at : ``[groups, ranks, days, LANES]``, `ripe_times` of the draws.
    first_pick_g : cumulative fruit at which picking begins. [g per plant]
    plants : the draws side by side, `lane_records`.
    work : of the longest season at least; overwritten.
    early_days : days after planting that count as early, 0 or less for none.
    week_of_day : week of each day from the first planting date on.
    results, weekly : ``[all draws, 5]`` and ``[all draws, weeks]``, filled in ``rows``.
    rows : the draws' rows.
    """
    n_days = daily.shape[1]
    run_plants(
        daily, induction, mix.weights, mix.offset, ripe_at, plants,
        first_pick_g, max(0, min(early_days, n_days)), week_of_day, work, results, weekly, rows,
    )


def ripe_times(nodes: NodeBeds, plants: np.ndarray[Any, Any]) -> Array:
    """Return when the fruit of each day's flowers is ripe, ``[groups, ranks, days, LANES]``.

    Days count from the nodes' first day on, for every planting date: only the air matters. Draws go
    side by side as in ``plants``, which are `phenocast.phenology.lane_records`.
    """
    development = nodes.daily[0, 0, AIR_DEVELOPMENT]
    n_days = len(development)
    clock = np.concatenate([[0.0], np.cumsum(development), [0.0]])
    air_days = np.empty(AIR_STEPS_A_DAY * n_days, dtype=np.int64)
    fill_air_days(n_days, clock, air_days)
    times = side_by_side(len(plants), N_RANKS, n_days)
    for group, ripe_at in zip(plants, times, strict=True):
        fill_ripe_at(n_days, clock, air_days, group, ripe_at)
    return times


def planting_cover(bed: BedSeason, planting: date) -> Array:
    """Return the daily canopy cover of a planting date to the last day of the bed's span."""
    offset = (planting - bed.days.first_date).days
    n_days = bed.days.n_days - offset
    first = bed.days.first_hour + 24 * offset
    hourly = grown_cover(bed.setup.physics, bed.forcing.air_c[first : first + 24 * n_days])
    return np.asarray(hourly.reshape(-1, 24).mean(axis=1), dtype=np.float64)


@njit(cache=True, nogil=True, error_model="numpy")
def run_plants(  # type: ignore[no-untyped-def]
    daily, induction, weights, offset, ripe_at, plants, first_pick_g, early_days,
    week_of_day, work, results, weekly, rows,
):
    """Run each eight plants on the daily table, their induction mixed for them; sum what is kept.

    ``plants`` are `lane_records`; ``rows`` says how many of them are plants of their own.
    """
    n_days = daily.shape[1]
    sum_weather(daily, work)
    fill_windows(n_days, work)
    heat = 0.0
    for day in range(n_days):
        heat += daily[CROWN_HEAT_30, day]
    for group in range(plants.shape[0]):
        mix_nodes(induction[group], weights, offset, work.rows[INDUCTION_RESPONSE])
        develop_plants(daily, False, False, plants[group], work)
        bear_plants(
            n_days, False, ripe_at[group], offset, plants[group], first_pick_g, work
        )
        first = group * LANES
        n_own = min(LANES, rows.shape[0] - first)
        for lane in range(n_own):
            row = rows[first + lane]
            results[row, RESULT_FIRST_PICK] = work.dates[FIRST_PICK, lane]
            results[row, RESULT_HEAT] = heat
            results[row, RESULT_ALIVE] = work.dates[SURVIVING_SHARE, lane]
            for week in range(weekly.shape[1]):
                weekly[row, week] = 0.0
        early = everywhere(0.0)
        total = everywhere(0.0)
        in_week = everywhere(0.0)
        for day in range(n_days):
            in_week += load(row_of(work.rows, MARKETABLE_G), day)
            if day == early_days - 1:
                early = total + in_week
            week = week_of_day[offset + day]
            if day == n_days - 1 or week_of_day[offset + day + 1] != week:
                for lane in range(n_own):
                    weekly[rows[first + lane], week] = lane_of(in_week, lane)
                total += in_week
                in_week = everywhere(0.0)
        for lane in range(n_own):
            results[rows[first + lane], RESULT_EARLY] = lane_of(early, lane)
            results[rows[first + lane], RESULT_SEASON] = lane_of(total, lane)
