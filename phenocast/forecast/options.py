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
from phenocast.forecast.heat_days import heat_days, same_days
from phenocast.forecast.option_runs import (
    Key,
    OptionJob,
    plants_of_dates,
    run_films,
    tables_of_draws,
)
from phenocast.forecast.season_end import SeasonEnd, season_end
from phenocast.forecast.summary import quantile_with_never
from phenocast.harvest import iso_week, week_labels
from phenocast.season import Block, Season
from phenocast.simulation.between_dates import dates_to_run
from phenocast.simulation.options_kernel import (
    N_RESULTS,
    RESULT_ALIVE,
    RESULT_BLOOM,
    RESULT_EARLY,
    RESULT_FIRST_PICK,
    RESULT_SEASON,
)
from phenocast.simulation.setup import SPIN_UP_DAYS, BlockSetup, block_setup
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
    first_pick, bloom : ``[options, futures, draws]``, days since the option's planting; inf for
        never.
    running_heat : of each film ``[dates, futures, physics draws, days + 1]`` float32, crown
        degree-hours above the heat threshold by day since planting. [degC h]
    setups : the block by film, cultivar and transplant type.
    ends : last day of each option's season, and why.
    alive : share of plants that live through the first days.
    early_g, season_g : marketable fruit up to ``early_until`` and in all. [g per plant]
    spared_g : that of ``season_g`` without frost nights. [g per plant]
    weekly_g : ``[options, futures, draws, weeks]`` float32. [g per plant]
    weeks : ISO weeks of the last axis.
    early_until, last_day : common to all options, so that a later planting has less time; no
        season goes on beyond ``last_day``.
    futures : the futures.
    dates_between : planting dates that were read between their neighbours, not run themselves.
    """

    block: Block
    options: tuple[Option, ...]
    first_pick: Array
    bloom: Array
    running_heat: dict[str, NDArray[np.float32]]
    setups: dict[Key, BlockSetup]
    ends: tuple[SeasonEnd, ...]
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

    def heat(self, reference: int) -> tuple[dict[str, Any], Array]:
        """Return the heat of every option over the same days, those of the reference.

        Parameters
        ----------
        reference : row of the option whose days they are.

        Returns
        -------
        (told, heat)
            What the days are (`phenocast.forecast.heat_days.same_days`), and crown degree-hours
            above the heat threshold, ``[options, futures, physics draws]``. [degC h]
        """
        lead = self.options[reference]
        setup = self.setups[lead.film, lead.cultivar, lead.transplant]
        setup = replace(setup, block=replace(setup.block, planting_date=lead.planting_date))
        told, windows = same_days(
            [
                heat_days(
                    self.ends[reference].cut(setup),
                    *(quantile_with_never(one[reference], 0.5)
                      for one in (self.bloom, self.first_pick)),
                )
            ],
            [(one.planting_date, (self.last_day - one.planting_date).days + 1)
             for one in self.options],
        )  # fmt: skip
        dates = list(dict.fromkeys(one.planting_date for one in self.options))
        sums = [self.running_heat[one.film][dates.index(one.planting_date)] for one in self.options]
        heat = [
            of_option[..., stop] - of_option[..., first]
            for of_option, (first, stop) in zip(sums, windows, strict=True)
        ]
        return told, np.array(heat, dtype=np.float64)


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
            Fault(
                "the number of options is out of range",
                where="compare",
                value=len(options),
                allowed=f"1 to {MOST_OPTIONS}",
            )
        )
    first, last = min(plantings), max(plantings)
    setups = {
        (film, cultivar, transplant): block_setup(
            season,
            replace(
                block,
                film=film,
                cultivar=cultivar,
                transplant=transplant,
                planting_date=first,
                canopy=(),
                canopy_file=None,
            ),
        )
        for film, cultivar, transplant in product(films, cultivars, transplants)
    }
    lead = next(iter(setups.values()))
    last_day = lead.last_day
    if last_day <= last:
        raise InputError(
            Fault(
                "the season ends before the last planting date",
                where="compare",
                value=f"{last_day}",
                allowed=f"after {last}",
            )
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
    each = next(iter(sets.values())).physics_each
    heat = {
        film: np.empty((len(plantings), n_futures, each, n_days + 1), dtype=np.float32)
        for film in films
    }
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
        heat=heat,
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
    weekly_g = weekly.reshape(len(options), *shape[2:], len(weeks))
    spared_g = spared.reshape(len(options), *shape[2:])
    ends = _end_seasons(options, setups, by_option, weekly_g, spared_g, weeks, last_day)
    return OptionSeasons(
        block=block,
        options=options,
        first_pick=by_option[..., RESULT_FIRST_PICK],
        bloom=by_option[..., RESULT_BLOOM],
        running_heat=heat,
        setups=setups,
        ends=ends,
        alive=by_option[..., RESULT_ALIVE],
        early_g=by_option[..., RESULT_EARLY],
        season_g=by_option[..., RESULT_SEASON],
        spared_g=spared_g,
        weekly_g=weekly_g,
        weeks=tuple(weeks),
        early_until=early_until,
        last_day=last_day,
        futures=futures,
        dates_between=tuple(day for day, run in zip(plantings, runs, strict=True) if not run),
    )


def _end_seasons(
    options: Sequence[Option], setups: dict[Key, BlockSetup], results: Array,
    weekly: NDArray[np.float32], spared: Array, weeks: Sequence[str], last_day: date,
) -> tuple[SeasonEnd, ...]:  # fmt: skip
    """Cut dates and fruit of every option at the end of its season; what frost takes stays."""
    ends = []
    for option, found, of_week, no_frost in zip(options, results, weekly, spared, strict=True):
        setup = setups[option.film, option.cultivar, option.transplant]
        cases = of_week.reshape(-1, len(weeks))
        end = season_end(setup.cultivar, setup.block.season_end, last_day, cases, weeks)
        ends.append(end)
        if end.last_day == last_day:
            continue
        after = weeks.index(iso_week(end.last_day)) + 1
        of_week[..., after:] = 0.0
        lost = no_frost - found[..., RESULT_SEASON]
        found[..., RESULT_SEASON] = of_week.sum(axis=-1, dtype=np.float64)
        no_frost[...] = found[..., RESULT_SEASON] + lost
        early = found[..., RESULT_EARLY]
        np.minimum(early, found[..., RESULT_SEASON], out=early)
        n_days = (end.last_day - option.planting_date).days + 1
        for kept in (RESULT_FIRST_PICK, RESULT_BLOOM):
            found[..., kept][found[..., kept] >= n_days] = np.inf
    return tuple(ends)


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
