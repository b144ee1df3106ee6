"""Scores of hindcasts: first pick against the interval in which it was seen, weekly fruit, and both
against what the other seasons would have told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from phenocast._typing import BoolArray, FloatArray
from phenocast.forecast.hindcast import Hindcast, days_to
from phenocast.forecast.summary import quantile_with_never
from phenocast.verification import crps_ensemble

LOW, HIGH = 0.1, 0.9
# The date of a first pick is known to lie between two visits: scores are means over so many places.
PLACES = 9


@dataclass(frozen=True)
class FirstPickScore:
    """Score of one forecast of a first pick; NaN where it was never reached. [d]

    ``error`` is the median less the middle of the observed interval; ``pit_low`` and ``pit_high``
    the probabilities that the forecast gave to dates up to either end of it; ``held`` the share of
    the span between them that lies in the middle 80 %, which is 0.8 on average for a forecast that
    is right, however seldom the visits (Czado, Gneiting and Held 2009, Biometrics 65:1254-1261).
    ``calendar``, ``days`` and ``sum`` are what the other seasons would have told: the mean date,
    the mean number of days from planting, and the mean sum of air warmth, of the cultivar's blocks
    that were planted nearest to the same day of the year.
    """

    median: float
    p10: float
    p90: float
    error: float
    held: float
    crps: float
    pit_low: float
    pit_high: float
    calendar_error: float
    calendar_crps: float
    days_error: float
    sum_error: float
    sum_crps: float


@dataclass(frozen=True)
class WeeklyScore:
    """Scores of the weekly fruit of one forecast, arrays ``[week]``. [g per plant]"""

    median: FloatArray
    p10: FloatArray
    p90: FloatArray
    mean: FloatArray
    held: BoolArray
    crps: FloatArray
    pit: FloatArray
    calendar: FloatArray


def first_pick_score(one: Hindcast, others: Sequence[Hindcast]) -> FirstPickScore:
    """Score the first pick of one hindcast.

    Parameters
    ----------
    one : Hindcast
    others : hindcasts of the same lead; those of the same cultivar in other seasons are used.

    Returns
    -------
    FirstPickScore
    """
    members = np.where(np.isfinite(one.first_pick), one.first_pick, float(one.n_days))
    median = quantile_with_never(one.first_pick, 0.5)
    p10, p90 = (quantile_with_never(one.first_pick, level) for level in (LOW, HIGH))
    lower, upper = one.past.picked.lower, one.past.picked.upper
    if not np.isfinite(upper):
        nan = float("nan")
        return FirstPickScore(
            median, p10, p90, nan, nan, nan, float(np.mean(one.first_pick <= lower)), 1.0, nan, nan,
            nan, nan, nan,
        )  # fmt: skip
    places = lower + (upper - lower) * (np.arange(PLACES) + 0.5) / PLACES
    pit_low, pit_high = (float(np.mean(one.first_pick <= end)) for end in (lower, upper))
    calendar, days = _told_by_others(one, others)
    warm = _told_by_warmth(one, others)
    middle = one.past.picked.middle
    return FirstPickScore(
        median=median,
        p10=p10,
        p90=p90,
        error=(median if np.isfinite(median) else float(one.n_days)) - middle,
        held=share_between(pit_low, pit_high, LOW, HIGH),
        crps=float(np.mean(crps_ensemble(places, members))),
        pit_low=pit_low,
        pit_high=pit_high,
        calendar_error=float(np.mean(calendar)) - middle if calendar.size else float("nan"),
        calendar_crps=float(np.mean(crps_ensemble(places, calendar)))
        if calendar.size
        else float("nan"),
        days_error=float(np.mean(days)) - middle if days.size else float("nan"),
        sum_error=float(np.median(warm)) - middle if warm.size else float("nan"),
        sum_crps=float(np.mean(crps_ensemble(places, warm))) if warm.size else float("nan"),
    )


def share_between(low: float, high: float, left: float, right: float) -> float:
    """Share of the span ``low`` to ``high`` that lies between ``left`` and ``right``.

    Examples
    --------
    >>> share_between(0.5, 1.0, 0.1, 0.9), share_between(0.0, 0.0, 0.1, 0.9)
    (0.8, 0.0)
    """
    if high <= low:
        return float(left <= low <= right)
    return max(0.0, min(high, right) - max(low, left)) / (high - low)


def _told_by_others(one: Hindcast, others: Sequence[Hindcast]) -> tuple[FloatArray, FloatArray]:
    """First picks of other seasons: as dates of this season, and as days from planting. [d]"""
    planting = one.past.block.planting_date
    found = []
    for alike in _like_blocks(one, others).values():
        seen = [other for other in alike if np.isfinite(other.past.picked.middle)]
        if seen:
            days = np.array([other.past.picked.middle for other in seen])
            moved = [(_in_year(other.past.block.planting_date, planting) - planting).days
                     for other in seen]  # fmt: skip
            found.append((float(np.mean(days + moved)), float(days.mean())))
    means = np.array(found).reshape(-1, 2)
    return means[:, 0], means[:, 1]


def _told_by_warmth(one: Hindcast, others: Sequence[Hindcast]) -> FloatArray:
    """Dates at which each trace reaches the air warmth of the other seasons' first picks. [d]"""
    needed = []
    for alike in _like_blocks(one, others).values():
        sums = np.array([other.own_sum for other in alike])
        if np.isfinite(sums).any():
            needed.append(float(np.nanmean(sums)))
    if not needed or not one.air_sums.size:
        return np.empty(0)
    return np.minimum(days_to(one.air_sums, float(np.mean(needed))), float(one.n_days))


