"""The ranking of cultivars as one document of plain values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, get_args

import numpy as np

from phenocast import __version__
from phenocast._typing import FloatArray
from phenocast.calibration.ranking.film_effect import FilmSplit, Part
from phenocast.calibration.ranking.heat_response import HeatResponse, HeatScenario
from phenocast.calibration.ranking.indices import Regimes, Responses
from phenocast.calibration.ranking.ranking import BEST_OF, INTERVALS, Ranking, rank_draws
from phenocast.errors import Fault, NoAnswerError, cautions_first
from phenocast.simulation import BlockSetup

SCHEMA_VERSION = 1
By = Literal["season", "early", "delay"]
UNITS = {"season": "1", "early": "1", "delay": "d"}


@dataclass(frozen=True)
class FitFacts:
    """What the document repeats of the fit: its folder, records, seasons, and what it warns of."""

    folder: str
    records: str
    seasons: tuple[str, ...]
    warnings: tuple[str, ...] = ()


def refuse_unrankable(identifiability: Mapping[str, Any], where: str) -> None:
    """Refuse a fit whose records tell nothing about heat.

    Parameters
    ----------
    identifiability : mapping
        Of the fit: ``rankable``, ``why_not`` and ``records_that_would_settle_it``.
    where : name of the fit.

    Raises
    ------
    NoAnswerError
        With the reason, and which records would settle it.

    Examples
    --------
    >>> refuse_unrankable({"rankable": True}, "fit")
    """
    if identifiability.get("rankable"):
        return
    reasons = _listed(identifiability.get("why_not"))
    wanted = _listed(identifiability.get("records_that_would_settle_it"))
    raise NoAnswerError(
        Fault(
            "these records cannot rank cultivars by heat: "
            + ("; ".join(reasons) or "the fit says so and gives no reason"),
            where,
            do="to settle it: " + "; ".join(wanted) if wanted else "see the fit's report",
        )
    )


def _listed(value: Any) -> list[str]:
    if value is None:
        return []
    return [value] if isinstance(value, str) else [str(one) for one in value]


def rank_document(
    response: HeatResponse,
    scenario: HeatScenario,
    setup: BlockSetup,
    fit: FitFacts,
    *,
    by: By = "season",
    season_file: str,
    seed: int,
    regimes: Regimes | str,
    responses: Responses | str,
    films: Sequence[FilmSplit] | str,
    warnings: Sequence[str] = (),
) -> dict[str, Any]:
    """Return the document that ``phenocast rank --json`` prints.

    Parameters
    ----------
    response : what the scenario costs each cultivar.
    scenario, setup : the heat, and the block that lives through it.
    fit : FitFacts
    by : what cultivars are ranked by: fruit lost in the season, early fruit lost, or days of delay.
    season_file : name of the file of the block.
    seed : of the draws.
    regimes, responses, films : from raw yields, or the sentence that says why there are none.
    warnings : what the reader must know besides.

    Returns
    -------
    dict

    Raises
    ------
    NoAnswerError
        A cultivar has no value in some draws, so that it cannot be ranked by it.
    """
    values = {"season": response.season_loss, "early": response.early_loss,
              "delay": response.delay}  # fmt: skip
    ranking = rank_draws(response.cultivars, _complete(by, values[by], response.cultivars))
    block = setup.block
    told = [*fit.warnings, *warnings]
    if block.frost_kind is None:
        told.append("the block states no protection from frost: none is counted in the scenario")
    if response.years == ("typical year",):
        told.append(
            "the scenario was run on a typical year alone: how the loss differs between years is "
            "not in it"
        )
    return {
        "schema_version": SCHEMA_VERSION,
        "kind": "rank",
        "engine_version": __version__,
        "fit": {"folder": fit.folder, "records": fit.records, "seasons": list(fit.seasons)},
        "scenario": {
            "season_file": season_file,
            "site": setup.site.name,
            "block": block.name,
            "film": block.film,
            "planting_date": block.planting_date.isoformat(),
            "transplant": block.transplant,
            "years": list(response.years),
            "warming_c": scenario.warming_c,
            "days": scenario.days,
        },
        "by": by,
        "unit": UNITS[by],
        "draws": int(response.season_loss.shape[1]),
        "seed": seed,
        "intervals": list(INTERVALS),
        "best_of": BEST_OF,
        "level": 0.95,
        "cultivars": _cultivars(ranking, response, values),
        "in_words": in_words(ranking, by),
        "raw": {
            "regimes": _in_order(_regimes(regimes), ranking.cultivars),
            "responses": _in_order(_responses(responses), ranking.cultivars),
        },
        "films": _films(films),
        "warnings": list(cautions_first(told)),
    }


def _complete(by: str, values: FloatArray, names: Sequence[str]) -> FloatArray:
    faults = [
        Fault(
            f"has no {'early fruit to lose' if by == 'early' else 'first pick in both regimes'}",
            where=name,
            value=f"in {100 * float(np.mean(~np.isfinite(own))):.0f} % of the draws",
            do="rank by the season's fruit, or take another block",
        )
        for name, own in zip(names, values, strict=True)
        if not np.all(np.isfinite(own))
    ]
    if faults:
        raise NoAnswerError(faults)
    return values


def _cultivars(
    ranking: Ranking, response: HeatResponse, values: Mapping[str, FloatArray]
) -> list[dict[str, Any]]:
    by_year = response.loss_by_year()
    rows = []
    for i, name in enumerate(ranking.cultivars):
        at = response.cultivars.index(name)
        rows.append(
            {
                "rank": i + 1,
                "cultivar": name,
                "estimate": _round(ranking.estimate[i]),
                "interval_80": [_round(ranking.lower[0.80][i]), _round(ranking.upper[0.80][i])],
                "interval_95": [_round(ranking.lower[0.95][i]), _round(ranking.upper[0.95][i])],
                "expected_rank": round(float(ranking.expected_rank[i]), 2),
                "p_best": round(float(ranking.best[i]), 3),
                "p_among_best": round(float(ranking.among_best[i]), 3),
                "may_be_best": bool(ranking.against.may_be_best[i]),
                "behind_best": {
                    "difference": _round(-ranking.against.differences[i]),
                    "interval_95": [
                        _round(-ranking.against.upper[i]) + 0.0,
                        _round(-ranking.against.lower[i]) + 0.0,
                    ],
                },
                "season_loss": _spread(values["season"][at]),
                "early_loss": _spread(values["early"][at]),
                "delay_d": _spread(values["delay"][at]),
                "never_share": round(float(response.never[at].mean()), 4),
                "season_loss_by_year": [_or_none(one) for one in by_year[at]],
                "season_g_per_plant": round(float(np.median(response.mild_g[at])), 1),
            }
        )
    return rows


def in_words(ranking: Ranking, by: str) -> list[str]:
    """Say the ranking in sentences, without letters and without more than it knows.

    Parameters
    ----------
    ranking : Ranking
    by : "season", "early" or "delay".

    Returns
    -------
    list of str
    """
    what = {"season": "loses least fruit", "early": "loses least early fruit",
            "delay": "is delayed least"}[by]  # fmt: skip
    names = ranking.cultivars
    best, rest = names[0], range(1, len(names))
    alike = [names[i] for i in rest if ranking.against.may_be_best[i]]
    apart = [names[i] for i in rest if not ranking.against.may_be_best[i]]
    chance = f"{ranking.best[0]:.2f}, among the best {BEST_OF} {ranking.among_best[0]:.2f}"
    told = [f"{best} {what}; the probability that it is the best is {chance}."]
    if not apart:
        told.append("No cultivar is distinguishable from the best: this is no reason to drop one.")
        return told
    if alike:
        told.append(f"Not distinguishable from the best: {', '.join(alike)}.")
    else:
        told.append("No other cultivar can be the best as far as these records tell.")
    told.append(f"Worse than the best (95 %, all together): {', '.join(apart)}.")
    return told


def _regimes(found: Regimes | str) -> dict[str, Any]:
    if isinstance(found, str):
        return {"why_not": found}
    indices = found.indices
    return {
        "pairs": [dict(one) for one in found.pairs],
        "intensity": round(indices.intensity, 4),
        "cultivars": [
            {
                "cultivar": name,
                "mild_g": round(float(found.mild[i]), 2),
                "hot_g": round(float(found.hot[i]), 2),
                "indices": {
                    one: round(float(getattr(indices, one)[i]), 4)
                    for one in indices.names
                },
            }
            for i, name in enumerate(found.cultivars)
        ],
    }  # fmt: skip


def _in_order(raw: dict[str, Any], names: Sequence[str]) -> dict[str, Any]:
    """Put cultivars in the order of the ranking: a second order would be a second answer."""
    if "cultivars" in raw:
        place = {name: i for i, name in enumerate(names)}
        raw["cultivars"].sort(key=lambda row: place.get(row["cultivar"], len(place)))
    return raw


def _responses(found: Responses | str) -> dict[str, Any]:
    if isinstance(found, str):
        return {"why_not": found}
    slopes, axes = found.slopes, found.axes
    return {
        "environments": [
            {"environment": name, "degree_hours": round(float(heat), 1)}
            for name, heat in zip(found.environments, found.heat, strict=True)
        ],
        "cultivars": [
            {
                "cultivar": name,
                "slope_g_per_100_degree_hours": round(100.0 * float(slopes.slopes[i]), 4),
                "slope_error": round(100.0 * float(slopes.slope_errors[i]), 4),
                "stability_variance": None
                if found.stability is None
                else round(float(found.stability[i]), 3),
                "first_axis_score": None
                if axes is None
                else round(float(axes.cultivar_scores[i, 0]), 3),
            }
            for i, name in enumerate(found.cultivars)
        ],
        "axis_shares": None if axes is None else [round(float(one), 4) for one in axes.shares],
    }


def _films(found: Sequence[FilmSplit] | str) -> dict[str, Any]:
    if isinstance(found, str):
        return {"why_not": found}
    return {
        "splits": [
            {
                "response": one.response,
                "film": one.film,
                "reference": one.reference,
                "seasons": list(one.seasons),
                "pairs": one.pairs,
                "observed": _part(one.observed),
                "explained": _part(one.explained),
                "left_over": _part(one.left_over),
                "earned": one.earned,
                "why": one.why,
                "left_out_error_without": _or_none(one.error_without),
                "left_out_error_with": _or_none(one.error_with),
                "bic_gain": _or_none(one.bic_gain),
            }
            for one in found
        ]
    }


def _part(part: Part) -> dict[str, Any]:
    mid, low, high = part.as_share()
    return {"share": _round(mid), "interval_95": [_or_none(low), _or_none(high)]}


def _spread(values: FloatArray) -> dict[str, Any]:
    """Median and both intervals of the draws that have a value."""
    there = values[np.isfinite(values)]
    if not there.size:
        return {"median": None, "interval_80": [None, None], "interval_95": [None, None]}
    low95, low80, mid, high80, high95 = np.quantile(there, [0.025, 0.1, 0.5, 0.9, 0.975])
    return {
        "median": _round(mid),
        "interval_80": [_round(low80), _round(high80)],
        "interval_95": [_round(low95), _round(high95)],
    }


def _round(value: float) -> float:
    return round(float(value), 4)


def _or_none(value: float) -> float | None:
    return round(float(value), 4) if np.isfinite(value) else None


BYS: tuple[str, ...] = get_args(By)
