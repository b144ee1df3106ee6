"""What a vector of numbers predicts for every record, and how that changes with each number."""

from __future__ import annotations

import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from phenocast.calibration.fit_blocks import FitBlock
from phenocast.calibration.fit_kernel import DATES, FRUIT_MASS, run_trials
from phenocast.calibration.fit_numbers import CUT_OFF, SEASON_SHIFT, Layout
from phenocast.phenology import PLANT_DTYPE, PLANT_FIELDS, Work, make_work
from phenocast.simulation.responses import induction_tables
from phenocast.vector import lane_records

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# Steps of the slopes: wide enough to pass over the kinks that whole days leave in a sum.
STEP_SD = 0.15
STEP_D = 0.25
_INDUCTION = ("induction_base", "induction_optimum", "induction_ceiling")
_INDUCTION_AT = [PLANT_FIELDS.index(name) for name in _INDUCTION]
_SUPPLY_FREE = (FRUIT_MASS, *DATES)


def _tables(induction: FloatArray) -> FloatArray:
    """Induction response of each row of base, optimum and ceiling ``[n, 3]``, ``[n, nodes]``."""
    return np.stack([_table(*row) for row in induction.tolist()])


@lru_cache(maxsize=512)
def _table(base: float, optimum: float, ceiling: float) -> FloatArray:
    """Induction response of one trial, ``[nodes]``; the blocks of a cultivar ask for the same."""
    table: FloatArray = induction_tables(*(np.array([one]) for one in (base, optimum, ceiling)))[0]
    return table


@dataclass
class BlockRuns:
    """One block, its records and the work space of its trials.

    ``bend`` ``[nodes]`` multiplies the induction response by temperature; None leaves it.
    """

    block: FitBlock
    rows: IntArray
    kind: IntArray
    start: FloatArray
    stop: FloatArray
    entries: IntArray
    runs: int
    fields: list[int] = field(default_factory=list)
    centre: FloatArray = field(default_factory=lambda: np.empty(0))
    spread: FloatArray = field(default_factory=lambda: np.empty(0))
    low: FloatArray = field(default_factory=lambda: np.empty(0))
    high: FloatArray = field(default_factory=lambda: np.empty(0))
    scaled: FloatArray = field(default_factory=lambda: np.empty(0))
    plain: FloatArray = field(default_factory=lambda: np.empty(0))
    tables: FloatArray = field(default_factory=lambda: np.empty((0, 0)))
    moves_induction: bool = False
    work: Work = field(default_factory=lambda: make_work(1))
    total: FloatArray = field(default_factory=lambda: np.empty(0))
    daily: FloatArray = field(default_factory=lambda: np.empty(0))
    bend: FloatArray | None = None

    def prepare(self, layout: Layout) -> BlockRuns:
        """Fill what every trial needs."""
        numbers = [layout.numbers[i] for i in self.entries[: self.runs]]
        plants = [one for one in numbers if one.prior is not None]
        self.fields = [PLANT_FIELDS.index(one.name) for one in plants]
        self.centre = np.array([one.prior.value for one in plants if one.prior is not None])
        self.spread = np.array([one.prior.sd for one in plants if one.prior is not None])
        self.low = np.array([one.low for one in numbers])
        self.high = np.array([one.high for one in numbers])
        assert numbers[-1].group == SEASON_SHIFT
        self.scaled = (~np.isin(self.kind, _SUPPLY_FREE)).astype(np.float64)
        self.plain = np.array([float(self.block.base[0][name]) for name in PLANT_FIELDS])
        self.moves_induction = any(one.name in CUT_OFF or one.name in _INDUCTION for one in plants)
        self.tables = _tables(self.plain[None, _INDUCTION_AT])
        self.work = make_work(self.block.n_days)
        self.total = np.empty((4, self.block.n_days + 1))
        self.daily = self.block.daily.copy()
        return self

    def _tables_of(self, plants: FloatArray) -> tuple[FloatArray, IntArray]:
        """Induction responses of some trials, and which of them each trial has."""
        wanted = plants[:, _INDUCTION_AT]
        if bool((wanted == wanted[0]).all()):  # as a rule no trial moves them
            return _tables(wanted[:1]), np.zeros(len(plants), dtype=np.int64)
        distinct, table_of = np.unique(wanted, axis=0, return_inverse=True)
        return _tables(distinct), table_of.reshape(-1).astype(np.int64)

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
            tables, table_of = self._tables_of(plants)
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
        return np.asarray(found * np.where(self.scaled > 0.0, level, 1.0))

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
        level = np.where(self.scaled > 0.0, np.exp(own[self.runs] + own[self.runs + 1]), 1.0)
        found = found * level
        width = np.maximum(up - down, 1e-12)
        slopes = np.zeros((len(self.kind), len(self.entries)))
        slopes[:, tried] = ((found[1::2] - found[2::2]) / width[:, None]).T
        slopes[:, self.runs] = found[0] * self.scaled
        slopes[:, self.runs + 1] = found[0] * self.scaled
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
        self.parts = []
        for number, block in enumerate(blocks):
            rows = np.flatnonzero(block_of == number)
            if rows.size:
                self.parts.append(
                    BlockRuns(
                        block, rows, np.ascontiguousarray(kind[rows]),
                        np.ascontiguousarray(start[rows]), np.ascontiguousarray(stop[rows]),
                        layout.of_block[number], layout.runs[number],
                    ).prepare(layout)
                )  # fmt: skip

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
