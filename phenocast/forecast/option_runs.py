"""Options under one future: a few films, with every cultivar, transplant type and planting date."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from phenocast.forecast.draws import BlockDraws, with_nursery
from phenocast.phenology import lane_records, make_work
from phenocast.season import Season
from phenocast.simulation.between_dates import differ_in_picking, read_between
from phenocast.simulation.option_dates import DateCovers, date_covers, date_tables
from phenocast.simulation.options_kernel import RESULT_FIRST_PICK, option_seasons, ripe_times
from phenocast.simulation.planting_dates import node_beds, node_induction, span_bed
from phenocast.simulation.setup import BlockSetup
from phenocast.weather import HourlyWeather, SeasonWeather

Array = NDArray[np.float64]
Key = tuple[str, str, str]
"""Film, cultivar and transplant type."""


@dataclass(frozen=True)
class OptionJob:
    """What the parts of a comparison read and fill.

    Parameters
    ----------
    setups, sets : the block and its draws, by film, cultivar and transplant type.
    plantings : the planting dates in order.
    plants : `plants_of_dates`.
    runs : ``[dates]``, the dates that are run; the others are read between them.
    early_until : last day of what counts as early.
    week_of_day : week of each day from the first planting date on.
    results : ``[setups, dates, futures, draws, N_RESULTS]``, filled.
    weekly : ``[setups, dates, futures, draws, weeks]``, filled. [g per plant]
    """

    setups: dict[Key, BlockSetup]
    sets: dict[Key, BlockDraws]
    plantings: tuple[date, ...]
    plants: dict[Key, list[Any]]
    runs: NDArray[np.bool_]
    early_until: date
    week_of_day: NDArray[np.int64]
    results: Array
    weekly: NDArray[np.float32]


def plants_of_dates(
    season: Season,
    weather: SeasonWeather,
    setups: dict[Key, BlockSetup],
    sets: dict[Key, BlockDraws],
    plantings: Sequence[date],
) -> dict[Key, list[Any]]:
    """Return the plants of every planting date: a nursery leaves them the longer until then.

    Of each option there is a list: for each physics draw the plants side by side,
    ``[dates, groups]``.
    """
    by_kind: dict[tuple[str, str], list[Any]] = {}
    for key, setup in setups.items():
        kind = key[1:]  # film does not matter in the nursery
        if kind in by_kind:
            continue
        each = sets[key].physics_each
        of_dates = []
        for planting in plantings:
            then = replace(setup, block=replace(setup.block, planting_date=planting))
            drawn = with_nursery(sets[key], season, then, weather.nursery).plants
            of_dates.append([lane_records(drawn[number::each]) for number in range(each)])
        by_kind[kind] = [np.stack(of_draw) for of_draw in zip(*of_dates, strict=True)]
    return {key: by_kind[key[1:]] for key in setups}


def run_films(job: OptionJob, films: Sequence[str], future: int, weather: HourlyWeather) -> None:
    """Fill the rows of every option on some films under one future."""
    row_of_key = {key: row for row, key in enumerate(job.setups)}
    first, last = min(job.plantings), max(job.plantings)
    early_days = np.array([(job.early_until - planting).days + 1 for planting in job.plantings])
    # the canopy grows and fruit ripens on the air alone: one for all films
    covers: DateCovers | None = None
    ripe: dict[tuple[str, str, int], Array] = {}
    for film in films:
        keys = [key for key in job.setups if key[0] == film]
        bed = span_bed(job.setups[keys[0]], weather, first)
        if covers is None:
            covers = date_covers(bed, job.plantings)
            work = make_work(bed.days.n_days)
        physics = job.sets[keys[0]].physics_of(future)
        for number, record in enumerate(physics):
            nodes = node_beds(bed, last, record, covers.counted)
            tables = date_tables(nodes, covers, work)
            for key in keys:
                # each physics draw has every so many-th of the plants
                own = slice(number, None, len(physics))
                plants = job.plants[key][number]
                kind = (key[1], key[2], number)
                if kind not in ripe:
                    ripe[kind] = ripe_times(bed, plants[0])
                results = job.results[row_of_key[key], :, future, own]
                weekly = job.weekly[row_of_key[key], :, future, own]
                given = (
                    node_induction(nodes, job.sets[key].tables[own]), ripe[kind], plants,
                    float(job.setups[key].block.first_pick_g_per_plant), early_days,
                    job.week_of_day, work, results, weekly,
                )
                option_seasons(tables, job.runs, *given)
                differ = differ_in_picking(results[..., RESULT_FIRST_PICK], job.runs)
                if differ.any():
                    option_seasons(tables, differ, *given)
                read_between(results, weekly, job.runs | differ)
