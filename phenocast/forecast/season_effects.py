"""What makes a season late or poor for all blocks at once, and one block richer than another.

A fit of records finds these spreads beside the numbers of the cultivars. A forecast draws an effect
of the season for each trace and draw, the same for every block, and one of each block; shipped
cultivars have no such spreads and their forecasts no such effects.
"""

from __future__ import annotations

import zlib

import numpy as np

from phenocast._typing import FloatArray
from phenocast.parameters import (
    FIELD_SPREADS,
    PLOT_LEVEL_SD,
    SEASON_LEVEL_SD,
    SEASON_SHIFT_SD,
    ParameterSet,
    even_shares,
    normal_scores,
)
from phenocast.simulation.season_effects import SeasonEffects


def season_effects(
    cultivar: ParameterSet, block: str, n_traces: int, draws: int, seed: int
) -> SeasonEffects | None:
    """Draw the effects on one block; None where its cultivar has no fitted spread.

    Parameters
    ----------
    cultivar : whose parameters may hold the spreads.
    block : name of the block.
    n_traces, draws, seed : of the forecast.

    Notes
    -----
    Every draw has a spread of its own, as unsure as the fit found it, so that few seasons make the
    effect of a new one stray further than a normal with the likeliest spread. The season's
    standard normal is one for all blocks.

    Examples
    --------
    >>> season_effects(ParameterSet("Slate", {}), "A", 1, 10, 0) is None
    True
    """
    spreads = {name: cultivar.value(name) for name in FIELD_SPREADS if name in cultivar}
    if not spreads:
        return None
    drawn = cultivar.draw(seed, draws)
    own = {name: drawn.get(name, np.zeros(draws)) for name in FIELD_SPREADS}
    shape = (n_traces, draws)
    late = own[SEASON_SHIFT_SD] * _normal(shape, seed, "season: shift")
    log_level = own[SEASON_LEVEL_SD] * _normal(shape, seed, "season: level")
    log_level = log_level + own[PLOT_LEVEL_SD] * _normal(shape, seed, f"block: {block}")
    return SeasonEffects(late, np.exp(log_level), spreads)


def _normal(shape: tuple[int, int], seed: int, what: str) -> FloatArray:
    """Standard normals, evenly drawn, from a stream of their own."""
    entropy = np.random.SeedSequence([seed, zlib.crc32(what.encode())])
    rng = np.random.Generator(np.random.PCG64(entropy))
    n = shape[0] * shape[1]
    return normal_scores(even_shares(rng, n)).reshape(shape)


def words_of(effects: SeasonEffects) -> str:
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
