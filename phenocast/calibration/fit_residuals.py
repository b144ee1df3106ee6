"""Whether records stray from a fitted model in a way that repeats: lack of fit, said aloud.

Where the model is wrong, numbers are led astray, and what is left over follows time, film and
planting date, not chance. Intervals are wider by what bent curves would move (`fit_misfit`); that
they are, and what the residuals show besides, must be told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import stats

from phenocast.calibration.cultivars import CultivarCalibrator
from phenocast.calibration.fit_kernel import FRUIT, FRUIT_NUMBER, MARKETABLE, OPEN_FLOWERS
from phenocast.calibration.fit_misfit import TOLD
from phenocast.calibration.fit_numbers import PLOT_LEVEL

FloatArray = NDArray[np.float64]

WEEKS = 4  # of a period since planting: long enough to hold several picks of a block
CHANCE = 0.01
"""A pattern that chance gives less often than this is told. Judgement of this project."""
_FEWEST = 8  # records of a cell; fewer say more about themselves than about the model
# A pattern must be able to repeat, or one odd season would pass for a wrong model.
_SEASONS = 2
_SO = (
    ": the model does not suit them, or lacks what they share; its intervals are wider for it and "
    "may still be too narrow"
)
# In the unit of a record: where less is expected, few fruit decide and residuals are lopsided.
_LEAST = {MARKETABLE: 2.0, FRUIT: 2.0, FRUIT_NUMBER: 0.2, OPEN_FLOWERS: 0.2}


@dataclass(frozen=True)
class Pattern:
    """How much of a scatter cells explain: share, share by chance, and how likely by chance [1]."""

    share: float
    by_chance: float
    probability: float
    worst: tuple[str, ...]
    worst_factor: float


def explained(
    cells: Sequence[object], values: FloatArray, shared: FloatArray
) -> tuple[float, float, float]:
    """Return share of squares that cells explain, that by chance, and probability by chance.

    The F test of nested least squares on values ``[n]`` in cells ``[n]``, with the columns
    ``shared`` ``[n, k]`` (k may be 0) taken out first.

    Examples
    --------
    >>> share, chance, p = explained("aabb", np.array([1.0, 1.2, -1.0, -1.2]), np.ones((4, 1)))
    >>> round(share, 2), round(chance, 2), p < 0.05
    (0.99, 0.33, True)
    """
    own = pd.get_dummies(pd.Series(list(cells), dtype=object)).to_numpy(dtype=np.float64)
    left, rank = _left(shared, values)
    more, full = _left(np.column_stack([shared, own]), values)
    free, cost = len(values) - full, full - rank
    if cost < 1 or free < 1 or left <= 0.0:
        return 0.0, 0.0, 1.0  # one cell, or no two values that could differ by chance
    ratio = (left - more) / cost / max(more / free, 1e-300)
    return 1.0 - more / left, cost / (cost + free), float(stats.f.sf(ratio, cost, free))


def _left(columns: FloatArray, values: FloatArray) -> tuple[float, int]:
    """Squares that columns leave, and their rank."""
    found, _, rank, _ = np.linalg.lstsq(columns, values, rcond=None)
    gap = values - columns @ found
    return float(gap @ gap), int(rank)


def pattern_of_records(fitted: CultivarCalibrator) -> Pattern | None:
    """Pattern of weights and counts by film, planting month and period; None where too few."""
    problem, scatter = fitted.problem_, fitted.scatter_
    expected = problem.runs.predict(fitted.vector_)
    parts = []
    for part in problem.runs.parts:
        for what, least in _LEAST.items():
            own = (part.kind == what) & (expected[part.rows] > least)
            one = pd.DataFrame({"mean": expected[part.rows[own]]})
            one["seen"] = problem.observed[part.rows[own]]
            variance = scatter.variance(what, one["mean"].to_numpy())
            one["gap"] = (one["seen"] - one["mean"]) / np.sqrt(variance)
            one["first"] = (part.stop[own] // (7 * WEEKS)).astype(int) * WEEKS + 1
            one["film"], one["month"] = part.block.film, f"{part.block.planting:%B}"
            one["kind"], one["season"] = what, part.block.season
            parts.append(one)
    table = pd.concat(parts, ignore_index=True)
    keys = ["kind", "film", "month", "first"]
    groups = table.groupby(keys)
    several = groups["season"].transform("nunique") >= _SEASONS
    table = table[several & (groups["gap"].transform("size") >= _FEWEST)]
    if len(table) < 2 * _FEWEST:
        return None
    cells = list(table[keys].itertuples(index=False, name=None))
    found = explained(cells, table["gap"].to_numpy(), np.empty((len(table), 0)))
    sums = table.groupby(keys)[["gap", "seen", "mean"]].sum()
    strength = sums["gap"] ** 2 / table.groupby(keys).size()
    worst = sums.reset_index().iloc[int(strength.to_numpy().argmax())]
    weeks = f"{worst['first']} to {worst['first'] + WEEKS - 1}"
    factor = float(worst["seen"] / worst["mean"])
    return Pattern(*found, (str(worst["film"]), str(worst["month"]), weeks), factor)


def pattern_of_blocks(fitted: CultivarCalibrator) -> Pattern | None:
    """Pattern of what was left to each block by film and planting month; None where too few."""
    pairs = zip(fitted.layout_.numbers, fitted.vector_, strict=True)
    level = {one.owner: value for one, value in pairs if one.group == PLOT_LEVEL}
    table = pd.DataFrame(
        [(b.film, f"{b.planting:%B}", b.season, level[b.key]) for b in fitted.blocks_],
        columns=["film", "month", "season", "level"],
    )
    seasons = table.groupby(["film", "month"])["season"].transform("nunique")
    table = table[seasons >= _SEASONS].copy()
    if len(table) < 2 * _FEWEST:
        return None
    cells = list(zip(table["film"], table["month"], strict=True))
    shared = pd.get_dummies(table["season"]).to_numpy(dtype=np.float64)
    found = explained(cells, table["level"].to_numpy(), shared)
    table["left"] = table["level"] - table.groupby("season")["level"].transform("mean")
    mean = table.groupby(["film", "month"])["left"].mean().reset_index()
    worst = mean.iloc[int(mean["left"].abs().to_numpy().argmax())]
    return Pattern(*found, (str(worst["film"]), str(worst["month"])), float(np.exp(worst["left"])))


def lack_of_fit(fitted: CultivarCalibrator) -> list[str]:
    """Return what to warn of; nothing where records of a fit stray no more than by chance."""
    told = []
    one, two = pattern_of_records(fitted), pattern_of_blocks(fitted)
    if one is not None and one.probability < CHANCE:
        film, month, weeks = one.worst
        told.append(
            "records stray from the fitted model by film, planting month and weeks since "
            f"planting, which explain {one.share:.0%} of their scatter ({one.by_chance:.0%} by "
            f"chance), most on {film} planted in {month}, weeks {weeks} "
            f"({one.worst_factor - 1.0:+.0%}){_SO}"
        )
    if two is not None and two.probability < CHANCE:
        film, month = two.worst
        told.append(
            "blocks stray from the fitted model by film and planting month, which explain "
            f"{two.share:.0%} of what is left to blocks ({two.by_chance:.0%} by chance), most on "
            f"{film} planted in {month} ({two.worst_factor - 1.0:+.0%} of fruit){_SO}"
        )
    three = fitted.misfit_
    if three.gain > TOLD:
        curve = max(three.gains, key=lambda name: three.gains[name])
        told.append(
            f"records would be likelier if the response of {curve} had another form "
            f"(log-likelihood {three.gains[curve]:+.0f} by this curve alone, {three.gain:+.0f} by "
            f"all): intervals are wider for it, {_widest(fitted)}"
        )
    return told


def _widest(fitted: CultivarCalibrator) -> str:
    """The number whose interval the bends widen most, in words."""
    table = misfit_plain(fitted)["wider"]
    name = max(table, key=lambda one: table[one])
    return f"most of {name} ({table[name]:.1f} times)"


def misfit_plain(fitted: CultivarCalibrator) -> dict[str, Any]:
    """What bent curves make of a fit, as plain values.

    Returns
    -------
    dict
        ``gain`` and ``gains`` by curve alone [log-likelihood], ``by_chance``: a gain that the right
        model may show, ``strength`` of the bends of each curve [1], and ``wider``: how much wider
        the intervals of each number are for it, on average over its owners [1].
    """
    found = fitted.misfit_
    ratio: dict[str, list[float]] = {}
    for i in fitted.free_:
        one = fitted.layout_.numbers[int(i)]
        if one.prior is not None:
            whole, more = float(fitted.covariance_[i, i]), float(found.covariance[i, i])
            ratio.setdefault(one.name, []).append(float(np.sqrt(whole / (whole - more))))
    return {
        "gain": found.gain,
        "gains": dict(found.gains),
        "by_chance": TOLD,
        "strength": dict(found.strength),
        "wider": {name: float(np.mean(one)) for name, one in ratio.items()},
    }
