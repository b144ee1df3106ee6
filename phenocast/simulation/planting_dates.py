"""Many planting dates from a few runs of the bed.

What a planting date changes in the bed is how much of it leaves cover on each day, which days are
sprinkled, and how old the film is. So the bed is run over the whole span at a few fixed covers, and
once more bare with the sprinklers on; all of it twice for a film that ages, once laid for the first
planting date and once for the last. The daily sums of a planting date are read between the covers
and between the ages. The soil's memory is only roughly kept in this, which moves first pick by less
than a third of a day (see ``tests/simulation/test_planting_dates.py``). Each further date costs
a plant, not a bed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from phenocast.phenology.daily import (
    BRANCH_WARMTH,
    CHILL,
    COVER,
    CROWN_DEVELOPMENT,
    CROWN_HEAT_30,
    CROWN_HEAT_33,
    CROWN_MEAN,
    LEAF_WARMTH,
)
from phenocast.phenology.lanes import (
    everywhere,
    in_groups,
    load,
    row_of,
    series,
    side_by_side,
    store,
)
from phenocast.simulation.bed_season import BedSeason, bed_season, crown_daily, sprinkling_mm_h
from phenocast.simulation.responses import fill_daily_means
from phenocast.simulation.setup import BlockSetup
from phenocast.weather import HourlyWeather

Array = NDArray[np.float64]

# Covers at which the bed is run: denser where the crown changes fastest with cover.
COVER_NODES = (0.05, 0.25, 0.45, 0.70)
SPRINKLED = len(COVER_NODES)
N_NODES = len(COVER_NODES) + 1
# What the soil remembers when the sprinklers stop: share of the wet regime in the crown's first dry
# daily mean, and its decline from day to day. Read off full runs of four films at three dates (0.10
# to 0.28 on the first day, 0.04 to 0.11 on the second); a number of this shortcut alone. On the
# first wet day the dry soil is left out: it would put heat above the threshold where there is none.
MEMORY = 0.2
MEMORY_RATIO = 0.45
MEMORY_DAYS = 20  # by then it is below a millionth

_CROWN_ROWS = (
    CROWN_DEVELOPMENT,
    CROWN_MEAN,
    CROWN_HEAT_30,
    CROWN_HEAT_33,
    LEAF_WARMTH,
    BRANCH_WARMTH,
    CHILL,
)


@dataclass(frozen=True)
class NodeBeds:
    """The bed of one film under one course of weather, at every node of cover and film age.

    ``crown`` is ``[ages, nodes, hours]`` [degC] and ``daily`` ``[ages, nodes, N_DAILY, days]``,
    both from ``first_date`` on; ``first_hour`` is the position of its first hour. There is one age
    for a film that does not age, otherwise the film is laid for the first or for the last planting
    date.
    """

    bed: BedSeason
    crown: Array
    daily: Array
    first_date: date
    last_date: date
    first_hour: int

    @cached_property
    def crown_rows(self) -> Array:
        """What hangs on the crown in ``daily``, side by side: ``[ages, nodes, days, LANES]``."""
        n_ages, n_nodes, _, n_days = self.daily.shape
        rows = side_by_side(n_ages, n_nodes, n_days)
        rows[..., : len(_CROWN_ROWS)] = np.moveaxis(self.daily[:, :, list(_CROWN_ROWS)], 2, -1)
        return rows

    def newer_share(self, planting: date) -> float:
        """Return how far a planting date lies from the first toward the last (0 to 1)."""
        if len(self.crown) == 1:
            return 0.0
        return (planting - self.first_date).days / (self.last_date - self.first_date).days


def span_bed(setup: BlockSetup, weather: HourlyWeather, first: date) -> BedSeason:
    """Return what drives the bed from the first planting date to the block's last day.

    Parameters
    ----------
    setup : the block; its own planting date does not matter, its last day does.
    weather : covers the span.
    first : earliest planting date that will be asked for.

    Raises
    ------
    InputError
        When the weather does not cover the span.
    """
    block = replace(
        setup.block, planting_date=first, season_end=setup.last_day, film_laid=None, canopy=()
    )
    return bed_season(replace(setup, block=block), weather)


def node_beds(bed: BedSeason, last: date, record: Any) -> NodeBeds:
    """Run the bed at every node over its span.

    Parameters
    ----------
    bed : what drives it, `span_bed`.
    last : latest planting date that will be asked for.
    record : one physics record.
    """
    first = bed.days.first_date
    records = np.array([record], dtype=record.dtype).view(np.recarray)
    ages = [bed.film_age_d]
    if last > first and (record.reflectance_loss > 0.0 or record.emittance_rise > 0.0):
        ages.append(bed.film_age_d - (last - first).days)
    always = sprinkling_mm_h(
        bed.setup, bed.days, len(bed.weather), days_on=bed.days.n_days
    )
    dry = np.zeros(len(bed.weather))
    crowns = np.empty((len(ages), N_NODES, len(bed.weather)))
    dailies = np.empty((len(ages), N_NODES, *bed.air_daily.shape))
    for age, film_age_d in enumerate(ages):
        for node in range(N_NODES):
            at_node = replace(
                bed,
                cover=np.full(len(bed.weather), COVER_NODES[node % SPRINKLED]),
                sprinkling_mm_h=always if node == SPRINKLED else dry,
                film_age_d=film_age_d,
            )
            crown, daily, _ = crown_daily(at_node, records)
            crowns[age, node] = crown[0]
            dailies[age, node] = daily[0]
    return NodeBeds(bed, crowns, dailies, first, last, bed.days.first_hour)


@dataclass(frozen=True)
class NodeMix:
    """What each node counts on each day of one planting date: the same for every draw and cultivar.

    ``weights`` is ``[ages, nodes, days]`` and sums to 1 over ages and nodes; ``cover`` is the
    share of the bed top under leaves; ``offset`` the days from the nodes' first day to planting.
    """

    offset: int
    cover: Array
    weights: Array


def node_induction(nodes: NodeBeds, tables: Array) -> Array:
    """Return the induction response of every cultivar draw, ``[groups, ages, nodes, days, LANES]``.

    Draws go side by side as in `phenocast.phenology.lane_records`.

    Parameters
    ----------
    nodes : the bed at its nodes.
    tables : ``[draws, TABLE_SIZE]``, `phenocast.simulation.responses.induction_tables`.
    """
    n_ages, _, _, n_days = nodes.daily.shape
    rows = np.empty((n_ages, N_NODES, n_days, len(tables)))
    hours = slice(nodes.first_hour, nodes.first_hour + 24 * n_days)
    by_node = np.ascontiguousarray(tables.T)
    for age in range(n_ages):
        for node in range(N_NODES):
            fill_daily_means(nodes.crown[age, node, hours], by_node, rows[age, node])
    which = in_groups(len(tables))
    responses = side_by_side(len(which), n_ages, N_NODES, n_days)
    responses[:] = np.moveaxis(rows[..., which], -2, 0)
    return responses


def node_mix(nodes: NodeBeds, planting: date, cover: Array, sprinkled_days: int) -> NodeMix:
    """Return what each node counts on each day of one planting date.

    Parameters
    ----------
    nodes : the bed at its nodes.
    planting : the planting date, from the first to the last of the nodes.
    cover : ``[n_days]``, share of the bed top under leaves on each day.
    sprinkled_days : days from planting on with the sprinklers on.

    Notes
    -----
    A day lies between two covers, between the dry and the sprinkled bed and between two ages of the
    film; the weights are those of reading between each pair on a straight line.
    """
    days = np.arange(len(cover))
    covers = np.array(COVER_NODES)
    low = np.clip(np.searchsorted(covers, cover, side="left") - 1, 0, len(covers) - 2)
    share = np.clip((cover - covers[low]) / (covers[low + 1] - covers[low]), 0.0, 1.0)
    wet = np.where(days < sprinkled_days, 1.0, 0.0)
    if sprinkled_days > 0:
        drying = (days >= sprinkled_days) & (days < sprinkled_days + MEMORY_DAYS)
        wet[drying] = MEMORY * MEMORY_RATIO ** (days[drying] - sprinkled_days)
    weights = np.zeros((N_NODES, len(cover)))
    weights[low, days] = (1.0 - wet) * (1.0 - share)
    weights[low + 1, days] = (1.0 - wet) * share
    weights[SPRINKLED] = wet
    if len(nodes.crown) == 1:
        aged = weights[np.newaxis]
    else:
        newer = nodes.newer_share(planting)
        aged = np.stack([(1.0 - newer) * weights, newer * weights])
    return NodeMix((planting - nodes.first_date).days, cover, aged)


def daily_of_planting(nodes: NodeBeds, mix: NodeMix) -> Array:
    """Return the daily table of one planting date, ``[N_DAILY, n_days]``, without induction.

    Parameters
    ----------
    nodes : the bed at its nodes.
    mix : `node_mix` of the planting date.
    """
    out = nodes.daily[0, 0][:, mix.offset : mix.offset + len(mix.cover)].copy()
    mixed = side_by_side(len(mix.cover))
    mix_nodes(nodes.crown_rows, mix.weights, mix.offset, mixed)
    out[list(_CROWN_ROWS)] = mixed[:, : len(_CROWN_ROWS)].T
    out[COVER] = mix.cover
    return out


@njit(cache=True, nogil=True, error_model="numpy")
def mix_nodes(values: Array, weights: Array, offset: int, out: Array) -> None:
    """Fill daily series ``[days, LANES]`` from their values at the nodes.

    ``values`` is ``[ages, nodes, days of the span, LANES]``; the rest is `NodeMix`.
    """
    n_nodes = weights.shape[1]
    filled = series(out)
    for day in range(weights.shape[2]):
        mixed = everywhere(0.0)
        for age in range(weights.shape[0]):
            for node in range(n_nodes):
                weight = weights[age, node, day]
                if weight > 0.0:  # on most days most nodes count nothing
                    mixed += weight * load(row_of(values, age * n_nodes + node), offset + day)
        store(filled, day, mixed)
