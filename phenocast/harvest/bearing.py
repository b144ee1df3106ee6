"""From open flowers to ripe fruit in one call."""

from __future__ import annotations

from typing import Any

from numba import njit

from phenocast.harvest.fruit_set import set_and_ripen
from phenocast.harvest.spreading import spread_over_plants
from phenocast.harvest.weighing import weigh
from phenocast.harvest.windows import fill_windows
from phenocast.phenology.steps import Array, first_passing
from phenocast.phenology.work import (
    FIRST_PICK,
    FIRST_RIPE,
    RIPE_FRUIT,
    RIPE_G,
    RIPENING_1,
    SURVIVING_SHARE,
)


@njit(cache=True, nogil=True, error_model="numpy")
def bear(daily: Array, plant: Any, first_pick_g: float, work: Array, dates: Array) -> None:
    """Follow open flowers to ripe fruit.

    Parameters
    ----------
    daily : array ``[N_DAILY, n_days]``, the table that `develop` read.
    plant : the record that `develop` read.
    first_pick_g : cumulative ripe fruit per plant at which picking begins. [g]
    work, dates : as `develop` left them. Afterwards ``work`` holds ripe and marketable fruit
        [g per plant set] and their number per day in its rows ``RIPE_G``, ``MARKETABLE_G`` and
        ``RIPE_FRUIT``, and ``dates`` holds first ripe fruit and first pick. Plants that died after
        planting count as bearing nothing.

    Examples
    --------
    See `phenocast.harvest.grow`, which does the whole in one call.
    """
    n_days = daily.shape[1]
    fill_windows(n_days, work)
    bear_plant(n_days, plant, first_pick_g, work, dates)


@njit(cache=True, nogil=True, error_model="numpy")
def bear_plant(n_days: int, plant: Any, first_pick_g: float, work: Array, dates: Array) -> None:
    """Follow open flowers as `bear` does, on a work block that `fill_windows` has filled.

    The windows are the weather's alone: many plants share them.
    """
    for row in range(RIPENING_1, RIPENING_1 + 3):
        for day in range(n_days):
            work[row, day] = 0.0
    set_and_ripen(n_days, plant, work)
    weigh(n_days, plant, work)
    share = dates[SURVIVING_SHARE]
    spread_over_plants(n_days, plant.ripening_spread, share, work)
    dates[FIRST_RIPE] = first_passing(work[RIPE_FRUIT], 0.5 * share, n_days)
    dates[FIRST_PICK] = first_passing(work[RIPE_G], first_pick_g, n_days)
