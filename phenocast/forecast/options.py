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
from phenocast.forecast.draws import BlockDraws, block_draws, with_nursery
from phenocast.forecast.futures import Futures, futures_of
from phenocast.harvest import week_labels
from phenocast.phenology import lane_records, make_work
from phenocast.season import Block, Season
from phenocast.simulation.options_kernel import (
    RESULT_ALIVE,
    RESULT_EARLY,
    RESULT_FIRST_PICK,
    RESULT_HEAT,
    RESULT_SEASON,
    option_seasons,
    planting_cover,
    ripe_times,
)
from phenocast.simulation.planting_dates import (
    daily_of_planting,
    node_beds,
    node_induction,
    node_mix,
    span_bed,
)
from phenocast.simulation.setup import SPIN_UP_DAYS, BlockSetup, block_setup
from phenocast.weather import HourlyWeather, SeasonWeather

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
    weekly_g : ``[options, futures, draws, weeks]`` float32. [g per plant]
    weeks : ISO weeks of the last axis.
    early_until, last_day : common to all options, so that a later planting has less time.
    futures : the futures.
    """

    block: Block
    options: tuple[Option, ...]
    first_pick: Array
    heat: Array
    alive: Array
    early_g: Array
    season_g: Array
    weekly_g: NDArray[np.float32]
    weeks: tuple[str, ...]
    early_until: date
    last_day: date
    futures: Futures


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
    plants = _plants(season, weather, setups, sets, plantings)
    n_days = (last_day - first).days + 1
    weeks, week_of_day = week_labels(first, n_days)
    early_until = first + timedelta(days=int(lead.cultivar.value("early_season_days")) - 1)
    shape = (len(options), n_futures, draws)
    results = np.empty((*shape, RESULT_ALIVE + 1))
    weekly = np.empty((*shape, len(weeks)), dtype=np.float32)
    place = {option: number for number, option in enumerate(options)}

    def run(task: tuple[str, int]) -> None:
        film, future = task
        _run_film(
            film, future, futures.futures[future].weather, setups, sets, plants, early_until,
            week_of_day, place, results, weekly,
        )

    tasks = [(film, future) for future in range(n_futures) for film in films]
    run(tasks[0])
    done = 1
    with ThreadPoolExecutor(max_workers=max(1, os.cpu_count() or 1)) as pool:
        for _ in pool.map(run, tasks[1:]):
            done += 1
            if progress is not None:
                progress(done, len(tasks), tasks[done - 1][0])
    return OptionSeasons(
        block=block,
        options=options,
        first_pick=results[..., RESULT_FIRST_PICK],
        heat=results[..., RESULT_HEAT],
        alive=results[..., RESULT_ALIVE],
        early_g=results[..., RESULT_EARLY],
        season_g=results[..., RESULT_SEASON],
        weekly_g=weekly,
        weeks=tuple(weeks),
        early_until=early_until,
        last_day=last_day,
        futures=futures,
    )


def _plants(
    season: Season,
    weather: SeasonWeather,
    setups: dict[tuple[str, str, str], BlockSetup],
    sets: dict[tuple[str, str, str], BlockDraws],
    plantings: Sequence[date],
) -> dict[date, dict[tuple[str, str, str], Any]]:
    """Return the plants of every planting date: a nursery leaves them the longer until then.

    Of each date and option there is a list: the plants, side by side, of each physics draw.
    """
    made: dict[date, dict[tuple[str, str, str], Any]] = {}
    for planting in plantings:
        by_kind: dict[tuple[str, str], Any] = {}
        for key, setup in setups.items():
            kind = key[1:]  # film does not matter in the nursery
            if kind not in by_kind:
                then = replace(setup, block=replace(setup.block, planting_date=planting))
                drawn = with_nursery(sets[key], season, then, weather.nursery)
                each = drawn.physics_each
                by_kind[kind] = [
                    lane_records(drawn.plants[number::each]) for number in range(each)
                ]
            made.setdefault(planting, {})[key] = by_kind[kind]
    return made


def _run_film(
    film: str,
    future: int,
    weather: HourlyWeather,
    setups: dict[tuple[str, str, str], BlockSetup],
    sets: dict[tuple[str, str, str], BlockDraws],
    plants: dict[date, dict[tuple[str, str, str], Any]],
    early_until: date,
    week_of_day: NDArray[np.int64],
    place: dict[Option, int],
    results: Array,
    weekly: NDArray[np.float32],
) -> None:
    keys = [key for key in setups if key[0] == film]
    physics = sets[keys[0]].physics_of(future)
    plantings = list(plants)
    bed = span_bed(setups[keys[0]], weather, min(plantings))
    # The canopy grows on the air alone, so it is one for all cultivars and physics draws.
    covers = {planting: planting_cover(bed, planting) for planting in plantings}
    work = make_work(bed.days.n_days)
    sprinkling = setups[keys[0]].block.sprinkling
    sprinkled = 0 if sprinkling is None else sprinkling.days
    for number in range(len(physics)):
        nodes = node_beds(bed, max(plantings), physics[number])
        mixes = {day: node_mix(nodes, day, cover, sprinkled) for day, cover in covers.items()}
        dailies = {day: daily_of_planting(nodes, mix) for day, mix in mixes.items()}
        for key in keys:
            draws = sets[key]
            mine = np.arange(number, len(draws.plants), len(physics))
            induction = node_induction(nodes, draws.tables[mine])
            ripe_at = ripe_times(nodes, lane_records(draws.plants[mine]))
            for planting in plantings:
                row = place[Option(planting, *key)]
                option_seasons(
                    mixes[planting], dailies[planting], induction, ripe_at,
                    setups[key].block.first_pick_g_per_plant,
                    plants[planting][key][number], work,
                    (early_until - planting).days + 1, week_of_day,
                    results[row, future], weekly[row, future], mine,
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
