"""What makes a season late or poor for all blocks at once, and one block richer than another.

A fit of records finds these spreads beside the numbers of the cultivars. A forecast draws an effect
of the season for each future and draw, the same for every block, and one of each block; shipped
cultivars have no such spreads and their forecasts no such effects.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from phenocast.parameters import (
    FIELD_SPREADS,
    PLOT_LEVEL_SD,
    SEASON_LEVEL_SD,
    SEASON_SHIFT_SD,
    ParameterSet,
    even_shares,
    normal_scores,
)
from phenocast.phenology.work import FIRST_PICK, FLOWER_INITIATION

Array = NDArray[np.float64]

# The stages stand first in a row of dates, in the order in which a plant passes them.
_STAGES = slice(FLOWER_INITIATION, FIRST_PICK + 1)
# Where an early season needs days that were not simulated, it goes on as in its last week.
_LAST_DAYS = 7


@dataclass(frozen=True)
class FieldEffects:
    """Effects of the season and of a block, for every future and draw.

    Parameters
    ----------
    late : array ``[futures, draws]``
        How much later everything happens. [d]
    level : array ``[futures, draws]``
        Factor of the fruit. [1]
    spreads : mapping of str to float
        Middle of the spreads that they were drawn from, by name.
    """

    late: Array
    level: Array
    spreads: dict[str, float]


def field_effects(
    cultivar: ParameterSet, block: str, n_futures: int, draws: int, seed: int
) -> FieldEffects | None:
    """Draw the effects on one block; None where its cultivar has no fitted spread.

    Parameters
    ----------
    cultivar : whose parameters may hold the spreads.
    block : name of the block.
    n_futures, draws, seed : of the forecast.

    Notes
    -----
    Every draw has a spread of its own, as unsure as the fit found it, so that few seasons make the
    effect of a new one stray further than a normal with the likeliest spread. The season's
    standard normal is one for all blocks.

    Examples
    --------
    >>> field_effects(ParameterSet("Slate", {}), "A", 1, 10, 0) is None
    True
    """
    spreads = {name: cultivar.value(name) for name in FIELD_SPREADS if name in cultivar}
    if not spreads:
        return None
    drawn = cultivar.draw(seed, draws)
    own = {name: drawn.get(name, np.zeros(draws)) for name in FIELD_SPREADS}
    shape = (n_futures, draws)
    late = own[SEASON_SHIFT_SD] * _normal(shape, seed, "season: shift")
    log_level = own[SEASON_LEVEL_SD] * _normal(shape, seed, "season: level")
    log_level = log_level + own[PLOT_LEVEL_SD] * _normal(shape, seed, f"block: {block}")
    return FieldEffects(late, np.exp(log_level), spreads)


def _normal(shape: tuple[int, int], seed: int, what: str) -> Array:
    """Standard normals, evenly drawn, from a stream of their own."""
    entropy = np.random.SeedSequence([seed, zlib.crc32(what.encode())])
    rng = np.random.Generator(np.random.PCG64(entropy))
    n = shape[0] * shape[1]
    return normal_scores(even_shares(rng, n)).reshape(shape)


def moved_dates(dates: Array, late: Array, n_days: int) -> Array:
    """Return dates with every stage later, never before planting; inf beyond the last day.

    Parameters
    ----------
    dates : array ``[draws, N_DATES]``
        Days since planting; only stages are moved. [d]
    late : array ``[draws]`` [d]
    n_days : days that were simulated.
    """
    moved = dates.copy()
    stages = np.maximum(dates[:, _STAGES] + late[:, None], 0.0)
    moved[:, _STAGES] = np.where(stages < n_days, stages, np.inf)
    return moved


def moved_fruit(daily: Array, late: Array) -> Array:
    """Return the fruit of each day, later by a share of days or by whole ones.

    Parameters
    ----------
    daily : array ``[draws, days]`` [g per plant]
    late : array ``[draws]``, below 0 for early. [d]

    Examples
    --------
    >>> moved_fruit(np.array([[0.0, 4.0, 0.0, 2.0]]), np.array([0.5])).tolist()
    [[0.0, 2.0, 2.0, 1.0]]
    """
    draws, days = daily.shape
    total = np.concatenate([np.zeros((draws, 1)), np.cumsum(daily, axis=1)], axis=1)
    at = np.arange(days + 1) - late[:, None]
    day = np.clip(np.floor(at).astype(np.int64), 0, days - 1)
    share = np.clip(at - day, 0.0, 1.0)
    low = np.take_along_axis(total, day, axis=1)
    high = np.take_along_axis(total, day + 1, axis=1)
    upto = low + share * (high - low)
    upto += np.maximum(at - days, 0.0) * daily[:, -_LAST_DAYS:].mean(axis=1)[:, None]
    return np.asarray(np.diff(upto, axis=1))


def words_of(effects: FieldEffects) -> str:
    """Return the sentence that tells a reader what the intervals hold."""
    parts = []
    named = (
        (SEASON_SHIFT_SD, "{:.1f} days between seasons"),
        (SEASON_LEVEL_SD, "{:.0%} of the fruit between seasons"),
        (PLOT_LEVEL_SD, "{:.0%} of the fruit between blocks"),
    )
    for name, words in named:
        if name in effects.spreads:
            parts.append(words.format(effects.spreads[name]).replace("%", " %"))
    return f"the intervals hold the spread that the fit of records found: {', '.join(parts)}"
