"""From a cloud of simulated seasons to the words and numbers of a forecast.

A season that never reaches first pick keeps its place in every quantile (as "later than
anything") and its share is reported as a probability of its own. Week by week it is told what the
crown feels and how far plants are, and where the spread of a date comes from.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from phenocast._typing import FloatArray, IntArray
from phenocast.harvest import iso_week, week_labels
from phenocast.simulation.daily_sums import BED_CROWN_HEAT_30, BED_CROWN_MAX, BED_CROWN_MEAN

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
    return stage_rows([planting], np.asarray(days, dtype=float).reshape(1, -1))[0]


def stage_rows(plantings: Sequence[date], days: np.ndarray) -> list[dict[str, Any]]:
    """Return `stage_dates` of every row, which are those of `date_distribution`.

    Parameters
    ----------
    plantings : one a row.
    days : array [rows, cases], days since planting; inf or nan where not reached.

    Examples
    --------
    >>> stage_rows([date(2026, 10, 1)], np.array([[30.2, 31.0, 45.9, np.nan]]))
    [{'median': '2026-11-01', 'p10': '2026-10-31', 'p90': None, 'not_reached_probability': 0.25}]
    """
    ordered = np.sort(days, axis=-1)  # nan comes after inf, and neither is reached
    cases = ordered.shape[-1]
    places = [max(0, int(np.ceil(level * cases)) - 1) for level in LEVELS]
    reached = np.isfinite(ordered).sum(axis=-1)
    return [
        {
            "median": day_after(planting, median),
            "p10": day_after(planting, p10),
            "p90": day_after(planting, p90),
            "not_reached_probability": round(1.0 - int(count) / cases, 4),
        }
        for planting, (p10, median, p90), count in zip(
            plantings, ordered[:, places].tolist(), reached, strict=True
        )
    ]


def quantiles(values: np.ndarray, digits: int = 1) -> dict[str, float]:
    """Return P10, P50 and P90 of an array of any shape, rounded for print."""
    ordered = np.sort(np.asarray(values, dtype=float), axis=None)
    return quantile_rows(ordered_quantiles(ordered)[None], digits)[0]


def quantiles_of_rows(values: np.ndarray, digits: int = 1) -> list[dict[str, float]]:
    """Return `quantiles` of every row of an array ``[rows, cases]``.

    >>> quantiles_of_rows(np.array([[0.0, 10.0, 20.0]]))
    [{'p10': 2.0, 'p50': 10.0, 'p90': 18.0}]
    """
    ordered = np.sort(np.asarray(values, dtype=float), axis=-1)
    return quantile_rows(ordered_quantiles(ordered), digits)


def ordered_quantiles(ordered: np.ndarray) -> np.ndarray:
    """Return P10, P50 and P90 of values in order, a straight line between two cases.

    Sorting is several times faster than ``np.quantile``, and serves the worst tenth as well.

    Parameters
    ----------
    ordered : array [..., cases]
        Rising along the last axis.

    Returns
    -------
    array [..., 3]
        To the last bit what ``np.quantile`` finds; NaN where a case is NaN.

    Examples
    --------
    >>> ordered_quantiles(np.array([0.0, 10.0, 20.0])).tolist()
    [2.0, 10.0, 18.0]
    """
    last = ordered.shape[-1] - 1
    place = np.array(LEVELS) * last
    below = np.floor(place).astype(np.int64)
    weight = place - below
    low = ordered[..., below].astype(float)
    high = ordered[..., np.minimum(below + 1, last)].astype(float)
    step = high - low
    found = np.where(weight < 0.5, low + step * weight, high - step * (1.0 - weight))
    return np.where(np.isnan(ordered[..., -1:]), np.nan, found)


def quantile_rows(found: np.ndarray, digits: int = 1) -> list[dict[str, float]]:
    """Return rows of P10, P50 and P90, ``[rows, 3]``, by their names and rounded for print."""
    return [
        {name: round(value, digits) for name, value in zip(LEVEL_NAMES, row, strict=True)}
        for row in found.tolist()
    ]


def rounded(values: np.ndarray, digits: int) -> list[float]:
    """Return the values of a row, rounded for print."""
    return [round(value, digits) for value in values.tolist()]


def week_by_week(
    planting: date, bed: NDArray[np.float32], stages: Mapping[str, FloatArray]
) -> list[dict[str, Any]]:
    """Return one row an ISO week, from planting to the last day.

    Parameters
    ----------
    planting : date
        First day.
    bed : array ``[traces, physics draws, N_BED_DAILY, days]``
        Daily rows of the bed. [degC, degC h]
    stages : mapping of str to array ``[traces, draws]``
        Days since planting on which a stage is reached, by the name of the stage; inf or nan where
        it is not. [d]

    Returns
    -------
    list of dict
        ``week``; ``crown_mean_c``, ``crown_max_c`` and ``degree_hours_above_30c`` with P10, P50 and
        P90 over all cases [degC, degC, degC h]; ``reached``, the share of cases in which each
        stage has been reached by the end of the week [0 to 1].

    Examples
    --------
    >>> bed = np.zeros((1, 1, 6, 9), dtype=np.float32)
    >>> rows = week_by_week(date(2026, 10, 3), bed, {"anthesis": np.array([[3.0, np.inf]])})
    >>> [(row["week"], row["reached"]["anthesis"]) for row in rows]
    [('2026-W40', 0.0), ('2026-W41', 0.5)]
    """
    labels, week_of_day = week_labels(planting, bed.shape[-1])
    starts = np.searchsorted(week_of_day, np.arange(len(labels)))
    ends = np.append(starts[1:], bed.shape[-1])
    cases = bed.shape[0] * bed.shape[1]
    mean, warmest, heat = np.empty((3, len(labels), cases))
    for number, (start, end) in enumerate(zip(starts, ends, strict=True)):
        days = bed[..., start:end]
        mean[number] = days[:, :, BED_CROWN_MEAN].mean(axis=-1).ravel()
        warmest[number] = days[:, :, BED_CROWN_MAX].max(axis=-1).ravel()
        heat[number] = days[:, :, BED_CROWN_HEAT_30].sum(axis=-1).ravel()
    shares = {name: _reached(days, ends) for name, days in stages.items()}
    rows = zip(
        labels,
        quantiles_of_rows(mean),
        quantiles_of_rows(warmest),
        quantiles_of_rows(heat, 0),
        strict=True,
    )
    return [
        {
            "week": label,
            "crown_mean_c": crown_mean,
            "crown_max_c": crown_max,
            "degree_hours_above_30c": degree_hours,
            "reached": {name: reached[number] for name, reached in shares.items()},
        }
        for number, (label, crown_mean, crown_max, degree_hours) in enumerate(rows)
    ]


def _reached(days: FloatArray, ends: IntArray) -> list[float]:
    """Return the share of cases that reach a stage before each of some days."""
    ordered = np.sort(days, axis=None)  # nan comes last: it is before no day
    return rounded(np.searchsorted(ordered, ends) / days.size, 4)


def spread_from(days: FloatArray, late: FloatArray | None = None) -> dict[str, float] | None:
    """Return which shares of the spread of a date come from the weather and from the plants.

    Every plant draw lives through every weather trace, so the sum of squares around the mean
    splits into that of the traces' means, that of the draws' means, and the rest, which is the bed
    and the interplay of all three (two-way analysis of variance without replicates).

    Parameters
    ----------
    days : array ``[traces, draws]``
        Days since planting; inf or nan where not reached. [d]
    late : array ``[traces, draws]``, optional
        Effect of the season that is in them, drawn apart from weather and plants. [d]

    Returns
    -------
    dict or None
        ``weather, plants, bed_and_interplay`` and, with ``late``, ``season``, which sum to 1; None
        where some case never reaches the stage or nothing varies.

    Examples
    --------
    >>> spread_from(np.array([[1.0, 1.0], [3.0, 3.0]]))
    {'weather': 1.0, 'plants': 0.0, 'bed_and_interplay': 0.0}
    >>> spread_from(np.array([[1.0, np.inf]])) is None
    True
    """
    if not np.isfinite(days).all():
        return None
    apart = days - days.mean()
    total = float((apart**2).sum())
    if total <= 0.0:
        return None
    season = 0.0
    if late is not None:
        # what is left when the season's effect is taken out again splits as it does without one
        apart = days - late
        apart = apart - apart.mean()
        rest = float((apart**2).sum())
        of_season = float(((late - late.mean()) ** 2).sum())
        season = of_season / (of_season + rest)
        total = of_season + rest
    traces, draws = days.shape
    weather = draws * float((apart.mean(axis=1) ** 2).sum()) / total
    plants = traces * float((apart.mean(axis=0) ** 2).sum()) / total
    shares = {
        "weather": round(weather, 3),
        "plants": round(plants, 3),
        "bed_and_interplay": round(max(0.0, 1.0 - weather - plants - season), 3),
    }
    return shares if late is None else {**shares, "season": round(season, 3)}
