"""The seasons of one planting date for many draws of the plant, on the bed read between nodes."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from phenocast.harvest.bearing import bear_plant
from phenocast.harvest.ripening import fill_ripe_at
from phenocast.harvest.windows import fill_windows
from phenocast.phenology import make_work
from phenocast.phenology.daily import AIR_DEVELOPMENT, CROWN_HEAT_30, INDUCTION_RESPONSE
from phenocast.phenology.development import develop_plant
from phenocast.phenology.running_sums import sum_weather
from phenocast.phenology.work import FIRST_PICK, MARKETABLE_G, N_RANKS, SURVIVING_SHARE
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
    plants: np.recarray[Any, Any],
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
    daily : the daily table of the planting date, `daily_of_planting`; its induction row is
        overwritten for each draw.
    induction : ``[draws, ages, nodes, days]``, `node_induction` of each draw.
    ripe_at : ``[draws, ranks, days]``, `ripe_times` of each draw.
    first_pick_g : cumulative fruit at which picking begins. [g per plant]
    plants : recarray ``[draws]``.
    early_days : days after planting that count as early, 0 or less for none.
    week_of_day : week of each day from the first planting date on.
    results, weekly : ``[all draws, 5]`` and ``[all draws, weeks]``, filled in ``rows``.
    rows : the draws' rows.
    """
    n_days = daily.shape[1]
    work, dates = make_work(n_days)
    run_plants(
        daily, induction, mix.weights, mix.spans, mix.offset, ripe_at, plants, first_pick_g,
        max(0, min(early_days, n_days)), week_of_day, work, dates, results, weekly, rows,
    )


def ripe_times(nodes: NodeBeds, plants: np.recarray[Any, Any]) -> Array:
    """Return when the fruit of each day's flowers is ripe, ``[draws, ranks, days]``.

    Days count from the nodes' first day on, for every planting date: only the air matters.
    """
    development = nodes.daily[0, 0, AIR_DEVELOPMENT]
    clock = np.concatenate([[0.0], np.cumsum(development)])
    times = np.empty((len(plants), N_RANKS, len(development)))
    for plant, ripe_at in zip(plants, times, strict=True):
        fill_ripe_at(len(development), clock, plant, ripe_at)
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
    daily, induction, weights, spans, offset, ripe_at, plants, first_pick_g, early_days,
    week_of_day, work, dates, results, weekly, rows,
):
    """Run each plant on the daily table, its induction row mixed for it, and sum what is kept."""
    n_days = daily.shape[1]
    sum_weather(daily, work)
    fill_windows(n_days, work)
    heat = 0.0
    for day in range(n_days):
        heat += daily[CROWN_HEAT_30, day]
    for k in range(plants.shape[0]):
        row = rows[k]
        mix_nodes(induction[k], weights, spans, offset, daily[INDUCTION_RESPONSE])
        develop_plant(daily, False, plants[k], work, dates)
        bear_plant(n_days, False, ripe_at[k], offset, plants[k], first_pick_g, work, dates)
        results[row, RESULT_FIRST_PICK] = dates[FIRST_PICK]
        results[row, RESULT_HEAT] = heat
        results[row, RESULT_ALIVE] = dates[SURVIVING_SHARE]
        for week in range(weekly.shape[1]):
            weekly[row, week] = 0.0
        early = 0.0
        total = 0.0
        in_week = 0.0
        for day in range(n_days):
            picked = work[MARKETABLE_G, day]
            in_week += picked
            if day == early_days - 1:
                early = total + in_week
            week = week_of_day[offset + day]
            if day == n_days - 1 or week_of_day[offset + day + 1] != week:
                weekly[row, week] = in_week
                total += in_week
                in_week = 0.0
        results[row, RESULT_EARLY] = early
        results[row, RESULT_SEASON] = total
