"""A block's season given what was seen of it: records of this season and of past ones together.

The seasons that the engine ran for a block stand for what the model expects. Members
(`phenocast.forecast.discrepancy`) expect dates and weekly fruit from them and from past seasons,
each with the departures that past seasons taught. Given those, records are normal, so that every
draw is moved by its own residual (Matheron's rule: Chiles and Delfiner 2012, Geostatistics, section
7.3; from memory), and draws keep the weather trace that they belong to. Members weigh by how well
they foretold the records, on top of past seasons.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import lgamma
from typing import Any

import numpy as np

from phenocast._typing import FloatArray
from phenocast.forecast.discrepancy import (
    ASSUMED,
    MODEL,
    N_DATES_SEEN,
    NONE,
    ROOT_FLOOR,
    WITH_PAST,
    Learnt,
    Member,
    Windows,
    departures,
    expected,
    learn,
    noise,
)
from phenocast.forecast.past_seasons import (
    PastSeason,
    alike,
    cumulative_at,
    key_of,
    planting_slope,
)
from phenocast.forecast.seen import LEAST_GREEN, USUAL_ROUND_D, Seen, times_wanted
from phenocast.harvest.weeks import week_labels
from phenocast.phenology.work import ANTHESIS, FIRST_PICK, FLOWER_INITIATION
from phenocast.season import Block
from phenocast.simulation.engine import BlockSeasons

TAIL_DF = 6.0
"""Degrees of freedom of Student's t: scales that a few seasons taught are themselves unsure."""
OUTLYING = 3.0
"""A record this many standard deviations from what all others say counts by its distance."""
GREEN_AHEAD_D = 28.0
"""Green fruit of a visit ripens within this time. [d]"""
GREEN_NEAR_D = 12.0
"""Visits of past seasons tell of one that lies so near in days from planting. [d]"""
GREEN_LEAST_SD, GREEN_MODEL_SD = 0.1, 0.3
"""Least error of the logarithm of the fruit that green fruit foretells, from past seasons and from
the model. Assumed."""
GREEN_STEPS = 4
"""Steps in which the fruit that green fruit foretells is made linear."""
GREEN_TOLD = 0.1
"""Weight of visits of past seasons from which they tell it, not the model."""
LEAST_ROOT = 0.3
SHARED = 0.5
"""Part of the variance of date, lag and level that blocks of a season have in common. Assumed: it
moves totals of blocks, not a block."""


@dataclass(frozen=True)
class Leaning:
    """What the forecast of a block rests on.

    Parameters
    ----------
    past_share : float
        Part of the forecast that past seasons carry, not the process model. [1]
    past_seasons : int
        Seasons of the block itself among them.
    later_d : float
        How much later the plants are than expected at planting, by first flower or first pick; NaN
        where neither was seen. [d]
    seen : Seen
    overdue : bool
        No pick is recorded, and half of the draws would have begun by the day of issue.
    no_pick_assumed : bool
        No visit of the week before the day of issue says that picking had not begun; it is assumed.
    """

    past_share: float
    past_seasons: int
    later_d: float
    seen: Seen
    overdue: bool
    no_pick_assumed: bool

    def to_dict(self) -> dict[str, Any]:
        """Return the plain values of a document."""
        return {
            "model_share": round(1.0 - self.past_share, 3),
            "past_share": round(self.past_share, 3),
            "own_past_seasons": self.past_seasons,
            "later_d": round(self.later_d, 1) if np.isfinite(self.later_d) else None,
            "overdue": self.overdue,
            "no_pick_assumed": self.no_pick_assumed,
        }


class PastOfFarm:
    """Past seasons, with what they teach of each member; learnt when first asked for.

    Parameters
    ----------
    past : sequence of PastSeason
    """

    def __init__(self, past: Sequence[PastSeason] = ()) -> None:
        self.past = tuple(past)
        self._learnt: dict[tuple[Member, bool], Learnt] = {}

    def learnt(self, member: Member, *, own: bool) -> Learnt:
        """Scales and evidence of a member, for blocks with past seasons of their own or without."""
        if (member, own) not in self._learnt:
            self._learnt[member, own] = learn(member, self.past, own=own)
        return self._learnt[member, own]


