"""Frost in a forecast: which nights, what they take, and what protection would keep.

A frost night is one in which an open flower falls below 0 degC. What is lost is the difference
between each season and the same season, under the same draws, without frost nights.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

import numpy as np

from phenocast._typing import FloatArray
from phenocast.errors import CAUTION
from phenocast.forecast.summary import quantiles
from phenocast.parameters import frost
from phenocast.season import Block
from phenocast.simulation.frost import FrostNights, frost_nights

DECIDED_BY = (
    "the temperature of an open flower 15 cm above the bed; screen air is warmer on clear nights"
)
NO_ALARM = (
    "frost: this is no frost alarm. Follow the frost warnings of your weather service in the "
    "season, and measure at flower height in the coldest part of the field: on clear nights a "
    "screen at 1.5 to 2 m shows some degrees more than a flower has"
)
ICE = (
    "frost: ice is heavy and brings down pipes, hoops and covers. Ice, water and the dark are a "
    "danger to people: light the way, keep power away from water, let nobody work alone, and pick "
    "nothing until plants and fruit have thawed"
)
WATER = (
    "frost: overhead water that is too little, too late, stopped before the wet bulb is above "
    "0 degC, or blown by dry wind harms more than none. Local codes on water, pumps and work come "
    "first"
)
ON_FROST = (NO_ALARM, ICE, WATER)
NOT_STATED = "not stated"
MOST_NAMED = 6
"""Blocks that are named one by one in cautions."""
SERIOUS = f"{CAUTION}frost takes"
"""How the caution of a block that loses much to frost begins."""


def shares_lost(fruit_g: FloatArray, spared_g: FloatArray) -> dict[str, float]:
    """Return the share of the season's fruit that frost takes.

    Parameters
    ----------
    fruit_g, spared_g : arrays ``[traces, draws]``
        Fruit of the season with and without frost nights. [g per plant]

    Returns
    -------
    dict
        ``mean`` over all cases, and ``p90_over_weather_years``, which one year of ten exceeds.

    Examples
    --------
    >>> shares_lost(np.array([[95.0], [100.0]]), np.array([[100.0], [100.0]]))
    {'mean': 0.025, 'p90_over_weather_years': 0.045}
    """
    spared, lost = spared_g.mean(axis=1), (spared_g - fruit_g).mean(axis=1)
    share = np.divide(lost, spared, out=np.zeros_like(spared), where=spared > 0.0)
    total = float(spared.sum())
    return {
        "mean": round(float(lost.sum()) / total if total > 0.0 else 0.0, 4),
        "p90_over_weather_years": round(float(np.quantile(share, 0.9)), 4),
    }


def is_serious(share: dict[str, float]) -> bool:
    """Say whether frost takes so much of a season that it is the first thing to say.

    Examples
    --------
    >>> is_serious({"mean": 0.05, "p90_over_weather_years": 0.0})
    True
    >>> is_serious({"mean": 0.0499, "p90_over_weather_years": 0.1499})
    False
    """
    limits = frost()
    return share["mean"] >= limits.value("caution_mean") or share[
        "p90_over_weather_years"
    ] >= limits.value("caution_year")


def caution(name: str, protection: str, share: dict[str, float]) -> str:
    """Return the caution of a block that loses much to frost."""
    stated = (
        "no protection is stated" if protection == NOT_STATED
        else "no protection" if protection == "none"
        else f"protected by {protection} as stated"
    )  # fmt: skip
    return (
        f"{SERIOUS} {100.0 * share['mean']:.0f} % of the season's fruit of block '{name}' in the "
        f"mean, and {100.0 * share['p90_over_weather_years']:.0f} % or more in one weather year of "
        f"ten ({stated})"
    )


def frost_warnings(
    blocks: Sequence[tuple[Block, FrostNights, FloatArray, FloatArray]],
) -> tuple[str, ...]:
    """Return the cautions of a season: blocks that lose much first, then those on frost itself.

    Parameters
    ----------
    blocks : each with its frost, and the fruit of its season as it is protected and without frost
        nights, ``[traces, draws]``. [g per plant]

    Returns
    -------
    tuple of str
        Empty where no block has a frost night, protected or not.
    """
    shares = [(block, shares_lost(fruit, spared)) for block, _, fruit, spared in blocks]
    serious = [(block, share) for block, share in shares if is_serious(share)]
    serious.sort(key=lambda one: -one[1]["mean"])
    told = [caution(block.name, block.frost_kind or NOT_STATED, share)
            for block, share in serious[:MOST_NAMED]]  # fmt: skip
    if len(serious) > MOST_NAMED:
        told.append(f"{SERIOUS} as much or less of {len(serious) - MOST_NAMED} more blocks")
    if any(frost_nights(frost_of.bare_min_c).any() for _, frost_of, _, _ in blocks):
        told += ON_FROST
    return tuple(told)


def season_frost(block: Block, fruit_g: FloatArray, spared_g: FloatArray) -> dict[str, Any]:
    """Return what a season loses to frost, and its fruit without and with protection.

    Parameters
    ----------
    block : Block
    fruit_g, spared_g : arrays ``[traces, draws]``
        Fruit of the season as the block is protected, and without frost nights. [g per plant]

    Returns
    -------
    dict
        ``protection, share_of_season_lost, season_g_per_plant, with_protection``; the last is None
        where the block states its protection.
    """
    return {
        "protection": block.frost_kind or NOT_STATED,
        "share_of_season_lost": shares_lost(fruit_g, spared_g),
        "season_g_per_plant": quantiles(fruit_g),
        "with_protection": None
        if block.frost_kind
        else {"season_g_per_plant": quantiles(spared_g)},
    }


def season_notes(frost_of: dict[str, Any]) -> tuple[str, ...]:
    """Return what to know of a hindcast that frost takes fruit of.

    Parameters
    ----------
    frost_of : of `season_frost`.
    """
    if frost_of["protection"] != NOT_STATED or frost_of["share_of_season_lost"]["mean"] < 0.001:
        return ()
    told = (
        "frost takes fruit of blocks that state no protection: none is counted, and 'frost' of the "
        "document holds their season with protection beside; where a block was protected, state "
        "frost_protection or row_cover"
    )
    return (told,)


def night_rows(planting: date, frost_of: FrostNights) -> list[dict[str, Any]]:
    """Return every calendar day on which some trace has a frost night, without protection or with.

    Returns
    -------
    list of dict
        ``date``; ``probability`` of a frost night without protection; ``flower_c`` and
        ``flower_protected_c``, medians of the traces that have one [degC]; ``flowers_lost`` and
        ``fruit_lost_g``, means over all traces as the block is protected, per plant.
    """
    bare, protected = frost_of.bare_min_c, frost_of.flower_min_c
    cold = frost_nights(bare) | frost_nights(protected)
    return [
        {
            "date": (planting + timedelta(days=int(day))).isoformat(),
            "probability": round(float(frost_nights(bare[:, day]).mean()), 4),
            "flower_c": round(float(np.median(bare[cold[:, day], day])), 1),
            "flower_protected_c": round(float(np.median(protected[cold[:, day], day])), 1),
            "flowers_lost": round(float(frost_of.flowers_lost[:, day].mean()), 3),
            "fruit_lost_g": round(float(frost_of.fruit_lost[:, day].mean()), 2),
        }
        for day in np.flatnonzero(cold.any(axis=0))
    ]


def frost_part(
    block: Block,
    frost_of: FrostNights,
    labels: Sequence[str],
    weekly: FloatArray,
    spared_weekly: FloatArray,
    spared_rows: list[dict[str, Any]],
) -> dict[str, Any]:
    """Return what a forecast tells of the frost of one block.

    Parameters
    ----------
    block : Block
    frost_of : FrostNights
    labels : ISO weeks.
    weekly, spared_weekly : arrays ``[traces, draws, weeks]``
        Fruit as the block is protected, and without frost nights. [g per plant]
    spared_rows : weeks without frost nights, with fruit and trays, as the forecast tells them.
    """
    fruit_g, spared_g = weekly.sum(axis=-1), spared_weekly.sum(axis=-1)
    lost = spared_g - fruit_g
    share = shares_lost(fruit_g, spared_g)
    protection = block.frost_kind or NOT_STATED
    flowers = float(frost_of.flowers.mean())
    lost_by_week = (spared_weekly - weekly).mean(axis=(0, 1))
    return {
        "protection": protection,
        "decided_by": DECIDED_BY,
        "nights_in_season": quantiles(frost_nights(frost_of.bare_min_c).sum(axis=1), 0),
        "nights": night_rows(block.planting_date, frost_of),
        "flowers_lost_share": round(float(frost_of.flowers_lost.sum(axis=1).mean()) / flowers, 4)
        if flowers > 0.0
        else 0.0,
        "fruit_lost_g_per_plant": {"mean": round(float(lost.mean()), 1), **quantiles(lost)},
        "fruit_lost_by_week": [
            {"week": week, "g_per_plant": round(float(g), 1)}
            for week, g in zip(labels, lost_by_week, strict=True)
            if abs(g) >= 0.05
        ],
        "share_of_season_lost": share,
        "caution": caution(block.name, protection, share) if is_serious(share) else None,
        "with_protection": None
        if protection != NOT_STATED
        else {
            "season_g_per_plant": quantiles(spared_g),
            "weekly": spared_rows,
        },
    }
