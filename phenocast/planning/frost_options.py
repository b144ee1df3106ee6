"""Frost in a comparison: what it takes of every option, and what protection would leave it."""

from __future__ import annotations

from typing import Any

import numpy as np

from phenocast.forecast.frost import NOT_STATED, ON_FROST, caution, is_serious, shares_lost
from phenocast.forecast.options import OptionSeasons
from phenocast.forecast.summary import quantiles


def option_frost(seasons: OptionSeasons) -> list[dict[str, Any]]:
    """Return what is told of frost for every option.

    Parameters
    ----------
    seasons : OptionSeasons
        Headline figures of a block that states no protection are without.

    Returns
    -------
    list of dict
        ``share_of_season_lost``; and ``with_protection``, fruit of the season where no
        flower freezes, None where the block states its protection.
    """
    beside = seasons.block.frost_kind is None
    told = []
    for fruit, spared in zip(seasons.season_g, seasons.spared_g, strict=True):
        told.append(
            {
                "share_of_season_lost": shares_lost(fruit, spared),
                "with_protection": {"season_g_per_plant": quantiles(spared)} if beside else None,
            }
        )
    return told


def compared_frost(seasons: OptionSeasons, option: int) -> dict[str, Any]:
    """Return what a comparison says of frost first.

    Parameters
    ----------
    seasons : OptionSeasons
    option : int
        Row of the option that it is said of: the best.

    Returns
    -------
    dict
        ``protection``, ``share_of_season_lost`` and ``caution``, which is None where it is not
        serious.
    """
    share = shares_lost(seasons.season_g[option], seasons.spared_g[option])
    protection = seasons.block.frost_kind or NOT_STATED
    return {
        "protection": protection,
        "share_of_season_lost": share,
        "caution": caution(seasons.block.name, protection, share) if is_serious(share) else None,
    }


def compared_warnings(seasons: OptionSeasons, frost: dict[str, Any]) -> list[str]:
    """Return the cautions on frost of a comparison; none where no option loses any fruit to it."""
    told = [] if frost["caution"] is None else [frost["caution"]]
    if np.any(seasons.spared_g != seasons.season_g) or frost["protection"] == "overhead-water":
        told += ON_FROST
    return told
