"""The comparison of options as one document: figures, money, risk, cautions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from phenocast.errors import Fault, InputError
from phenocast.forecast.advice import block_warnings, season_warnings
from phenocast.forecast.options import Option, OptionSeasons, option_label
from phenocast.forecast.result import DEFAULT_PACK, SCHEMA_VERSION, weekly_rows
from phenocast.forecast.summary import quantiles, stage_dates
from phenocast.harvest import iso_week
from phenocast.parameters import packs
from phenocast.planning.cautions import film_cautions
from phenocast.planning.choice import Judgement, judge, revenue
from phenocast.planning.prices import PriceCurve, draw_prices
from phenocast.season import Season
from phenocast.simulation.setup import block_setup
from phenocast.weather import SeasonWeather

Array = NDArray[np.float64]

G_PER_KG = 1000.0


def compare_document(
    season: Season,
    seasons: OptionSeasons,
    *,
    weather: SeasonWeather,
    issue_date: date,
    seed: int,
    curve: PriceCurve | None = None,
    film_cost_per_ha: Mapping[str, float] | None = None,
    planting_cost_per_ha: float = 0.0,
    reference: int = 0,
) -> dict[str, Any]:
    """Return the comparison as plain values.

    Parameters
    ----------
    season : Season
    seasons : OptionSeasons
        Every option under every future and draw.
    weather : SeasonWeather
        As it was run; what was filled or estimated in it is told.
    issue_date, seed : as they were run.
    curve : PriceCurve, optional
        Without prices the options are judged by their fruit and money is left out.
    film_cost_per_ha : mapping of str to float, optional
        Film laid, by name; a film that is not named costs nothing. [currency ha-1]
    planting_cost_per_ha : float
        The same for every option. [currency ha-1]
    reference : int
        Row of the option that the others are held against; where prices follow the supply, its
        fruit stands for that of the region.

    Raises
    ------
    InputError
        When costs are stated without prices, or a week with fruit has no price.
    """
    block = seasons.block
    n = len(seasons.options)
    draws = seasons.season_g.shape[1] * seasons.season_g.shape[2]
    money: Array | None = None
    costs = np.zeros(n)
    if curve is None and (film_cost_per_ha or planting_cost_per_ha > 0.0):
        raise InputError(
            Fault("costs are stated but no prices", where="prices",
                  do="add a table [prices] to the season file, or leave the costs out")
        )  # fmt: skip
    if curve is not None:
        bearing = np.flatnonzero(seasons.weekly_g.any(axis=(0, 1, 2)))
        place = curve.at([seasons.weeks[week] for week in bearing])
        # The supply that moves prices is the reference's, for every option: a price-taker's.
        supply = np.zeros((draws, len(curve.weeks)))
        supply[:, place] = seasons.weekly_g[reference].reshape(draws, -1)[:, bearing]
        price = draw_prices(curve, draws, seed, supply)[:, place]
        money = np.empty((n, draws))
        for row in range(n):  # one option at a time keeps the memory of one
            kg = seasons.weekly_g[row].reshape(1, draws, -1)[..., bearing] * (
                block.plants / G_PER_KG
            )
            money[row] = revenue(kg, price)[0]
        by_film = film_cost_per_ha or {}
        costs = np.array(
            [
                block.area_ha * (by_film.get(option.film, 0.0) + planting_cost_per_ha)
                for option in seasons.options
            ]
        )
    values = (
        seasons.season_g.reshape(n, draws) if money is None else money - costs[:, None]
    )
    told = judge(values.reshape(seasons.season_g.shape), reference)
    return {
        "schema_version": SCHEMA_VERSION,
        "kind": "compare",
        "issue_date": issue_date.isoformat(),
        "block": block.name,
        "site": season.site.name,
        "seed": seed,
        "draws": int(seasons.season_g.shape[2]),
        "futures": int(seasons.season_g.shape[1]),
        "early_until": seasons.early_until.isoformat(),
        "last_day": seasons.last_day.isoformat(),
        "judged_by": "season fruit, g per plant" if money is None else "margin of the block",
        "currency": None if curve is None else curve.currency,
        "pack": DEFAULT_PACK,
        "reference": option_label(seasons.options[reference]),
        "best": option_label(seasons.options[told.best]),
        "options": [
            _option(season, seasons, told, money, costs, row) for row in range(n)
        ],
        "cautions": {
            film: list(_cautions(season, seasons, film))
            for film in dict.fromkeys(option.film for option in seasons.options)
        },
        "warnings": [
            *_passed_over(season, seasons),
            _money_warning(curve),
            *season_warnings(season, weather, seasons.futures),
        ],
    }


def _option(
    season: Season,
    seasons: OptionSeasons,
    told: Judgement,
    money: Array | None,
    costs: Array,
    row: int,
) -> dict[str, Any]:
    option = seasons.options[row]
    first_pick = stage_dates(option.planting_date, seasons.first_pick[row])
    entry: dict[str, Any] = {
        **option_label(option),
        "first_pick": {
            **first_pick,
            "week": _week(first_pick["median"]),
        },
        "crown_degree_hours_above_30c": quantiles(seasons.heat[row], 0),
        "plants_alive_share": quantiles(seasons.alive[row], 3),
        "early_g_per_plant": quantiles(seasons.early_g[row]),
        "season_g_per_plant": quantiles(seasons.season_g[row]),
        "weekly": weekly_rows(
            seasons.weeks,
            seasons.weekly_g[row].astype(np.float64),
            seasons.block.plants / G_PER_KG / packs()[DEFAULT_PACK].value("net_mass_kg"),
        ),
    }
    if money is not None:
        entry["revenue"] = quantiles(money[row], 0)
        entry["cost"] = round(float(costs[row]), 2)
        entry["margin"] = quantiles(money[row] - costs[row], 0)
    entry |= {
        "expected": round(float(told.expected[row]), 2),
        "worst_tenth": round(float(told.worst_tenth[row]), 2),
        "regret": round(float(told.regret[row]), 2),
        "beats_reference_probability": round(float(told.beats_reference[row]), 4),
        "best_beats_it_probability": round(float(told.best_beats[row]), 4),
        "behind_best": {
            "mean": round(float(told.behind_best[row]), 2),
            "standard_error": round(float(told.behind_best_se[row]), 3),
            "margin_95": round(float(told.behind_best_margin[row]), 3),
        },
        "mean_not_told_from_best": bool(told.means_not_told_apart[row]),
        "often_better_than_best": bool(told.often_better[row]),
        "in_the_noise": bool(told.in_the_noise[row]),
        "undominated": bool(told.undominated[row]),
        "warnings": list(_option_warnings(season, seasons, option)),
    }
    return entry


def _week(day: str | None) -> str | None:
    return None if day is None else iso_week(date.fromisoformat(day))


def _option_warnings(season: Season, seasons: OptionSeasons, option: Option) -> tuple[str, ...]:
    block = replace(
        seasons.block, planting_date=option.planting_date, film=option.film,
        cultivar=option.cultivar, transplant=option.transplant,
        season_end=max(seasons.last_day, option.planting_date + timedelta(days=1)),
    )  # fmt: skip
    return block_warnings(season, block_setup(season, block))


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


def _money_warning(curve: PriceCurve | None) -> str:
    if curve is None:
        return "no prices are stated: the options are judged by their fruit, not by money"
    return (
        "a price-taker's comparison: what is planted here does not move the price, and costs that "
        "are not stated count as zero"
    )
