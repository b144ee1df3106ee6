"""From open flowers to ripe fruit: set, ripeness, mass, and the spread over the plants of a block.

Fruit set goes through the days in order, because the fruit that a plant already carries decides how
many more it sets. The equations are this project's own; their numbers stand in
`calibration/cultivars.toml` with their sources.
"""

from __future__ import annotations

from typing import Any

from numba import njit

from phenocast._typing import FloatArray
from phenocast.phenology.prefix import reach_in_air
from phenocast.phenology.steps import (
    at_noon,
    at_noon_each,
    clear,
    each_power,
    exponential,
    first_passing,
    flush,
    flush_for,
    open_window,
    put_in_order,
    sum_at,
)
from phenocast.phenology.work import (
    AIR_CLOCK,
    AIR_HEAT,
    AIR_SUM,
    FIRST_PICK,
    FIRST_RIPE,
    FROST_FRUIT,
    FROST_OPEN,
    GREEN_FRUIT,
    GROWTH_LIGHT,
    N_RANKS,
    OPEN_1,
    OPEN_2,
    OPEN_3,
    PER_LIGHT,
    RIPE_FRUIT,
    RIPE_G,
    RIPENING_1,
    RIPENING_2,
    RIPENING_3,
    SET_HEAT,
    SIZE_WARMTH,
    SPREAD_HALF_WIDTH_D,
    SPREAD_WEIGHTS,
    SURVIVING_SHARE,
    UNSMOOTHED_FRUIT,
    UNSMOOTHED_G,
    UNSMOOTHED_MARKETABLE,
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

HEAT_BEFORE_ANTHESIS_D = 12
HEAT_AFTER_ANTHESIS_D = 1
"""Window around anthesis in which hot air harms fruit set [d]: the two sensitive stages of a flower
in the published heat-shock study, 12 to 9 days before and the day of anthesis."""

LIGHT_MEMORY_D = 14
"""Days of canopy and light that decide how many fruit a plant can carry. [d]"""

SIZE_MEMORY_D = 28
"""Days before ripeness whose mean air temperature sets fruit mass. [d]"""


@njit(cache=True, nogil=True, error_model="numpy")
def fill_windows(n_days: int, work: Work) -> None:
    """Fill the rows ``SET_HEAT`` [degC h], ``PER_LIGHT`` [m2 d MJ-1], ``SIZE_WARMTH`` [degC].

    They are read off the prefix sums of `phenocast.phenology.prefix.sum_weather`.
    """
    weather = work.weather
    heat = weather[AIR_HEAT]
    light = weather[GROWTH_LIGHT]
    warmth = weather[AIR_SUM]
    for day in range(n_days):
        weather[SET_HEAT, day] = at_noon(heat, day + HEAT_AFTER_ANTHESIS_D, n_days) - at_noon(
            heat, day - HEAT_BEFORE_ANTHESIS_D, n_days
        )
        light_of_day = (
            at_noon(light, day, n_days) - at_noon(light, day - LIGHT_MEMORY_D, n_days)
        ) / min(day + 0.5, LIGHT_MEMORY_D)
        weather[PER_LIGHT, day] = 1.0 / light_of_day if light_of_day > 0.0 else 0.0
        weather[SIZE_WARMTH, day] = (
            at_noon(warmth, day, n_days) - at_noon(warmth, day - SIZE_MEMORY_D, n_days)
        ) / min(day + 0.5, SIZE_MEMORY_D)


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


LOGISTIC_PER_NORMAL = 1.702
"""A logistic with its slope scaled by this is within 0.01 of the standard normal's share (Haley
1952, recalled from memory)."""


@njit(cache=True, nogil=True, error_model="numpy")
def ripening_days(n_days: int, rows: FloatArray) -> tuple[int, int]:
    """Return the first day with ripening fruit and the day after the last; equal without fruit."""
    first = 0
    while first < n_days and not _ripens(rows, first):
        first += 1
    stop = n_days
    while stop > first and not _ripens(rows, stop - 1):
        stop -= 1
    return first, stop


@njit(cache=True, nogil=True, error_model="numpy")
def _ripens(rows: FloatArray, day: int) -> bool:
    """Say whether fruit of any rank ripens on a day in any plant."""
    fruit = load(row_of(rows, RIPENING_1), day) + load(row_of(rows, RIPENING_1 + 1), day)
    return any_lane(fruit + load(row_of(rows, RIPENING_1 + 2), day) > 0.0)


@njit(cache=True, nogil=True, error_model="numpy")
def weigh(first: int, stop: int, plant: Any, work: Work) -> None:
    """Mass, marketable mass and number of the fruit that ripens on each day from first to stop."""
    rows = work.rows
    warmth = row_of(work.weather, SIZE_WARMTH)
    borne = everywhere(0.0)
    slope = lanes(plant.fruit_mass_slope)
    decline = lanes(plant.size_decline)
    full = lanes(plant.fruit_mass_15)
    mass_1 = lanes(plant.rank1_mass)
    mass_2 = lanes(plant.rank2_mass)
    mass_3 = lanes(plant.rank3_mass)
    # the odds that a fruit is too small to sell: fruit mass is log-logistic around its mean
    market = lanes(plant.marketable_share)
    steepness = LOGISTIC_PER_NORMAL / lanes(plant.mass_spread)
    usual_too_small = each_power(lanes(plant.cull_mass) / full, steepness)
    small_1 = usual_too_small * each_power(mass_1, -steepness)
    small_2 = usual_too_small * each_power(mass_2, -steepness)
    small_3 = usual_too_small * each_power(mass_3, -steepness)
    for day in range(first, stop):
        first_rank = load(row_of(rows, RIPENING_1), day)
        second_rank = load(row_of(rows, RIPENING_1 + 1), day)
        third_rank = load(row_of(rows, RIPENING_1 + 2), day)
        fruit = first_rank + second_rank + third_rank
        # how much smaller than usual, as a logarithm
        smaller = slope * (warmth[day] - 15.0) + decline * (borne + 0.5 * fruit)
        borne += fruit
        mass = full * exponential(-smaller)
        odds = exponential(steepness * smaller)
        primary = first_rank * mass * mass_1
        secondary = second_rank * mass * mass_2
        tertiary = third_rank * mass * mass_3
        # the shares that can be sold are three quotients: brought over one denominator
        one = 1.0 + odds * small_1
        two = 1.0 + odds * small_2
        three = 1.0 + odds * small_3
        sold = primary * two * three + secondary * one * three + tertiary * one * two
        place = SPREAD_HALF_WIDTH_D + day
        store(row_of(rows, UNSMOOTHED_G), place, primary + secondary + tertiary)
        store(row_of(rows, UNSMOOTHED_MARKETABLE), place, market * sold / (one * two * three))
        store(row_of(rows, UNSMOOTHED_FRUIT), place, fruit)


@njit(cache=True, nogil=True, error_model="numpy")
def spread_over_plants(
    days: tuple[int, int, int], first: int, stop: int, spread_d: Any, share: Any, rows: FloatArray
) -> None:
    """Spread ripening over the plants of the block, as a normal in whole days that keeps mass.

    Fruit ripens from day ``first`` to before ``stop``; of ripe mass, marketable mass and number the
    first ``days`` days are filled. ``spread_d`` [d] and ``share`` are in lanes.
    """
    weights = row_of(rows, SPREAD_WEIGHTS)
    total = everywhere(1.0)
    per_spread = 1.0 / spread_d
    for lag in range(1, SPREAD_HALF_WIDTH_D + 1):
        spreads = lag * per_spread
        bell = exponential(-0.5 * (spreads * spreads))
        store(weights, lag, bell)
        total += 2.0 * bell
    scale = share / total
    store(weights, 0, scale)
    for lag in range(1, SPREAD_HALF_WIDTH_D + 1):
        store(weights, lag, scale * load(weights, lag))
    nothing = everywhere(0.0)
    n_days = max(days[0], max(days[1], days[2]))
    for row in range(3):
        unsmoothed = row_of(rows, UNSMOOTHED_G + row)
        # two half widths to each side: the first day that is filled reads as far back as the second
        for place in range(max(first - SPREAD_HALF_WIDTH_D, 0), first + SPREAD_HALF_WIDTH_D):
            store(unsmoothed, place, nothing)
        last = min(stop, n_days - SPREAD_HALF_WIDTH_D) + 3 * SPREAD_HALF_WIDTH_D
        for place in range(stop + SPREAD_HALF_WIDTH_D, last):
            store(unsmoothed, place, nothing)
        spread = row_of(rows, RIPE_G + row)
        begin = min(max(first - SPREAD_HALF_WIDTH_D, 0), days[row])
        end = max(begin, min(stop + SPREAD_HALF_WIDTH_D, days[row]))
        for day in range(begin):
            store(spread, day, nothing)
        # a day's sum is a long chain of additions, so four days go side by side; what goes beyond
        # the last is cleared below, or beyond the season, where nobody reads
        for day in range(begin, end, 4):
            _spread_four(weights, unsmoothed, spread, day)
        for day in range(end, days[row]):
            store(spread, day, nothing)


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def _spread_four(weights: FloatArray, unsmoothed: FloatArray, spread: FloatArray, day: int) -> None:
    """Fill what ripens on a day and the three after it in plants that are spread."""
    place = SPREAD_HALF_WIDTH_D + day
    weight = load(weights, 0)
    first = weight * load(unsmoothed, place)
    second = weight * load(unsmoothed, place + 1)
    third = weight * load(unsmoothed, place + 2)
    fourth = weight * load(unsmoothed, place + 3)
    for lag in range(1, SPREAD_HALF_WIDTH_D + 1):
        weight = load(weights, lag)
        before, after = place - lag, place + lag
        first += weight * (load(unsmoothed, before) + load(unsmoothed, after))
        second += weight * (load(unsmoothed, before + 1) + load(unsmoothed, after + 1))
        third += weight * (load(unsmoothed, before + 2) + load(unsmoothed, after + 2))
        fourth += weight * (load(unsmoothed, before + 3) + load(unsmoothed, after + 3))
    store(spread, day, first)
    store(spread, day + 1, second)
    store(spread, day + 2, third)
    store(spread, day + 3, fourth)


@njit(cache=True, nogil=True, error_model="numpy")
def days_to_pass(threshold: Any, n_days: int, first: int, stop: int, unsmoothed: FloatArray) -> int:
    """Return how many days of a series must be spread to see all running totals pass a threshold.

    Spreading delays fruit by the half width at most. ``threshold`` is in lanes.
    """
    total = everywhere(0.0)
    for day in range(first, stop):
        total += load(unsmoothed, SPREAD_HALF_WIDTH_D + day)
        if not any_lane(total < threshold):
            return min(day + SPREAD_HALF_WIDTH_D + 2, n_days)
    return n_days


HALF_A_FRUIT = 0.5
"""Ripe fruit per plant at which ripeness is dated."""


@njit(cache=True, nogil=True, error_model="numpy")
def bear(daily: FloatArray, plant: Any, first_pick_g: float, work: Work) -> None:
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