@dataclass(frozen=True)
class _Course:
    """Dates ``[draws, 2]`` and fruit so far ``[draws, times]`` as the engine ran them, flat."""

    dates: FloatArray
    times: FloatArray
    fruit: FloatArray
    edges: FloatArray

    def at(self, days: FloatArray) -> FloatArray:
        """Fruit so far at some days, ``[draws, days]``; between known times even."""
        place = np.interp(days, self.times, np.arange(len(self.times), dtype=np.float64))
        return cumulative_at(self.fruit, place)


def _course(seasons: BlockSeasons, n_days: int, wanted: Sequence[float], start: date) -> _Course:
    _, week_of_day = week_labels(start, n_days)
    edges = np.searchsorted(week_of_day, np.arange(len(seasons.weeks) + 1)).astype(np.float64)
    weekly = seasons.weekly_g.reshape(-1, len(seasons.weeks)).astype(np.float64)
    at_edges = np.pad(np.cumsum(weekly, axis=1), ((0, 0), (1, 0)))
    states = seasons.states.marketable_g.reshape(len(weekly), -1)
    times, place = np.unique(np.concatenate([edges, wanted]), return_index=True)
    fruit = np.concatenate([at_edges, states[:, : len(wanted)]], axis=1)[:, place]
    dates = np.minimum(seasons.dates[..., [ANTHESIS, FIRST_PICK]].reshape(-1, 2), n_days)
    return _Course(dates, times, fruit, edges)


def conditioned(
    seasons: BlockSeasons,
    block: Block,
    n_days: int,
    seen: Seen,
    farm: PastOfFarm,
    *,
    issue_d: float,
    early_d: float,
    state_at: Sequence[float] = (),
    seed: int,
) -> tuple[BlockSeasons, Leaning]:
    """Seasons of a block given its records and the past seasons of the farm.

    Parameters
    ----------
    seasons : as the engine ran them, with states at `times_wanted`.
    block, n_days : the block and the days that were run.
    seen : its records.
    farm : past seasons.
    issue_d : day of issue since planting, negative before it. [d]
    early_d : days after planting whose fruit counts as early. [d]
    state_at : further times at which the fruit so far is wanted, behind `times_wanted`. [d]
    seed : of the departures.

    Returns
    -------
    BlockSeasons
        Dates, weekly and early fruit of every trace and draw as the records leave them, and the
        fruit so far at ``state_at``. Weeks up to the last pick hold what was picked.
    Leaning
    """
    course = _course(seasons, n_days, times_wanted(seen, issue_d), block.planting_date)
    ready = _foretold(seen, farm, block, course, seasons, issue_d)

    def given(no_pick_d: float) -> _Given:
        return _given(course, seen, no_pick_d, ready, block, farm, issue_d, seed)

    found, overdue, assumed = given(seen.no_pick_d), False, False
    if not len(seen.picked) and issue_d >= 0.0:
        overdue = bool(np.mean(found.draws[:, 1] > issue_d + 1.0) < 0.5)
        if not overdue:
            assumed = issue_d - seen.no_pick_d > USUAL_ROUND_D
            found = given(issue_d + 1.0)
    later = seen.bloom_d - found.prior[0]
    if not np.isfinite(later):
        later = seen.first_pick_d - found.prior[1]
    own = sum(one.key == key_of(block) for one in farm.past)
    leaning = Leaning(found.past_share, own, float(later), seen, overdue, assumed)
    asked = np.array([early_d, *state_at])
    return _as_seasons(seasons, found, course.edges, seen, n_days, asked), leaning


@dataclass(frozen=True)
class _Given:
    """Draws of dates and open windows ``[draws, 2 + windows]`` given what was seen."""

    draws: FloatArray
    future: Windows
    prior: FloatArray
    past_share: float


