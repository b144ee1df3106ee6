"""What dates of first pick alone can carry: from the calendar mean to heat slopes of cultivars.

Five nested rules for the day of first pick, on crown temperatures of the blocks: (0) the mean day
after planting of each cultivar; (1) one heat sum for each cultivar; (2) that sum longer or shorter
by film; (3) a cut-off above which more warmth counts no more, common to all; (4) a slope of each
cultivar on its early heat, as a random effect. A rule is kept only where BIC falls and the error on
seasons left out does not rise. The rules know nothing of flowers; they are the plain yardstick
beside the process model.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from phenocast._typing import FloatArray
from phenocast.calibration.cultivar.blocks import FitBlock
from phenocast.calibration.cultivar.likelihood import interval_log_likelihood
from phenocast.calibration.cultivar.model import FIRST_PICKED, FRUIT, MARKETABLE
from phenocast.errors import Fault, InputError
from phenocast.thermal_time import prefix_sums

RULES = (
    "calendar mean of each cultivar",
    "one heat sum for each cultivar",
    "the sum by film",
    "a common cut-off",
    "a heat slope for each cultivar",
)
BASE_C = 3.0  # as the development of the chain (Kruger et al. 2012)
CUT_OFFS_C = (np.inf, 34.0, 32.0, 30.0, 28.0, 26.0, 24.0, 22.0)
EARLY_D = 60
ROUNDS = 6


@dataclass(frozen=True)
class Rule:
    """One rule: criterion, error on seasons left out [d; NaN for one season], and verdict."""

    name: str
    parameters: float
    bic: float
    left_out_d: float
    kept: bool
    why: str


@dataclass(frozen=True)
class _Data:
    lower: FloatArray
    upper: FloatArray
    middle: FloatArray
    cultivar: NDArray[np.int64]
    film: NDArray[np.int64]
    season: NDArray[Any]
    heat: FloatArray
    sums: tuple[tuple[FloatArray, ...], ...]
    units: int


def first_pick_intervals(
    blocks: Sequence[FitBlock], block_of: NDArray[np.int64], kind: NDArray[np.int64],
    start: FloatArray, stop: FloatArray, observed: FloatArray,
) -> dict[int, tuple[float, float]]:  # fmt: skip
    """Visits between which each block's first pick fell, from dates or else from weights.

    Parameters
    ----------
    blocks, block_of, kind, start, stop, observed : blocks and rows of a fit.

    Returns
    -------
    dict of block number to (last visit before, first visit after) [d since planting]
        A block whose records never pass its threshold is left out.
    """
    found: dict[int, tuple[float, float]] = {}
    for number, block in enumerate(blocks):
        own = block_of == number
        dated = np.flatnonzero(own & (kind == FIRST_PICKED))
        if dated.size:
            i = int(dated[0])
            if np.isfinite(observed[i]):
                found[number] = (float(start[i]), float(observed[i]))
            continue
        rows = np.flatnonzero(own & np.isin(kind, (MARKETABLE, FRUIT)))
        rows = rows[np.argsort(stop[rows])]
        passed = np.flatnonzero(np.cumsum(observed[rows]) >= block.first_pick_g)
        if passed.size:
            i = int(rows[passed[0]])
            found[number] = (float(start[i]), float(stop[i]))
    return found


def date_rules(blocks: Sequence[FitBlock], intervals: dict[int, tuple[float, float]]) -> list[Rule]:
    """Judge the five rules on first picks.

    Parameters
    ----------
    blocks : block-seasons.
    intervals : as `first_pick_intervals` gives them.

    Returns
    -------
    list of Rule

    Raises
    ------
    InputError
        When fewer first picks are known than cultivars have, twice over.
    """
    numbers = sorted(intervals)
    names = sorted({blocks[i].cultivar for i in numbers})
    if len(numbers) < 2 * max(len(names), 1):
        raise InputError(
            Fault("too few first picks for the rules", value=len(numbers),
                  allowed=f"{2 * max(len(names), 1)} or more")
        )  # fmt: skip
    data = _data([blocks[i] for i in numbers], [intervals[i] for i in numbers])
    rules: list[Rule] = []
    top: Rule | None = None
    kept: list[int] = []
    for number, name in enumerate(RULES):
        if number == 2 and len(np.unique(data.film)) < 2:
            continue
        level = {*kept, number}
        log_l, parameters = _likelihood(data, level)
        bic = parameters * float(np.log(data.units)) - 2.0 * log_l
        error = _left_out(data, level)
        stays, why = True, "the first rule"
        if top is not None:
            stays = bic < top.bic and not error > top.left_out_d + 1e-6
            why = (
                f"BIC {top.bic:.1f} to {bic:.1f}, error on seasons left out "
                f"{top.left_out_d:.2f} to {error:.2f} d"
            )
        rule = Rule(name, parameters, bic, error, stays, why)
        rules.append(rule)
        if stays:
            top = rule
            kept.append(number)
    return rules


def _data(blocks: Sequence[FitBlock], intervals: Sequence[tuple[float, float]]) -> _Data:
    lower, upper = (np.array([one[k] for one in intervals]) for k in (0, 1))
    heat = np.array([block.heat(EARLY_D) for block in blocks])
    sums = []
    for cut in CUT_OFFS_C:
        of_cut = []
        for block in blocks:
            crown = block.crown[block.first_hour : block.first_hour + 24 * block.n_days]
            daily = np.clip(crown, BASE_C, cut).reshape(-1, 24).mean(axis=1) - BASE_C
            of_cut.append(prefix_sums(daily))
        sums.append(tuple(of_cut))
    return _Data(
        lower, upper, 0.5 * (lower + upper),
        np.unique([b.cultivar for b in blocks], return_inverse=True)[1],
        np.unique([b.film for b in blocks], return_inverse=True)[1],
        np.array([b.season for b in blocks], dtype=object), heat - heat.mean(), tuple(sums),
        len({(b.season, b.planting) for b in blocks}),
    )  # fmt: skip


@dataclass(frozen=True)
class _Fit:
    requirement: FloatArray
    of_film: FloatArray
    cut: int
    slope: FloatArray
    mean_day: FloatArray


def _fit(data: _Data, level: set[int], own: NDArray[np.bool_]) -> _Fit:
    """Least squares on the middles of the intervals, each part given the others."""
    n, films = int(data.cultivar.max()) + 1, int(data.film.max()) + 1
    mean_day = _means(data.middle, data.cultivar, own, n)
    best: tuple[float, _Fit] | None = None
    for cut in range(len(CUT_OFFS_C)) if 3 in level else (0,):
        of_film, slope = np.zeros(films), np.zeros(n)
        requirement = np.zeros(n)
        for _ in range(ROUNDS):
            day = data.middle - slope[data.cultivar] * data.heat
            at_day = np.array([np.interp(d, np.arange(len(s)), s)
                               for d, s in zip(day, data.sums[cut], strict=True)])  # fmt: skip
            requirement = _means(at_day - of_film[data.film], data.cultivar, own, n)
            if 2 in level:
                rest = at_day - requirement[data.cultivar]
                of_film = _means(rest, data.film, own, films)
                of_film -= of_film[data.film[own]].mean()
            if 4 in level:
                slope = _slopes(data, _Fit(requirement, of_film, cut, np.zeros(n), mean_day), own)
        found = _Fit(requirement, of_film, cut, slope, mean_day)
        error = float(np.mean((_days(data, found, level) - data.middle)[own] ** 2))
        if best is None or error < best[0]:
            best = (error, found)
    assert best is not None
    return best[1]


def _means(
    values: FloatArray, group: NDArray[np.int64], own: NDArray[np.bool_], n: int
) -> FloatArray:
    count = np.bincount(group[own], minlength=n)
    total = np.bincount(group[own], weights=values[own], minlength=n)
    overall = float(values[own].mean())
    return np.where(count > 0, total / np.maximum(count, 1), overall)


def _slopes(data: _Data, without: _Fit, own: NDArray[np.bool_]) -> FloatArray:
    """Slopes of the days on early heat, drawn to 0 as far as they are unsure. [d per degC h]"""
    left = data.middle - _days(data, without, {1})
    n = len(without.requirement)
    slope, error = np.zeros(n), np.full(n, np.inf)
    spread = float(np.var(left[own])) if own.any() else 1.0
    for c in range(n):
        mine = own & (data.cultivar == c)
        x = data.heat[mine] - data.heat[mine].mean() if mine.any() else np.zeros(0)
        square = float(x @ x)
        if square > 0.0:
            slope[c] = float(x @ left[mine]) / square
            error[c] = spread / square
    known = np.isfinite(error)
    if not known.any():
        return slope
    between = max(0.0, float(np.mean(slope[known] ** 2 - error[known])))
    weight = np.where(known, between / (between + np.where(known, error, 1.0)), 0.0)
    return np.asarray(slope * weight)


def _days(data: _Data, fit: _Fit, level: set[int]) -> FloatArray:
    """Day of first pick by the rules of a level."""
    if not level - {0}:
        return fit.mean_day[data.cultivar]
    need = fit.requirement[data.cultivar] + fit.of_film[data.film]
    days = np.array(
        [
            np.interp(want, total, np.arange(len(total)))
            for want, total in zip(need, data.sums[fit.cut], strict=True)
        ]
    )
    return np.asarray(days + fit.slope[data.cultivar] * data.heat)


def _likelihood(data: _Data, level: set[int]) -> tuple[float, float]:
    every = np.ones(len(data.middle), dtype=bool)
    fit = _fit(data, level, every)
    days = _days(data, fit, level)
    # visits widen the scatter of the middles by a twelfth of their width squared (Sheppard)
    width = float(np.mean((data.upper - data.lower) ** 2)) / 12.0
    scatter = float(np.sqrt(max(float(np.mean((days - data.middle) ** 2)) - width, 0.25)))
    log_l = float(interval_log_likelihood(data.lower, data.upper, days, scatter).sum())
    n, films = len(fit.requirement), int(data.film.max()) + 1
    parameters = float(n) + 1.0
    if 2 in level:
        parameters += films - 1
    if 3 in level:
        parameters += 1
    if 4 in level:
        parameters += 1  # slopes are random: their spread is what is estimated
    return log_l, parameters


def _left_out(data: _Data, level: set[int]) -> float:
    seasons = sorted(set(data.season.tolist()))
    if len(seasons) < 2:
        return float("nan")
    miss = np.empty(len(data.middle))
    for one in seasons:
        out = data.season == one
        days = _days(data, _fit(data, level, ~out), level)
        early, late = data.lower - days, days - data.upper
        miss[out] = np.maximum(np.maximum(early, late), 0.0)[out]
    return float(np.sqrt(np.mean(miss**2)))


def rules_plain(rules: Sequence[Rule]) -> list[dict[str, Any]]:
    """Rules for a document.

    Examples
    --------
    >>> rules_plain([Rule("calendar mean", 3.0, 51.2, 4.1, True, "")])[0]["left_out_error_d"]
    4.1
    """
    return [
        {
            "rule": one.name, "parameters": one.parameters, "bic": one.bic,
            "left_out_error_d": one.left_out_d, "kept": one.kept, "why": one.why,
        }
        for one in rules
    ]  # fmt: skip
