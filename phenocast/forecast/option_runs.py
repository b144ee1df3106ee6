"""Options under one future: a few films, with every cultivar, transplant type and planting date."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from phenocast.forecast.draws import BlockDraws, with_nursery
from phenocast.phenology import make_work
from phenocast.phenology.daily import FLOWER_MIN
from phenocast.phenology.work import CROWN_HEAT
from phenocast.season import Season
from phenocast.simulation.between_dates import bent, read_between
from phenocast.simulation.frost_losses import frost_nights
from phenocast.simulation.option_dates import (
    DateCovers,
    date_covers,
    date_tables,
    tables_without_frost,
)
from phenocast.simulation.options_kernel import (
    DRAWS_TOGETHER,
    RESULT_SEASON,
    option_seasons,
    ripe_times,
)
from phenocast.simulation.planting_dates import node_beds, node_induction, span_bed
from phenocast.simulation.responses import tables_in_lanes
from phenocast.simulation.setup import BlockSetup
from phenocast.vector import lane_records
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
    plants, tables : `plants_of_dates` and `tables_of_draws`.
    runs : ``[dates]``, the dates that are run; of the others most plants are read between them.
    early_until : last day of what counts as early.
    week_of_day : week of each day from the first planting date on.
    results : ``[setups, dates, futures, draws, N_RESULTS]``, filled.
    weekly : ``[setups, dates, futures, draws, weeks]``, filled. [g per plant]
    heat : of each film ``[dates, futures, physics draws, days + 1]``, filled: running sum of crown
        degree-hours above the heat threshold, by day since planting. [degC h]
    spared : ``[setups, dates, futures, draws]``, filled: fruit without frost nights. [g per plant]
    """

    setups: dict[Key, BlockSetup]
    sets: dict[Key, BlockDraws]
    plantings: tuple[date, ...]
    plants: dict[Key, list[Any]]
    tables: dict[Key, list[Array]]
    runs: NDArray[np.bool_]
    early_until: date
    week_of_day: NDArray[np.int64]
    results: Array
    weekly: NDArray[np.float32]
    heat: dict[str, NDArray[np.float32]]
    spared: Array


def draws_of_physics(draws: int, each: int) -> list[slice]:
    """Return which draws of the plant each physics draw of a future has: as many, or nearly.

    Where they are many, the parts end where lanes do: a last group of eight that is half empty
    costs as much as a full one.

    >>> draws_of_physics(100, 2), draws_of_physics(10, 2)
    ([slice(0, 48, None), slice(48, 100, None)], [slice(0, 5, None), slice(5, 10, None)])
    """
    unit = DRAWS_TOGETHER if draws >= 4 * DRAWS_TOGETHER * each else 1
    ends = [unit * round(draws * number / (each * unit)) for number in range(each)] + [draws]
    return [slice(first, stop) for first, stop in pairwise(ends)]


def plants_of_dates(
    season: Season,
    weather: SeasonWeather,
    setups: dict[Key, BlockSetup],
    sets: dict[Key, BlockDraws],
    plantings: Sequence[date],
) -> dict[Key, list[Any]]:
    """Return the plants of every planting date: a nursery leaves them the longer until then.

    Of each option there is a list: for each physics draw the plants side by side,
    ``[dates, groups]``. Films on which plants bear as many flowers share one.
    """
    of_nursery: dict[tuple[str, str], list[Any]] = {}
    made: dict[tuple[str, str, bytes], list[Any]] = {}
    plants: dict[Key, list[Any]] = {}
    for key, setup in setups.items():
        _, cultivar, transplant = key
        draws = sets[key]
        if (cultivar, transplant) not in of_nursery:
            of_nursery[cultivar, transplant] = [
                with_nursery(
                    draws,
                    season,
                    replace(setup, block=replace(setup.block, planting_date=day)),
                    weather.nursery,
                ).plants
                for day in plantings
            ]
        flowers = draws.plants["flowers_per_truss"]
        alike = (cultivar, transplant, flowers.tobytes())
        if alike not in made:
            of_dates = []
            for grown in of_nursery[cultivar, transplant]:
                on_film = grown.copy()
                on_film["flowers_per_truss"] = flowers
                of_dates.append(
                    [
                        lane_records(on_film[part])
                        for part in draws_of_physics(len(on_film), draws.physics_each)
                    ]
                )
            made[alike] = [np.stack(of_draw) for of_draw in zip(*of_dates, strict=True)]
        plants[key] = made[alike]
    return plants


def tables_of_draws(sets: dict[Key, BlockDraws]) -> dict[Key, list[Array]]:
    """Return the induction tables of each physics draw's plants, side by side.

    They are the cultivar's, so all films share them.
    """
    of_cultivar: dict[str, list[Array]] = {}
    for (_, cultivar, _), draws in sets.items():
        if cultivar not in of_cultivar:
            of_cultivar[cultivar] = [
                tables_in_lanes(draws.tables[part])
                for part in draws_of_physics(len(draws.tables), draws.physics_each)
            ]
    return {key: of_cultivar[key[1]] for key in sets}


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
        parts = draws_of_physics(len(job.sets[keys[0]].plants), len(physics))
        for number, (record, own) in enumerate(zip(physics, parts, strict=True)):
            nodes = node_beds(bed, last, record, covers.counted)
            tables = date_tables(nodes, covers, work)
            sums = job.heat[film][:, future, number]
            sums[:] = tables.weather[:, CROWN_HEAT, : sums.shape[-1]]
            freezes = bool(frost_nights(nodes.bed.air_daily[FLOWER_MIN]).any())
            for key in keys:
                plants = job.plants[key][number]
                kind = (key[1], key[2], number)
                if kind not in ripe:
                    ripe[kind] = ripe_times(bed, plants[0])
                results = job.results[row_of_key[key], :, future, own]
                weekly = job.weekly[row_of_key[key], :, future, own]
                given = (
                    node_induction(nodes, job.tables[key][number]),
                    ripe[kind],
                    plants,
                    float(job.setups[key].block.first_pick_g_per_plant),
                    early_days,
                    job.week_of_day,
                    work,
                    results,
                    weekly,
                )
                n_parts = -(-results.shape[1] // DRAWS_TOGETHER)
                runs = np.repeat(job.runs[:, np.newaxis], n_parts, axis=1)
                option_seasons(tables, runs, *given)
                bends = bent(results, job.runs)
                if bends.any():
                    option_seasons(tables, bends, *given)
                read_between(results, weekly, runs | bends)
                spared = results
                if freezes:
                    # the same plants and dates without frost nights; only their fruit is kept
                    spared, weeks = results.copy(), weekly.copy()
                    option_seasons(
                        tables_without_frost(tables), runs | bends, *given[:-2], spared, weeks
                    )
                    read_between(spared, weeks, runs | bends)
                job.spared[row_of_key[key], :, future, own] = spared[..., RESULT_SEASON]