def _given(
    course: _Course,
    seen: Seen,
    no_pick_d: float,
    ready: tuple[float, float, float] | None,
    block: Block,
    farm: PastOfFarm,
    issue_d: float,
    seed: int,
) -> _Given:
    """Condition every member, and draw from them by their weights."""
    n_picks = len(seen.picked)
    open_from = float(seen.windows.stop[-1]) if n_picks else no_pick_d
    # what was ripe but not picked by the day of issue is picked in that week
    ends = course.edges[course.edges > max(open_from, issue_d + 1.0 if open_from > 0.0 else 0.0)]
    future = Windows(np.concatenate([[open_from], ends[:-1]])[: len(ends)], ends)
    windows = Windows(*(np.concatenate(two) for two in zip(seen.windows, future, strict=True)))
    roots = windows.roots_of(course.at(windows.stop) - course.at(windows.start))
    model = np.column_stack([course.dates, roots])
    past, near = alike(key_of(block), farm.past)
    own = any(one.key == key_of(block) for one in past)
    members = WITH_PAST if past else (MODEL,)
    # without any record or past season the draws of the model stand as they are
    scales_known = ASSUMED if seen.visits or farm.past else NONE
    learnt = [farm.learnt(one, own=own) if past else Learnt(scales_known, 0.0) for one in members]
    slope = planting_slope(farm.past) if past else 0.0
    day_of_year = block.planting_date.timetuple().tm_yday
    rng = _stream(seed, f"departures: {block.name}")
    of_season = _stream(seed, "departures of the season").standard_normal((3, len(model)))
    common = np.sqrt(SHARED) * of_season + np.sqrt(1.0 - SHARED) * rng.standard_normal(
        (3, len(model))
    )
    own_normals = rng.standard_normal((len(model), model.shape[1]))
    tails = np.sqrt(TAIL_DF / rng.chisquare(TAIL_DF, (len(model), 1)))
    draws, evidence, priors = [], [], []
    for member, (scales, of_past) in zip(members, learnt, strict=True):
        expecting = expected(member, model, windows, past, near, day_of_year, slope)
        mean = expecting.mean(axis=0)
        apart = departures(mean, windows, scales)
        spread = np.cov(expecting.T) + apart.covariance
        root = np.linalg.cholesky(apart.rest + 1e-9 * np.eye(len(mean)))
        prior = expecting + tails * (common.T @ apart.common + own_normals @ root.T)
        told, values, variances = _records(seen, mean, windows, ready, spread)
        one, density = _moved(prior, mean, spread, told, values, variances, rng)
        one = _not_before(one, 0, seen.no_bloom_d)
        if not n_picks:
            one = _not_before(one, 1, no_pick_d)
        draws.append(one)
        evidence.append(density + of_past)
        priors.append(mean[:N_DATES_SEEN])
    weights = np.exp(np.array(evidence) - max(evidence))
    weights /= weights.sum()
    places = (np.arange(len(model)) + 0.5) / len(model)
    of_draw = rng.permutation(np.searchsorted(np.cumsum(weights)[:-1], places))
    kept = np.r_[0, 1, N_DATES_SEEN + n_picks : model.shape[1]]
    return _Given(
        np.stack(draws)[of_draw, np.arange(len(model))][:, kept], future, weights @ priors,
        float(weights @ [1.0 - one.trust for one in members]),
    )  # fmt: skip


