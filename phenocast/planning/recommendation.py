"""Which option may be recommended: the best that the engine trusts, and what to know beside it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from phenocast.forecast.advice import is_reflective
from phenocast.forecast.options import Option, OptionSeasons, option_label
from phenocast.planning.choice_standing import Standing
from phenocast.season import Season

Flags = Sequence[tuple[str, ...]]


def recommendation(options: Sequence[Option], flags: Flags, told: Standing) -> dict[str, Any]:
    """Return the best option without a flag, where its date lies, and the flagged one above it.

    Parameters
    ----------
    options : sequence of Option
    flags : sequence of tuple of str
        Of each option, keys of `phenocast.forecast.advice.FLAGS`.
    told : Standing
        With the options without a flag as trusted.

    Returns
    -------
    dict
        ``best``, None where every option is flagged; ``best_on_edge``: ``earliest``, ``latest`` or
        ``only`` of the dates without a flag, with ``_flagged`` after it where there are flagged
        dates beyond, or None; ``highest_flagged``: the flagged option of the highest mean where
        that is above the mean of the best.

    Examples
    --------
    >>> from datetime import date
    >>> ways = [Option(date(2026, 9, day), "black", "Marl", "plug") for day in (10, 20, 30)]
    >>> from phenocast.planning.choice_standing import standing_of
    >>> told = standing_of(np.array([[[5.0]], [[4.0]], [[3.0]]]), np.array([False, True, True]))
    >>> found = recommendation(ways, [("date_too_early",), (), ()], told)
    >>> found["best"]["planting_date"], found["best_on_edge"]
    ('2026-09-20', 'earliest_flagged')
    >>> found["highest_flagged"]["planting_date"]
    '2026-09-10'
    """
    flagged = np.array([bool(codes) for codes in flags])
    above = np.where(flagged, told.expected, -np.inf)
    highest = int(np.argmax(above))
    shown = flagged.any() and (flagged.all() or above[highest] > told.expected[told.best])
    return {
        "best": None if flagged.all() else option_label(options[told.best]),
        "best_on_edge": None if flagged.all() else _edge(options, flagged, told.best),
        "highest_flagged": option_label(options[highest]) if shown else None,
    }


def _edge(options: Sequence[Option], flagged: np.ndarray, best: int) -> str | None:
    """Say whether the best date is an end of the trusted dates of the same film and plants."""
    chosen = options[best]
    alike = (chosen.film, chosen.cultivar, chosen.transplant)
    dates = {
        one.planting_date: bool(flag)
        for one, flag in zip(options, flagged, strict=True)
        if (one.film, one.cultivar, one.transplant) == alike
    }
    if len(dates) == 1:
        return None
    trusted = [day for day, flag in dates.items() if not flag]
    if len(trusted) == 1:
        return "only"
    for side, end in (("earliest", min), ("latest", max)):
        if chosen.planting_date == end(trusted):
            return side if end(dates) == end(trusted) else f"{side}_flagged"
    return None


def biases(season: Season, seasons: OptionSeasons) -> list[str]:
    """Return the stated biases of the model that bear on what the options differ in.

    Returns
    -------
    list of str
        ``early_planting`` where planting dates differ; ``film`` where films differ; ``sprinkling``
        where one of these reflects and no overhead sprinkling is stated.
    """
    films = {option.film for option in seasons.options}
    several = len(films) > 1
    reflective = several and any(is_reflective(season.film(film)) for film in films)
    bear = {
        "early_planting": len({option.planting_date for option in seasons.options}) > 1,
        "film": several,
        "sprinkling": reflective and seasons.block.sprinkling is None,
    }
    return [name for name, bears in bear.items() if bears]