def _like_blocks(one: Hindcast, others: Sequence[Hindcast]) -> dict[str, list[Hindcast]]:
    """Blocks of the cultivar in each other season that were planted nearest to the same day.

    Blocks of one season share its weather, so they count as one.
    """
    planting = one.past.block.planting_date
    by_season: dict[str, list[tuple[int, Hindcast]]] = {}
    for other in others:
        same = other.past.block.cultivar == one.past.block.cultivar
        if same and other.past.label != one.past.label:
            apart = abs((_in_year(other.past.block.planting_date, planting) - planting).days)
            by_season.setdefault(other.past.label, []).append((apart, other))
    return {
        label: [other for apart, other in own if apart == min(own, key=lambda pair: pair[0])[0]]
        for label, own in by_season.items()
    }


def _in_year(day: date, like: date) -> date:
    """Calendar day of another season in the season that was planted near ``like``."""
    return min(
        (_same_day(day, year) for year in (like.year - 1, like.year, like.year + 1)),
        key=lambda one: abs((one - like).days),
    )


def _same_day(day: date, year: int) -> date:
    try:
        return day.replace(year=year)
    except ValueError:  # 29 February
        return day.replace(year=year, day=28)


def weekly_score(
    one: Hindcast, others: Sequence[Hindcast], rng: np.random.Generator
) -> WeeklyScore:
    """Score the weekly fruit of one hindcast.

    Parameters
    ----------
    one : Hindcast
    others : hindcasts of the same lead; those of the same cultivar in other seasons are used.
    rng : places an observation among members that are equal to it, such as weeks without fruit.

    Returns
    -------
    WeeklyScore
        ``calendar`` is the mean fruit of the same ISO week in other seasons, NaN where none was
        visited in it.
    """
    members = one.weekly.T
    p10, median, p90 = np.quantile(members, [LOW, 0.5, HIGH], axis=1) if one.weeks else np.empty(
        (3, 0)
    )  # fmt: skip
    below = (members < one.taken[:, np.newaxis]).sum(axis=1)
    ties = (members == one.taken[:, np.newaxis]).sum(axis=1)
    place = (below + rng.random(len(one.weeks)) * (ties + 1)) / (members.shape[1] + 1)
    return WeeklyScore(
        median=median,
        p10=p10,
        p90=p90,
        mean=members.mean(axis=1),
        held=(one.taken >= p10) & (one.taken <= p90),
        crps=crps_ensemble(one.taken, members) if one.weeks else np.empty(0),
        pit=place,
        calendar=_same_weeks(one, others),
    )


def _same_weeks(one: Hindcast, others: Sequence[Hindcast]) -> FloatArray:
    """Mean fruit of each ISO week in the other seasons of the cultivar."""
    seen: dict[str, dict[str, list[float]]] = {}
    for label, alike in _like_blocks(one, others).items():
        for other in alike:
            for week, grams in zip(other.weeks, other.taken, strict=True):
                seen.setdefault(week[-2:], {}).setdefault(label, []).append(float(grams))
    return np.array(
        [
            np.mean([np.mean(own) for own in seen[week[-2:]].values()])
            if week[-2:] in seen
            else np.nan
            for week in one.weeks
        ]
    )


def middle_date(one: Hindcast) -> date | None:
    """Middle of the interval of the observed first pick; None where it was never reached."""
    middle = one.past.picked.middle
    if not np.isfinite(middle):
        return None
    return one.past.block.planting_date + timedelta(days=int(middle))
