"""How the options of a comparison stand at each tilt of the prices, as plain values."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from phenocast.forecast.options import OptionSeasons
from phenocast.planning.choice_money import Money
from phenocast.planning.choice_rows import mean_rows, standing_columns
from phenocast.planning.price_tilt import TILTS, Tilted, tilted
from phenocast.planning.recommendation import Flags, recommendation

Array = NDArray[np.float64]


def tilt_document(
    seasons: OptionSeasons, money: Money, margins: Array, flags: Flags
) -> tuple[dict[str, Any], list[list[dict[str, Any]]]]:
    """Return what a tilt is with the best option at each, and for every option its tilts.

    Parameters
    ----------
    seasons : OptionSeasons
    money : Money
    margins : array [options, traces, draws]
        Of `money`, as stated.
    flags : sequence of tuple of str
        Of each option.
    """
    best: list[dict[str, Any]] = []
    columns: list[list[dict[str, Any]]] = []
    trusted = np.array([not codes for codes in flags])
    for one in tilted(money.revenue, money.lean, margins, TILTS, trusted):
        best.append({"tilt": one.tilt, **recommendation(seasons.options, flags, one.told)})
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
    columns = {
        "revenue": mean_rows(one.revenue_mean, one.revenue),
        "margin": mean_rows(one.told.expected, one.told.levels),
        **standing_columns(one.told),
    }
    return [
        {"tilt": one.tilt, **dict(zip(columns, row, strict=True))}
        for row in zip(*columns.values(), strict=True)
    ]
