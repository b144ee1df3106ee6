"""The comparison of options as one document: figures, money, risk, cautions."""

from __future__ import annotations

from dataclasses import asdict, replace
from datetime import date, timedelta
from typing import Any

from phenocast import __version__
from phenocast.forecast.advice import block_warnings, season_warnings
from phenocast.forecast.options import Option, OptionSeasons, option_label
from phenocast.forecast.result import DEFAULT_PACK, SCHEMA_VERSION
from phenocast.forecast.summary import quantiles, stage_dates
from phenocast.harvest import iso_week
from phenocast.parameters import packs
from phenocast.planning.cautions import film_cautions
from phenocast.planning.choice import Judgement, judge
from phenocast.planning.choice_digest import Digest, week_rows
from phenocast.planning.choice_money import G_PER_KG, not_stated
from phenocast.planning.prices import PriceCurve
from phenocast.planning.tilt_document import tilt_document
from phenocast.season import Costs, Season
from phenocast.simulation.setup import block_setup
from phenocast.weather import SeasonWeather


def compare_document(
    season: Season, digest: Digest, *, weather: SeasonWeather, issue_date: date
) -> dict[str, Any]:
    """Return the comparison as plain values.

    Parameters
    ----------
    season : Season
    digest : Digest
        Every option under every future and draw, `phenocast.planning.choice_digest.digest_of`.
    weather : SeasonWeather
        As it was run; what was filled or estimated in it is told.
    issue_date : date
        As they were run.
    """
    seasons, money, curve, costs = digest.seasons, digest.money, digest.curve, digest.costs
    n = len(seasons.options)
    told = judge(seasons.season_g if money is None else money.margins(), digest.reference)
    tilt, at_tilts = (
        (None, None) if money is None else tilt_document(seasons, money, digest.reference)
    )
    return {
        "schema_version": SCHEMA_VERSION,
        "engine_version": __version__,
        "kind": "compare",
        "issue_date": issue_date.isoformat(),
        "block": seasons.block.name,
        "site": season.site.name,
        "seed": digest.seed,
        "draws": int(seasons.season_g.shape[2]),
        "futures": int(seasons.season_g.shape[1]),
        "early_until": seasons.early_until.isoformat(),
        "last_day": seasons.last_day.isoformat(),
        "judged_by": "season fruit, g per plant" if money is None else "margin of the block",
        "currency": None if curve is None else curve.currency,
        "costs": None if money is None or costs is None else asdict(costs),
        "pack": DEFAULT_PACK,
        "reference": option_label(seasons.options[digest.reference]),
        "best": option_label(seasons.options[told.best]),
        "price_tilt": tilt,
        "options": [
            _option(season, digest, told, row)
            | ({} if at_tilts is None else {"tilted": at_tilts[row]})
            for row in range(n)
        ],
        "cautions": {
            film: list(_cautions(season, seasons, film))
            for film in dict.fromkeys(option.film for option in seasons.options)
        },
        "warnings": [
            *_passed_over(season, seasons),
            *_money_warnings(seasons, curve, costs),
            *season_warnings(season, weather, seasons.futures),
        ],
    }


def _option(
    season: Season, digest: Digest, told: Judgement, row: int
) -> dict[str, Any]:
    seasons, money = digest.seasons, digest.money
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
        "weekly": week_rows(
            seasons.weeks,
            digest.week_quantiles[row],
            seasons.block.plants / G_PER_KG / packs()[DEFAULT_PACK].value("net_mass_kg"),
        ),
    }
    if money is not None:
        fixed, harvest = money.fixed[row], float(money.harvest(row).mean())
        entry["revenue"] = quantiles(money.revenue[row], 0)
        entry["cost"] = round(fixed.total + harvest, 2)
        entry["cost_parts"] = {
            **{name: round(part, 2) for name, part in asdict(fixed).items()},
            "harvest_mean": round(harvest, 2),
        }
        entry["margin"] = quantiles(money.margin(row), 0)
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
        "not_clearly_beaten": bool(told.not_clearly_beaten[row]),
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
