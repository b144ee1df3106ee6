"""The comparison of options as one document: figures, money, risk, cautions."""

from __future__ import annotations

from dataclasses import asdict, replace
from datetime import date
from typing import Any

import numpy as np

from phenocast import __version__
from phenocast.errors import cautions_first
from phenocast.forecast.advice import season_warnings
from phenocast.forecast.options import OptionSeasons, option_label
from phenocast.forecast.result import SCHEMA_VERSION
from phenocast.planning.cautions import film_cautions
from phenocast.planning.choice import judge
from phenocast.planning.choice_digest import Digest
from phenocast.planning.choice_entries import flags_of, option_entries
from phenocast.planning.choice_money import not_stated
from phenocast.planning.choice_rows import PlainRows
from phenocast.planning.frost_options import compared_frost, compared_warnings
from phenocast.planning.prices import PriceCurve
from phenocast.planning.recommendation import biases, recommendation
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
        Every option under every trace and draw, `phenocast.planning.choice_digest.digest_of`.
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
