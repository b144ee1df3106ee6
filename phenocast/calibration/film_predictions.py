"""What a fit makes of past blocks on their films, in draws of film optics and of fitted numbers.

Crown temperature is all that a film changes here: what these totals do not explain of a difference
between films is left over (`film_split`). Numbers that were not fitted stand at their central
value, as they did in the fit, and a season is as much later or earlier as the fit found it.
"""

from __future__ import annotations

import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from phenocast.calibration._checks import FloatArray
from phenocast.calibration.film_split import FilmSplit, film_split, pair_films
from phenocast.calibration.fit_kernel import (
    FRUIT,
    FRUIT_NUMBER,
    MARKETABLE,
    OPEN_FLOWERS,
    run_trials,
)
from phenocast.calibration.heat_scenario import NurseryWeather, drawn_plants
from phenocast.errors import InputError
from phenocast.phenology import make_work
from phenocast.simulation import BlockSetup, bed_season, crown_daily
from phenocast.simulation.setup import physics_records
from phenocast.vector import lane_records
from phenocast.weather import HourlyWeather

PHYSICS_RUNS = 16
TOTALS = (OPEN_FLOWERS, FRUIT_NUMBER, MARKETABLE, FRUIT)
NAMES = {
    OPEN_FLOWERS: "flowers",
    FRUIT_NUMBER: "fruit number",
    MARKETABLE: "marketable yield",
    FRUIT: "yield",
}


@dataclass(frozen=True)
class GrownBlock:
    """A past block with its records of amounts.

    Parameters
    ----------
    season : str
    setup : BlockSetup
        It ends with the last day that has weather.
    weather : HourlyWeather
        As it was observed.
    kind : array ``[record]``, of `TOTALS`.
    start, stop : arrays ``[record]``
        Window of each, days since planting. [d]
    value : array ``[record]``
        What was recorded. [per plant]
    nursery : pair of Nursery and its weather, optional
    later_d, later_sd_d : float
        By how much the season was later than the model makes it, and its standard deviation: what
        all blocks of a season share. [d]
    """

    season: str
    setup: BlockSetup
    weather: HourlyWeather
    kind: NDArray[np.int64]
    start: FloatArray
    stop: FloatArray
    value: FloatArray
    nursery: NurseryWeather | None = None
    later_d: float = 0.0
    later_sd_d: float = 0.0

    def later(self, n: int, seed: int) -> FloatArray:
        """Draws of how much later the season was, ``[n]``, the same for all its blocks. [d]"""
        rng = np.random.default_rng([seed, zlib.crc32(self.season.encode())])
        return self.later_d + self.later_sd_d * rng.standard_normal(n)


def predicted_records(
    block: GrownBlock,
    fitted: Mapping[str, FloatArray],
    *,
    seed: int = 0,
    physics_runs: int = PHYSICS_RUNS,
) -> FloatArray:
    """Return what the model makes of every record of a block.

    Parameters
    ----------
    block : GrownBlock
    fitted : mapping of str to array ``[draw]``
        Draws of the cultivar's fitted numbers.
    seed, physics_runs : draws of film, soil and bed; draw ``d`` takes draw ``d % physics_runs``.

    Returns
    -------
    array ``[draw, record]``
    """
    n = next(iter(fitted.values())).size
    plants, tables = drawn_plants(block.setup, fitted, n, seed, block.nursery, as_fitted=True)
    bed = bed_season(block.setup, block.weather)
    physics = physics_records(block.setup, n_draws=min(physics_runs, n), seed=seed)
    crown, daily, _ = crown_daily(bed, physics)
    work = make_work(bed.days.n_days)
    total = np.empty((4, bed.days.n_days + 1))
    later = block.later(n, seed)
    out = np.empty((n, block.kind.size))
    for run in range(len(physics)):
        own = np.arange(run, n, len(physics))
        part = np.empty((own.size, block.kind.size))
        run_trials(
            crown[run], bed.days.first_hour, daily[run], np.ascontiguousarray(tables[own]),
            np.arange(own.size), lane_records(plants[own]), later[own],
            block.setup.block.first_pick_g_per_plant, block.kind, block.start, block.stop, work,
            total, part,
        )  # fmt: skip
        out[own] = part
    return out


def split_films(
    blocks: Sequence[GrownBlock],
    draws: Mapping[str, Mapping[str, FloatArray]],
    reference: str,
    *,
    seed: int = 0,
) -> list[FilmSplit] | str:
    """Split what every film did against one of them, for every kind of amount that was recorded.

    Parameters
    ----------
    blocks : past blocks with records.
    draws : draws of the fitted numbers by cultivar; blocks of other cultivars are left out.
    reference : film that the others are held against.
    seed : of the draws of films and beds.

    Returns
    -------
    list of FilmSplit, or the sentence that says why there is none
    """
    known = [block for block in blocks if block.setup.block.cultivar in draws]
    films = sorted({block.setup.block.film for block in known} - {reference})
    if not films or not any(block.setup.block.film == reference for block in known):
        return "one film was grown"
    made = [
        predicted_records(block, draws[block.setup.block.cultivar], seed=seed) for block in known
    ]
    found = []
    for kind in TOTALS:
        rows, predicted = [], []
        for block, drawn in zip(known, made, strict=True):
            own = block.kind == kind
            seen, expected = float(block.value[own].sum()), drawn[:, own].sum(axis=1)
            if own.any() and seen > 0.0 and np.all(expected > 0.0):
                rows.append(_pair_columns(block) | {"observed": seen})
                predicted.append(expected)
        table = pd.DataFrame(rows)
        for film in films if rows else ():
            try:
                paired = pair_films(table, np.array(predicted), film, reference)
            except InputError:
                continue  # no season has both films with this kind of record and all else alike
            seasons, seen_log, made_log, pairs = paired
            found.append(
                film_split(NAMES[kind], film, reference, seasons, seen_log, made_log, pairs=pairs)
            )
    return found or (
        f"no season has another film beside {reference} with one cultivar, planting date and kind "
        "of record"
    )


def _pair_columns(block: GrownBlock) -> dict[str, object]:
    one = block.setup.block
    return {
        "season": block.season,
        "site": block.setup.site.name,
        "cultivar": one.cultivar,
        "planting_date": one.planting_date.isoformat(),
        "transplant": one.transplant,
        "film": one.film,
    }


def amounts(kind: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Whether records are amounts that add up over a season."""
    return np.isin(kind, TOTALS)


def cut_to_weather(setup: BlockSetup, n_days: int) -> BlockSetup:
    """Return a block that ends with the last day that has weather."""
    end = setup.block.planting_date + timedelta(days=n_days - 1)
    return replace(setup, block=replace(setup.block, season_end=end))
