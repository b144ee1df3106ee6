"""From a cloud of simulated seasons to the words and numbers of a forecast.

A season that never reaches first pick keeps its place in every quantile (as "later than
anything") and its share is reported as a probability of its own.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import numpy as np

from phenocast.harvest import iso_week

LEVELS = (0.1, 0.5, 0.9)
LEVEL_NAMES = ("p10", "p50", "p90")


def day_after(origin: date, days: float) -> str | None:
    """Return the ISO date that lies a number of days after ``origin``; None where not reached.

    >>> day_after(date(2026, 10, 1), 31.7), day_after(date(2026, 10, 1), float("inf"))
    ('2026-11-01', None)
    """
    if not np.isfinite(days):
        return None
    return (origin + timedelta(days=int(np.floor(days)))).isoformat()


def quantile_with_never(days: np.ndarray, level: float) -> float:
    """Return a quantile of dates in which ``inf`` means never, without mixing the two.

    The quantile is the smallest value that at least a share ``level`` of the cases does not
    exceed, so it is ``inf`` exactly when fewer cases than that are reached.

    >>> quantile_with_never(np.array([1.0, 2.0, np.inf, np.inf]), 0.5)
    2.0
    >>> quantile_with_never(np.array([1.0, np.inf, np.inf, np.inf]), 0.5)
    inf
    """
    ordered = np.sort(np.where(np.isnan(days), np.inf, days).ravel())
    index = max(0, int(np.ceil(level * ordered.size)) - 1)
    return float(ordered[index])


def date_distribution(planting: date, days: np.ndarray) -> dict[str, Any]:
    """Describe a cloud of dates.

    Parameters
    ----------
    planting : the day from which ``days`` count.
    days : array of any shape, days since planting; inf or nan where not reached.

    Returns
    -------
    dict with ``median, p10, p90, mean`` (ISO dates or None), ``week_probabilities`` and
    ``not_reached_probability``; the weeks' probabilities and the last one sum to 1.  The mean is
    over the seasons that reach the stage.
    """
    flat = np.where(np.isnan(days), np.inf, np.asarray(days, dtype=float)).ravel()
    reached = flat[np.isfinite(flat)]
    p10, median, p90 = (quantile_with_never(flat, level) for level in LEVELS)
    return {
        "median": day_after(planting, median),
        "p10": day_after(planting, p10),
        "p90": day_after(planting, p90),
        "mean": day_after(planting, float(reached.mean())) if reached.size else None,
        "week_probabilities": week_probabilities(planting, flat),
        "not_reached_probability": round(1.0 - reached.size / flat.size, 4),
    }


def week_probabilities(planting: date, days: np.ndarray) -> list[dict[str, Any]]:
    """Return the share of all seasons whose date falls in each ISO week, in order of time."""
    reached = np.floor(days[np.isfinite(days)]).astype(int)
    if reached.size == 0:
        return []
    first, last = int(reached.min()), int(reached.max())
    weeks: dict[str, int] = {}
    counts = np.bincount(reached - first)
    for offset in range(last - first + 1):
        week = iso_week(planting + timedelta(days=first + offset))
        weeks[week] = weeks.get(week, 0) + int(counts[offset])
    return [{"week": w, "probability": round(n / days.size, 4)} for w, n in weeks.items()]


def stage_dates(planting: date, days: np.ndarray) -> dict[str, Any]:
    """Return median, P10, P90 and the probability of never, for a stage before first pick."""
    full = date_distribution(planting, days)
    return {k: full[k] for k in ("median", "p10", "p90", "not_reached_probability")}


def quantiles(values: np.ndarray, digits: int = 1) -> dict[str, float]:
    """Return P10, P50 and P90 of an array of any shape, rounded for print."""
    found = np.quantile(np.asarray(values, dtype=float).ravel(), LEVELS)
    return {name: round(float(q), digits) for name, q in zip(LEVEL_NAMES, found, strict=True)}
