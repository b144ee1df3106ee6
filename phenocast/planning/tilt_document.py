"""How the options of a comparison stand at each tilt of the prices, as plain values."""

from __future__ import annotations

from typing import Any

from phenocast.forecast.options import OptionSeasons, option_label
from phenocast.forecast.summary import quantiles
from phenocast.planning.choice_money import Money
from phenocast.planning.price_tilt import tilted


def tilt_document(
    seasons: OptionSeasons, money: Money, reference: int
) -> tuple[dict[str, Any], list[list[dict[str, Any]]]]:
    """Return what a tilt is with the best option at each, and for every option its tilts.

    Parameters
    ----------
    seasons : OptionSeasons
    money : Money
    reference : int
        Row of the option that the others are held against.
    """
    best: list[dict[str, Any]] = []
    options: list[list[dict[str, Any]]] = [[] for _ in seasons.options]
    for one in tilted(money.revenue, money.lean, money.margins(), reference):
        best.append({"tilt": one.tilt, "best": option_label(seasons.options[one.told.best])})
        noise = one.told.in_the_noise
        for row, entries in enumerate(options):
            entries.append(
                {
                    "tilt": one.tilt,
                    "revenue": quantiles(one.revenue[row], 0),
                    "margin": quantiles(one.margin[row], 0),
                    "expected": round(float(one.told.expected[row]), 2),
                    "worst_tenth": round(float(one.told.worst_tenth[row]), 2),
                    "best_beats_it_probability": round(float(one.told.best_beats[row]), 4),
                    "in_the_noise": bool(noise[row]),
                }
            )
    weeks = money.fruit_weeks
    return {
        "meaning": "share by which the price of the first week with fruit is raised and that of "
        "the last lowered, in a straight line between",
        "first_week": weeks[0] if weeks else None,
        "last_week": weeks[-1] if weeks else None,
        "tilts": best,
    }, options
