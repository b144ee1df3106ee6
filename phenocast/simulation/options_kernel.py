"""The seasons of one planting date for many draws of the plant, on the bed read between nodes."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from phenocast.harvest.bearing import bear_plant
from phenocast.harvest.windows import fill_windows
from phenocast.phenology import make_work
from phenocast.phenology.daily import CROWN_HEAT_30, INDUCTION_RESPONSE
from phenocast.phenology.development import develop_plant
from phenocast.phenology.running_sums import sum_weather
from phenocast.phenology.work import FIRST_PICK, MARKETABLE_G, SURVIVING_SHARE
from phenocast.simulation.bed_season import BedSeason, grown_cover
from phenocast.simulation.planting_dates import (
    NodeBeds,
    daily_of_planting,
    mix_nodes,
    node_weights,
)
from phenocast.simulation.setup import BlockSetup

Array = NDArray[np.float64]

RESULT_FIRST_PICK = 0
RESULT_HEAT = 1
RESULT_EARLY = 2
RESULT_SEASON = 3
RESULT_ALIVE = 4


def option_seasons(
    nodes: NodeBeds,
    induction: Array,
    planting: date,
    setup: BlockSetup,
    plants: np.recarray[Any, Any],
    cover: Array,
    early_days: int,
    week_of_day: NDArray[np.int64],
    results: Array,
    weekly: NDArray[np.float32],
    rows: NDArray[np.int64],
) -> None:
    """Run the draws of one option and write them into their rows.

    Parameters
    ----------
    nodes : the bed at its nodes, for one film, future and physics draw.
    induction : ``[draws, ages, nodes, days]``, `node_induction` of each draw.
    planting : the planting date.
    setup : the block; its planting date does not matter.
    plants : recarray ``[draws]``.
    cover : daily canopy cover from the planting date on, `planting_cover`.
    early_days : days after planting that count as early, 0 or less for none.
    week_of_day : week of each day from the first planting date on.
    results, weekly : ``[all draws, 5]`` and ``[all draws, weeks]``, filled in ``rows``.
    rows : the draws' rows.
    """
    offset = (planting - nodes.first_date).days
    n_days = nodes.daily.shape[-1] - offset
    sprinkling = setup.block.sprinkling
    sprinkled = 0 if sprinkling is None else sprinkling.days
    weights = node_weights(nodes, planting, cover, sprinkled)
    daily = daily_of_planting(nodes, induction[0], planting, weights, cover)
    work, dates = make_work(n_days)
    run_plants(
        daily, induction, weights, offset, plants, setup.block.first_pick_g_per_plant,
        max(0, min(early_days, n_days)), week_of_day, work, dates, results, weekly, rows,
    )


def planting_cover(bed: BedSeason, planting: date) -> Array:
    """Return the daily canopy cover of a planting date to the last day of the bed's span."""
    offset = (planting - bed.days.first_date).days
    n_days = bed.days.n_days - offset
    first = bed.days.first_hour + 24 * offset
    hourly = grown_cover(bed.setup.physics, bed.forcing.air_c[first : first + 24 * n_days])
    return np.asarray(hourly.reshape(-1, 24).mean(axis=1), dtype=np.float64)


@njit(cache=True, nogil=True, error_model="numpy")
def run_plants(  # type: ignore[no-untyped-def]
    daily, induction, weights, offset, plants, first_pick_g, early_days, week_of_day, work, dates,
    results, weekly, rows,
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
        mix_nodes(induction[k], weights, offset, daily[INDUCTION_RESPONSE])
        develop_plant(daily, plants[k], work, dates)
        bear_plant(n_days, plants[k], first_pick_g, work, dates)
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
