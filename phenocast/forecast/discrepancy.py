"""Model discrepancy: how a block-season departs from what is expected of it, by past seasons.

What is expected of a block is a vector: the days of first flower and first pick, then the fruit of
some windows, as the root of the weekly rate, on which the scatter of picks is even. A member
expects it from the process model, from past seasons, or from both: past seasons as they
were, moved by a part of what the model expects of this season beyond what it expected of those.
Around each expectation the block-season departs in date (all later), in the lag from flower to
fruit, in level, in the shape of its course over weeks, and week by week. How far, is learnt from
past seasons, each held against the members without it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from phenocast._typing import FloatArray
from phenocast.forecast.past_seasons import (
    PastSeason,
    alike,
    cumulative_at,
    planting_slope,
)

N_DATES_SEEN = 2
"""Entries of an expectation that are dates: first flower and first pick."""
ROOT_FLOOR = 0.5
"""Added under the root, so that the scatter of weeks without fruit stays finite. [g a week]"""
SHAPE_MEMORY_D = 12.0
"""Departures in shape are alike over this time. [d]"""
DATE_NOISE_D = 1.0
"""Error of a date that was read from weekly visits. Assumed. [d]"""
PAST_BLOOM_NOISE_D = 2.2
"""The same of a first flower of a past season: it came within a week. [d]"""
PICK_NOISE, LEAST_NOISE = 0.06, 0.15
"""Error of the root of a pick: half of the relative error of its weight, and a least value."""
LEAST_WEEKLY = 0.25
"""Least departure of the root of a single week."""


class Scales(NamedTuple):
    """Standard deviations of the departures of a block-season.

    Parameters
    ----------
    shift_d : everything is later. [d]
    lag_d : fruit is later than flowers. [d]
    level : of the root of all fruit; half of the relative departure of the fruit.
    shape : of the root, over `SHAPE_MEMORY_D`.
    weekly : of the root of a single week.
    """

    shift_d: float
    lag_d: float
    level: float
    shape: float
    weekly: float


TRIED = {
    "shift_d": (0.7, 1.5, 3.0, 5.0, 8.0, 12.0),
    "lag_d": (0.5, 1.5, 3.0, 5.0, 8.0),
    "level": (0.05, 0.1, 0.17, 0.3, 0.5, 1.0),
    "shape": (0.05, 0.1, 0.15, 0.22, 0.32, 0.5),
    "weekly": (0.0, 0.04, 0.08, 0.12, 0.17, 0.25),
}
"""Values of each scale that are tried against past seasons."""
ASSUMED = Scales(5.0, 3.0, 0.3, 0.22, 0.12)
"""Scales where no past season tells them. Judgement: plants of another family depart so far."""
NONE = Scales(0.0, 0.0, 0.0, 0.0, 0.0)
ROUNDS = 2


class Member(NamedTuple):
    """One way to expect a season.

    Parameters
    ----------
    trust : part of what the process model expects beyond past seasons that is believed; 0 leaves
        past seasons alone.
    leans_on_past : whether past seasons correct the model.
    """

    trust: float
    leans_on_past: bool


MODEL = Member(1.0, False)
WITH_PAST = (Member(1.0, True), Member(0.5, True), Member(0.0, True))
"""Members of a block that has past seasons; one without has `MODEL` alone."""


class Windows(NamedTuple):
    """Windows of time since planting, in order. [d]"""

    start: FloatArray
    stop: FloatArray

    @property
    def middle(self) -> FloatArray:
        """Middle of each."""
        return 0.5 * (self.start + self.stop)

    def moved(self, days: float) -> Windows:
        """Windows some days later."""
        return Windows(self.start + days, self.stop + days)

    def roots(self, cumulative: FloatArray) -> FloatArray:
        """Root of the weekly rate of a daily cumulative course ``[..., days + 1]``."""
        grown = cumulative_at(cumulative, self.stop) - cumulative_at(cumulative, self.start)
        return self.roots_of(grown)

    def roots_of(self, fruit: FloatArray) -> FloatArray:
        """Root of the weekly rate of the fruit of each window. [g per plant]"""
        weekly = 7.0 * np.maximum(fruit, 0.0) / (self.stop - self.start)
        return np.asarray(np.sqrt(weekly + ROOT_FLOOR))

    def fruit_of(self, roots: FloatArray) -> FloatArray:
        """Fruit of each window, from the root of its weekly rate. [g per plant]"""
        weekly = np.maximum(np.maximum(roots, 0.0) ** 2 - ROOT_FLOOR, 0.0)
        return np.asarray(weekly * (self.stop - self.start) / 7.0)


def expected(
    member: Member,
    model: FloatArray,
    windows: Windows,
    past: Sequence[PastSeason],
    weights: FloatArray,
    day_of_year: int,
    slope: float,
) -> FloatArray:
    """What a member expects of dates and windows, ``[..., 2 + windows]``.

    Parameters
    ----------
    member : Member
    model : array ``[..., 2 + windows]``
        What the process model expects of them: a mean, or one row a draw.
    windows : Windows
    past, weights : past seasons that stand for the block.
    day_of_year : of planting.
    slope : change of the days to first pick with a day of later planting (`planting_slope`).
    """
    if not member.leans_on_past:
        return model
    corrections = []
    for one in past:
        later = slope * (1.0 - member.trust) * (day_of_year - one.day_of_year)
        then = windows.moved(-later)
        dates = one.dates - member.trust * one.expected_dates + later
        fruit = then.roots(one.picked) - member.trust * then.roots(one.expected)
        corrections.append(np.concatenate([dates, fruit]))
    told = np.isfinite(corrections)
    weight = told * weights[:, None]
    total = weight.sum(axis=0)
    correction = (weight * np.nan_to_num(corrections)).sum(axis=0) / np.maximum(total, 1e-12)
    # a date that no past season has is the model's
    found = np.where(total > 0.0, member.trust * model + correction, model)
    found[..., N_DATES_SEEN:] = np.maximum(found[..., N_DATES_SEEN:], np.sqrt(ROOT_FLOOR))
    return found


class Departures(NamedTuple):
    """How a block-season may depart from an expectation.

    Parameters
    ----------
    common : array ``[3, 2 + windows]``
        One standard deviation of shift, lag and level.
    rest : array ``[2 + windows, 2 + windows]``
        Covariance of what is left: shape and single weeks.
    """

    common: FloatArray
    rest: FloatArray

    @property
    def covariance(self) -> FloatArray:
        """Covariance of all departures together."""
        return np.asarray(self.common.T @ self.common + self.rest)


def departures(mean: FloatArray, windows: Windows, scales: Scales) -> Departures:
    """Return the departures from an expectation ``[2 + windows]``."""
    roots, middle = mean[N_DATES_SEEN:], windows.middle
    rise = np.gradient(roots, middle) if len(roots) > 1 else np.zeros(len(roots))
    shift = scales.shift_d * np.concatenate([[1.0, 1.0], -rise])
    lag = scales.lag_d * np.concatenate([[0.0, 1.0], -rise])
    level = scales.level * np.concatenate([[0.0, 0.0], roots])
    near = np.exp(-0.5 * ((middle[:, None] - middle) / SHAPE_MEMORY_D) ** 2)
    rest = np.diag(np.concatenate([[0.0, 0.0], LEAST_WEEKLY**2 + (scales.weekly * roots) ** 2]))
    rest[N_DATES_SEEN:, N_DATES_SEEN:] += scales.shape**2 * np.outer(roots, roots) * near
    return Departures(np.stack([shift, lag, level]), rest)


def noise(mean: FloatArray) -> FloatArray:
    """Variance of the error of each record, ``[2 + windows]``."""
    roots = mean[N_DATES_SEEN:]
    of_picks = LEAST_NOISE**2 + (PICK_NOISE * roots) ** 2
    return np.concatenate([np.full(N_DATES_SEEN, DATE_NOISE_D**2), of_picks])


class Learnt(NamedTuple):
    """Scales of a member, and the mean log evidence of a season but for a constant."""

    scales: Scales
    evidence: float


def learn(member: Member, past: Sequence[PastSeason], *, own: bool) -> Learnt:
    """Learn the departures from a member from past seasons, each held against the others.

    Parameters
    ----------
    member : Member
    past : every past season of the farm.
    own : whether blocks know past seasons of their own.

    Notes
    -----
    Departures are normal, and the likeliest scales of `TRIED` are taken, one after the other.
    """
    slope = planting_slope(past)
    gaps, parts = [], []
    for one in past:
        others, weights = alike(one.key, past, without=one.season, own=own)
        if not others and member.leans_on_past:
            continue
        windows = Windows(one.start, one.stop)
        model = np.concatenate([one.expected_dates, windows.roots(one.expected)])
        mean = expected(member, model, windows, others, weights, one.day_of_year, slope)
        gaps.append(np.concatenate([one.dates, windows.roots(one.picked)]) - mean)
        least = departures(mean, windows, NONE).covariance
        error = noise(mean)
        error[0] = PAST_BLOOM_NOISE_D**2
        parts.append([least + np.diag(error)] + [
            departures(mean, windows, NONE._replace(**{name: 1.0})).covariance - least
            for name in TRIED
        ])  # fmt: skip
    if not gaps:
        return Learnt(ASSUMED, 0.0)
    # cases of unlike length go together: what a case lacks is 0 with a variance of 1
    shape = (len(gaps), max(map(len, gaps)))
    gap, part = np.zeros(shape), np.zeros((1 + len(TRIED), *shape, shape[1]))
    part[0] += np.eye(shape[1])
    for number, (own_gap, own_parts) in enumerate(zip(gaps, parts, strict=True)):
        known = np.flatnonzero(np.isfinite(own_gap))
        gap[number, known] = own_gap[known]
        grid = np.ix_(known, known)
        for k, one_part in enumerate(own_parts):
            part[k, number][grid] = one_part[grid]

    def evidence(scales: Scales) -> float:
        of_parts = np.concatenate([[1.0], np.square(scales)])
        root = np.linalg.cholesky(np.tensordot(of_parts, part, axes=1))
        apart = np.linalg.solve(root, gap[..., None])
        logs = np.log(np.diagonal(root, axis1=-2, axis2=-1))
        return float(-0.5 * np.sum(apart**2) - np.sum(logs)) / len(gaps)

    best, scales = evidence(ASSUMED), ASSUMED
    for _ in range(ROUNDS):
        for name, values in TRIED.items():
            for value in values:
                tried = scales._replace(**{name: value})
                found = evidence(tried)
                if found > best:
                    best, scales = found, tried
    return Learnt(scales, best)
