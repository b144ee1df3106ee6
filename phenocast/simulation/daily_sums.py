"""From hourly temperatures to daily response sums: the rows that the biology reads.

Rows that depend only on the air and the sun are filled once for a season; rows that depend on
the crown are filled for every physics draw.  See :mod:`phenocast.phenology.daily` for the rows.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from phenocast._typing import FloatArray
from phenocast.phenology.daily import (
    AIR_DEVELOPMENT,
    AIR_HEAT_27,
    AIR_MEAN,
    BRANCH_WARMTH,
    CHILL,
    COVER,
    CROWN_DEVELOPMENT,
    CROWN_HEAT_30,
    CROWN_HEAT_33,
    CROWN_MEAN,
    FLOWER_MIN,
    INDUCTION_RESPONSE,
    LEAF_WARMTH,
    N_DAILY,
    PHOTOPERIOD,
    SOLAR,
)
from phenocast.simulation.responses import fill_daily_means, look_up

# Rows that only the report reads: what the bed felt, day by day.
(
    BED_CROWN_MEAN,
    BED_CROWN_MAX,
    BED_CROWN_HOURS_30,
    BED_CROWN_HEAT_30,
    BED_SOIL_MEAN,
    BED_SOIL_MAX,
    N_BED_DAILY,
) = range(7)

_MJ_PER_W_HOUR = 0.0036


def _by_day(hourly: FloatArray, first_hour: int, n_days: int) -> FloatArray:
    return np.asarray(hourly[first_hour : first_hour + 24 * n_days]).reshape(n_days, 24)


def daily_minimum(hourly: FloatArray, first_hour: int, n_days: int) -> FloatArray:
    """Return the lowest value of each day, ``[days]``."""
    return np.asarray(_by_day(hourly, first_hour, n_days).min(axis=1))


def air_rows(
    air_c: FloatArray,
    solar_w_m2: FloatArray,
    flower_min_c: FloatArray,
    cover: FloatArray,
    photoperiod_h: FloatArray,
    development: FloatArray,
    fruit_heat_threshold_c: float,
    first_hour: int,
    n_days: int,
) -> FloatArray:
    """Return a daily table with the rows that do not depend on the crown.

    Parameters
    ----------
    air_c, solar_w_m2, cover : hourly arrays ``[hours]`` [degC, W m-2, 0 to 1].
    flower_min_c : daily array ``[days]``, lowest temperature of an open flower. [degC]
    photoperiod_h : daily array ``[days]`` [h].
    development : table of the development rate (:func:`development_table`).
    fruit_heat_threshold_c : air temperature above which heat harms fruit set [degC].
    first_hour, n_days : the days inside the hourly arrays.

    Returns
    -------
    array ``[N_DAILY, days]``; the crown's rows are zero.
    """
    air = _by_day(air_c, first_hour, n_days)
    daily = np.zeros((N_DAILY, n_days))
    rate = np.empty((n_days, 1))
    fill_daily_means(np.ascontiguousarray(air).ravel(), development[:, None], rate)
    daily[AIR_DEVELOPMENT] = rate[:, 0]
    daily[AIR_HEAT_27] = np.maximum(air - fruit_heat_threshold_c, 0.0).sum(axis=1)
    daily[AIR_MEAN] = air.mean(axis=1)
    daily[SOLAR] = _by_day(solar_w_m2, first_hour, n_days).sum(axis=1) * _MJ_PER_W_HOUR
    daily[FLOWER_MIN] = flower_min_c
    daily[COVER] = _by_day(cover, first_hour, n_days).mean(axis=1)
    daily[PHOTOPERIOD] = photoperiod_h
    return daily


@njit(cache=True, nogil=True, error_model="numpy")
def fill_crown_rows(  # type: ignore[no-untyped-def]
    crown, soil_10, first_hour, development, branch, limits, daily, bed
):
    """Fill the rows of ``daily`` and ``bed`` that depend on the crown.

    ``crown`` and ``soil_10`` are hourly [degC]; ``limits`` holds, in this order, the first and
    second heat thresholds, the leaf base and cap and the lower and upper bound of chilling
    [degC]; ``daily`` is ``[N_DAILY, days]`` and ``bed`` is ``[N_BED_DAILY, days]``.
    """
    heat_30, heat_33, leaf_base, leaf_cap, chill_low, chill_high = limits
    n_days = daily.shape[1]
    for day in range(n_days):
        start = first_hour + 24 * day
        total = 0.0
        warmest = -1e9
        rate = 0.0
        branching = 0.0
        heat = 0.0
        strong_heat = 0.0
        hours_hot = 0.0
        leaf = 0.0
        chill = 0.0
        soil_total = 0.0
        soil_warmest = -1e9
        for hour in range(start, start + 24):
            t = crown[hour]
            s = soil_10[hour]
            total += t
            soil_total += s
            if t > warmest:
                warmest = t
            if s > soil_warmest:
                soil_warmest = s
            rate += look_up(development, t)
            branching += look_up(branch, t)
            if t > heat_30:
                heat += t - heat_30
                hours_hot += 1.0
                if t > heat_33:
                    strong_heat += t - heat_33
            mixed = 0.5 * (t + s)
            if mixed > leaf_cap:
                mixed = leaf_cap
            if mixed > leaf_base:
                leaf += mixed - leaf_base
            if chill_low <= t <= chill_high:
                chill += 1.0
        daily[CROWN_DEVELOPMENT, day] = rate / 24.0
        daily[BRANCH_WARMTH, day] = branching / 24.0
        daily[CROWN_MEAN, day] = total / 24.0
        daily[CROWN_HEAT_30, day] = heat
        daily[CROWN_HEAT_33, day] = strong_heat
        daily[LEAF_WARMTH, day] = leaf / 24.0
        daily[CHILL, day] = chill
        bed[BED_CROWN_MEAN, day] = total / 24.0
        bed[BED_CROWN_MAX, day] = warmest
        bed[BED_CROWN_HOURS_30, day] = hours_hot
        bed[BED_CROWN_HEAT_30, day] = heat
        bed[BED_SOIL_MEAN, day] = soil_total / 24.0
        bed[BED_SOIL_MAX, day] = soil_warmest


@njit(cache=True, nogil=True, error_model="numpy")
def fill_induction(
    crown: FloatArray, first_hour: int, table: FloatArray, daily: FloatArray
) -> None:
    """Fill the induction row of ``daily`` (0 to 1) from hourly crown temperature [degC]."""
    for day in range(daily.shape[1]):
        start = first_hour + 24 * day
        total = 0.0
        for hour in range(start, start + 24):
            total += look_up(table, crown[hour])
        daily[INDUCTION_RESPONSE, day] = total / 24.0
