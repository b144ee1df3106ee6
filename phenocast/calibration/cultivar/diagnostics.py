"""What records can tell of a fit and what they cannot, and where they stray from it.

Where the model is wrong, parameters are led astray, and what is left over follows time, film and
planting date, not chance: such patterns are told, beside the directions of the information, the
heat in the data and a verdict on whether cultivars can be ranked.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from scipy import stats

from phenocast._typing import FloatArray
from phenocast.calibration.cultivar.blocks import FitBlock
from phenocast.calibration.cultivar.discrepancy import TOLD
from phenocast.calibration.cultivar.estimator import CultivarCalibrator
from phenocast.calibration.cultivar.model import FRUIT, FRUIT_NUMBER, MARKETABLE, OPEN_FLOWERS
from phenocast.calibration.cultivar.parameters import (
    CULTIVAR,
    HEAT,
    PLOT_LEVEL,
    SEASON_SHIFT,
    TRANSPLANT,
)
from phenocast.errors import applying

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
    pairs = zip(fitted.layout_.entries, fitted.vector_, strict=True)
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
    three = fitted.discrepancy_
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
    table = discrepancy_plain(fitted)["wider"]
    name = max(table, key=lambda one: table[one])
    return f"most of {name} ({table[name]:.1f} times)"


def discrepancy_plain(fitted: CultivarCalibrator) -> dict[str, Any]:
    """What bent curves make of a fit, as plain values.

    Returns
    -------
    dict
        ``gain`` and ``gains`` by curve alone [log-likelihood], ``by_chance``: a gain that the right
        model may show, ``strength`` of the bends of each curve [1], and ``wider``: how much wider
        the intervals of each number are for it, on average over its owners [1].
    """
    found = fitted.discrepancy_
    ratio: dict[str, list[float]] = {}
    for i in fitted.free_:
        one = fitted.layout_.entries[int(i)]
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


# Heat harms before trusses emerge: the degree-hours of these first days are what blocks must differ
# in for heat to be told from everything else. [d]
HEAT_DAYS = 60
# A heat sensitivity whose spread shrank by less than this share was not learnt. The reference case
# (two films, four dates, weekly picks) shrinks it by about half; dates alone by nothing.
LEARNT = 0.9
# Of the mean heat of a cultivar's blocks: the least difference between its hottest and its coolest.
LEAST_CONTRAST = 0.15
SEVERAL = 2


@dataclass(frozen=True)
class Verdict:
    """Whether cultivars can be ranked by heat, why not, and which records would settle it."""

    rankable: bool
    why_not: tuple[str, ...]
    records_that_would_settle_it: tuple[str, ...]


def verdict(fitted: CultivarCalibrator, kinds: Sequence[int]) -> Verdict:
    """Judge whether the fit can rank cultivars by what heat costs them.

    Parameters
    ----------
    fitted : after its fit.
    kinds : kind of every record.

    Returns
    -------
    Verdict
    """
    blocks = fitted.blocks_
    names = sorted({block.cultivar for block in blocks})
    films = {block.film for block in blocks}
    held = f"one film ({min(films)})" if len(films) == 1 else f"{len(films)} films"
    spans = [_contrast([block for block in blocks if block.cultivar == name]) for name in names]
    heat = fitted.values()
    heat = heat[heat["name"].isin(HEAT)]
    learnt = int((heat["contraction"] <= LEARNT).sum())
    found = applying(
        (len(names) < SEVERAL,
         ("one cultivar has records: there is nothing to rank it against",
          "records of two cultivars or more, grown side by side")),
        (not {MARKETABLE, FRUIT, FRUIT_NUMBER, OPEN_FLOWERS} & set(kinds),
         ("dates alone say nothing about heat: they tell when, not how much",
          "weekly weights of fruit, or counts of open flowers, from the same blocks")),
        (all(span < LEAST_CONTRAST for span in spans),
         ((f"the blocks of a cultivar were all about equally hot ({held}): heat cannot be told "
          "from what else a cultivar is"),
          ("the same cultivars on a reflective and on a black film, or planted two weeks or more "
          "apart in the hot weeks, for two seasons or more"))),
        (not len(heat), ("no heat sensitivity was fitted: the records did not earn it", "")),
        (len(heat) and learnt < min(SEVERAL, len(names)),
         ((f"the heat sensitivity of {learnt} of {len(names)} cultivars is surer than before the "
          f"fit (its spread at most {LEARNT:g} of the prior's)"), "")),
    )  # fmt: skip
    settle = [records for _, records in found if records]
    if found and not settle:
        settle = ["more seasons of the same, weights every week, and counts of open flowers"]
    return Verdict(not found, tuple(why for why, _ in found), tuple(settle))


def _contrast(blocks: Sequence[FitBlock]) -> float:
    heat = np.array([block.heat(HEAT_DAYS) for block in blocks])
    # seasons differ for every block alike; what counts is the difference inside a season
    spans = []
    for season in {block.season for block in blocks}:
        own = heat[[block.season == season for block in blocks]]
        spans.append((own.max() - own.min()) / max(float(heat.mean()), 1.0))
    return float(np.mean(spans))


def directions(fitted: CultivarCalibrator) -> list[dict[str, Any]]:
    """Directions of the information about each cultivar's numbers, strongest first.

    Returns
    -------
    list of dict
        ``cultivar`` and ``directions``: each with its ``information`` in units of the prior's (1:
        the records say as much as the prior; the spread shrinks to ``1 / sqrt(1 + information)``)
        and its ``loadings``, the share of each number, in standard deviations of the priors.
    """
    layout = fitted.layout_
    found = []
    for name in sorted({block.cultivar for block in fitted.blocks_}):
        own = [
            int(i)
            for i in fitted.free_
            if layout.entries[i].group == CULTIVAR and layout.entries[i].owner == name
        ]
        if not own:
            continue
        rest = [
            int(i) for i in fitted.free_
            if layout.entries[i].group in (TRANSPLANT, SEASON_SHIFT)
        ]  # fmt: skip
        information = _without(fitted.point_.information, fitted, own, rest)
        values, vectors = np.linalg.eigh(information)
        listed = []
        for k in np.argsort(-values):
            vector = vectors[:, k] * np.sign(vectors[np.argmax(np.abs(vectors[:, k])), k])
            listed.append(
                {
                    "information": max(float(values[k]), 0.0),
                    "loadings": {
                        layout.entries[i].name: float(v) for i, v in zip(own, vector, strict=True)
                    },
                }
            )
        found.append({"cultivar": name, "directions": listed})
    return found


def _without(
    information: np.ndarray[Any, Any], fitted: CultivarCalibrator, own: list[int], rest: list[int]
) -> np.ndarray[Any, Any]:
    """Information on some entries when others, with their priors, are not known either."""
    if not rest:
        return information[np.ix_(own, own)]
    between = information[np.ix_(own, rest)]
    others = information[np.ix_(rest, rest)] + fitted.problem_.prior[np.ix_(rest, rest)]
    return np.asarray(information[np.ix_(own, own)] - between @ np.linalg.solve(others, between.T))


def heat_in_the_data(blocks: Sequence[FitBlock]) -> list[dict[str, Any]]:
    """Heat that each cultivar's blocks felt: hours above its cut-off, degree-hours above 30."""
    found = []
    for name in sorted({block.cultivar for block in blocks}):
        own = [block for block in blocks if block.cultivar == name]
        cut_off = own[0].cultivar_set.value("induction_ceiling")
        hours = [
            float(np.sum(block.crown[block.first_hour : block.first_hour + 24 * HEAT_DAYS]
                         > cut_off))
            for block in own
        ]  # fmt: skip
        heat = [block.heat(HEAT_DAYS) for block in own]
        found.append(
            {
                "cultivar": name,
                "cut_off_c": cut_off,
                "days": HEAT_DAYS,
                "hours_above_cut_off": {"least": min(hours), "most": max(hours)},
                "degree_hours_above_30c": {"least": min(heat), "most": max(heat)},
                "contrast": _contrast(own),
                "block_seasons": len(own),
            }
        )
    return found
