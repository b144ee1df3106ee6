"""One entry for every option of a comparison: fruit by week, money, and how it stands.

Quantiles and means are taken of all options at once, column by column; an entry picks its row.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from phenocast.forecast.advice import FLAGS, block_flags
from phenocast.forecast.options import OptionSeasons, option_label
from phenocast.forecast.summary import LEVELS, ordered_quantiles, stage_rows
from phenocast.harvest import iso_week
from phenocast.planning.choice import Judgement
from phenocast.planning.choice_blocks import by_blocks
from phenocast.planning.choice_digest import Digest, week_rows
from phenocast.planning.choice_money import Money
from phenocast.planning.choice_rows import level_rows, mean_rows, printed, standing_columns
from phenocast.planning.frost_options import option_frost
from phenocast.planning.recommendation import Flags
from phenocast.season import Season

Array = NDArray[np.float64]
Entry = dict[str, Any]


def option_entries(digest: Digest, told: Judgement, flags: Flags) -> list[Entry]:
    """Return every option as plain values, its tilts left out.

    Parameters
    ----------
    digest : Digest
    told : Judgement
        By margin, or by fruit where the digest holds no money.
    flags : sequence of tuple of str
        Of each option, `flags_of`.
    """
    seasons = digest.seasons
    fruit, worth = _fruit(digest), _standing(told)
    money: list[Entry] = [{} for _ in seasons.options]
    if digest.money is not None:
        money = _money(digest.money, told)
    return [
        {
            **option_label(option),
            **fruit[row],
            **money[row],
            **worth[row],
            "flags": list(flags[row]),
            "warnings": [FLAGS[code] for code in flags[row]],
        }
        for row, option in enumerate(seasons.options)
    ]


def _fruit(digest: Digest) -> list[Entry]:
    """Dates, heat and fruit of every option."""
    seasons = digest.seasons
    days = seasons.first_pick.reshape(len(seasons.options), -1)
    picks = stage_rows([option.planting_date for option in seasons.options], days)
    trays = digest.picked_quantiles * digest.packout.trays_per_g(seasons.block.plants)
    return [
        {
            "first_pick": {**pick, "week": _week(pick["median"])},
            "last_day": end.last_day.isoformat(),
            "season_end": end.to_dict(),
            "crown_degree_hours_above_30c": heat,
            "plants_alive_share": alive,
            "early_g_per_plant": early,
            "season_g_per_plant": whole,
            "weekly": weekly,
            "frost": frost,
        }
        for pick, end, heat, alive, early, whole, weekly, frost in zip(
            picks,
            seasons.ends,
            _quantiles(seasons.heat(digest.reference)[1], 0),
            _quantiles(seasons.alive, 3),
            _quantiles(seasons.early_g, 1),
            _quantiles(seasons.season_g, 1),
            week_rows(seasons.weeks, digest.ripe_quantiles, trays),
            option_frost(seasons),
            strict=True,
        )
    ]


def _money(money: Money, told: Judgement) -> list[Entry]:
    """What every option earns and costs."""
    harvests = money.harvest_means()
    totals = np.array([one.total for one in money.fixed])
    parts = {
        name: np.array([getattr(one, name) for one in money.fixed]) for name in vars(money.fixed[0])
    } | {"harvest_mean": harvests}
    columns = [printed(amounts, 2) for amounts in parts.values()]
    return [
        {
            "revenue": revenue,
            "cost": cost,
            "cost_parts": dict(zip(parts, amounts, strict=True)),
            "margin": margin,
        }
        for revenue, cost, amounts, margin in zip(
            _mean_and_quantiles(money.revenue),
            printed(totals + harvests, 2),
            zip(*columns, strict=True),
            mean_rows(told.expected, told.levels),
            strict=True,
        )
    ]


def _standing(told: Judgement) -> list[Entry]:
    """How every option stands against the best, the reference and all others."""
    columns = {
        **standing_columns(told),
        "regret": printed(told.regret, 2),
        "beats_reference_probability": printed(told.beats_reference, 4),
        "undominated": told.undominated.tolist(),
    }
    return [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]


def _quantiles(values: Array, digits: int) -> list[dict[str, float]]:
    """P10, P50 and P90 of every option."""
    return level_rows(_levels(values), digits)


def _mean_and_quantiles(values: Array) -> list[dict[str, float]]:
    return mean_rows(values.mean(axis=(1, 2)), _levels(values))


def _levels(values: Array) -> Array:
    found = np.empty((len(values), len(LEVELS)))

    def sum_up(rows: slice) -> None:
        cases = values[rows].reshape(len(found[rows]), -1)
        found[rows] = ordered_quantiles(np.sort(cases, axis=-1))

    by_blocks(sum_up, len(values))
    return found


def _week(day: str | None) -> str | None:
    return None if day is None else iso_week(date.fromisoformat(day))


def flags_of(season: Season, seasons: OptionSeasons) -> list[tuple[str, ...]]:
    """Return the flags that the engine raises on each option, see `block_flags`."""
    return [block_flags(season, setup) for setup in seasons.setups]
