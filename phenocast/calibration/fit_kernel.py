"""Many trials of a plant in one block-season, summed over the windows of its records."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from phenocast.harvest.bearing import ripen_and_bear
from phenocast.harvest.windows import fill_windows
from phenocast.phenology.daily import INDUCTION_RESPONSE as DAILY_RESPONSE
from phenocast.phenology.development import develop_plants
from phenocast.phenology.running_sums import sum_weather
from phenocast.phenology.work import (
    ANTHESIS,
    FIRST_PICK,
    INDUCTION_RESPONSE,
    MARKETABLE_G,
    OPEN_1,
    OPEN_2,
    OPEN_3,
    RIPE_FRUIT,
    RIPE_G,
)
from phenocast.simulation.daily_sums import fill_induction
from phenocast.vector import LANES

Array = NDArray[np.float64]

# What a record holds; the numbers stand in the rows of a fit.
MARKETABLE = 0
FRUIT = 1
FRUIT_NUMBER = 2
FRUIT_MASS = 3
OPEN_FLOWERS = 4
FIRST_PICKED = 5
FIRST_FLOWER = 6
KINDS = (
    "marketable_g_per_plant",
    "fruit_g_per_plant",
    "fruits_per_plant",
    "fruit_mass_g",
    "open_flowers_per_plant",
    "first pick",
    "first flower",
)
DATES = (FIRST_PICKED, FIRST_FLOWER)

# A stage that a trial never reaches still needs a place in time, so that a search can find its way
# back: after the last day, later the more is missing. Only the direction matters.
BEYOND_D = 60.0


@njit(cache=True, nogil=True, error_model="numpy")
def at_time(total, time, n_days):  # type: ignore[no-untyped-def]
    """Return a running sum at a time in days; level before the first day and after the last."""
    if time <= 0.0:
        return 0.0
    if time >= n_days:
        return total[n_days]
    day = int(time)
    return total[day] + (time - day) * (total[day + 1] - total[day])


@njit(cache=True, nogil=True, error_model="numpy")
def run_trials(  # type: ignore[no-untyped-def]
    crown,
    first_hour,
    daily,
    tables,
    table_of,
    plants,
    shift,
    first_pick_g,
    kind,
    start,
    stop,
    work,
    total,
    out,
):
    """Run each trial and fill ``out`` ``[trials, records]``.

    ``tables`` is ``[n, nodes]`` and ``table_of`` ``[trials]`` says which induction response a trial
    has; ``shift`` ``[trials]`` [d] moves everything later; ``kind``, ``start`` and ``stop``
    ``[records]`` say what is summed between which times since planting [d]; ``plants`` are the
    trials' records, eight side by side (`lane_records`); ``total`` is ``[4, days + 1]``.
    """
    n_days = daily.shape[1]
    # only what the records ask for is followed to the last day
    all_fruit = False
    all_flowers = False
    for i in range(kind.shape[0]):
        all_fruit = all_fruit or 1 <= kind[i] <= 3
        all_flowers = all_flowers or kind[i] == 4 or kind[i] == 6
    sum_weather(daily, work)
    fill_windows(n_days, work)
    n_trials = table_of.shape[0]
    rows = work.rows
    current = -1
    for k in range(n_trials):
        lane = k % LANES
        if lane == 0:
            group = plants[k // LANES]
            for place in range(LANES):
                table = table_of[min(k + place, n_trials - 1)]
                if table != current:
                    current = table
                    fill_induction(crown, first_hour, tables[current], daily)
                for day in range(n_days):
                    rows[INDUCTION_RESPONSE, day, place] = daily[DAILY_RESPONSE, day]
            develop_plants(daily, all_flowers, False, group, work)
            ripen_and_bear(n_days, all_fruit, group, first_pick_g, work)
        for row in range(4):
            total[row, 0] = 0.0
        for day in range(n_days):
            total[0, day + 1] = total[0, day] + rows[MARKETABLE_G, day, lane]
            total[1, day + 1] = total[1, day] + rows[RIPE_G, day, lane]
            total[2, day + 1] = total[2, day] + rows[RIPE_FRUIT, day, lane]
            total[3, day + 1] = (
                total[3, day]
                + rows[OPEN_1, day, lane]
                + rows[OPEN_2, day, lane]
                + rows[OPEN_3, day, lane]
            )
        late = shift[k]
        for i in range(kind.shape[0]):
            what = kind[i]
            if what <= 2:
                value = at_time(total[what], stop[i] - late, n_days) - at_time(
                    total[what], start[i] - late, n_days
                )
            elif what == 3:
                grams = at_time(total[1], stop[i] - late, n_days) - at_time(
                    total[1], start[i] - late, n_days
                )
                number = at_time(total[2], stop[i] - late, n_days) - at_time(
                    total[2], start[i] - late, n_days
                )
                # where a trial has no fruit yet, the mass of a fruit says nothing
                value = grams / number if number > 1e-9 else np.nan
            elif what == 4:
                value = at_time(total[3], stop[i] - late, n_days) - at_time(
                    total[3], start[i] - late, n_days
                )
            elif what == 5:
                value = work.dates[FIRST_PICK, lane] + late
                if not np.isfinite(value):
                    value = n_days + BEYOND_D * (1.0 - total[1, n_days] / first_pick_g) + late
            else:
                value = work.dates[ANTHESIS, lane] + late
                if not np.isfinite(value):
                    missing = 1.0 - total[3, n_days] / group.first_anthesis_flowers[lane]
                    value = n_days + BEYOND_D * max(missing, 0.0) + late
            out[k, i] = value
