"""What the planting dates of a block bring to its plants, one film and course of weather at a time.

The tables of all dates are made once, before any plant is run: every cultivar, transplant type and
draw reads them, and a plant goes through its planting dates while its own tables are at hand.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any, NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from phenocast.harvest.windows import fill_windows
from phenocast.phenology import Work
from phenocast.phenology.daily import N_DAILY
from phenocast.phenology.running_sums import sum_weather
from phenocast.simulation.bed_season import BedSeason, grown_cover
from phenocast.simulation.frost_losses import without_frost
from phenocast.simulation.node_weights import N_NODES, counted_days, node_weights
from phenocast.simulation.planting_dates import NodeBeds, daily_of_planting

Array = NDArray[np.float64]


class DateCovers(NamedTuple):
    """How the bed is covered after each planting date, under one course of weather.

    ``offset`` ``[dates]`` leads from the bed's first day to planting. [d] ``covers`` and
    ``weights`` hold the canopy of each date, ``[n_days]``, and `node_weights` of it; ``counted`` is
    `counted_days` of them all.
    """

    plantings: tuple[date, ...]
    offset: NDArray[np.int64]
    covers: list[Array]
    weights: list[Array]
    counted: NDArray[np.int64]


class DateTables(NamedTuple):
    """The tables of planting dates, one after another in flat arrays, for the kernels.

    ``first_day`` ``[dates + 1]`` counts the days of the dates before; a date has its daily table
    ``[N_DAILY, n_days]`` in ``daily`` from ``N_DAILY * first_day`` on and its node weights
    ``[N_NODES, n_days]`` in ``weights``. ``offset`` [d] leads from the nodes' first day to
    planting, ``newer`` is the share of the newer film; ``weather`` ``[dates, N_WEATHER, places]``
    and ``air_days`` ``[dates, steps]`` are those of `phenocast.phenology.Work`.
    """

    first_day: NDArray[np.int64]
    offset: NDArray[np.int64]
    newer: Array
    daily: Array
    weights: Array
    weather: Array
    air_days: NDArray[np.int64]


def planting_cover(bed: BedSeason, planting: date) -> Array:
    """Return the daily canopy cover of a planting date to the last day of the bed's span."""
    offset = (planting - bed.days.first_date).days
    n_days = bed.days.n_days - offset
    first = bed.days.first_hour + 24 * offset
    hourly = grown_cover(bed.setup.physics, bed.forcing.air_c[first : first + 24 * n_days])
    return np.asarray(hourly.reshape(-1, 24).mean(axis=1), dtype=np.float64)


def date_covers(bed: BedSeason, plantings: Sequence[date]) -> DateCovers:
    """Return how the bed is covered after each planting date: one for all films and draws.

    Parameters
    ----------
    bed : what drives it, `phenocast.simulation.planting_dates.span_bed`.
    plantings : the planting dates, none before the bed's first day.
    """
    sprinkling = bed.setup.block.sprinkling
    sprinkled_days = 0 if sprinkling is None else sprinkling.days
    covers = [planting_cover(bed, planting) for planting in plantings]
    weights = [node_weights(cover, sprinkled_days) for cover in covers]
    offset = np.array([(planting - bed.days.first_date).days for planting in plantings])
    counted = counted_days(zip(offset, weights, strict=True), bed.days.n_days)
    return DateCovers(tuple(plantings), offset, covers, weights, counted)


def date_tables(nodes: NodeBeds, covers: DateCovers, work: Work) -> DateTables:
    """Return the tables of the planting dates on one film and draw of its physics.

    Parameters
    ----------
    nodes : the bed at its nodes.
    covers : `date_covers` under the same weather.
    work : that of the plants, as long as the longest season at least; overwritten.
    """
    dailies = [
        daily_of_planting(nodes, *of_date)
        for of_date in zip(covers.plantings, covers.covers, covers.weights, strict=True)
    ]
    n_dates = len(dailies)
    tables = DateTables(
        first_day=np.cumsum([0, *(daily.shape[1] for daily in dailies)]),
        offset=covers.offset,
        newer=np.array([nodes.newer_share(planting) for planting in covers.plantings]),
        daily=np.concatenate([daily.ravel() for daily in dailies]),
        weights=np.concatenate([weights.ravel() for weights in covers.weights]),
        weather=np.zeros((n_dates, *work.weather.shape)),
        air_days=np.zeros((n_dates, *work.air_days.shape), dtype=np.int64),
    )
    _sum_weather_of_dates(tables, work)
    return tables


def tables_without_frost(tables: DateTables) -> DateTables:
    """Return the same tables without a frost night; what else they hold is shared."""
    spared = tables._replace(daily=tables.daily.copy())
    for number in range(len(tables.offset)):
        first, stop = N_DAILY * tables.first_day[number : number + 2]
        daily = spared.daily[first:stop].reshape(N_DAILY, -1)
        daily[:] = without_frost(daily)
    return spared


@njit(cache=True, nogil=True, error_model="numpy")
def daily_of(tables: DateTables, number: int) -> Any:
    """Return the daily table of a planting date, ``[N_DAILY, n_days]``."""
    first, stop = tables.first_day[number], tables.first_day[number + 1]
    return tables.daily[N_DAILY * first : N_DAILY * stop].reshape(N_DAILY, stop - first)


@njit(cache=True, nogil=True, error_model="numpy")
def weights_of(tables: DateTables, number: int) -> Any:
    """Return what the nodes count on the days of a planting date, ``[N_NODES, n_days]``."""
    first, stop = tables.first_day[number], tables.first_day[number + 1]
    return tables.weights[N_NODES * first : N_NODES * stop].reshape(N_NODES, stop - first)


@njit(cache=True, nogil=True, error_model="numpy")
def work_of(tables: DateTables, number: int, work: Work) -> Any:
    """Return where the kernels read the weather of a planting date and write the plants."""
    return Work(tables.weather[number], tables.air_days[number], work.rows, work.dates)


@njit(cache=True, nogil=True, error_model="numpy")
def _sum_weather_of_dates(tables: DateTables, work: Work) -> None:
    for number in range(tables.offset.shape[0]):
        daily = daily_of(tables, number)
        of_date = work_of(tables, number, work)
        sum_weather(daily, of_date)
        fill_windows(daily.shape[1], of_date)
