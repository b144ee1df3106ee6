"""When the fruit of each day's flowers is ripe."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from phenocast.phenology.steps import Array, at_noon, day_of, time_in_day
from phenocast.phenology.work import N_RANKS


@njit(cache=True, nogil=True, error_model="numpy")
def fill_ripe_at(n_days: int, air_clock: Array, plant: Any, ripe_at: Array) -> None:
    """Fill the time at which a fruit whose flower opened at noon of each day is ripe. [d]

    Parameters
    ----------
    n_days : days of the season.
    air_clock : array ``[n_days + 1]``, running sum of development in the air. [degC d]
    plant : one record of `phenocast.phenology.plant_records`.
    ripe_at : array ``[N_RANKS, n_days]``, filled; infinite where the season ends before.

    Notes
    -----
    It does not hang on the planting date: the planting dates of one plant share it.

    Examples
    --------
    >>> from phenocast.parameters import cultivars, transplants
    >>> from phenocast.phenology import plant_records
    >>> plant = plant_records(cultivars()["Basalt"], transplants()["plug"])[0]
    >>> ripe_at = np.empty((3, 100))
    >>> fill_ripe_at(100, 10.0 * np.arange(101.0), plant, ripe_at)
    >>> bool(ripe_at[0, 5] == 5.5 + plant.anthesis_to_ripe / 10.0), ripe_at[0, 99]
    (True, np.float64(inf))
    """
    for rank in range(N_RANKS):
        needed = plant.anthesis_to_ripe
        if rank == 1:
            needed *= plant.rank2_ripening
        if rank == 2:
            needed *= plant.rank3_ripening
        ripening = 0
        for day in range(n_days):
            target = at_noon(air_clock, day, n_days) + needed
            ripening = day_of(air_clock, target, ripening, n_days)
            ripe_at[rank, day] = np.inf
            if ripening < n_days:
                ripe_at[rank, day] = time_in_day(air_clock, target, ripening)
