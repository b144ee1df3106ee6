"""When the fruit of each day's flowers is ripe."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from phenocast.phenology.air_days import reach_in_air
from phenocast.phenology.steps import Array, at_noon
from phenocast.phenology.work import N_RANKS
from phenocast.vector import lanes, row_of, series, store, where


@njit(cache=True, nogil=True, error_model="numpy")
def fill_ripe_at(
    n_days: int, air_clock: Array, air_days: NDArray[np.int64], plant: Any, ripe_at: Array
) -> None:
    """Fill the time at which a fruit whose flower opened at noon of each day is ripe. [d]

    Parameters
    ----------
    n_days : days of the season.
    air_clock : array ``[n_days + 2 or more]``, running sum of development in the air. [degC d]
    air_days : its table, `fill_air_days`.
    plant : one record of `phenocast.vector.lane_records`.
    ripe_at : array ``[N_RANKS, n_days, LANES]``, filled; infinite where the season ends before.

    Notes
    -----
    It does not hang on the planting date: the planting dates of one plant share it.

    Examples
    --------
    >>> from phenocast.parameters import cultivars, transplants
    >>> from phenocast.phenology import plant_records
    from phenocast.vector import lane_records
    >>> from phenocast.phenology.air_days import fill_air_days
    >>> plant = plant_records(cultivars()["Basalt"], transplants()["plug"])
    >>> clock, days = 10.0 * np.arange(102.0), np.zeros(200, dtype=np.int64)
    >>> fill_air_days(100, clock, days)
    >>> ripe_at = np.empty((3, 100, 8))
    >>> fill_ripe_at(100, clock, days, lane_records(plant)[0], ripe_at)
    >>> bool(ripe_at[0, 5, 0] == 5.5 + plant[0].anthesis_to_ripe / 10.0), ripe_at[0, 99, 0]
    (True, np.float64(inf))
    """
    clock, days, n_steps = series(air_clock), series(air_days), air_days.shape[0]
    for rank in range(N_RANKS):
        ripe_of_rank = row_of(ripe_at, rank)
        needed = lanes(plant.anthesis_to_ripe)
        if rank == 1:
            needed = needed * lanes(plant.rank2_ripening)
        if rank == 2:
            needed = needed * lanes(plant.rank3_ripening)
        for day in range(n_days):
            target = at_noon(air_clock, day, n_days) + needed
            ripening, at = reach_in_air(n_days, n_steps, clock, days, target)
            store(ripe_of_rank, day, where(ripening < n_days, at, np.inf))
