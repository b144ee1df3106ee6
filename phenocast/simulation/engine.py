"""The one engine: blocks that share a bed, under the weather traces of a site.

A forecast, a comparison, a look back, a plan of labour and a heat scenario are maps over
`run_blocks`. A bed is run once for all its blocks, and the beds of a site go side by side. Daily
series of the plants are summed while they run, and none is kept.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from phenocast._parallel import in_order
from phenocast._typing import FloatArray
from phenocast.harvest.weeks import week_labels
from phenocast.parameters import ParameterSet
from phenocast.phenology import Work, make_work
from phenocast.phenology.daily import AIR_DEVELOPMENT, FLOWER_MIN
from phenocast.phenology.work import (
    N_DATES,
)
from phenocast.season import Block
from phenocast.simulation.bed import BedSeason, SiteWeather, bed_hours, bed_season, daily_tables
from phenocast.simulation.draws import run_draws
from phenocast.simulation.frost import FrostNights, frost_nights, lost_by_night, without_frost
from phenocast.simulation.initiation_heat import HEAT_DRAWS, initiation_heat
from phenocast.simulation.responses import tables_in_lanes
from phenocast.simulation.season_effects import SeasonEffects, moved_dates
from phenocast.simulation.setup import BlockSetup, heat_limits
from phenocast.vector import (
    in_groups,
    lane_records,
    side_by_side,
)

DRAWS_TOGETHER = 8
"""Draws that share a bed where there are many, whatever `LANES` is."""
BEDS_TOGETHER = 16
"""Beds of one course of weather that a worker runs at once: their hourly crowns fill 4 MB."""


@dataclass(frozen=True)
class DrawnBlock:
    """A block with the draws of what is not known about it.

    Parameters
    ----------
    setup : BlockSetup
    plants : recarray ``[draws]``
    tables : array ``[draws, nodes]``
        Induction responses, `phenocast.simulation.responses.induction_tables`.
    physics : recarray ``[traces * physics_each]``
        Draws of film, soil and bed, those of one trace after another.
    physics_each : int
    effects : SeasonEffects, optional
        Of season and block, ``[traces, draws]``.
    state_at : tuple of float
        Times since planting at which the state of every draw is asked for. [d]
    """

    setup: BlockSetup
    plants: np.recarray[Any, Any]
    tables: FloatArray
    physics: np.recarray[Any, Any]
    physics_each: int
    effects: SeasonEffects | None = None
    state_at: tuple[float, ...] = ()

    def physics_of(self, trace: int) -> np.recarray[Any, Any]:
        """Return the physics records of one trace."""
        start = trace * self.physics_each
        part: np.recarray[Any, Any] = self.physics[start : start + self.physics_each].view(
            np.recarray
        )
        return part


@dataclass(frozen=True)
class PlantStates:
    """What the plants of a block are like at the times asked for, ``[traces, draws, times]``.

    Parameters
    ----------
    open_flowers : flowers that open on the day, per living plant. [d-1]
    green_fruit : fruit set and not yet ripe, per living plant.
    marketable_g : marketable fruit so far. [g per plant set]
    """

    open_flowers: FloatArray
    green_fruit: FloatArray
    marketable_g: FloatArray

    def at(self, times: slice) -> PlantStates:
        """Return the states at some of the times."""
        return PlantStates(
            self.open_flowers[..., times], self.green_fruit[..., times],
            self.marketable_g[..., times],
        )  # fmt: skip


@dataclass(frozen=True)
class BlockSeasons:
    """One block under every weather trace and draw.

    Parameters
    ----------
    dates : array ``[traces, draws, N_DATES]``
        Days since planting, infinite where not reached. [d]
    weeks : tuple of str
        ISO weeks from planting to the last day.
    weekly_g, spared_g : arrays ``[traces, draws, weeks]`` of float32
        Marketable fruit as the block is protected from frost, and without frost nights: the same
        array where there is none. [g per plant]
    early_g : array ``[traces, draws]``
        Fruit up to the day that counts as early. [g per plant]
    bed : array ``[traces, physics draws, N_BED_DAILY, days]`` of float32
        Crown and soil, day by day; blocks that share a bed share it.
    frost : FrostNights
    initiation_heat : array ``[2, traces, some draws]``
        `phenocast.simulation.initiation_heat.initiation_heat`.
    states : PlantStates
    """

    dates: FloatArray
    weeks: tuple[str, ...]
    weekly_g: NDArray[np.float32]
    spared_g: NDArray[np.float32]
    early_g: FloatArray
    bed: NDArray[np.float32]
    frost: FrostNights
    initiation_heat: FloatArray
    states: PlantStates


def bed_key(block: Block) -> Block:
    """Return a block of which only what its bed feels is left: blocks with equal keys share one."""
    return replace(
        block, name="", cultivar="", transplant="", plants_per_ha=1.0, area_ha=1.0,
        season_end=None, first_pick_g_per_plant=1.0, canopy_file=None,
    )  # fmt: skip


def draws_of_physics(draws: int, each: int) -> list[slice]:
    """Return which draws of the plant each physics draw of a trace has: as many, or nearly.

    Where they are many, the parts end where lanes do: a last group of eight that is half empty
    costs as much as a full one.

    >>> draws_of_physics(100, 2), draws_of_physics(10, 2)
    ([slice(0, 48, None), slice(48, 100, None)], [slice(0, 5, None), slice(5, 10, None)])
    """
    unit = DRAWS_TOGETHER if draws >= 4 * DRAWS_TOGETHER * each else 1
    ends = [unit * round(draws * number / (each * unit)) for number in range(each)] + [draws]
    return [slice(first, stop) for first, stop in pairwise(ends)]


def run_blocks(
    blocks: Sequence[DrawnBlock],
    traces: Sequence[SiteWeather],
    *,
    early_days: Sequence[int],
    detailed: bool = True,
    first: int = 0,
    executor: Executor | None = None,
) -> Iterator[tuple[int, BlockSeasons]]:
    """Run the blocks of a site under its weather traces.

    Parameters
    ----------
    blocks : sequence of DrawnBlock
        With as many draws each.
    traces : sequence of SiteWeather
        Cover the days of every block.
    early_days : sequence of int
        Of each block, days after planting whose fruit counts as early; 0 or less for none.
    detailed : bool
        Whether the losses of each frost night and what heat does to initiation are wanted, and
        flowers that cannot be ripe in the season are followed.
    first : int
        Block that is wanted before all others.
    executor : Executor, optional
        Where the work is done; by default threads, `phenocast._parallel.worker_count`.

    Yields
    ------
    number, seasons : int, BlockSeasons
        Of every block once, those of one bed after another.

    Raises
    ------
    InputError
        When the weather does not cover a block's days.
    """
    groups: dict[Block, list[int]] = {}
    for number, block in enumerate(blocks):
        groups.setdefault(bed_key(block.setup.block), []).append(number)
    order = sorted(
        groups.values(),
        key=lambda numbers: (first not in numbers, blocks[numbers[0]].setup.block.planting_date),
    )
    chunks = [order[at : at + BEDS_TOGETHER] for at in range(0, len(order), BEDS_TOGETHER)]
    laid: dict[int, list[FloatArray]] = {}
    plans = [_plan(block, early, laid) for block, early in zip(blocks, early_days, strict=True)]
    tasks = (
        ([[plans[number] for number in numbers] for numbers in chunk], number, trace, detailed)
        for chunk in chunks
        for number, trace in enumerate(traces)
    )
    made = in_order(_run_chunk, tasks, executor)
    for chunk in chunks:
        of_traces = [next(made) for _ in traces]
        beds: dict[tuple[int, ...], NDArray[np.float32]] = {}
        for place, number in enumerate(number for numbers in chunk for number in numbers):
            yield number, _joined(plans[number], [one[place] for one in of_traces], beds)


class _Plan(NamedTuple):
    """A block made ready for the kernels: its plants side by side, and what is asked of them.

    ``parts`` are the draws of each physics draw. ``times`` ends each ISO week, after the planting,
    and then the days that count as early. [d]
    """

    block: DrawnBlock
    parts: list[slice]
    plants: list[Any]
    tables: list[FloatArray]
    weeks: tuple[str, ...]
    times: FloatArray
    daily_key: tuple[float, ...]


def _plan(block: DrawnBlock, early_days: int, laid: dict[int, Any]) -> _Plan:
    """Make a block ready; blocks with the same plants or tables share what is ``laid`` already."""
    n_days = block.setup.n_days
    parts = draws_of_physics(len(block.plants), block.physics_each)
    if id(block.plants) not in laid:
        laid[id(block.plants)] = [lane_records(block.plants[part]) for part in parts]
    if id(block.tables) not in laid:
        laid[id(block.tables)] = [tables_in_lanes(block.tables[part]) for part in parts]
    weeks, week_of_day = week_labels(block.setup.block.planting_date, n_days)
    edges = np.searchsorted(week_of_day, np.arange(len(weeks) + 1))
    times = np.append(edges, np.clip(early_days, 0, n_days)).astype(np.float64)
    return _Plan(
        block, parts, laid[id(block.plants)], laid[id(block.tables)], tuple(weeks), times,
        (n_days, *felt_alike(block.setup.cultivar)),
    )  # fmt: skip


class _OfTrace(NamedTuple):
    """A block under one trace; the fields of `BlockSeasons` without their first axis."""

    dates: FloatArray
    weekly_g: NDArray[np.float32]
    spared_g: NDArray[np.float32]
    early_g: FloatArray
    bed: NDArray[np.float32]
    frost: tuple[FloatArray, FloatArray, float, FloatArray, FloatArray]
    initiation_heat: FloatArray
    states: FloatArray


def _run_chunk(
    groups: Sequence[Sequence[_Plan]], number: int, trace: SiteWeather, detailed: bool
) -> list[_OfTrace]:
    """Run groups of blocks that share a bed under one trace, one after another."""
    setups = [max((plan.block.setup for plan in group), key=lambda one: one.n_days)
              for group in groups]  # fmt: skip
    beds = [bed_season(setup, trace) for setup in setups]
    hours = bed_hours(beds, [group[0].block.physics_of(number) for group in groups])
    work = make_work(max(setup.n_days for setup in setups))
    made = []
    for group, bed, (crown, soil) in zip(groups, beds, hours, strict=True):
        tables: dict[tuple[float, ...], tuple[FloatArray, NDArray[np.float32]]] = {}
        for plan in group:
            setup = plan.block.setup
            if plan.daily_key not in tables:
                daily, of_bed = daily_tables(bed, crown, soil, setup.cultivar, setup.n_days)
                tables[plan.daily_key] = daily, of_bed.astype(np.float32)
            own = crown[:, bed.days.first_hour :][:, : 24 * setup.n_days]
            made.append(_grow(plan, number, bed, own, *tables[plan.daily_key], work, detailed))
    return made


def _grow(
    plan: _Plan, number: int, bed: BedSeason, crown_c: FloatArray, daily: FloatArray,
    of_bed: NDArray[np.float32], work: Work, detailed: bool,
) -> _OfTrace:  # fmt: skip
    """Grow every draw of a block on its bed under one trace."""
    block, cultivar = plan.block, plan.block.setup.cultivar
    n_draws, n_days = len(block.plants), daily.shape[2]
    effects = block.effects
    late = np.zeros(n_draws) if effects is None else effects.late[number]
    flower_min = daily[0, FLOWER_MIN]
    freezes = bool(frost_nights(flower_min).any())
    minima = flower_min[None]
    if freezes:
        minima = np.stack([flower_min, without_frost(daily[0])[FLOWER_MIN]])
    dates = np.empty((n_draws, N_DATES))
    fruit = np.empty((len(minima), n_draws, len(plan.times) + 1))
    states = np.empty((3, n_draws, len(block.state_at)))
    flowers = np.empty(n_draws)
    nights = np.empty((2, n_draws if freezes and detailed else 0, n_days))
    for physics, part in enumerate(plan.parts):
        later = side_by_side(len(plan.plants[physics]))
        later[:] = late[part][in_groups(part.stop - part.start)]
        run_draws(
            daily[physics],
            minima,
            detailed or len(block.state_at) > 0,
            np.ascontiguousarray(crown_c[physics]),
            plan.tables[physics],
            plan.plants[physics],
            later,
            float(block.setup.block.first_pick_g_per_plant),
            plan.times,
            np.array(block.state_at, dtype=np.float64),
            work,
            dates[part],
            fruit[:, part],
            states[:, part],
            flowers[part],
            nights[:, part],
        )
    lost = np.zeros((2, n_days))
    if len(nights[0]):
        air = daily[0, AIR_DEVELOPMENT]
        lost[:] = lost_by_night(nights[0], nights[1], flower_min, air, block.plants)
        # what the plants lose in truth, shared out between the nights
        if (by_nights := lost[1].sum()) > 0.0:
            lost[1] *= (fruit[1, :, -1] - fruit[0, :, -1]).mean() / by_nights
    if effects is not None:
        dates = moved_dates(dates, late, n_days)
        fruit *= effects.level[number][:, None]
        states[2] *= effects.level[number][:, None]
    weekly = np.diff(fruit[:, :, : len(plan.weeks) + 1]).astype(np.float32)
    as_protected = weekly[0]
    heat = np.empty((2, 0))
    if detailed:
        days = min(int(cultivar.value("initiation_heat_days")), n_days)
        # the draws of the first bed tell enough of what heat did to initiation
        heat = initiation_heat(
            crown_c[0, : 24 * days], daily[0, :, :days],
            *(one[plan.parts[0]][:HEAT_DRAWS] for one in (block.tables, block.plants)),
        )  # fmt: skip
    return _OfTrace(
        dates=dates,
        weekly_g=as_protected,
        spared_g=weekly[1] if freezes else as_protected,
        early_g=fruit[0, :, len(plan.times) - 1],
        bed=of_bed,
        frost=(bed.bare_flower_min[:n_days], flower_min, float(flowers.mean()), *lost),
        initiation_heat=heat,
        states=states,
    )


def _joined(
    plan: _Plan, traces: Sequence[_OfTrace], beds: dict[tuple[int, ...], NDArray[np.float32]]
) -> BlockSeasons:
    """Put the traces of a block together; ``beds`` holds those that other blocks share."""
    key = tuple(id(one.bed) for one in traces)
    if key not in beds:
        beds[key] = np.stack([one.bed for one in traces])
    weekly = np.stack([one.weekly_g for one in traces])
    freezes = any(one.spared_g is not one.weekly_g for one in traces)
    return BlockSeasons(
        dates=np.stack([one.dates for one in traces]),
        weeks=plan.weeks,
        weekly_g=weekly,
        spared_g=np.stack([one.spared_g for one in traces]) if freezes else weekly,
        early_g=np.stack([one.early_g for one in traces]),
        bed=beds[key],
        frost=FrostNights(*(np.array(part) for part in zip(*(one.frost for one in traces),
                                                            strict=True))),
        initiation_heat=np.stack([one.initiation_heat for one in traces], axis=1),
        states=PlantStates(*np.stack([one.states for one in traces], axis=1)),
    )  # fmt: skip


def felt_alike(cultivar: ParameterSet) -> tuple[float, ...]:
    """Return what two cultivars have alike where their plants feel a bed in the same way."""
    names = (
        "photoperiod_sun_angle", "night_break_shortest", "fruit_heat_threshold",
        "development_base", "development_optimum_low", "development_optimum_high",
        "development_ceiling", "branch_base", "branch_optimum", "branch_ceiling",
    )  # fmt: skip
    return (*heat_limits(cultivar), *(cultivar.value(name) for name in names))
