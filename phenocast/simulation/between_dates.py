"""Planting dates read between two neighbours, where the dates lie a day apart.

What a plant does moves smoothly with its planting date, and from one day to the next by little. So
of dates a day apart every second one is run, and the one between takes the mean of its two
neighbours, plant by plant and year by year: of first pick, and of what a living plant bears. What
hangs on the first hot days themselves is not read but worked out: the heat of the date, and the
share of plants that live. `tests/forecast/test_between_dates.py` holds what is read to what is
run.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np
from numpy.typing import NDArray

from phenocast.simulation.options_kernel import (
    RESULT_ALIVE,
    RESULT_EARLY,
    RESULT_FIRST_PICK,
    RESULT_SEASON,
)

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]


def dates_to_run(plantings: Sequence[date], always: date) -> Flags:
    """Return which planting dates are run; each of the others lies a day from two that are.

    Parameters
    ----------
    plantings : dates in order.
    always : a date that is run in any case, such as the block's own.

    Examples
    --------
    >>> days = [date(2026, 10, day) for day in (1, 2, 3, 4, 5, 6, 13)]
    >>> dates_to_run(days, always=date(2026, 10, 4)).tolist()
    [True, False, True, True, False, True, True]
    """
    runs = np.ones(len(plantings), dtype=bool)
    for number in range(1, len(plantings) - 1):
        before, itself, after = plantings[number - 1 : number + 2]
        a_day_apart = (itself - before).days == (after - itself).days == 1
        runs[number] = not a_day_apart or not runs[number - 1] or itself == always
    return runs


def differ_in_picking(first_pick: Array, runs: Flags) -> Flags:
    """Return the dates that cannot be read: a plant is picked in one neighbour and not the other.

    Parameters
    ----------
    first_pick : ``[dates, ...]``, infinite for never, of the dates that were run.
    runs : ``[dates]``, `dates_to_run`.
    """
    differ = np.zeros(len(runs), dtype=bool)
    between = np.flatnonzero(~runs)
    never = np.isinf(first_pick).reshape(len(runs), -1)
    differ[between] = (never[between - 1] != never[between + 1]).any(axis=1)
    return differ


def read_between(results: Array, weekly: NDArray[np.float32], runs: Flags) -> None:
    """Fill the planting dates that were not run from their neighbours.

    Parameters
    ----------
    results : ``[dates, draws, N_RESULTS]``; of all dates the share of plants that live is there.
    weekly : ``[dates, draws, weeks]``.
    runs : ``[dates]``, the dates that were run.
    """
    between = np.flatnonzero(~runs)
    before, after = results[between - 1], results[between + 1]
    results[between, :, RESULT_FIRST_PICK] = 0.5 * (
        before[..., RESULT_FIRST_PICK] + after[..., RESULT_FIRST_PICK]
    )
    # what the plants bear that live, times how many do
    alive = 0.5 * results[between, :, RESULT_ALIVE]
    shares = [
        np.divide(alive, living, out=np.zeros_like(alive), where=living > 0.0)
        for living in (before[..., RESULT_ALIVE], after[..., RESULT_ALIVE])
    ]
    for kept in (RESULT_EARLY, RESULT_SEASON):
        results[between, :, kept] = shares[0] * before[..., kept] + shares[1] * after[..., kept]
    first, second = (share[..., np.newaxis].astype(np.float32) for share in shares)
    weekly[between] = first * weekly[between - 1] + second * weekly[between + 1]
