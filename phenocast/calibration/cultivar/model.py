"""What a vector of parameters predicts for every record, and how that changes with each of them.

A kernel runs many trials of a plant in one block-season and sums them over the windows of the
records; `Runs` does so for all blocks of a fit.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from copy import copy
from functools import lru_cache
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from phenocast._typing import FloatArray, IntArray
from phenocast.calibration.cultivar.blocks import FitBlock
from phenocast.calibration.cultivar.parameters import CUT_OFF, SEASON_SHIFT, Layout
from phenocast.harvest.kernels import fill_windows, ripen_and_bear
from phenocast.phenology import PLANT_DTYPE, PLANT_FIELDS, make_work
from phenocast.phenology.daily import INDUCTION_RESPONSE as DAILY_RESPONSE
from phenocast.phenology.development import develop_plants
from phenocast.phenology.prefix import sum_weather
from phenocast.phenology.work import (
    ANTHESIS,
    FIRST_PICK,
    INDUCTION_RESPONSE,
    MARKETABLE_G,
    OPEN_1,
    OPEN_2,
    OPEN_3,
    RIPE_FRUIT,
    RIPE_G,
)
from phenocast.simulation.daily_sums import fill_induction
from phenocast.simulation.responses import induction_tables
from phenocast.vector import LANES, lane_records

# What a record holds; the numbers stand in the rows of a fit.
MARKETABLE = 0
FRUIT = 1
FRUIT_NUMBER = 2
FRUIT_MASS = 3
OPEN_FLOWERS = 4
FIRST_PICKED = 5
FIRST_FLOWER = 6
KINDS = (
    "marketable_g_per_plant",
    "fruit_g_per_plant",
    "fruits_per_plant",
    "fruit_mass_g",
    "open_flowers_per_plant",
    "first pick",
    "first flower",
)
DATES = (FIRST_PICKED, FIRST_FLOWER)

# A stage that a trial never reaches still needs a place in time, so that a search can find its way
# back: after the last day, later the more is missing. Only the direction matters.
BEYOND_D = 60.0


@njit(cache=True, nogil=True, error_model="numpy")
def at_time(total, time, n_days):  # type: ignore[no-untyped-def]
    """Return a running sum at a time in days; level before the first day and after the last."""
    if time <= 0.0:
        return 0.0
    if time >= n_days:
        return total[n_days]
    day = int(time)
    return total[day] + (time - day) * (total[day + 1] - total[day])


@njit(cache=True, nogil=True, error_model="numpy")
def run_trials(  # type: ignore[no-untyped-def]
    crown,
    first_hour,
    daily,
    tables,
    table_of,
    plants,
    shift,
    first_pick_g,
    kind,
    start,
    stop,
    work,
    total,
    out,
):
    """Run each trial and fill ``out`` ``[trials, records]``.

    ``tables`` is ``[n, nodes]`` and ``table_of`` ``[trials]`` says which induction response a trial
    has; ``shift`` ``[trials]`` [d] moves everything later; ``kind``, ``start`` and ``stop``
    ``[records]`` say what is summed between which times since planting [d]; ``plants`` are the
    trials' records, eight side by side (`lane_records`); ``total`` is ``[4, days + 1]``.
    """
    n_days = daily.shape[1]
    # only what the records ask for is followed to the last day
    all_fruit = False
    all_flowers = False
    for i in range(kind.shape[0]):
        all_fruit = all_fruit or 1 <= kind[i] <= 3
        all_flowers = all_flowers or kind[i] == 4 or kind[i] == 6
    sum_weather(daily, work)
    fill_windows(n_days, work)
    n_trials = table_of.shape[0]
    rows = work.rows
    current = -1
    for k in range(n_trials):
        lane = k % LANES
        if lane == 0:
            group = plants[k // LANES]
            for place in range(LANES):
                table = table_of[min(k + place, n_trials - 1)]
                if table != current:
                    current = table
                    fill_induction(crown, first_hour, tables[current], daily)
                for day in range(n_days):
                    rows[INDUCTION_RESPONSE, day, place] = daily[DAILY_RESPONSE, day]
            develop_plants(daily, all_flowers, False, group, work)
            ripen_and_bear(n_days, all_fruit, group, first_pick_g, work)
        for row in range(4):
            total[row, 0] = 0.0
        for day in range(n_days):
            total[0, day + 1] = total[0, day] + rows[MARKETABLE_G, day, lane]
            total[1, day + 1] = total[1, day] + rows[RIPE_G, day, lane]
            total[2, day + 1] = total[2, day] + rows[RIPE_FRUIT, day, lane]
            total[3, day + 1] = (
                total[3, day]
                + rows[OPEN_1, day, lane]
                + rows[OPEN_2, day, lane]
                + rows[OPEN_3, day, lane]
            )
        late = shift[k]
        for i in range(kind.shape[0]):
            what = kind[i]
            if what <= 2:
                value = at_time(total[what], stop[i] - late, n_days) - at_time(
                    total[what], start[i] - late, n_days
                )
            elif what == 3:
                grams = at_time(total[1], stop[i] - late, n_days) - at_time(
                    total[1], start[i] - late, n_days
                )
                number = at_time(total[2], stop[i] - late, n_days) - at_time(
                    total[2], start[i] - late, n_days
                )
                # where a trial has no fruit yet, the mass of a fruit says nothing
                value = grams / number if number > 1e-9 else np.nan
            elif what == 4:
                value = at_time(total[3], stop[i] - late, n_days) - at_time(
                    total[3], start[i] - late, n_days
                )
            elif what == 5:
                value = work.dates[FIRST_PICK, lane] + late
                if not np.isfinite(value):
                    value = n_days + BEYOND_D * (1.0 - total[1, n_days] / first_pick_g) + late
            else:
                value = work.dates[ANTHESIS, lane] + late
                if not np.isfinite(value):
                    missing = 1.0 - total[3, n_days] / group.first_anthesis_flowers[lane]
                    value = n_days + BEYOND_D * max(missing, 0.0) + late
            out[k, i] = value


# Steps of the slopes: wide enough to pass over the kinks that whole days leave in a sum.
STEP_SD = 0.15
STEP_D = 0.25
_INDUCTION = ("induction_base", "induction_optimum", "induction_ceiling")
_INDUCTION_AT = [PLANT_FIELDS.index(name) for name in _INDUCTION]
_SUPPLY_FREE = (FRUIT_MASS, *DATES)


@lru_cache(maxsize=512)
def _table(base: float, optimum: float, ceiling: float) -> FloatArray:
    """Induction response of one trial, ``[nodes]``; the blocks of a cultivar ask for the same."""
    table: FloatArray = induction_tables(*(np.array([one]) for one in (base, optimum, ceiling)))[0]
    return table


def _tables(induction: FloatArray) -> FloatArray:
    """Induction response of each row of base, optimum and ceiling ``[n, 3]``, ``[n, nodes]``."""
    return np.stack([_table(*row) for row in induction.tolist()])


class BlockRuns:
    """One block, its records and the work space of its trials.

    Parameters
    ----------
    block : FitBlock
    rows : array ``[own records]``, its rows among all records.
    kind, start, stop : arrays ``[records]``, as in `Runs`.
    layout : Layout
    number : of the block in the layout.

    Attributes
    ----------
    daily : array ``[N_DAILY, days]``
        Its daily table; a copy may have another.
    bend : array ``[nodes]`` or None
        Factors of the induction response by temperature.
    """

    def __init__(
        self,
        block: FitBlock,
        rows: IntArray,
        kind: IntArray,
        start: FloatArray,
        stop: FloatArray,
        layout: Layout,
        number: int,
    ) -> None:
        self.block, self.rows = block, rows
        self.kind, self.start, self.stop = kind[rows], start[rows], stop[rows]
        self.entries, self.runs = layout.of_block[number], layout.runs[number]
        numbers = [layout.entries[i] for i in self.entries[: self.runs]]
        assert numbers[-1].group == SEASON_SHIFT
        self.low = np.array([one.low for one in numbers])
        self.high = np.array([one.high for one in numbers])
        plants = [(one.name, one.prior) for one in numbers if one.prior is not None]
        self.fields = [PLANT_FIELDS.index(name) for name, _ in plants]
        self.centre = np.array([prior.value for _, prior in plants])
        self.spread = np.array([prior.sd for _, prior in plants])
        self.moves_induction = any(name in (*CUT_OFF, *_INDUCTION) for name, _ in plants)
        self.scaled = ~np.isin(self.kind, _SUPPLY_FREE)
        self.plain = np.array([float(block.base[0][name]) for name in PLANT_FIELDS])
        self.tables = _tables(self.plain[None, _INDUCTION_AT])
        self.work = make_work(block.n_days)
        self.total = np.empty((4, block.n_days + 1))
        self.daily = block.daily.copy()
        self.bend: FloatArray | None = None

    def with_curves(
        self, *, daily: FloatArray | None = None, bend: FloatArray | None = None
    ) -> BlockRuns:
        """Return the block with another daily table or a bent induction response."""
        other = copy(self)
        other.daily, other.bend = self.daily if daily is None else daily, bend
        return other

    def run(self, trials: FloatArray) -> FloatArray:
        """Records of each trial before any level, ``[trials, records]``.

        Parameters
        ----------
        trials : array ``[trials, runs]``; the last entry is the shift of the season [d].
        """
        plants = np.repeat(self.plain[None, :], len(trials), axis=0)
        plants[:, self.fields] = self.centre + self.spread * trials[:, :-1]
        tables, table_of = self.tables, np.zeros(len(trials), dtype=np.int64)
        if self.moves_induction:
            distinct, table_of = np.unique(plants[:, _INDUCTION_AT], axis=0, return_inverse=True)
            tables, table_of = _tables(distinct), table_of.reshape(-1)
        if self.bend is not None:
            tables = tables * self.bend
        records: np.ndarray[Any, Any] = np.ascontiguousarray(plants).view(PLANT_DTYPE)[:, 0]
        out = np.empty((len(trials), len(self.kind)))
        run_trials(
            self.block.crown, self.block.first_hour, self.daily, tables, table_of,
            lane_records(records),
            np.ascontiguousarray(trials[:, -1]), self.block.first_pick_g, self.kind, self.start,
            self.stop, self.work, self.total, out,
        )  # fmt: skip
        return out

    def predict(self, vectors: FloatArray) -> FloatArray:
        """Records under each of some vectors ``[n, entries]``, ``[n, records]``."""
        own = vectors[:, self.entries]
        level = np.exp(own[:, self.runs] + own[:, self.runs + 1])[:, None]
        found = self.run(np.ascontiguousarray(own[:, : self.runs]))
        return np.asarray(found * np.where(self.scaled, level, 1.0))

    def slopes(
        self, vector: FloatArray, moving: NDArray[np.bool_]
    ) -> tuple[FloatArray, FloatArray]:
        """Records ``[records]`` and their slopes on the block's entries ``[records, entries]``.

        Only the entries that move are tried; the slopes on the others are left at 0.
        """
        own = vector[self.entries]
        here = own[: self.runs]
        step = np.full(self.runs, STEP_SD)
        step[-1] = STEP_D
        tried = np.flatnonzero(moving[self.entries[: self.runs]])
        up = np.minimum(here + step, self.high)[tried]
        down = np.maximum(here - step, self.low)[tried]
        trials = np.repeat(here[None, :], 1 + 2 * tried.size, axis=0)
        for place, i in enumerate(tried):
            trials[1 + 2 * place, i] = up[place]
            trials[2 + 2 * place, i] = down[place]
        found = self.run(trials)
        level = np.where(self.scaled, np.exp(own[self.runs] + own[self.runs + 1]), 1.0)
        found = found * level
        width = np.maximum(up - down, 1e-12)
        slopes = np.zeros((len(self.kind), len(self.entries)))
        slopes[:, tried] = ((found[1::2] - found[2::2]) / width[:, None]).T
        slopes[:, self.runs :] = (found[0] * self.scaled)[:, None]
        return found[0], slopes


class Runs:
    """All blocks of a fit.

    Parameters
    ----------
    blocks : blocks with records.
    layout : Layout of the same blocks, in the same order.
    block_of, kind, start, stop : arrays ``[records]``
        Block, kind and window (days since planting) of each record.
    """

    def __init__(
        self,
        blocks: Sequence[FitBlock],
        layout: Layout,
        block_of: IntArray,
        kind: IntArray,
        start: FloatArray,
        stop: FloatArray,
    ) -> None:
        self.size = len(block_of)
        self.layout = layout
        self.parts = [
            BlockRuns(block, rows, kind, start, stop, layout, number)
            for number, block in enumerate(blocks)
            if (rows := np.flatnonzero(block_of == number)).size
        ]

    def predict(self, vector: FloatArray) -> FloatArray:
        """Every record under a vector, ``[records]``."""
        out = np.empty(self.size)
        runs = spread_over_threads(lambda part: part.predict(vector[None, :])[0], self.parts)
        for part, found in zip(self.parts, runs, strict=True):
            out[part.rows] = found
        return out

    def slopes(
        self, vector: FloatArray, moving: NDArray[np.bool_]
    ) -> tuple[FloatArray, list[FloatArray]]:
        """Every record, and for each part its slopes ``[records, entries]``.

        Parameters
        ----------
        vector : array ``[entries]``
        moving : array of bool ``[entries]``
            Entries to try; the slopes on the others are 0.
        """
        found = spread_over_threads(lambda part: part.slopes(vector, moving), self.parts)
        out = np.empty(self.size)
        for part, (values, _) in zip(self.parts, found, strict=True):
            out[part.rows] = values
        return out, [slopes for _, slopes in found]


def spread_over_threads(task: Any, parts: Sequence[Any]) -> list[Any]:
    """Run a task for each part, in threads: the kernels let go of the interpreter.

    No block may be in two threads at once, for each has one work space.
    """
    workers = min(os.cpu_count() or 1, len(parts))
    if workers < 2:
        return [task(part) for part in parts]
    found: list[Any] = [None] * len(parts)

    def share(first: int) -> None:
        for place in range(first, len(parts), workers):
            found[place] = task(parts[place])

    with ThreadPoolExecutor(max_workers=workers) as pool:
        list(pool.map(share, range(workers)))
    return found
