"""Hindcasts and their scores as one document of plain values."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import Any

import numpy as np

from phenocast import __version__
from phenocast._typing import BoolArray, FloatArray
from phenocast.errors import cautions_first
from phenocast.forecast.hindcast import Hindcast, PastBlock, PastYears
from phenocast.forecast.hindcast_scores import (
    FirstPickScore,
    WeeklyScore,
    first_pick_score,
    middle_date,
    share_between,
    weekly_score,
)
from phenocast.forecast.summary import day_after
from phenocast.verification import wilson_interval

SCHEMA_VERSION = 1
LEVELS = tuple(round(0.1 * n, 1) for n in range(1, 10))
BINS = 10
# With fewer seasons than this nothing is said about whether intervals hold what they promise.
SEASONS_FOR_COVERAGE = 5

Missed = tuple[PastBlock, int, str]


def hindcast_document(
    made: Sequence[Hindcast],
    missed: Sequence[Missed],
    *,
    source: str,
    records: int,
    unused: Sequence[dict[str, Any]] = (),
    draws: int,
    seed: int,
    past_years: PastYears,
    warnings: Sequence[str] = (),
) -> dict[str, Any]:
    """Return the document that ``phenocast hindcast --json`` prints.

    Parameters
    ----------
    made, missed : result of `hindcast_blocks`.
    source : name of the file of records.
    records : rows read from it.
    unused : records that were not used, as ``row, season, block, reason``.
    draws, seed, past_years : as they were run.
    warnings : what the reader of the files must know.

    Returns
    -------
    dict
    """
    rng = np.random.default_rng(seed)
    leads = sorted({one.lead for one in made})
    blocks, summaries = [], []
    for lead in leads:
        group = [one for one in made if one.lead == lead]
        dates = [first_pick_score(one, group) for one in group]
        weeks = [weekly_score(one, group, rng) for one in group]
        summaries.append(_summary(lead, group, dates, weeks))
        blocks += [_block(*one) for one in zip(group, dates, weeks, strict=True)]
    seasons = sorted({one.past.label for one in made})
    told = [*warnings, *dict.fromkeys(w for one in made for w in one.warnings)]
    if len(seasons) < SEASONS_FOR_COVERAGE:
        told.append(
            f"{len(seasons)} season(s): blocks of one season share its weather, so these scores "
            "say how far forecasts were off, and next to nothing about how often an interval holds"
        )
    return {
        "schema_version": SCHEMA_VERSION,
        "kind": "hindcast",
        "engine_version": __version__,
        "file": source,
        "records": records,
        "seasons": seasons,
        "block_seasons": len({(one.past.label, one.past.block.name) for one in made}),
        "past_years": past_years,
        "draws": draws,
        "seed": seed,
        "leads": summaries,
        "blocks": blocks,
        "not_made": [
            {"season": past.label, "block": past.block.name, "lead_d": lead, "reason": reason}
            for past, lead, reason in missed
        ],
        "records_not_used": list(unused),
        "warnings": list(cautions_first(told)),
    }


def _summary(
    lead: int,
    group: Sequence[Hindcast],
    dates: Sequence[FirstPickScore],
    weeks: Sequence[WeeklyScore],
) -> dict[str, Any]:
    labels = [one.past.label for one in group]
    return {
        "lead_d": lead,
        "first_pick": _dates_summary(labels, group, dates),
        "weekly": _weeks_summary(group, weeks),
        "reliability": _reliability(dates, weeks),
        "pit": {
            "bins": BINS,
            "first_pick": _rounded(_spread_pit(dates)),
            "weekly": _rounded(
                np.histogram(np.concatenate([one.pit for one in weeks]), BINS, (0.0, 1.0))[0]
            ),
        },
    }


def _dates_summary(
    labels: Sequence[str], group: Sequence[Hindcast], dates: Sequence[FirstPickScore]
) -> dict[str, Any]:
    error = np.array([one.error for one in dates])
    seen = np.isfinite(error)
    if not seen.any():
        return {"scored": 0, "never_reached": len(dates)}
    error = error[seen]
    held = np.array([one.held for one in dates])[seen]
    crps = np.array([one.crps for one in dates])[seen]
    width = np.array([one.p90 - one.p10 for one in dates])[seen]
    gaps = np.array([one.past.picked.upper - one.past.picked.lower for one in group])[seen]
    named = np.array(labels)[seen]
    by_season = [float(held[named == one].mean()) for one in sorted(set(named))]
    interval = wilson_interval(round(sum(by_season)), len(by_season), 0.95)
    calendar = np.array([one.calendar_error for one in dates])[seen]
    calendar_crps = np.array([one.calendar_crps for one in dates])[seen]
    days = np.array([one.days_error for one in dates])[seen]
    told = np.isfinite(calendar)
    return {
        "scored": int(seen.sum()),
        "seasons": len(by_season),
        "never_reached": int((~seen).sum()),
        "bias_d": _round(error.mean()),
        "mae_d": _round(np.abs(error).mean()),
        "rmse_d": _round(np.sqrt((error**2).mean())),
        "within_a_week": _round(float((np.abs(error) <= 7.0).mean()), 3),
        "crps_d": _round(crps.mean()),
        "coverage_80": _round(held.mean(), 3),
        "coverage_80_of_seasons": [_round(interval.lower, 3), _round(interval.upper, 3)],
        "width_80_d": _mean(width[np.isfinite(width)]),
        "visit_floor_d": _round(np.sqrt((gaps**2).mean() / 12.0)),
        "calendar": {
            "compared": int(told.sum()),
            "mae_d": _mean(np.abs(calendar[told])),
            "forecast_mae_d": _mean(np.abs(error[told])),
            "crps_d": _mean(calendar_crps[told]),
            "forecast_crps_d": _mean(crps[told]),
            "skill": _round(1.0 - crps[told].mean() / calendar_crps[told].mean(), 3)
            if told.any() and calendar_crps[told].mean() > 0.0
            else None,
        },
        "days_from_planting": {"compared": int(told.sum()), "mae_d": _mean(np.abs(days[told]))},
        "air_warmth": _air_warmth(dates, error, crps, seen),
    }


def _air_warmth(
    dates: Sequence[FirstPickScore], error: FloatArray, crps: FloatArray, seen: BoolArray
) -> dict[str, Any]:
    """Score of the plain sum of air warmth, and of the forecast where it has one."""
    plain = np.array([one.sum_error for one in dates])[seen]
    plain_crps = np.array([one.sum_crps for one in dates])[seen]
    told = np.isfinite(plain)
    return {
        "compared": int(told.sum()),
        "mae_d": _mean(np.abs(plain[told])),
        "crps_d": _mean(plain_crps[told]),
        "forecast_mae_d": _mean(np.abs(error[told])),
        "skill": _round(1.0 - crps[told].mean() / plain_crps[told].mean(), 3)
        if told.any() and plain_crps[told].mean() > 0.0
        else None,
    }


def _weeks_summary(group: Sequence[Hindcast], weeks: Sequence[WeeklyScore]) -> dict[str, Any]:
    taken = np.concatenate([one.taken for one in group])
    if not taken.size or taken.sum() <= 0.0:
        return {"weeks": int(taken.size)}
    median = np.concatenate([one.median for one in weeks])
    mean = np.concatenate([one.mean for one in weeks])
    held = np.concatenate([one.held for one in weeks])
    crps = np.concatenate([one.crps for one in weeks])
    calendar = np.concatenate([one.calendar for one in weeks])
    told = np.isfinite(calendar)
    scored = told.any() and taken[told].sum() > 0.0
    return {
        "weeks": int(taken.size),
        "taken_g_per_plant": _round(taken.sum()),
        "forecast_g_per_plant": _round(mean.sum()),
        "wape": _round(np.abs(median - taken).sum() / taken.sum(), 3),
        "bias_share": _round((mean.sum() - taken.sum()) / taken.sum(), 3),
        "crps_g": _round(crps.mean()),
        "coverage_80": _round(held.mean(), 3),
        "calendar": {
            "compared": int(told.sum()),
            "wape": _round(np.abs(calendar - taken)[told].sum() / taken[told].sum(), 3)
            if scored
            else None,
            "forecast_wape": _round(np.abs(median - taken)[told].sum() / taken[told].sum(), 3)
            if scored
            else None,
        },
    }


def _reliability(
    dates: Sequence[FirstPickScore], weeks: Sequence[WeeklyScore]
) -> list[dict[str, Any]]:
    pits = np.concatenate([one.pit for one in weeks])
    seen = [one for one in dates if np.isfinite(one.error)]
    rows = []
    for level in LEVELS:
        low, high = (1.0 - level) / 2.0, (1.0 + level) / 2.0
        held = [share_between(one.pit_low, one.pit_high, low, high) for one in seen]
        rows.append(
            {
                "level": level,
                "first_pick": _round(float(np.mean(held)), 3) if held else None,
                "weekly": _round(((pits >= low) & (pits <= high)).mean(), 3) if pits.size else None,
            }
        )
    return rows


def _spread_pit(dates: Sequence[FirstPickScore]) -> FloatArray:
    """Cases of each bin; a date known to an interval is spread over the PIT of that interval."""
    edges = np.linspace(0.0, 1.0, BINS + 1)
    stops = edges[1:] - 1e-12  # an edge belongs to the slice above it, but the last to the last
    stops[-1] = 1.0
    return np.array(
        [
            sum(share_between(one.pit_low, one.pit_high, low, stop) for one in dates)
            for low, stop in zip(edges[:-1], stops, strict=True)
        ]
    )


def _block(one: Hindcast, dates: FirstPickScore, weeks: WeeklyScore) -> dict[str, Any]:
    block, picked = one.past.block, one.past.picked
    middle = middle_date(one)
    planting = block.planting_date
    return {
        "season": one.past.label,
        "block": block.name,
        "cultivar": block.cultivar,
        "film": block.film,
        "planting_date": planting.isoformat(),
        "lead_d": one.lead,
        "issue_date": one.issue_date.isoformat(),
        "past_years": list(one.past_years),
        "frost": dict(one.frost),
        "first_pick": {
            "median": day_after(planting, dates.median),
            "p10": day_after(planting, dates.p10),
            "p90": day_after(planting, dates.p90),
            "seen_after": None
            if middle is None
            else (planting + timedelta(days=int(picked.lower))).isoformat(),
            "seen_by": None
            if middle is None
            else (planting + timedelta(days=int(picked.upper))).isoformat(),
            "round_assumed": picked.round_assumed,
            "error_d": _or_none(dates.error),
            "held_80": _or_none(dates.held, 3),
            "crps_d": _or_none(dates.crps),
            "pit": [_round(dates.pit_low, 4), _round(dates.pit_high, 4)],
            "calendar_error_d": _or_none(dates.calendar_error),
            "days_from_planting_error_d": _or_none(dates.days_error),
            "air_warmth_error_d": _or_none(dates.sum_error),
        },
        "weekly": [
            {
                "week": week,
                "taken_g": _round(one.taken[i]),
                "p10_g": _round(weeks.p10[i]),
                "p50_g": _round(weeks.median[i]),
                "p90_g": _round(weeks.p90[i]),
                "calendar_g": _or_none(weeks.calendar[i]),
            }
            for i, week in enumerate(one.weeks)
        ],
    }


def _round(value: float, digits: int = 2) -> float:
    return round(float(value), digits)


def _or_none(value: float, digits: int = 2) -> float | None:
    return round(float(value), digits) if np.isfinite(value) else None


def _mean(values: FloatArray) -> float | None:
    return _round(values.mean()) if values.size else None


def _rounded(values: FloatArray) -> list[float]:
    return [round(float(one), 3) for one in values]
