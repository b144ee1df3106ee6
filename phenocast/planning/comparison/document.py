"""The comparison of options as one document: figures, money, risk, frost, cautions.

Quantiles and means are taken of all options at once, column by column; an entry picks its row.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, replace
from datetime import date
from typing import Any

import numpy as np

from phenocast import __version__
from phenocast._typing import FloatArray
from phenocast.errors import cautions_first
from phenocast.forecast.advice import FLAGS, block_flags, is_reflective, season_warnings
from phenocast.forecast.frost import NOT_STATED, ON_FROST, caution, is_serious, shares_lost
from phenocast.forecast.options import Option, OptionSeasons, option_label
from phenocast.forecast.result import SCHEMA_VERSION
from phenocast.forecast.summary import LEVELS, ordered_quantiles, quantiles, stage_rows
from phenocast.harvest import iso_week
from phenocast.planning.comparison.cautions import film_cautions
from phenocast.planning.comparison.digest import (
    Digest,
    PlainRows,
    level_rows,
    mean_rows,
    printed,
    standing_columns,
    week_rows,
)
from phenocast.planning.comparison.judge import Judgement, Standing, by_blocks, judge
from phenocast.planning.comparison.money import TILTS, Money, Tilted, not_stated, tilted
from phenocast.planning.prices import PriceCurve
from phenocast.season import Costs, Season
from phenocast.simulation.setup import block_setup
from phenocast.weather import SeasonWeather


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
    >>> from phenocast.planning.comparison.judge import standing_of
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


def tilt_document(
    seasons: OptionSeasons, money: Money, margins: FloatArray, flags: Flags
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


def _quantiles(values: FloatArray, digits: int) -> list[dict[str, float]]:
    """P10, P50 and P90 of every option."""
    return level_rows(_levels(values), digits)


def _mean_and_quantiles(values: FloatArray) -> list[dict[str, float]]:
    return mean_rows(values.mean(axis=(1, 2)), _levels(values))


def _levels(values: FloatArray) -> FloatArray:
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


def compare_document(
    season: Season, digest: Digest, *, weather: SeasonWeather, issue_date: date
) -> dict[str, Any]:
    """Return the comparison as plain values.

    Parameters
    ----------
    season : Season
    digest : Digest
        Every option under every trace and draw, `phenocast.planning.comparison.digest.digest_of`.
    weather : SeasonWeather
        As it was run; what was filled or estimated in it is told.
    issue_date : date
        As they were run.
    """
    seasons, money, curve, costs = digest.seasons, digest.money, digest.curve, digest.costs
    planted = min(option.planting_date for option in seasons.options)
    values = seasons.season_g if money is None else money.margins()
    flags = flags_of(season, seasons)
    told = judge(values, digest.reference, np.array([not codes for codes in flags]))
    options = option_entries(digest, told, flags)
    frost = compared_frost(seasons, told.best)
    tilt: dict[str, Any] | None = None
    if money is not None:
        tilt, at_tilts = tilt_document(seasons, money, values, flags)
        for entry, entries in zip(options, at_tilts, strict=True):
            entry["tilted"] = entries
    return {
        "schema_version": SCHEMA_VERSION,
        "engine_version": __version__,
        "kind": "compare",
        "issue_date": issue_date.isoformat(),
        "block": seasons.block.name,
        "site": season.site.name,
        "seed": digest.seed,
        "draws": int(seasons.season_g.shape[2]),
        "weather_traces": int(seasons.season_g.shape[1]),
        "early_until": seasons.early_until.isoformat(),
        "last_day": seasons.last_day.isoformat(),
        "heat_compared": seasons.heat(digest.reference)[0],
        "judged_by": "season fruit, g per plant" if money is None else "margin of the block",
        "currency": None if curve is None else curve.currency,
        "costs": None if money is None or costs is None else asdict(costs),
        "pack": digest.packout.to_dict(),
        "reference": option_label(seasons.options[digest.reference]),
        **recommendation(seasons.options, flags, told),
        "biases": biases(season, seasons),
        "price_tilt": tilt,
        "frost": frost,
        "options": PlainRows(options),
        "cautions": {
            film: list(_cautions(season, seasons, film))
            for film in dict.fromkeys(option.film for option in seasons.options)
        },
        "warnings": list(
            cautions_first(
                [
                    *compared_warnings(seasons, frost),
                    *_passed_over(season, seasons),
                    *_money_warnings(seasons, curve, costs),
                    *season_warnings(season, weather, seasons.traces, issue_date, planted),
                ]
            )
        ),
    }


def _cautions(season: Season, seasons: OptionSeasons, film: str) -> tuple[str, ...]:
    sprinkling = seasons.block.sprinkling
    return film_cautions(
        season.film(film),
        water_ph=None if sprinkling is None else sprinkling.water_ph,
        shoulder=season.shoulder(film),
    )


def _passed_over(season: Season, seasons: OptionSeasons) -> list[str]:
    """Return what the block states and a comparison cannot use, for it belongs to one planting."""
    block = seasons.block
    told = []
    if block.canopy or block.canopy_file:
        told.append(
            f"the measured cover of block '{block.name}' is not used: it belongs to one planting; "
            "every option grows its own canopy on the air of its season"
        )
    if block.film_laid is not None:
        age = block_setup(season, replace(block, film_laid=None)).film_age_at_planting_d
        told.append(
            f"film_laid of block '{block.name}' is not used: the film of every option is "
            f"{age:g} days old on its planting date"
        )
    return told


def _money_warnings(
    seasons: OptionSeasons, curve: PriceCurve | None, costs: Costs | None
) -> list[str]:
    if curve is None:
        told = ["no prices are stated: the options are judged by their fruit, not by money"]
        if costs is not None:
            told.append("costs are stated but no prices, so the costs are left out")
        return told
    told = ["a price-taker's comparison: what is planted here does not move the price"]
    stated = Costs(curve.currency) if costs is None else costs
    missing = not_stated(stated, seasons.options)
    missing += [
        name
        for name, amount in (
            ("planting", stated.planting_per_ha), ("harvest", stated.harvest_per_kg),
        )
        if amount == 0.0
    ]  # fmt: skip
    if missing:
        told.append(f"costs that are not stated count as zero: {', '.join(missing)}")
    return told
