"""A forecast: every block of a season, over weather traces and over what is not known."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from phenocast._typing import Progress
from phenocast.errors import Fault, InputError, cautions_first
from phenocast.forecast.advice import block_warnings, season_warnings
from phenocast.forecast.conditioning import Leaning, PastOfFarm, conditioned
from phenocast.forecast.draws import block_draws, nursery_of, with_buds
from phenocast.forecast.frost import frost_warnings
from phenocast.forecast.past_seasons import past_seasons
from phenocast.forecast.result import BlockForecast, SeasonForecast
from phenocast.forecast.season_days import season_end
from phenocast.forecast.season_effects import season_effects, words_of
from phenocast.forecast.seen import Seen, seen_of, times_wanted
from phenocast.forecast.weather_traces import weather_traces
from phenocast.phenology.work import FIRST_PICK
from phenocast.season import Season, SeasonRecords
from phenocast.simulation.bed import site_weather, spin_up_start
from phenocast.simulation.engine import BlockSeasons, DrawnBlock, run_blocks
from phenocast.simulation.setup import BlockSetup, block_setup
from phenocast.weather import SeasonWeather


def run_forecast(
    season: Season,
    weather: SeasonWeather,
    *,
    issue_date: date,
    draws: int = 200,
    seed: int = 0,
    state_at: Mapping[str, Sequence[float]] | None = None,
    records: SeasonRecords | None = None,
    past: pd.DataFrame | None = None,
    executor: Executor | None = None,
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
        Draws of what is not known about the plant, for each weather trace.
    seed : int
        One seed for every draw; the same seed gives the same forecast to the last digit.
    state_at : mapping of str to sequence of float, optional
        Of blocks by name, times since planting at which the state of every draw is wanted, as the
        model has it. [d]
    records : SeasonRecords, optional
        What was seen of the season up to the day of issue.
    past : DataFrame, optional
        Past seasons of the farm, as a fit left them: columns of `phenocast.tables.PAST_SEASONS`.
    executor : Executor, optional
        Where blocks are run; by default threads, as many as there are processors.
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
    traces = weather_traces(weather, season.site, start, end, issue_date, planted)
    n_traces = len(traces.traces)
    shared: dict[Any, Any] = {}
    farms = _farms(setups, past)
    seen = [_seen(setup, records) for setup in setups]
    issue_d = [float((issue_date - setup.block.planting_date).days) for setup in setups]
    wanted = [
        (*times_wanted(one, day), *(state_at or {}).get(setup.block.name, ()))
        for setup, one, day in zip(setups, seen, issue_d, strict=True)
    ]
    drawn = [
        replace(
            block_draws(
                setup,
                n_traces,
                draws,
                seed,
                nursery=nursery_of(season, setup.block, weather.nursery),
                shared=shared,
            ),
            effects=None
            if past is not None
            else season_effects(setup.cultivar, setup.block.name, n_traces, draws, seed),
            state_at=times,
        )
        for setup, times in zip(setups, wanted, strict=True)
    ]
    made = run_blocks(
        drawn,
        [site_weather(trace.weather, season.site) for trace in traces.traces],
        early_days=[int(setup.cultivar.value("early_season_days")) for setup in setups],
        executor=executor,
    )
    blocks: dict[int, BlockForecast] = {}
    for number, seasons in made:
        leaning = None
        farm = farms[setups[number].block.first_pick_g_per_plant]
        begun = seasons.dates[..., FIRST_PICK] <= issue_d[number] + 1.0
        if farm.past or seen[number].visits or (issue_d[number] >= 0.0 and begun.any()):
            seasons, leaning = conditioned(
                seasons, setups[number].block, setups[number].n_days, seen[number], farm,
                issue_d=issue_d[number],
                early_d=setups[number].cultivar.value("early_season_days"), seed=seed,
                state_at=drawn[number].state_at,
            )  # fmt: skip
        told = slice(len(times_wanted(seen[number], issue_d[number])), None)
        seasons = replace(seasons, states=seasons.states.at(told))
        blocks[number] = _block_forecast(season, drawn[number], seasons, leaning)
        if progress is not None:
            progress(len(blocks), len(setups), setups[number].block.name)
    in_order = tuple(blocks[number] for number in range(len(setups)))
    return SeasonForecast(
        season=season,
        issue_date=issue_date,
        draws=draws,
        seed=seed,
        traces=traces,
        blocks=in_order,
        records=records,
        warnings=cautions_first(
            [
                *(() if records is None else records.warnings),
                *frost_warnings(
                    [(one.setup.block, one.frost, one.season_g, one.spared_g) for one in in_order]
                ),
                *season_warnings(season, weather, traces, issue_date),
            ]
        ),
    )


def _farms(setups: Sequence[BlockSetup], past: pd.DataFrame | None) -> dict[float, PastOfFarm]:
    """Past seasons by what counts as the first pick."""
    thresholds = {setup.block.first_pick_g_per_plant for setup in setups}
    return {one: PastOfFarm(() if past is None else past_seasons(past, one)) for one in thresholds}


def _seen(setup: BlockSetup, records: SeasonRecords | None) -> Seen:
    block = setup.block
    table = None if records is None else records.blocks.get(block.name)
    return Seen() if table is None else seen_of(table, block.first_pick_g_per_plant)


def _block_forecast(
    season: Season, drawn: DrawnBlock, seasons: BlockSeasons, leaning: Leaning | None
) -> BlockForecast:
    """Cut the seasons of a block at their end, and say what to know of it."""
    setup, effects = drawn.setup, drawn.effects
    warnings = block_warnings(season, setup)
    ending = season_end(
        setup.cultivar, setup.block.season_end, setup.last_day,
        seasons.weekly_g.reshape(-1, len(seasons.weeks)), seasons.weeks,
    )  # fmt: skip
    ended = ending.cut(setup)
    weeks = slice(ending.n_weeks(seasons.weeks))
    weekly = seasons.weekly_g[..., weeks]
    return BlockForecast(
        setup=ended,
        dates=np.where(seasons.dates < ended.n_days, seasons.dates, np.inf),
        weeks=seasons.weeks[weeks],
        weekly_g=weekly,
        spared_weekly_g=seasons.spared_g[..., weeks],
        early_g=np.minimum(seasons.early_g, weekly.sum(axis=-1, dtype=np.float64)),
        bed=seasons.bed[..., : ended.n_days],
        warnings=warnings if effects is None else (*warnings, words_of(effects)),
        arrived_with_buds=with_buds(drawn.plants),
        initiation_heat=seasons.initiation_heat,
        season_end=ending,
        effects=effects,
        frost=seasons.frost.cut(ended.n_days),
        states=seasons.states,
        leaning=leaning,
    )
