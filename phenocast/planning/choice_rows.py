"""Numbers of all options rounded for print at once, to the figures that one by one would give.

A comparison prints some hundreds of numbers of every option. They leave here as JSON holds them,
so that nothing has to go through them once more.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from phenocast.planning.choice_standing import Standing
from phenocast.units import KEPT_DIGITS, to_kept_digits

Array = NDArray[np.float64]

# A number scaled to whole ones is off by less than this while it is below a thousand million.
_DOUBT = 1e-6
_LARGE = 1e9


class PlainRows(list[dict[str, Any]]):
    """Entries that are plain data already: `phenocast.io.plain_data` takes them as they are."""

    is_plain_data = True


def printed(values: Array, digits: int) -> list[Any]:
    """Return the numbers of an array as ``round`` rounds each of them, in lists as deep as it.

    Scaled, made whole and scaled back, which is several times faster. That gives the float nearest
    to the decimals, as ``round`` does, wherever it is plain which whole number is the nearest;
    numbers that lie all but in the middle of two, or are very large, are left to ``round``.

    Parameters
    ----------
    values : array of any shape
    digits : int
        Places after the point, 0 to 9.

    Returns
    -------
    list
        As `plain` gives it.

    Examples
    --------
    >>> printed(np.array([0.125, 2.675, np.nan]), 2)  # 2.675 is a little less than it looks
    [0.12, 2.67, None]
    """
    scale = 10.0**digits
    # What is not finite, or becomes so, is in doubt too.
    with np.errstate(invalid="ignore", over="ignore"):
        scaled = values * scale
        whole = np.rint(scaled)
        found = whole / scale
        sure = (np.abs(scaled - whole) < 0.5 - _DOUBT) & (np.abs(scaled) < _LARGE)
    for place in np.argwhere(~sure):
        at = tuple(place)
        found[at] = round(float(values[at]), digits)
    return plain(found, digits)


def plain(rounded: Array, digits: int) -> list[Any]:
    """Return numbers of few decimals as JSON holds them: no minus zero, and None for no number.

    Parameters
    ----------
    rounded : array of any shape
        Each the float nearest to a decimal number of so many places.
    digits : int
        These places; a number too large to keep them in ten significant digits loses some.

    Examples
    --------
    >>> plain(np.array([[-0.0, 12.5], [np.inf, 12345678901.5]]), 1)
    [[0.0, 12.5], [None, 12345678900.0]]
    """
    told: list[Any] = (rounded + 0.0).tolist()
    kept = np.abs(rounded) < 10.0 ** (KEPT_DIGITS - digits)
    for place in np.argwhere(~kept):
        row = told
        for step in place[:-1]:
            row = row[step]
        row[place[-1]] = to_kept_digits(row[place[-1]])
    return told


def level_rows(levels: Array, digits: int) -> list[dict[str, float]]:
    """Return P10, P50 and P90 of every row by their names, rounded for print.

    Parameters
    ----------
    levels : array [rows, 3]
    digits : int

    Examples
    --------
    >>> level_rows(np.array([[1.04, 2.0, 3.06]]), 1)
    [{'p10': 1.0, 'p50': 2.0, 'p90': 3.1}]
    """
    rows = printed(levels, digits)
    return [{"p10": low, "p50": middle, "p90": high} for low, middle, high in rows]


def mean_rows(means: Array, levels: Array) -> list[dict[str, float]]:
    """Return the mean of every row, which is its headline, with its P10, P50 and P90.

    Examples
    --------
    >>> mean_rows(np.array([2.4]), np.array([[1.0, 2.0, 3.0]]))
    [{'mean': 2.0, 'p10': 1.0, 'p50': 2.0, 'p90': 3.0}]
    """
    return [
        {"mean": mean, **row}
        for mean, row in zip(printed(means, 0), level_rows(levels, 0), strict=True)
    ]


def standing_columns(told: Standing) -> dict[str, list[Any]]:
    """Return how every option stands, a column for each key."""
    return {
        "expected": printed(told.expected, 2),
        "worst_tenth": printed(told.worst_tenth, 2),
        "difference_to_best": [
            {"mean": mean, "standard_error": error, "low_95": low, "high_95": high}
            for mean, error, low, high in zip(
                printed(-told.behind_best, 2),
                printed(told.behind_best_se, 3),
                printed(-told.behind_best - told.behind_best_margin, 2),
                printed(-told.behind_best + told.behind_best_margin, 2),
                strict=True,
            )
        ],
        "not_clearly_worse": told.not_clearly_worse.tolist(),
    }
