"""Many planting dates from a few runs of the bed.

What a planting date changes in the bed is how much of it leaves cover on each day, and which days
are sprinkled. So the bed is run over the whole span at a few fixed covers, and once more bare with
the sprinklers on; the daily sums of a planting date are read between the covers. The soil's memory
of another cover is lost in this, which moves first pick by less than a third of a day (see
``tests/simulation/test_planting_dates.py``). Each further date costs a plant, not a bed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
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
    INDUCTION_RESPONSE,
    LEAF_WARMTH,
    N_DAILY,
)
from phenocast.simulation.bed_season import BedSeason, bed_season, crown_daily, sprinkling_mm_h
from phenocast.simulation.daily_sums import fill_induction
from phenocast.simulation.setup import BlockSetup
from phenocast.weather import HourlyWeather

Array = NDArray[np.float64]

# Covers at which the bed is run: denser where the crown changes fastest with cover.
COVER_NODES = (0.05, 0.25, 0.45, 0.70)
SPRINKLED = len(COVER_NODES)
N_NODES = len(COVER_NODES) + 1

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


@dataclass(frozen=True)
class NodeBeds:
    """The bed of one film under one course of weather, at every node of cover.

    ``crown`` is ``[nodes, hours]`` [degC] and ``daily`` ``[nodes, N_DAILY, days]``, both from
    ``first_date`` on; ``first_hour`` is the position of its first hour.
    """

    bed: BedSeason
    crown: Array
    daily: Array
    first_date: date
    first_hour: int


def node_beds(
    setup: BlockSetup, weather: HourlyWeather, first_planting: date, record: Any
) -> NodeBeds:
    """Run the bed at every node over the span from the first planting date to the last day.

    Parameters
    ----------
    setup : the block; its own planting date does not matter.
    weather : covers the span.
    first_planting : earliest planting date that will be asked for.
    record : one physics record.
    """
    block = replace(setup.block, planting_date=first_planting, season_end=setup.last_day)
    whole = replace(setup, block=replace(block, sprinkling=None, canopy=()))
    bed = bed_season(whole, weather)
    records = np.array([record], dtype=record.dtype).view(np.recarray)
    crowns, dailies = [], []
    for node in range(N_NODES):
        cover = COVER_NODES[node] if node < SPRINKLED else COVER_NODES[0]
        water = bed.sprinkling_mm_h
        if node == SPRINKLED:
            always = setup.block.sprinkling
            water = water if always is None else _every_day(setup, bed)
        at_node = replace(bed, cover=np.full(len(bed.weather), cover), sprinkling_mm_h=water)
        crown, daily, _ = crown_daily(at_node, records)
        crowns.append(crown[0])
        dailies.append(daily[0])
    return NodeBeds(
        bed, np.stack(crowns), np.stack(dailies), first_planting, bed.days.first_hour
    )


def node_induction(nodes: NodeBeds, table: Array) -> Array:
    """Return the induction response of every node and day, ``[nodes, days]``, for one cultivar draw."""
    rows = np.empty((N_NODES, nodes.daily.shape[2]))
    scratch = np.zeros((N_DAILY, nodes.daily.shape[2]))
    for node in range(N_NODES):
        fill_induction(nodes.crown[node], nodes.first_hour, table, scratch)
        rows[node] = scratch[INDUCTION_RESPONSE]
    return rows


def daily_of_planting(
    nodes: NodeBeds, induction: Array, planting: date, n_days: int, cover: Array, sprinkled_days: int
) -> Array:
    """Return the daily table of one planting date, ``[N_DAILY, n_days]``.

    Parameters
    ----------
    nodes : the bed at its nodes.
    induction : ``[nodes, days]``, `node_induction`.
    planting : the planting date.
    n_days : days to follow.
    cover : ``[n_days]``, share of the bed top under leaves on each day.
    sprinkled_days : days from planting on with the sprinklers on.
    """
    offset = (planting - nodes.first_date).days
    out = nodes.daily[0][:, offset : offset + n_days].copy()
    mix_nodes(
        nodes.daily, induction, np.array(COVER_NODES), _CROWN_ROWS, offset, cover, sprinkled_days, out
    )
    return out


@njit(cache=True, nogil=True, error_model="numpy")
def mix_nodes(daily, induction, covers, rows, offset, cover, sprinkled_days, out):  # type: ignore[no-untyped-def]
    """Fill the crown's rows of ``out`` by reading between the two covers around each day's."""
    last = covers.shape[0] - 1
    for day in range(out.shape[1]):
        low = 0
        while low < last - 1 and cover[day] > covers[low + 1]:
            low += 1
        share = (cover[day] - covers[low]) / (covers[low + 1] - covers[low])
        share = min(max(share, 0.0), 1.0)
        high = low + 1
        if day < sprinkled_days:
            low = high = last + 1
            share = 0.0
        at = offset + day
        for k in range(rows.shape[0]):
            row = rows[k]
            out[row, day] = daily[low, row, at] + share * (
                daily[high, row, at] - daily[low, row, at]
            )
        out[INDUCTION_RESPONSE, day] = induction[low, at] + share * (
            induction[high, at] - induction[low, at]
        )
        out[COVER, day] = cover[day]


def _every_day(setup: BlockSetup, bed: BedSeason) -> Array:
    return sprinkling_mm_h(setup, bed.days, len(bed.weather), days_on=bed.days.n_days)
