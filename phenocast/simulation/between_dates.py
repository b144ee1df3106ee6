"""Planting dates read between two neighbours, where the dates lie a day apart.

What a plant does moves smoothly with its planting date, and from one day to the next by little. So
of dates a day apart every second one is run, and the one between takes the mean of its two
neighbours, plant by plant and year by year: of its dates, and of what a living plant bears. Where
one of these bends, as first pick does where a first small flush falls away, the plants are run.
What hangs on the first hot days themselves is not read but worked out: the heat of the date, and
the share of plants that live. `tests/forecast/test_between_dates.py` holds what is read to what is
run.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np
from numba import njit
from numpy.typing import NDArray

from phenocast.simulation.options_kernel import (
    DRAWS_TOGETHER,
    RESULT_ALIVE,
    RESULT_BLOOM,
    RESULT_EARLY,
    RESULT_FIRST_PICK,
    RESULT_SEASON,
)

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

MOST_BEND_D = 1.0
MOST_BEND_SHARE = 0.02
"""Bend over three dates two days apart beyond which a plant is run, not read: of first pick [d],
and of early and season fruit as a share of season fruit. Numbers of this shortcut alone. What is
read is off by an eighth of a bend that is even."""


def dates_to_run(plantings: Sequence[date], always: date) -> Flags:
    """Return which planting dates are run.

    Each of the others lies a day from two that are, and beyond one of these there is a third that
    tells whether anything bends.

    Parameters
    ----------
    plantings : dates in order.
    always : a date that is run in any case, such as the block's own.

    Examples
    --------
    >>> days = [date(2026, 10, day) for day in (1, 2, 3, 4, 5, 6, 7, 8, 15)]
    >>> dates_to_run(days, always=date(2026, 10, 6)).tolist()
    [True, False, True, False, True, True, True, True, True]
    """
    n_dates = len(plantings)
    runs = np.ones(n_dates, dtype=bool)
    for number in range(1, n_dates - 1):
        before, itself, after = plantings[number - 1 : number + 2]
        a_day_apart = (itself - before).days == (after - itself).days == 1
        runs[number] = not a_day_apart or not runs[number - 1] or itself == always
    for number in np.flatnonzero(~runs).tolist():
        if not _third(runs, number - 3) and not _third(runs, number + 3):
            runs[number] = True
    return runs


@njit(cache=True, nogil=True, error_model="numpy")
def _third(runs: Flags, number: int) -> bool:
    """Say whether there is a date of this number and it is run."""
    return bool(0 <= number < runs.shape[0] and runs[number])


@njit(cache=True, nogil=True, error_model="numpy")
def bent(results: Array, runs: Flags) -> Flags:
    """Return where a date must not be read between its neighbours, ``[dates, groups]``.

    First pick or fruit of a plant in the group then bends about one of the two, or the plant is
    picked in one and never in the other.

    Parameters
    ----------
    results : ``[dates, draws, N_RESULTS]``, of the dates that were run.
    runs : ``[dates]``, `dates_to_run`.
    """
    n_dates, n_draws = results.shape[0], results.shape[1]
    found = np.zeros((n_dates, (n_draws - 1) // DRAWS_TOGETHER + 1), dtype=np.bool_)
    for number in range(n_dates):
        if runs[number]:
            continue
        earlier, later = _third(runs, number - 3), _third(runs, number + 3)
        for draw in range(n_draws):
            plant = results[:, draw]
            before, after = plant[number - 1], plant[number + 1]
            found[number, draw // DRAWS_TOGETHER] |= (
                (before[RESULT_FIRST_PICK] == np.inf) != (after[RESULT_FIRST_PICK] == np.inf)
                or (earlier and _bends(plant[number - 3], before, after))
                or (later and _bends(before, after, plant[number + 3]))
            )
    return found


@njit(cache=True, nogil=True, error_model="numpy")
def _bends(one: Array, other: Array, third: Array) -> bool:
    """Say whether first pick or fruit of a plant bends over three dates, ``[N_RESULTS]`` each."""
    pick = one[RESULT_FIRST_PICK] - 2.0 * other[RESULT_FIRST_PICK] + third[RESULT_FIRST_PICK]
    if abs(pick) > MOST_BEND_D:
        return True
    largest = MOST_BEND_SHARE * max(
        _borne(one, RESULT_SEASON), _borne(other, RESULT_SEASON), _borne(third, RESULT_SEASON)
    )
    for kept in (RESULT_EARLY, RESULT_SEASON):
        fruit = _borne(one, kept) - 2.0 * _borne(other, kept) + _borne(third, kept)
        if abs(fruit) > largest:
            return True
    return False


@njit(cache=True, nogil=True, error_model="numpy")
def _borne(plant: Array, kept: int) -> float:
    """Return what a plant bears that lives. [g]"""
    return float(plant[kept] / plant[RESULT_ALIVE]) if plant[RESULT_ALIVE] > 0.0 else 0.0


@njit(cache=True, nogil=True, error_model="numpy")
def read_between(results: Array, weekly: NDArray[np.float32], runs: Flags) -> None:
    """Fill the planting dates that were not run from their neighbours.

    Parameters
    ----------
    results : ``[dates, draws, N_RESULTS]``; of all dates the share of plants that live is there.
    weekly : ``[dates, draws, weeks]``.
    runs : ``[dates, groups]``, where plants were run.
    """
    for number in range(results.shape[0]):
        for draw in range(results.shape[1]):
            if runs[number, draw // DRAWS_TOGETHER]:
                continue
            before, after = results[number - 1, draw], results[number + 1, draw]
            read = results[number, draw]
            for kept in (RESULT_FIRST_PICK, RESULT_BLOOM):
                read[kept] = 0.5 * (before[kept] + after[kept])
            # half of what a plant bears in each neighbour that lives, times how many live
            half = 0.5 * read[RESULT_ALIVE]
            one = half / before[RESULT_ALIVE] if before[RESULT_ALIVE] > 0.0 else 0.0
            other = half / after[RESULT_ALIVE] if after[RESULT_ALIVE] > 0.0 else 0.0
            for kept in (RESULT_EARLY, RESULT_SEASON):
                read[kept] = one * before[kept] + other * after[kept]
            for week in range(weekly.shape[2]):
                weekly[number, draw, week] = (
                    one * weekly[number - 1, draw, week] + other * weekly[number + 1, draw, week]
                )
