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
from phenocast.phenology.daily import INDUCTION_RESPONSE
from phenocast.phenology.development import develop_plant
from phenocast.phenology.running_sums import sum_weather
from phenocast.phenology.work import MARKETABLE_G, N_DATES
from phenocast.simulation.responses import fill_daily_means

Array = NDArray[np.float64]


@njit(cache=True, nogil=True, error_model="numpy")
def run_draws(  # type: ignore[no-untyped-def]
    daily, induction, plants, first_pick_g, work, dates, season_dates, marketable
):
    """Run every plant draw that lives on one bed through its season.

    ``daily`` is ``[N_DAILY, days]``, ``induction`` ``[days, draws]`` and ``plants`` ``[draws]``;
    ``season_dates`` ``[draws, N_DATES]`` and ``marketable`` ``[draws, days]`` [g per plant] are
    filled.
    """
    n_days = daily.shape[1]
    sum_weather(daily, work)
    fill_windows(n_days, work)
    for draw in range(plants.shape[0]):
        for day in range(n_days):
            daily[INDUCTION_RESPONSE, day] = induction[day, draw]
        develop_plant(daily, True, plants[draw], work, dates)
        ripen_and_bear(n_days, False, plants[draw], first_pick_g, work, dates)
        for i in range(dates.shape[0]):
            season_dates[draw, i] = dates[i]
        for day in range(n_days):
            marketable[draw, day] = work[MARKETABLE_G, day]


@dataclass(frozen=True)
class DrawnSeasons:
    """Every draw's ``dates`` ``[draws, N_DATES]`` [d] and ``marketable`` ``[draws, days]`` [g]."""

    dates: Array
    marketable: Array


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
        Daily tables; the induction row is overwritten for each draw.
    first_hour : int
        Position of the first hour of the planting day.
    tables : array ``[draws, nodes]``
        Induction responses, `induction_tables`.
    plants : recarray ``[draws]``
    first_pick_g : float
        Cumulative marketable fruit that counts as first pick [g per plant].
    """
    n_days = daily.shape[2]
    work, dates = make_work(n_days)
    season_dates = np.empty((len(plants), N_DATES))
    marketable = np.empty((len(plants), n_days))
    hours = slice(first_hour, first_hour + 24 * n_days)
    n_beds = len(crown)
    for bed in range(min(n_beds, len(plants))):
        mine = slice(bed, None, n_beds)
        by_node = np.ascontiguousarray(tables[mine].T)
        induction = np.empty((n_days, by_node.shape[1]))
        fill_daily_means(np.ascontiguousarray(crown[bed, hours]), by_node, induction)
        run_draws(
            daily[bed], induction, plants[mine], first_pick_g, work, dates, season_dates[mine],
            marketable[mine],
        )
    return DrawnSeasons(season_dates, marketable)
