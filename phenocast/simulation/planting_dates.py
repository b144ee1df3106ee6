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
from phenocast.simulation.bed_season import BedSeason, bed_season, crown_daily, sprinkling_mm_h
from phenocast.simulation.node_weights import COVER_NODES, N_NODES, SPRINKLED, mix_nodes
from phenocast.simulation.responses import fill_daily_means_in_lanes
from phenocast.simulation.setup import BlockSetup
from phenocast.vector import in_groups, side_by_side
from phenocast.weather import HourlyWeather

Array = NDArray[np.float64]

_CROWN_ROWS = np.array(
    [
        CROWN_DEVELOPMENT,
        CROWN_MEAN,
        CROWN_HEAT_30,
        CROWN_HEAT_33,
        LEAF_WARMTH,
        BRANCH_WARMTH,
        CHILL,
    ]
)
_CROWN_ROWS = _CROWN_ROWS[in_groups(len(_CROWN_ROWS))]


@dataclass(frozen=True)
class NodeBeds:
    """The bed of one film under one course of weather, at every node of cover and film age.

    ``crown`` is ``[ages, nodes, hours]`` [degC] and ``daily`` ``[ages, nodes, N_DAILY, days]``,
    both from ``bed``'s first day on. There is one age for a film that does not age, otherwise the
    film is laid for the first or for the last planting date. ``counted`` ``[nodes, 2]`` holds the
    first day on which each node counts and the day after the last; later days are not a number.
    """

    bed: BedSeason
    crown: Array
    daily: Array
    last_date: date
    counted: NDArray[np.int64]

    @cached_property
    def crown_rows(self) -> Array:
        """Rows of ``daily`` that hang on the crown: ``[groups, ages, nodes, days, LANES]``."""
        n_ages, n_nodes, _, n_days = self.daily.shape
        rows = side_by_side(len(_CROWN_ROWS), n_ages, n_nodes, n_days)
        rows[:] = self.daily[:, :, _CROWN_ROWS].transpose(2, 0, 1, 4, 3)
        return rows

    def newer_share(self, planting: date) -> float:
        """Return how far a planting date lies from the first toward the last (0 to 1)."""
        if len(self.crown) == 1:
            return 0.0
        first = self.bed.days.first_date
        return (planting - first).days / (self.last_date - first).days


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


def node_beds(
    bed: BedSeason, last: date, record: Any, counted: NDArray[np.int64] | None = None
) -> NodeBeds:
    """Run the bed at every node over its span, as far as the node counts.

    Parameters
    ----------
    bed : what drives it, `span_bed`.
    last : latest planting date that will be asked for.
    record : one physics record.
    counted : `phenocast.simulation.node_weights.counted_days` of the planting dates that will be
        asked for; without it every node is run to the last day.
    """
    n_days = bed.days.n_days
    if counted is None:
        counted = np.tile([0, n_days], (N_NODES, 1))
    records = np.array([record], dtype=record.dtype).view(np.recarray)
    ages = [bed.film_age_d]
    first = bed.days.first_date
    if last > first and (record.reflectance_loss > 0.0 or record.emittance_rise > 0.0):
        ages.append(bed.film_age_d - (last - first).days)
    always = sprinkling_mm_h(bed.setup, bed.days, len(bed.weather), days_on=n_days)
    dry = np.zeros(len(bed.weather))
    crowns = np.full((len(ages), N_NODES, len(bed.weather)), np.nan)
    dailies = np.full((len(ages), N_NODES, *bed.air_daily.shape), np.nan)
    for age, film_age_d in enumerate(ages):
        for node, stop in enumerate(counted[:, 1]):
            if stop == 0:
                continue
            at_node = replace(
                bed,
                cover=np.full(len(bed.weather), COVER_NODES[node % SPRINKLED]),
                sprinkling_mm_h=always if node == SPRINKLED else dry,
                film_age_d=film_age_d,
            ).until(int(stop))
            crown, daily, _ = crown_daily(at_node, records)
            crowns[age, node, : crown.shape[1]] = crown[0]
            dailies[age, node, :, :stop] = daily[0]
    return NodeBeds(bed, crowns, dailies, last, counted)


def node_induction(nodes: NodeBeds, tables: Array) -> Array:
    """Return the induction response of every cultivar draw, ``[groups, ages, nodes, days, LANES]``.

    Days on which a node does not count are zero.

    Parameters
    ----------
    nodes : the bed at its nodes.
    tables : ``[groups, TABLE_SIZE, LANES]``, `phenocast.simulation.responses.tables_in_lanes` of
        `phenocast.simulation.responses.induction_tables`.
    """
    n_ages, _, _, n_days = nodes.daily.shape
    responses = side_by_side(len(tables), n_ages, N_NODES, n_days)
    for age in range(n_ages):
        for node, (first, stop) in enumerate(nodes.counted):
            hours = slice(*(nodes.bed.days.first_hour + 24 * day for day in (first, stop)))
            fill_daily_means_in_lanes(
                nodes.crown[age, node, hours], tables, responses[:, age, node, first:stop]
            )
    return responses


def daily_of_planting(nodes: NodeBeds, planting: date, cover: Array, weights: Array) -> Array:
    """Return the daily table of one planting date, ``[N_DAILY, n_days]``, without induction.

    Parameters
    ----------
    nodes : the bed at its nodes.
    planting : the planting date, from the first to the last of the nodes.
    cover : ``[n_days]``, share of the bed top under leaves on each day.
    weights : ``[N_NODES, n_days]``, `phenocast.simulation.node_weights.node_weights` of it.
    """
    offset = (planting - nodes.bed.days.first_date).days
    out = nodes.bed.air_daily[:, offset : offset + len(cover)].copy()
    mixed = side_by_side(len(cover))
    for which, rows in zip(_CROWN_ROWS, nodes.crown_rows, strict=True):
        mix_nodes(rows, weights, nodes.newer_share(planting), offset, mixed)
        out[which] = mixed.T
    out[COVER] = cover
    return out
