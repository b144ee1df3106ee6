"""From open flowers to ripe fruit in one call."""

from __future__ import annotations

from typing import Any

from numba import njit

from phenocast.harvest.fruit_set import set_and_ripen
from phenocast.harvest.spreading import days_to_pass, spread_over_plants
from phenocast.harvest.weighing import ripening_days, weigh
from phenocast.harvest.windows import fill_windows
from phenocast.phenology.steps import Array, clear, first_passing
from phenocast.phenology.work import (
    FIRST_PICK,
    FIRST_RIPE,
    N_RANKS,
    RIPE_FRUIT,
    RIPE_G,
    RIPENING_1,
    SURVIVING_SHARE,
    UNSMOOTHED_FRUIT,
    UNSMOOTHED_G,
    Work,
)
from phenocast.vector import everywhere, lanes, load, row_of, series, store

HALF_A_FRUIT = 0.5
"""Ripe fruit per plant at which ripeness is dated."""


@njit(cache=True, nogil=True, error_model="numpy")
def bear(daily: Array, plant: Any, first_pick_g: float, work: Work) -> None:
    """Follow open flowers to ripe fruit.

    Parameters
    ----------
    daily : array ``[N_DAILY, n_days]``, the table that `develop` read.
    plant : the record of eight plants that `develop` read.
    first_pick_g : cumulative ripe fruit per plant at which picking begins. [g]
    work : as `develop` left it. Afterwards ``work.rows`` holds ripe and marketable fruit
        [g per plant set] and their number per day in its rows ``RIPE_G``, ``MARKETABLE_G`` and
        ``RIPE_FRUIT``, and ``work.dates`` holds first ripe fruit and first pick. Plants that died
        after planting count as bearing nothing.

    Examples
    --------
    See `phenocast.harvest.grow`, which does the whole in one call.
    """
    n_days = daily.shape[1]
    fill_windows(n_days, work)
    ripen_and_bear(n_days, True, plant, first_pick_g, work)


@njit(cache=True, nogil=True, error_model="numpy")
def ripen_and_bear(n_days: int, whole: bool, plant: Any, first_pick_g: float, work: Work) -> None:
    """Follow open flowers as `bear` does, on what `fill_windows` has filled.

    The windows are the weather's alone: many plants share them. Without ``whole``, ``RIPE_G`` and
    ``RIPE_FRUIT`` are filled no further than the dates need, and ``MARKETABLE_G`` to the end.
    """
    rows = work.rows
    clear(rows, RIPENING_1, RIPENING_1 + N_RANKS, n_days)
    set_and_ripen(n_days, plant, work)
    first, stop = ripening_days(n_days, rows)
    weigh(first, stop, plant, work)
    dates = series(work.dates)
    share = load(dates, SURVIVING_SHARE)
    days = (n_days, n_days, n_days)
    if not whole:
        days = (
            days_to_pass(first_pick_g / share, n_days, first, stop, row_of(rows, UNSMOOTHED_G)),
            n_days,
            days_to_pass(
                everywhere(HALF_A_FRUIT), n_days, first, stop, row_of(rows, UNSMOOTHED_FRUIT)
            ),
        )
    spread_over_plants(days, first, stop, lanes(plant.ripening_spread), share, rows)
    store(dates, FIRST_RIPE, first_passing(row_of(rows, RIPE_FRUIT), HALF_A_FRUIT * share, days[2]))
    enough = everywhere(first_pick_g)
    store(dates, FIRST_PICK, first_passing(row_of(rows, RIPE_G), enough, days[0]))
