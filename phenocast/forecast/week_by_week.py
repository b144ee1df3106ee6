"""What the crown feels and how far plants are, week by week, and where the spread comes from."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from phenocast.forecast.summary import quantiles_of_rows, rounded
from phenocast.harvest import week_labels
from phenocast.simulation.daily_sums import BED_CROWN_HEAT_30, BED_CROWN_MAX, BED_CROWN_MEAN

Array = NDArray[np.float64]


def week_by_week(
    planting: date, bed: NDArray[np.float32], stages: Mapping[str, Array]
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


def _reached(days: Array, ends: NDArray[np.int64]) -> list[float]:
    """Return the share of cases that reach a stage before each of some days."""
    ordered = np.sort(days, axis=None)  # nan comes last: it is before no day
    return rounded(np.searchsorted(ordered, ends) / days.size, 4)


def spread_from(days: Array, late: Array | None = None) -> dict[str, float] | None:
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
