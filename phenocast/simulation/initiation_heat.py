"""What heat took from flower initiation after planting: the same plants with and without it."""

from __future__ import annotations

from typing import Any

import numpy as np

from phenocast._typing import FloatArray
from phenocast.phenology import make_work
from phenocast.phenology.daily import CROWN_HEAT_30
from phenocast.phenology.development import develop_plants
from phenocast.phenology.prefix import sum_weather
from phenocast.phenology.work import FLOWERS_INITIATED, INDUCTION_RESPONSE
from phenocast.simulation.responses import fill_daily_means
from phenocast.vector import in_groups, lane_records

HEAT_DRAWS = 8
"""Draws of a bed that are enough to tell what heat did."""


def initiation_heat(
    crown: FloatArray, daily: FloatArray, tables: FloatArray, plants: np.ndarray[Any, Any]
) -> FloatArray:
    """Return what heat took from each draw, ``[2, draws]``.

    Parameters
    ----------
    crown : array ``[24 * days]`` [degC]
        From the first hour of the planting day on.
    daily : array ``[N_DAILY, days]``
        Daily table of the same bed and days.
    tables : array ``[draws, nodes]``
        Induction response of each draw, `phenocast.simulation.responses.induction_tables`.
    plants : recarray ``[draws]``

    Returns
    -------
    array
        Share of the hours in which the crown is at or above the ceiling of induction, and share of
        the new flowers not initiated; NaN where there would be none without heat. Without heat
        induction goes on above its optimum as at it, and no degree-hours above 30 degC are felt.
    """
    n_draws, n_days = len(plants), daily.shape[1]
    free = np.maximum.accumulate(tables, axis=1)
    stopped = (tables <= 0.0) & (free > 0.0)
    by_node = np.ascontiguousarray(np.concatenate([tables, free, stopped]).T, dtype=np.float64)
    means = np.empty((n_days, by_node.shape[1]))
    fill_daily_means(np.ascontiguousarray(crown), by_node, means)
    without = daily.copy()
    without[CROWN_HEAT_30] = 0.0
    felt = _initiated(np.ascontiguousarray(daily), means[:, :n_draws], plants)
    cool = _initiated(without, means[:, n_draws : 2 * n_draws], plants)
    lost = 1.0 - np.divide(felt, cool, out=np.full(n_draws, np.nan), where=cool > 0.0)
    return np.array([means[:, 2 * n_draws :].mean(axis=0), lost])


def _initiated(daily: FloatArray, response: FloatArray, plants: np.ndarray[Any, Any]) -> FloatArray:
    """Flowers that each draw initiates over the days of a table."""
    n_days = daily.shape[1]
    work = make_work(n_days)
    sum_weather(daily, work)
    flowers = np.empty(len(plants))
    for which, group in zip(in_groups(len(plants)), lane_records(plants), strict=True):
        work.rows[INDUCTION_RESPONSE, :n_days] = response[:, which]
        develop_plants(daily, True, True, group, work)
        flowers[which] = work.rows[FLOWERS_INITIATED, :n_days].sum(axis=0)
    return flowers
