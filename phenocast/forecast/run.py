"""A forecast: every block of a season, over possible futures and over what is not known."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from phenocast.errors import Fault, InputError, cautions_first
from phenocast.forecast.advice import block_warnings, season_warnings
from phenocast.forecast.draws import BlockDraws, block_draws, with_buds, with_nursery
from phenocast.forecast.field_spread import (
    FieldEffects,
    field_effects,
    moved_dates,
    moved_fruit,
    words_of,
)
from phenocast.forecast.frost import FrostOfBlock, frost_warnings
from phenocast.forecast.futures import Futures, futures_of
from phenocast.forecast.result import BlockForecast, SeasonForecast
from phenocast.forecast.season_end import fruit_by_week, season_end
from phenocast.phenology.work import N_DATES
from phenocast.season import Season
from phenocast.simulation.bed_season import bed_season, crown_daily, spin_up_start
from phenocast.simulation.daily_sums import N_BED_DAILY
from phenocast.simulation.initiation_heat import HEAT_DRAWS, initiation_heat
from phenocast.simulation.many import DrawnSeasons, drawn_seasons
from phenocast.simulation.setup import BlockSetup, block_setup
from phenocast.weather import HourlyWeather, SeasonWeather

Array = NDArray[np.float64]
Progress = Callable[[int, int, str], None]


@dataclass(frozen=True)
class _Task:
    """One block under one future."""

    block: int
    future: int


@dataclass(frozen=True)
class _Room:
    """Where the futures of one block go; see `BlockForecast`."""

    dates: Array
    marketable: NDArray[np.float32]
    bed: NDArray[np.float32]
    initiation_heat: Array
    frost: FrostOfBlock

    @classmethod
    def of(cls, setup: BlockSetup, futures: int, draws: BlockDraws) -> _Room:
        """Return room for a block."""
        plants, days = len(draws.plants), setup.n_days
        return cls(
            np.empty((futures, plants, N_DATES)),
            np.empty((futures, plants, days), dtype=np.float32),
            np.empty((futures, draws.physics_each, N_BED_DAILY, days), dtype=np.float32),
            np.empty((2, futures, len(range(0, plants, draws.physics_each)[:HEAT_DRAWS]))),
            FrostOfBlock.room(futures, plants, days),
        )


def run_forecast(
    season: Season,
    weather: SeasonWeather,
    *,
    issue_date: date,
    draws: int = 200,
    seed: int = 0,
    progress: Progress | None = None,
) -> SeasonForecast:
    """Forecast every block of a season.

    Parameters
    ----------
    season : Season
    weather : SeasonWeather
        What the season file names, as hourly tables.
    issue_date : date
        Last local day whose observed weather is used.
    draws : int
        Draws of what is not known about the plant, for each possible future.
    seed : int
        One seed for every draw; the same seed gives the same forecast to the last digit.
    progress : callable, optional
        Called with what is done, what there is to do and what is being done.

    Raises
    ------
    InputError
        When the season has no blocks, or the weather does not cover a block.
    NoAnswerError
        When the weather ends before the season does and there are no past years.
    """
    if not season.blocks:
        raise InputError(Fault("the season has no block", where=season.source_name))
    setups = [block_setup(season, block) for block in season.blocks]
    start = min(spin_up_start(setup) for setup in setups)
    end = max(setup.last_day for setup in setups)
    planted = min(setup.block.planting_date for setup in setups)
    futures = futures_of(weather, season.site, start, end, issue_date, planted)
    draw_sets = [
        with_nursery(
            block_draws(setup, len(futures.futures), draws, seed), season, setup, weather.nursery
        )
        for setup in setups
    ]
    effects = [
        field_effects(setup.cultivar, setup.block.name, len(futures.futures), draws, seed)
        for setup in setups
    ]
    tasks = [_Task(b, f) for b in range(len(setups)) for f in range(len(futures.futures))]
    rooms = [
        _Room.of(setup, len(futures.futures), drawn)
        for setup, drawn in zip(setups, draw_sets, strict=True)
    ]
    _run_all(tasks, setups, draw_sets, effects, futures, rooms, progress)
    blocks = []
    for setup, drawn, effect, room in zip(setups, draw_sets, effects, rooms, strict=True):
        told = block_warnings(season, setup)
        weeks, weekly = fruit_by_week(setup.block.planting_date, room.marketable)
        ending = season_end(
            setup.cultivar, setup.block.season_end, setup.last_day,
            weekly.reshape(-1, len(weeks)), weeks,
        )  # fmt: skip
        ended = ending.cut(setup)
        blocks.append(
            BlockForecast(
                setup=ended,
                dates=np.where(room.dates < ended.n_days, room.dates, np.inf),
                marketable_g=room.marketable[..., : ended.n_days],
                bed=room.bed[..., : ended.n_days],
                warnings=told if effect is None else (*told, words_of(effect)),
                arrived_with_buds=with_buds(drawn.plants),
                initiation_heat=room.initiation_heat,
                season_end=ending,
                effects=effect,
                frost=room.frost.cut(ended.n_days),
            )
        )
    return SeasonForecast(
        season=season,
        issue_date=issue_date,
        draws=draws,
        seed=seed,
        futures=futures,
        blocks=tuple(blocks),
        warnings=cautions_first(
            [
                *frost_warnings([(one.setup.block, one.frost, one.marketable_g) for one in blocks]),
                *season_warnings(season, weather, futures, issue_date),
            ]
        ),
    )


def _run_all(
    tasks: Sequence[_Task],
    setups: Sequence[BlockSetup],
    draw_sets: Sequence[BlockDraws],
    effects: Sequence[FieldEffects | None],
    futures: Futures,
    rooms: Sequence[_Room],
    progress: Progress | None,
) -> None:
    def run(task: _Task) -> None:
        _run_one(
            setups[task.block],
            draw_sets[task.block],
            effects[task.block],
            task.future,
            futures.futures[task.future].weather,
            rooms[task.block],
        )

    # The first task compiles the kernels; only then do the threads start.
    run(tasks[0])
    with ThreadPoolExecutor(max_workers=max(1, os.cpu_count() or 1)) as pool:
        for done, _ in enumerate(pool.map(run, tasks[1:]), start=2):
            if progress is not None:
                progress(done, len(tasks), setups[tasks[done - 1].block].block.name)


def _run_one(
    setup: BlockSetup,
    draws: BlockDraws,
    effects: FieldEffects | None,
    future: int,
    weather: HourlyWeather,
    room: _Room,
) -> None:
    bed = bed_season(setup, weather)
    crown, daily, bed_daily = crown_daily(bed, draws.physics_of(future))

    def grown(on: Array) -> DrawnSeasons:
        return drawn_seasons(
            crown,
            on,
            bed.days.first_hour,
            draws.tables,
            draws.plants,
            setup.block.first_pick_g_per_plant,
        )

    seasons = grown(daily)
    spared = room.frost.fill(future, bed, draws.plants, daily, seasons, grown)
    dates, fruit = seasons.dates, [seasons.marketable, spared.marketable]
    if effects is not None:
        late, level = effects.late[future], effects.level[future]
        dates = moved_dates(dates, late, setup.n_days)
        fruit = [level[:, None] * moved_fruit(one, late) for one in fruit]
    room.dates[future] = dates
    room.marketable[future], room.frost.spared_g[future] = fruit
    room.bed[future] = bed_daily
    # the draws of the first bed tell enough of what heat did to initiation
    mine = slice(0, None, len(crown))
    days = min(int(setup.cultivar.value("initiation_heat_days")), setup.n_days)
    first = bed.days.first_hour
    room.initiation_heat[:, future] = initiation_heat(
        crown[0, first : first + 24 * days],
        daily[0, :, :days],
        draws.tables[mine][:HEAT_DRAWS],
        draws.plants[mine][:HEAT_DRAWS],
    )