def _records(
    seen: Seen,
    mean: FloatArray,
    windows: Windows,
    ready: tuple[float, float, float] | None,
    spread: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """What was seen as linear records: rows on the vector, values and variances of their errors.

    The fruit that green fruit foretells is a sum of squares of roots: it is made linear where the
    other records leave the roots.
    """
    n_picks = len(seen.picked)
    picks = Windows(seen.windows.start, seen.windows.stop)
    values = np.concatenate(
        [[seen.bloom_d, seen.first_pick_d], picks.roots_of(seen.picked / seen.standing)]
    )
    known = np.flatnonzero(np.isfinite(values))
    rows, values = np.eye(len(mean))[known], values[known]
    variances = noise(mean)[known]
    if len(known):
        gap = values - mean[known]
        variances = variances + _outlying(gap, spread[np.ix_(known, known)], variances)
    if ready is None:
        return rows, values, variances
    time, log_fruit, error = ready
    overlap = np.clip(
        np.minimum(windows.stop, time + GREEN_AHEAD_D) - np.maximum(windows.start, time), 0.0, None
    )
    overlap[:n_picks] = 0.0
    at = mean
    for _ in range(GREEN_STEPS):
        roots = at[N_DATES_SEEN:]
        fruit = max(float(overlap @ (roots**2 - ROOT_FLOOR)) / 7.0, 1.0)
        row = np.concatenate([[0.0, 0.0], 2.0 * overlap * roots / 7.0 / fruit])
        value = log_fruit - np.log(fruit) + row @ at
        told = np.vstack([rows, row])
        across = spread @ told.T
        inner = told @ across + np.diag(np.append(variances, error**2))
        at = mean + across @ np.linalg.solve(inner, np.append(values, value) - told @ mean)
        at[N_DATES_SEEN:] = np.maximum(at[N_DATES_SEEN:], LEAST_ROOT)
    return told, np.append(values, value), np.append(variances, error**2)


def _outlying(gap: FloatArray, spread: FloatArray, variances: FloatArray) -> FloatArray:
    """Variance to add to records that lie far from what all others say."""
    inverse = np.linalg.inv(spread + np.diag(variances))
    sd = np.sqrt(1.0 / np.diag(inverse))
    distance = np.abs(inverse @ gap) * sd  # of each from its own value given all others, in sd
    return np.where(distance > OUTLYING, (distance * sd) ** 2, 0.0)


def _moved(
    prior: FloatArray,
    mean: FloatArray,
    spread: FloatArray,
    told: FloatArray,
    values: FloatArray,
    variances: FloatArray,
    rng: np.random.Generator,
) -> tuple[FloatArray, float]:
    """Move every draw by its residual; return draws and the log evidence."""
    if not len(values):
        return prior, 0.0
    across = spread @ told.T
    inner = told @ across + np.diag(variances)
    gain = np.linalg.solve(inner, across.T)
    gap = values - told @ mean
    middle = mean + gap @ gain
    misfit = float(gap @ np.linalg.solve(inner, gap))
    errors = np.sqrt(variances) * rng.standard_normal((len(prior), len(values)))
    drawn = prior + (values + errors - prior @ told.T) @ gain
    scale = np.sqrt((TAIL_DF + misfit) / (TAIL_DF + len(values)))
    return middle + scale * (drawn - middle), _student(misfit, inner)


def _student(misfit: float, inner: FloatArray) -> float:
    """Log density of Student's t with `TAIL_DF` degrees of freedom."""
    n = len(inner)
    return float(
        lgamma((TAIL_DF + n) / 2.0) - lgamma(TAIL_DF / 2.0)
        - 0.5 * (n * np.log(TAIL_DF * np.pi) + np.linalg.slogdet(inner)[1])
        - 0.5 * (TAIL_DF + n) * np.log1p(misfit / TAIL_DF)
    )  # fmt: skip


def _not_before(draws: FloatArray, entry: int, bound_d: float) -> FloatArray:
    """Draws whose date of one entry lies after a bound; the rest of each follows its date."""
    if bound_d <= 0.0:
        return draws
    from scipy.special import ndtr, ndtri  # not loaded where nothing was seen

    middle, sd = draws[:, entry].mean(), max(draws[:, entry].std(), 1e-6)
    below = ndtr((bound_d - middle) / sd)
    share = below + (1.0 - below) * ndtr((draws[:, entry] - middle) / sd)
    later = np.maximum(middle + sd * ndtri(np.clip(share, 1e-12, 1.0 - 1e-12)), bound_d)
    across = np.cov(draws.T)[entry]
    return np.asarray(draws + np.outer(later - draws[:, entry], across / across[entry]))


def _foretold(
    seen: Seen,
    farm: PastOfFarm,
    block: Block,
    course: _Course,
    seasons: BlockSeasons,
    issue_d: float,
) -> tuple[float, float, float] | None:
    """Time of the last count of green fruit, log of the fruit it foretells, and its error.

    The fruit of the next `GREEN_AHEAD_D` days by a green fruit is that of past seasons at the same
    time after planting, or that of the model where none tells it.
    """
    if seen.green is None or seen.green[0] + GREEN_AHEAD_D > course.edges[-1]:
        return None
    time, count = seen.green
    past, near = alike(key_of(block), farm.past)
    rows = [
        (day, np.log((after - before + ROOT_FLOOR) / green), weight)
        for one, weight in zip(past, near, strict=True)
        for (day, green), before, after in zip(
            one.green, cumulative_at(one.picked, one.green[:, 0]),
            cumulative_at(one.picked, one.green[:, 0] + GREEN_AHEAD_D), strict=True,
        )
        if green > LEAST_GREEN and day + GREEN_AHEAD_D <= one.stop[-1]
    ]  # fmt: skip
    if rows:
        day, ratio, weight = np.array(rows).T
        weight = weight * np.exp(-0.5 * ((day - time) / GREEN_NEAR_D) ** 2)
        least = GREEN_LEAST_SD
    if not rows or weight.sum() < GREEN_TOLD:
        place = times_wanted(seen, issue_d).index(time)
        of_draw = seasons.states.green_fruit.reshape(len(course.fruit), -1)[:, place]
        grown = course.at(np.array([time + GREEN_AHEAD_D])) - course.at(np.array([time]))
        ripe = of_draw > LEAST_GREEN
        if not ripe.any():
            return None
        ratio = np.log((grown[ripe, 0] + ROOT_FLOOR) / of_draw[ripe])
        weight, least = np.ones(len(ratio)), GREEN_MODEL_SD
    mean = float(weight @ ratio / weight.sum())
    error = float(np.sqrt(weight @ (ratio - mean) ** 2 / weight.sum() + least**2))
    return time, np.log(count) + mean, error


def _as_seasons(
    seasons: BlockSeasons,
    found: _Given,
    edges: FloatArray,
    seen: Seen,
    n_days: int,
    asked: FloatArray,
) -> BlockSeasons:
    """Put draws in the place of what the engine ran; ``asked`` is the early day, then others."""
    shape = seasons.dates.shape[:2]
    drawn = np.clip(found.draws[:, :N_DATES_SEEN], 0.0, None)
    if np.isfinite(seen.first_pick_d):
        drawn[:, 1] = seen.first_pick_d
    drawn[:, 0] = np.minimum(drawn[:, 0], drawn[:, 1])
    bloom, pick = drawn.T
    fruit = seen.alive * found.future.fruit_of(found.draws[:, N_DATES_SEEN:])
    if not len(seen.picked):
        fruit[found.future.stop <= pick[:, None]] = 0.0
    if seen.ended:
        fruit[:] = 0.0
    weekly = np.zeros((len(fruit), len(seasons.weeks)))
    of_week = np.searchsorted(edges, seen.windows.stop) - 1
    weekly += np.bincount(of_week, weights=seen.picked, minlength=weekly.shape[1])
    open_weeks = np.searchsorted(edges, found.future.stop) - 1
    weekly[:, open_weeks] += fruit
    weekly = weekly.reshape(*shape, -1)
    lost = np.zeros_like(weekly)
    lost[..., open_weeks] = (seasons.spared_g - seasons.weekly_g)[..., open_weeks]
    dates = seasons.dates.copy()
    moved = np.where(np.isfinite(dates[..., ANTHESIS]), bloom.reshape(shape), 0.0)
    moved -= np.where(np.isfinite(dates[..., ANTHESIS]), dates[..., ANTHESIS], 0.0)
    dates[..., FLOWER_INITIATION] = np.maximum(dates[..., FLOWER_INITIATION] + moved, 0.0)
    dates[..., ANTHESIS], dates[..., FIRST_PICK] = (
        np.where(one < n_days, one, np.inf).reshape(shape) for one in (bloom, pick)
    )
    sums = np.pad(np.cumsum(weekly, axis=-1), ((0, 0), (0, 0), (1, 0)))
    place = np.interp(asked, edges, np.arange(len(edges), dtype=np.float64))
    so_far = cumulative_at(sums, place)
    as_protected = weekly.astype(np.float32)
    freezes = seasons.spared_g is not seasons.weekly_g
    states = replace(seasons.states, marketable_g=so_far[..., 1:])
    return replace(
        seasons, dates=dates, weekly_g=as_protected, early_g=so_far[..., 0], states=states,
        spared_g=(weekly + lost).astype(np.float32) if freezes else as_protected,
    )  # fmt: skip


def _stream(seed: int, what: str) -> np.random.Generator:
    return np.random.default_rng([seed, zlib.crc32(what.encode())])
