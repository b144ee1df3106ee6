"""Many seasons of one block under one course of weather: one for each draw of the plant.

The physics draws take turns: draw ``d`` of the plant lives on the bed of physics draw
``d % physics draws``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from phenocast.harvest.bearing import ripen_and_bear
from phenocast.harvest.windows import fill_windows
from phenocast.phenology import make_work
from phenocast.phenology.development import develop_plants
from phenocast.phenology.running_sums import sum_weather
from phenocast.phenology.work import (
    INDUCTION_RESPONSE,
    MARKETABLE_G,
    N_DATES,
    OPEN_1,
    OPEN_2,
    OPEN_3,
)
from phenocast.simulation.responses import fill_daily_means
from phenocast.vector import LANES, lane_records

Array = NDArray[np.float64]


@njit(cache=True, nogil=True, error_model="numpy")
def run_draws(  # type: ignore[no-untyped-def]
    daily, induction, plants, first_pick_g, work, season_dates, marketable, flowers
):
    """Run every plant draw that lives on one bed through its season.

    ``daily`` is ``[N_DAILY, days]``, ``induction`` ``[days, draws]`` and ``plants`` the records of
    eight draws each; ``season_dates`` ``[draws, N_DATES]``, ``marketable`` ``[draws, days]``
    [g per plant] and ``flowers`` ``[draws, days]`` are filled.
    """
    n_days = daily.shape[1]
    n_draws = induction.shape[1]
    rows = work.rows
    sum_weather(daily, work)
    fill_windows(n_days, work)
    for group in range(plants.shape[0]):
        first = group * LANES
        for day in range(n_days):
            for lane in range(LANES):
                draw = min(first + lane, n_draws - 1)
                rows[INDUCTION_RESPONSE, day, lane] = induction[day, draw]
        develop_plants(daily, True, False, plants[group], work)
        ripen_and_bear(n_days, False, plants[group], first_pick_g, work)
        for draw in range(first, min(first + LANES, n_draws)):
            for i in range(N_DATES):
                season_dates[draw, i] = work.dates[i, draw - first]
            for day in range(n_days):
                lane = draw - first
                marketable[draw, day] = rows[MARKETABLE_G, day, lane]
                flowers[draw, day] = (
                    rows[OPEN_1, day, lane] + rows[OPEN_2, day, lane] + rows[OPEN_3, day, lane]
                )


@dataclass(frozen=True)
class DrawnSeasons:
    """Every draw's ``dates`` ``[draws, N_DATES]`` [d] and ``marketable`` ``[draws, days]`` [g].

    ``flowers`` ``[draws, days]`` open on each day, per living plant; those that frost has killed in
    the bud are left out.
    """

    dates: Array
    marketable: Array
    flowers: Array


def drawn_seasons(
    crown: Array,
    daily: Array,
    first_hour: int,
    tables: Array,
    plants: np.recarray[Any, Any],
    first_pick_g: float,
) -> DrawnSeasons:
    """Run every draw of the plant on its bed.

    Parameters
    ----------
    crown : array ``[physics, hours]`` [degC]
        Hourly crown temperature of each physics draw, spin-up included.
    daily : array ``[physics, N_DAILY, days]``
        Daily tables; each draw has its own row of induction in place of theirs.
    first_hour : int
        Position of the first hour of the planting day.
    tables : array ``[draws, nodes]``
        Induction responses, `induction_tables`.
    plants : recarray ``[draws]``
    first_pick_g : float
        Cumulative marketable fruit that counts as first pick [g per plant].
    """
    n_days = daily.shape[2]
    work = make_work(n_days)
    season_dates = np.empty((len(plants), N_DATES))
    marketable, flowers = np.empty((2, len(plants), n_days))
    hours = slice(first_hour, first_hour + 24 * n_days)
    n_beds = len(crown)
    for bed in range(min(n_beds, len(plants))):
        mine = slice(bed, None, n_beds)
        by_node = np.ascontiguousarray(tables[mine].T)
        induction = np.empty((n_days, by_node.shape[1]))
        fill_daily_means(np.ascontiguousarray(crown[bed, hours]), by_node, induction)
        run_draws(
            daily[bed],
            induction,
            lane_records(plants[mine]),
            first_pick_g,
            work,
            season_dates[mine],
            marketable[mine],
            flowers[mine],
        )
    return DrawnSeasons(season_dates, marketable, flowers)
