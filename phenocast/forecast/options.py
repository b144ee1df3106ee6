"""Options for one block: planting dates, films, cultivars and transplant types under one sky.

An option is a block. Every option is run by the engine of a forecast, under the same weather
traces, the same draws of the plant and the same draws of the physics, so that the difference
between two options is not blurred by chance.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from phenocast._typing import FloatArray, Progress
from phenocast.errors import Fault, InputError
from phenocast.forecast.draws import block_draws, nursery_of
from phenocast.forecast.season_days import SeasonEnd, heat_days, same_days, season_end
from phenocast.forecast.summary import quantile_with_never
from phenocast.forecast.weather_traces import WeatherTraces, weather_traces
from phenocast.harvest import week_labels
from phenocast.phenology.work import ANTHESIS, FIRST_PICK, SURVIVING_SHARE
from phenocast.season import Block, Season
from phenocast.simulation.bed import site_weather
from phenocast.simulation.daily_sums import BED_CROWN_HEAT_30
from phenocast.simulation.engine import run_blocks
from phenocast.simulation.setup import SPIN_UP_DAYS, BlockSetup, block_setup
from phenocast.weather import SeasonWeather

MOST_OPTIONS = 5000
# Options are compared with each other, so they need fewer physics draws than one forecast does:
# what all options share drops out of a difference.
PHYSICS_RUNS_OF_OPTIONS = 40


@dataclass(frozen=True)
class Option:
    """One way to plant the block."""

    planting_date: date
    film: str
    cultivar: str
    transplant: str


@dataclass(frozen=True)
class OptionSeasons:
    """Every option under every weather trace and draw.

    Parameters
    ----------
    block : the block as the season states it.
    options : the options, in the order of the arrays' first axis.
    setups : the block as each option has it, to the common last day.
    first_pick, bloom : ``[options, traces, draws]``, days since the option's planting; inf for
        never.
    running_heat : of each option ``[traces, physics draws, days + 1]`` float32, crown degree-hours
        above the heat threshold by day since planting; options on one bed share it. [degC h]
    ends : last day of each option's season, and why.
    alive : share of plants that live through the first days.
    early_g, season_g : marketable fruit up to ``early_until`` and in all. [g per plant]
    spared_g : that of ``season_g`` without frost nights. [g per plant]
    weekly_g : ``[options, traces, draws, weeks]`` float32. [g per plant]
    weeks : ISO weeks from the first planting to the last day.
    early_until, last_day : common to all options, so that a later planting has less time; no
        season goes on beyond ``last_day``.
    traces : the weather traces.
    """

    block: Block
    options: tuple[Option, ...]
    setups: tuple[BlockSetup, ...]
    first_pick: FloatArray
    bloom: FloatArray
    running_heat: tuple[NDArray[np.float32], ...]
    ends: tuple[SeasonEnd, ...]
    alive: FloatArray
    early_g: FloatArray
    season_g: FloatArray
    spared_g: FloatArray
    weekly_g: NDArray[np.float32]
    weeks: tuple[str, ...]
    early_until: date
    last_day: date
    traces: WeatherTraces

    def heat(self, reference: int) -> tuple[dict[str, Any], FloatArray]:
        """Return the heat of every option over the same days, those of the reference.

        Parameters
        ----------
        reference : row of the option whose days they are.

        Returns
        -------
        (days, heat)
            What the days are (`phenocast.forecast.season_days.same_days`), and crown degree-hours
            above the heat threshold, ``[options, traces, physics draws]``. [degC h]
        """
        bloom, pick = (quantile_with_never(one[reference], 0.5)
                       for one in (self.bloom, self.first_pick))  # fmt: skip
        lead = heat_days(self.ends[reference].cut(self.setups[reference]), bloom, pick)
        days, windows = same_days(
            [lead], [(one.block.planting_date, one.n_days) for one in self.setups]
        )
        heat = [
            sums[..., stop] - sums[..., first]
            for sums, (first, stop) in zip(self.running_heat, windows, strict=True)
        ]
        return days, np.array(heat, dtype=np.float64)


def option_setups(
    season: Season, block: Block, options: Sequence[Option]
) -> tuple[BlockSetup, ...]:
    """Return the block as each option has it, to one last day.

    Measured cover and the day on which the film was laid belong to one planting, and are left out.

    Raises
    ------
    InputError
        For an unknown name, no option at all, too many, or a season that ends before the last of
        the plantings.
    """
    if not 1 <= len(options) <= MOST_OPTIONS:
        raise InputError(
            Fault(
                "the number of options is out of range",
                where="compare",
                value=len(options),
                allowed=f"1 to {MOST_OPTIONS}",
            )
        )
    blocks = [
        replace(
            block,
            planting_date=one.planting_date,
            film=one.film,
            cultivar=one.cultivar,
            transplant=one.transplant,
            canopy=(),
            canopy_file=None,
            film_laid=None,
        )
        for one in options
    ]
    first, last = (end(one.planting_date for one in options) for end in (min, max))
    last_day = block_setup(season, replace(blocks[0], planting_date=first)).last_day
    if last_day <= last:
        raise InputError(
            Fault(
                "the season ends before the last planting date",
                where="compare",
                value=f"{last_day}",
                allowed=f"after {last}",
            )
        )
    return tuple(block_setup(season, replace(one, season_end=last_day)) for one in blocks)


def run_options(
    season: Season,
    weather: SeasonWeather,
    block: Block,
    *,
    plantings: Sequence[date],
    films: Sequence[str],
    cultivars: Sequence[str],
    transplants: Sequence[str],
    issue_date: date,
    draws: int = 100,
    seed: int = 0,
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> OptionSeasons:
    """Run every combination of planting date, film, cultivar and transplant type.

    Parameters
    ----------
    season, weather : as for a forecast.
    block : the block that is to be planted; what the options do not change is kept.
    plantings : planting dates in order.
    films, cultivars, transplants : names.
    issue_date : last day of observed weather that may be used.
    draws, seed, executor, progress : as for a forecast.

    Raises
    ------
    InputError
        As of `option_setups`.
    NoAnswerError
        When the weather ends before the season does.
    """
    options = tuple(
        Option(day, film, cultivar, transplant)
        for film, cultivar, transplant, day in product(films, cultivars, transplants, plantings)
    )
    setups = option_setups(season, block, options)
    last_day, planted = setups[0].last_day, min(plantings)
    start = planted - timedelta(days=SPIN_UP_DAYS)
    traces = weather_traces(weather, season.site, start, last_day, issue_date, planted)
    n_traces = len(traces.traces)
    shared: dict[Any, Any] = {}
    drawn = [
        block_draws(
            setup, n_traces, draws, seed, PHYSICS_RUNS_OF_OPTIONS,
            nursery=nursery_of(season, block, weather.nursery), shared=shared,
        )
        for setup in setups
    ]  # fmt: skip
    early_days = int(setups[0].cultivar.value("early_season_days"))
    early_until = planted + timedelta(days=early_days - 1)
    weeks, _ = week_labels(planted, (last_day - planted).days + 1)
    cases = (n_traces, draws)
    first_pick, bloom, alive, early_g, season_g, spared_g = np.empty((6, len(options), *cases))
    ends: dict[int, SeasonEnd] = {}
    heat: dict[int, NDArray[np.float32]] = {}
    last_bed: NDArray[np.float32] | None = None
    weekly_g = np.zeros((len(options), *cases, len(weeks)), dtype=np.float32)
    made = run_blocks(
        drawn,
        [site_weather(trace.weather, season.site) for trace in traces.traces],
        early_days=[(early_until - one.planting_date).days + 1 for one in options],
        detailed=False,
        executor=executor,
    )
    for row, seasons in made:
        setup = setups[row]
        fruit = seasons.weekly_g
        end = season_end(
            setup.cultivar, block.season_end, last_day, fruit.reshape(-1, len(seasons.weeks)),
            seasons.weeks,
        )  # fmt: skip
        own = end.n_weeks(seasons.weeks)
        begins = weeks.index(seasons.weeks[0])
        weekly_g[row, ..., begins : begins + own] = fruit[..., :own]
        season_g[row], spared_g[row] = (
            one[..., :own].sum(axis=-1, dtype=np.float64) for one in (fruit, seasons.spared_g)
        )
        early_g[row] = np.minimum(seasons.early_g, season_g[row])
        alive[row] = seasons.dates[..., SURVIVING_SHARE]
        n_days = end.cut(setup).n_days
        for kept, stage in ((first_pick, FIRST_PICK), (bloom, ANTHESIS)):
            days = seasons.dates[..., stage]
            kept[row] = np.where(days < n_days, days, np.inf)
        ends[row] = end
        if seasons.bed is not last_bed:
            last_bed = seasons.bed
            sums = _running_sums(last_bed[:, :, BED_CROWN_HEAT_30])
        heat[row] = sums
        if progress is not None:
            progress(len(ends), len(options), setup.block.film)
    rows = range(len(options))
    return OptionSeasons(
        block=block,
        options=options,
        setups=setups,
        first_pick=first_pick,
        bloom=bloom,
        running_heat=tuple(heat[row] for row in rows),
        ends=tuple(ends[row] for row in rows),
        alive=alive,
        early_g=early_g,
        season_g=season_g,
        spared_g=spared_g,
        weekly_g=weekly_g,
        weeks=tuple(weeks),
        early_until=early_until,
        last_day=last_day,
        traces=traces,
    )


def _running_sums(daily: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return sums from the first day on, ``[..., days + 1]``."""
    none = np.zeros((*daily.shape[:-1], 1), dtype=np.float32)
    sums = np.cumsum(daily, axis=-1, dtype=np.float64).astype(np.float32)
    return np.concatenate([none, sums], axis=-1)


def option_label(option: Option) -> dict[str, Any]:
    """Return an option as plain values.

    Examples
    --------
    >>> option_label(Option(date(2026, 10, 1), "black", "Basalt", "plug"))["planting_date"]
    '2026-10-01'
    """
    return {
        "planting_date": option.planting_date.isoformat(),
        "film": option.film,
        "cultivar": option.cultivar,
        "transplant": option.transplant,
    }
