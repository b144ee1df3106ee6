"""Options for one block: planting dates, films, cultivars and transplant types under one sky.

Every option is run under the same futures, the same draws of the plant and the same draws of the
physics, so that the difference between two options is not blurred by chance. The bed is run once a
film and future, at a few covers; each planting date is read between them
(`phenocast.simulation.planting_dates`).
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from phenocast.errors import Fault, InputError
from phenocast.forecast.draws import block_draws
from phenocast.forecast.futures import Futures, futures_of
from phenocast.forecast.option_runs import OptionJob, plants_of_dates, run_films, tables_of_draws
from phenocast.harvest import week_labels
from phenocast.season import Block, Season
from phenocast.simulation.between_dates import dates_to_run
from phenocast.simulation.options_kernel import (
    N_RESULTS,
    RESULT_ALIVE,
    RESULT_EARLY,
    RESULT_FIRST_PICK,
    RESULT_HEAT,
    RESULT_SEASON,
)
from phenocast.simulation.setup import SPIN_UP_DAYS, block_setup
from phenocast.weather import SeasonWeather

Array = NDArray[np.float64]
Progress = Callable[[int, int, str], None]

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
    """Every option under every future and draw.

    Parameters
    ----------
    block : the block as the season states it.
    options : the options, in the order of the arrays' first axis.
    first_pick : ``[options, futures, draws]``, days since the option's planting; inf for never.
    heat : crown degree-hours above the heat threshold. [degC h]
    alive : share of plants that live through the first days.
    early_g, season_g : marketable fruit up to ``early_until`` and in all. [g per plant]
    spared_g : that of ``season_g`` without frost nights. [g per plant]
    weekly_g : ``[options, futures, draws, weeks]`` float32. [g per plant]
    weeks : ISO weeks of the last axis.
    early_until, last_day : common to all options, so that a later planting has less time.
    futures : the futures.
    dates_between : planting dates that were read between their neighbours, not run themselves.
    """

    block: Block
    options: tuple[Option, ...]
    first_pick: Array
    heat: Array
    alive: Array
    early_g: Array
    season_g: Array
    spared_g: Array
    weekly_g: NDArray[np.float32]
    weeks: tuple[str, ...]
    early_until: date
    last_day: date
    futures: Futures
    dates_between: tuple[date, ...] = ()


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
    draws, seed, progress : as for a forecast.

    Raises
    ------
    InputError
        For an unknown name, no option at all, or too many.
    NoAnswerError
        When the weather ends before the season does.
    """
    options = tuple(
        Option(day, film, cultivar, transplant)
        for film, cultivar, transplant, day in product(films, cultivars, transplants, plantings)
    )
    if not 1 <= len(options) <= MOST_OPTIONS:
        raise InputError(
            Fault("the number of options is out of range", where="compare", value=len(options),
                  allowed=f"1 to {MOST_OPTIONS}")
        )
    first, last = min(plantings), max(plantings)
    setups = {
        (film, cultivar, transplant): block_setup(
            season,
            replace(block, film=film, cultivar=cultivar, transplant=transplant,
                    planting_date=first, canopy=(), canopy_file=None),
        )
        for film, cultivar, transplant in product(films, cultivars, transplants)
    }
    lead = next(iter(setups.values()))
    last_day = lead.last_day
    if last_day <= last:
        raise InputError(
            Fault("the season ends before the last planting date", where="compare",
                  value=f"{last_day}", allowed=f"after {last}")
        )
    start = first - timedelta(days=SPIN_UP_DAYS)
    futures = futures_of(weather, season.site, start, last_day, issue_date, first)
    n_futures = len(futures.futures)
    sets = {
        key: block_draws(setup, n_futures, draws, seed, PHYSICS_RUNS_OF_OPTIONS)
        for key, setup in setups.items()
    }
    n_days = (last_day - first).days + 1
    weeks, week_of_day = week_labels(first, n_days)
    early_until = first + timedelta(days=int(lead.cultivar.value("early_season_days")) - 1)
    shape = (len(setups), len(plantings), n_futures, draws)
    results = np.empty((*shape, N_RESULTS))
    weekly = np.empty((*shape, len(weeks)), dtype=np.float32)
    spared = np.empty(shape)
    runs = dates_to_run(plantings, always=block.planting_date)
    job = OptionJob(
        setups=setups,
        sets=sets,
        plantings=tuple(plantings),
        plants=plants_of_dates(season, weather, setups, sets, plantings),
        tables=tables_of_draws(sets),
        runs=runs,
        early_until=early_until,
        week_of_day=week_of_day,
        results=results,
        weekly=weekly,
        spared=spared,
    )
    workers = max(1, os.cpu_count() or 1)
    # films share much under one future, so they go together where there are futures enough
    parts = 1 if n_futures >= 4 * workers else len(films)
    tasks = [(future, films[part::parts]) for future in range(n_futures) for part in range(parts)]

    def run(task: tuple[int, Sequence[str]]) -> None:
        future, some_films = task
        run_films(job, some_films, future, futures.futures[future].weather)

    done = 0
    with ThreadPoolExecutor(max_workers=workers) as pool:
        for _ in pool.map(run, tasks):
            done += 1
            if progress is not None:
                progress(done, len(tasks), futures.futures[tasks[done - 1][0]].label)
    by_option = results.reshape(len(options), *shape[2:], N_RESULTS)
    return OptionSeasons(
        block=block,
        options=options,
        first_pick=by_option[..., RESULT_FIRST_PICK],
        heat=by_option[..., RESULT_HEAT],
        alive=by_option[..., RESULT_ALIVE],
        early_g=by_option[..., RESULT_EARLY],
        season_g=by_option[..., RESULT_SEASON],
        spared_g=spared.reshape(len(options), *shape[2:]),
        weekly_g=weekly.reshape(len(options), *shape[2:], len(weeks)),
        weeks=tuple(weeks),
        early_until=early_until,
        last_day=last_day,
        futures=futures,
        dates_between=tuple(day for day, run in zip(plantings, runs, strict=True) if not run),
    )


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
