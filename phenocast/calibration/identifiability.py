"""What records can tell and what they cannot: directions, heat in the data, and a verdict."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from phenocast.calibration.cultivars import CultivarCalibrator
from phenocast.calibration.fit_blocks import FitBlock
from phenocast.calibration.fit_kernel import FRUIT, FRUIT_NUMBER, MARKETABLE, OPEN_FLOWERS
from phenocast.calibration.fit_numbers import CULTIVAR, HEAT, SEASON_SHIFT, TRANSPLANT

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
    why: list[str] = []
    settle: list[str] = []
    blocks = fitted.blocks_
    names = sorted({block.cultivar for block in blocks})
    if len(names) < SEVERAL:
        why.append("one cultivar has records: there is nothing to rank it against")
        settle.append("records of two cultivars or more, grown side by side")
    amounts = {MARKETABLE, FRUIT, FRUIT_NUMBER, OPEN_FLOWERS} & set(kinds)
    if not amounts:
        why.append("dates alone say nothing about heat: they tell when, not how much")
        settle.append("weekly weights of fruit, or counts of open flowers, from the same blocks")
    films = {block.film for block in blocks}
    spans = {
        name: _contrast([block for block in blocks if block.cultivar == name]) for name in names
    }
    if all(span < LEAST_CONTRAST for span in spans.values()):
        held = f"one film ({films.pop()})" if len(films) == 1 else f"{len(films)} films"
        why.append(
            f"the blocks of a cultivar were all about equally hot ({held}): heat cannot be told "
            "from what else a cultivar is"
        )
        settle.append(
            "the same cultivars on a reflective and on a black film, or planted two weeks or more "
            "apart in the hot weeks, for two seasons or more"
        )
    heat = fitted.values()
    heat = heat[heat["name"].isin(HEAT)] if len(heat) else heat
    learnt = 0 if not len(heat) else int((heat["contraction"] <= LEARNT).sum())
    if not len(heat):
        why.append("no heat sensitivity was fitted: the records did not earn it")
    elif learnt < min(SEVERAL, len(names)):
        why.append(
            f"the heat sensitivity of {learnt} of {len(names)} cultivars is surer than before the "
            f"fit (its spread at most {LEARNT:g} of the prior's)"
        )
    if why and not settle:
        settle.append("more seasons of the same, weights every week, and counts of open flowers")
    return Verdict(not why, tuple(why), tuple(settle))


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
            if layout.numbers[i].group == CULTIVAR and layout.numbers[i].owner == name
        ]
        if not own:
            continue
        rest = [
            int(i) for i in fitted.free_
            if layout.numbers[i].group in (TRANSPLANT, SEASON_SHIFT)
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
                        layout.numbers[i].name: float(v) for i, v in zip(own, vector, strict=True)
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
    others = information[np.ix_(rest, rest)] + fitted.prior_precision_[np.ix_(rest, rest)]
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
