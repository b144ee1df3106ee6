"""The season of every plant draw that lives on one bed, summed while it runs."""

from __future__ import annotations

from numba import njit

from phenocast.harvest.kernels import fill_windows, ripen_and_bear
from phenocast.phenology.development import initiate_flowers, open_flowers
from phenocast.phenology.prefix import sum_weather
from phenocast.phenology.steps import sum_at
from phenocast.phenology.work import (
    GREEN_FRUIT,
    INDUCTION_RESPONSE,
    MARKETABLE_G,
    MARKETABLE_SO_FAR_G,
    OPEN_1,
    OPEN_2,
    OPEN_3,
)
from phenocast.simulation.responses import fill_daily_means_in_lanes
from phenocast.vector import LANES, everywhere, lane_of, load, maximum, row_of, series, store

LAST_DAYS = 7
"""Where an early season needs days that were not simulated, it goes on as in its last week."""


@njit(cache=True, nogil=True, error_model="numpy")
def run_draws(  # type: ignore[no-untyped-def]
    daily, flower_min_c, whole, crown_c, tables, plants, late, first_pick_g, times,
    state_at, work, dates, fruit, states, flowers, nights,
):  # fmt: skip
    """Run the plant draws that live on one bed through their season.

    Parameters
    ----------
    daily : ``[N_DAILY, days]``, the daily table of the bed.
    flower_min_c : ``[1 or 2, days]``, lowest flower temperature as the plants are protected and,
        where there is a frost night, with none. [degC]
    whole : whether flowers that cannot be ripe in the season are followed.
    crown_c : ``[24 * days]``, hourly from planting on. [degC]
    tables : ``[groups, TABLE_SIZE, LANES]``, induction responses.
    plants : ``[groups]``, `phenocast.phenology.lane_records`.
    late : ``[groups, LANES]``, how much later the season is. [d]
    first_pick_g : cumulative ripe fruit at which picking begins. [g per plant]
    times : times since planting up to which fruit is summed. [d]
    state_at : times since planting at which the state of the plants is kept. [d]
    work : of as many days at least; overwritten.
    dates : ``[draws, N_DATES]``, filled. [d]
    fruit : ``[1 or 2, draws, times + 1]``, filled: marketable fruit up to each time and, not moved
        by ``late``, of the season; under the nights of ``flower_min_c``. [g per plant]
    states : ``[3, draws, state_at]``, filled, `PlantStates`.
    flowers : ``[draws]``, filled: flowers of the season without frost nights, per plant.
    nights : ``[2, draws, days]``, flowers that open and fruit that ripens without frost nights,
        filled where there is room. [per plant, g per plant]
    """
    n_days = daily.shape[1]
    n_draws = dates.shape[0]
    sum_weather(daily, work)
    fill_windows(n_days, work)
    for group in range(plants.shape[0]):
        plant = plants[group]
        own = slice(group * LANES, min((group + 1) * LANES, n_draws))
        later = load(series(late), group)
        fill_daily_means_in_lanes(crown_c, tables[group], n_days, work.rows[INDUCTION_RESPONSE])
        n_cohorts = initiate_flowers(daily, whole, False, plant, work)
        # the season without frost nights is the last, and goes first: dates are those of the other
        last = flower_min_c.shape[0] - 1
        for number in range(last, -1, -1):
            open_flowers(flower_min_c[number], n_cohorts, plant, work)
            ripen_and_bear(n_days, False, plant, first_pick_g, work)
            keep_fruit(n_days, times, late[group : group + 1], work, fruit[number, own])
            if number == last:
                _keep_flowers(n_days, work, flowers[own], nights[:, own])
        _keep_states(n_days, state_at, later, work, states[:, own])
        for lane in range(dates[own].shape[0]):
            dates[own][lane] = work.dates[:, lane]


@njit(cache=True, nogil=True, error_model="numpy")
def keep_fruit(n_days, times, late, work, fruit):  # type: ignore[no-untyped-def]
    """Sum marketable fruit from planting up to each time, and of the whole season.

    ``late`` is ``[1, LANES]``. Where an early season needs days that were not simulated, it goes
    on as in its last week.
    """
    marketable = row_of(work.rows, MARKETABLE_G)
    so_far = row_of(work.rows, MARKETABLE_SO_FAR_G)
    total = everywhere(0.0)
    for day in range(n_days):
        store(so_far, day, total)
        total += load(marketable, day)
    store(so_far, n_days, total)
    store(so_far, n_days + 1, total)
    last_days = min(LAST_DAYS, n_days)
    a_day = (total - load(so_far, n_days - last_days)) * (1.0 / last_days)
    later = load(series(late), 0)
    n_own = fruit.shape[0]
    for place in range(times.shape[0]):
        time = times[place] - later
        grams = sum_at(so_far, time, n_days) + maximum(time - n_days, 0.0) * a_day
        for lane in range(n_own):
            fruit[lane, place] = lane_of(grams, lane)
    for lane in range(n_own):
        fruit[lane, times.shape[0]] = lane_of(total, lane)


@njit(cache=True, nogil=True, error_model="numpy")
def _keep_flowers(n_days, work, flowers, nights):  # type: ignore[no-untyped-def]
    """Keep the flowers of the season and, where there is room, those and the fruit of each day."""
    rows = work.rows
    total = everywhere(0.0)
    for day in range(n_days):
        opened = (
            load(row_of(rows, OPEN_1), day)
            + load(row_of(rows, OPEN_2), day)
            + load(row_of(rows, OPEN_3), day)
        )
        total += opened
        for lane in range(nights.shape[1]):
            nights[0, lane, day] = lane_of(opened, lane)
            nights[1, lane, day] = rows[MARKETABLE_G, day, lane]
    for lane in range(flowers.shape[0]):
        flowers[lane] = lane_of(total, lane)


@njit(cache=True, nogil=True, error_model="numpy")
def _keep_states(n_days, state_at, late, work, states):  # type: ignore[no-untyped-def]
    """Keep what the plants are like at some times."""
    rows = work.rows
    for place in range(state_at.shape[0]):
        time = state_at[place] - late
        marketable = sum_at(row_of(rows, MARKETABLE_SO_FAR_G), time, n_days)
        for lane in range(states.shape[1]):
            day = min(max(int(lane_of(time, lane)), 0), n_days - 1)
            states[0, lane, place] = (
                rows[OPEN_1, day, lane] + rows[OPEN_2, day, lane] + rows[OPEN_3, day, lane]
            )
            states[1, lane, place] = rows[GREEN_FRUIT, day, lane]
            states[2, lane, place] = lane_of(marketable, lane)
