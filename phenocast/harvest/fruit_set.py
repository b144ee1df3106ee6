"""Fruit set of each day's flowers, and the day on which each fruit becomes ripe.

It goes through the days in order, because the fruit that a plant already carries decides how many
more it sets. The equations are this project's own; their numbers stand in
`calibration/cultivars.toml` with their sources.
"""

from __future__ import annotations

from typing import Any

from numba import njit

from phenocast.phenology.air_days import reach_in_air
from phenocast.phenology.in_order import flush, flush_for, open_window, put_in_order
from phenocast.phenology.steps import at_noon, at_noon_each, exponential, sum_at
from phenocast.phenology.work import (
    AIR_CLOCK,
    FROST_FRUIT,
    FROST_OPEN,
    GREEN_FRUIT,
    OPEN_1,
    OPEN_2,
    OPEN_3,
    PER_LIGHT,
    RIPENING_1,
    RIPENING_2,
    RIPENING_3,
    SET_HEAT,
    Work,
)
from phenocast.vector import (
    any_lane,
    everywhere,
    lanes,
    load,
    maximum,
    minimum,
    row_of,
    series,
    store,
    where,
)

FLOWER_OPEN_D = 3
"""Days for which a flower stays open to frost. [d]"""


@njit(cache=True, nogil=True, error_model="numpy")
def set_and_ripen(n_days: int, plant: Any, work: Work) -> None:
    """Fruit set of each day's flowers, and the day on which each becomes ripe.

    A flower opens at noon of its day, and its fruit is ripe when development in the air since then
    has come to what its rank needs.
    """
    rows = work.rows
    set_heat = row_of(work.weather, SET_HEAT)
    per_light = row_of(work.weather, PER_LIGHT)
    opened = row_of(rows, FROST_OPEN)
    green = row_of(rows, FROST_FRUIT)
    flowers_freeze = any_lane(load(opened, n_days) < 0.0)
    frost = any_lane(load(green, n_days) < 0.0), green
    load_of_light = (
        lanes(plant.fruit_mass_15)
        * lanes(plant.load_cover)
        * lanes(plant.load_solar)
        / lanes(plant.load_largest)
    )
    per_half = 1.0 / lanes(plant.set_heat_half)
    potential = lanes(plant.set_potential)
    carried = everywhere(0.0)
    carried_fruit = row_of(rows, GREEN_FRUIT)
    sets = True
    first_window = open_window()
    second_window = open_window()
    third_window = open_window()
    opened_1, opened_2, opened_3 = (
        row_of(rows, OPEN_1),
        row_of(rows, OPEN_2),
        row_of(rows, OPEN_3),
    )
    ripening_1, ripening_2, ripening_3 = (
        row_of(rows, RIPENING_1),
        row_of(rows, RIPENING_2),
        row_of(rows, RIPENING_3),
    )
    air_clock, air_days = row_of(work.weather, AIR_CLOCK), series(work.air_days)
    n_steps = work.air_days.shape[0]
    needed_1 = lanes(plant.anthesis_to_ripe)
    needed_2 = needed_1 * lanes(plant.rank2_ripening)
    needed_3 = needed_1 * lanes(plant.rank3_ripening)
    for day in range(n_days):
        first = load(opened_1, day)
        second = load(opened_2, day)
        third = load(opened_3, day)
        flowers = first + second + third
        bears = flowers > 1e-12
        earliest = minimum(minimum(first_window[0], second_window[0]), third_window[0])
        if any_lane(earliest <= day + 1):
            flush_for(ripening_1, day, first_window)
            flush_for(ripening_2, day, second_window)
            flush_for(ripening_3, day, third_window)
        gone = load(ripening_1, day) + load(ripening_2, day) + load(ripening_3, day)
        if sets and per_light[day] > 0.0 and any_lane(bears):
            heat = set_heat[day] * per_half
            setting = potential
            if flowers_freeze:
                lost = at_noon_each(opened, day + FLOWER_OPEN_D, n_days) - at_noon_each(
                    opened, day, n_days
                )
                if any_lane(lost < 0.0):
                    setting = where(lost < 0.0, setting * exponential(lost), setting)
            crowded = carried * (load_of_light * per_light[day])
            less = (1.0 + heat * heat) * (1.0 + crowded * crowded * crowded)
            share = where(bears, setting / less, 0.0)
            noon = at_noon(air_clock, day, n_days)
            ripe_1 = reach_in_air(n_days, n_steps, air_clock, air_days, noon + needed_1)[1]
            ripe_2 = reach_in_air(n_days, n_steps, air_clock, air_days, noon + needed_2)[1]
            ripe_3 = reach_in_air(n_days, n_steps, air_clock, air_days, noon + needed_3)[1]
            # what flowers from here on may not be ripe before the end
            sets = any_lane(minimum(minimum(ripe_1, ripe_2), ripe_3) < n_days)
            if sets:
                first_window = _ripen(
                    ripening_1,
                    day,
                    share * first,
                    ripe_1,
                    n_days,
                    frost,
                    first_window,
                )
                second_window = _ripen(
                    ripening_2,
                    day,
                    share * second,
                    ripe_2,
                    n_days,
                    frost,
                    second_window,
                )
                third_window = _ripen(
                    ripening_3,
                    day,
                    share * third,
                    ripe_3,
                    n_days,
                    frost,
                    third_window,
                )
                carried += share * flowers
        carried = maximum(carried - gone, 0.0)
        store(carried_fruit, day, carried)
    flush(ripening_1, first_window)
    flush(ripening_2, second_window)
    flush(ripening_3, third_window)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _ripen(
    ripening: Any,
    today: int,
    fruit: Any,
    at: Any,
    n_days: int,
    frost: tuple[bool, Any],
    window: tuple[Any, Any, Any, Any],
) -> tuple[Any, Any, Any, Any]:
    """Put today's fruit of one rank into the days on which it is ripe, unless frost kills it."""
    ripens = at < n_days
    if not any_lane(ripens):
        return window
    at = where(ripens, at, window[0])
    fruit = where(ripens, fruit, 0.0)
    freezes, green = frost
    if freezes:
        lost = sum_at(green, at, n_days) - at_noon_each(green, today + FLOWER_OPEN_D, n_days)
        if any_lane(lost < 0.0):
            fruit = where(lost < 0.0, fruit * exponential(lost), fruit)
    return put_in_order(ripening, at, fruit, window)
