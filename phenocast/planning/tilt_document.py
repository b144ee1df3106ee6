"""How the options of a comparison stand at each tilt of the prices, as plain values."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from phenocast.forecast.options import OptionSeasons, option_label
from phenocast.planning.choice_money import Money
from phenocast.planning.choice_rows import level_rows, printed
from phenocast.planning.price_tilt import Tilted, tilted

Array = NDArray[np.float64]


def tilt_document(
    seasons: OptionSeasons, money: Money, margins: Array
) -> tuple[dict[str, Any], list[list[dict[str, Any]]]]:
    """Return what a tilt is with the best option at each, and for every option its tilts.

    Parameters
    ----------
    seasons : OptionSeasons
    money : Money
    margins : array [options, futures, draws]
        Of `money`, as stated.
    """
    best: list[dict[str, Any]] = []
    columns: list[list[dict[str, Any]]] = []
    for one in tilted(money.revenue, money.lean, margins):
        best.append({"tilt": one.tilt, "best": option_label(seasons.options[one.told.best])})
        columns.append(_rows(one))
    options = [list(entries) for entries in zip(*columns, strict=True)]
    weeks = money.fruit_weeks
    return {
        "meaning": "share by which the price of the first week with fruit is raised and that of "
        "the last lowered, in a straight line between",
        "first_week": weeks[0] if weeks else None,
        "last_week": weeks[-1] if weeks else None,
        "tilts": best,
    }, options


def _rows(one: Tilted) -> list[dict[str, Any]]:
    """Return the entry of every option at one tilt."""
    told = one.told
    return [
        {
            "tilt": one.tilt,
            "revenue": revenue,
            "margin": margin,
            "expected": expected,
            "worst_tenth": worst,
            "best_beats_it_probability": beaten,
            "in_the_noise": noise,
        }
        for revenue, margin, expected, worst, beaten, noise in zip(
            level_rows(one.revenue, 0),
            level_rows(told.levels, 0),
            printed(told.expected, 2),
            printed(told.worst_tenth, 2),
            printed(told.best_beats, 4),
            told.in_the_noise.tolist(),
            strict=True,
        )
    ]
