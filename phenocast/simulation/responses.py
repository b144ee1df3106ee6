"""Hourly responses as tables, so that every draw of every cultivar costs one look-up an hour.

The response functions themselves stand in :mod:`phenocast.thermal_time`. They are tabulated on
a grid of 0.1 degC and read with linear interpolation, which keeps a daily sum continuous in the
temperature and, because each table is made from the exact function, in every parameter.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numba import njit

from phenocast._typing import FloatArray
from phenocast.parameters import ParameterSet
from phenocast.thermal_time import trapezoid, wang_engel
from phenocast.vector import everywhere, in_groups, load, series, side_by_side, store

TABLE_LOW_C = -40.0
TABLE_HIGH_C = 90.0
TABLE_STEPS_PER_C = 10
TABLE_SIZE = int((TABLE_HIGH_C - TABLE_LOW_C) * TABLE_STEPS_PER_C) + 1


def table_temperatures() -> FloatArray:
    """Return the temperatures [degC] of the table's nodes, shape ``[TABLE_SIZE]``."""
    return TABLE_LOW_C + np.arange(TABLE_SIZE) / TABLE_STEPS_PER_C


def tabulate(response: Callable[[FloatArray], FloatArray]) -> FloatArray:
    """Return a response on the table's nodes, shape ``[TABLE_SIZE]``.

    >>> table = tabulate(lambda t: t + 1.0)
    >>> round(float(look_up(table, 20.04)), 9)
    21.04
    """
    return np.ascontiguousarray(response(table_temperatures()), dtype=np.float64)


@njit(cache=True, nogil=True, error_model="numpy")
def look_up(table: FloatArray, temperature_c: float) -> float:
    """Return the tabulated response at one temperature [degC]; the ends of the table hold."""
    position = (temperature_c - TABLE_LOW_C) * TABLE_STEPS_PER_C
    if position <= 0.0:
        return table[0]
    if position >= TABLE_SIZE - 1:
        return table[TABLE_SIZE - 1]
    node = int(position)
    return table[node] + (position - node) * (table[node + 1] - table[node])


@njit(cache=True, nogil=True, error_model="numpy")
def _hour_between(temperature_c: float) -> tuple[int, float, float]:
    """Return the node below a temperature and what it and the next count in the day's mean."""
    position = (temperature_c - TABLE_LOW_C) * TABLE_STEPS_PER_C
    position = min(max(position, 0.0), TABLE_SIZE - 1.0)
    node = min(int(position), TABLE_SIZE - 2)
    beyond = (position - node) / 24.0
    return node, 1.0 / 24.0 - beyond, beyond


@njit(cache=True, nogil=True, error_model="numpy")
def fill_daily_means(
    temperature_c: FloatArray,
    tables: FloatArray,
    means: FloatArray,
) -> None:
    """Fill the daily mean response of many tables to one course of temperature.

    Parameters
    ----------
    temperature_c : array ``[24 * days]``. [degC]
    tables : array ``[TABLE_SIZE, tables]``: tables lie side by side, so that the compiler takes
        several at once.
    means : array ``[days, tables]``, filled.

    Examples
    --------
    >>> tables = np.column_stack([table_temperatures(), 2.0 * table_temperatures()])
    >>> means = np.empty((1, 2))
    >>> fill_daily_means(np.linspace(0.0, 23.0, 24), tables, means)
    >>> means.round(9).tolist()
    [[11.5, 23.0]]
    """
    n_tables = tables.shape[1]
    for day in range(means.shape[0]):
        total = means[day]
        for number in range(n_tables):
            total[number] = 0.0
        for hour in range(24 * day, 24 * day + 24):
            node, short, beyond = _hour_between(temperature_c[hour])
            low = tables[node]
            high = tables[node + 1]
            for number in range(n_tables):
                total[number] += short * low[number] + beyond * high[number]


def tables_in_lanes(tables: FloatArray) -> FloatArray:
    """Lay tables ``[draws, TABLE_SIZE]`` side by side, ``[groups, TABLE_SIZE, LANES]``.

    Draws go side by side as in `phenocast.vector.lane_records`.
    """
    which = in_groups(len(tables))
    laid = side_by_side(len(which), TABLE_SIZE)
    laid[:] = tables[which].swapaxes(1, 2)
    return laid


@njit(cache=True, nogil=True, error_model="numpy")
def fill_daily_means_in_lanes(
    temperature_c: FloatArray,
    table: FloatArray,
    n_days: int,
    means: FloatArray,
) -> None:
    """Fill what `fill_daily_means` does for draws side by side, ``[days, LANES]``.

    ``table`` is ``[TABLE_SIZE, LANES]``, one of `tables_in_lanes`.

    Examples
    --------
    >>> tables = tables_in_lanes(np.array([table_temperatures(), 2.0 * table_temperatures()]))
    >>> means = side_by_side(1)
    >>> fill_daily_means_in_lanes(np.linspace(0.0, 23.0, 24), tables[0], 1, means)
    >>> means[0, :2].round(9).tolist()
    [11.5, 23.0]
    """
    rows, filled = series(table), series(means)
    for day in range(n_days):
        total = everywhere(0.0)
        for hour in range(24 * day, 24 * day + 24):
            node, short, beyond = _hour_between(temperature_c[hour])
            total += short * load(rows, node) + beyond * load(rows, node + 1)
        store(filled, day, total)


def development_table(species: ParameterSet) -> FloatArray:
    """Return the development rate [degC d per day] by temperature.

    Zero at the base, rising one for one to the lower optimum, level to the upper optimum, then
    falling to zero at the ceiling.
    """
    return _trapezoid_table(
        species.value("development_base"), species.value("development_optimum_low"),
        species.value("development_optimum_high"), species.value("development_ceiling"),
    )  # fmt: skip


def branch_table(species: ParameterSet) -> FloatArray:
    """Return the branching warmth [degC d per day] by temperature."""
    optimum = species.value("branch_optimum")
    return _trapezoid_table(
        species.value("branch_base"), optimum, optimum, species.value("branch_ceiling")
    )


@lru_cache(maxsize=64)
def _trapezoid_table(base: float, optimum: float, high: float, ceiling: float) -> FloatArray:
    """Degrees that count by temperature; every season of a forecast asks for the same."""
    return (optimum - base) * tabulate(lambda t: trapezoid(t, base, optimum, high, ceiling))


def induction_tables(
    base_c: FloatArray, optimum_c: FloatArray, ceiling_c: FloatArray
) -> FloatArray:
    """Return the induction response (0 to 1) by temperature, one row a draw.

    Parameters
    ----------
    base_c, optimum_c, ceiling_c : arrays of shape ``[draws]`` [degC].

    Returns
    -------
    array of shape ``[draws, TABLE_SIZE]``.
    """
    temperatures = table_temperatures()
    tables = np.zeros((len(base_c), TABLE_SIZE))
    # outside every base and ceiling there is nothing to work out
    answers = slice(
        np.searchsorted(temperatures, np.min(base_c)),
        np.searchsorted(temperatures, np.max(ceiling_c), side="right"),
    )
    tables[:, answers] = wang_engel(
        temperatures[answers], base_c[:, None], optimum_c[:, None], ceiling_c[:, None]
    )
    return tables
