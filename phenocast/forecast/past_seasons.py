"""Past seasons of a farm as a forecast leans on them: what was picked, and what the model expected.

A fit leaves a table of its records, each beside what the fit without its season expects. Here the
rows of one block in one season become two courses of fruit since planting, picked and expected, and
two dates of each. Past seasons stand for a block as far as they are alike: its own before those of
its cultivar, and these before others of its transplant type; never those of another type.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from phenocast._typing import FloatArray
from phenocast.season import Block

PICK, BLOOM, GREEN = "marketable_g_per_plant", "first flower", "green_fruit_per_plant"
"""Kinds of its rows."""
LONGEST_WINDOW_D = 21.0
"""Fruit of a first pick ripened within this time; as for a pause in a fit. [d]"""
ALIKE_CULTIVAR, ALIKE_TRANSPLANT = 0.15, 0.05
"""Weight of a past season of another block of the cultivar, or of the transplant type, beside 1 of
the block itself. Assumed: with five seasons of its own a block hardly hears the others."""
USUAL_SLOPE, SLOPE_STRENGTH = -0.3, 60.0
"""Days from planting to first pick change by so much a day of later planting, and the sum of
squares of planting dates that weighs as much as that guess. Assumed. [1, d2]"""


Key = tuple[str, str, str, str]
"""Block, cultivar, film and transplant type."""


@dataclass(frozen=True)
class PastSeason:
    """One block in one past season; days count from planting.

    Parameters
    ----------
    season, block, cultivar, film, transplant : str
    planting_date : date
    start, stop : arrays ``[picks]``
        Windows in which the fruit of each pick ripened. [d]
    picked, expected : arrays ``[days + 1]``
        Marketable fruit so far, as picked and as the model expects it that did not know the season.
        [g per plant]
    dates, expected_dates : arrays ``[2]``
        First flower and first pick. [d]
    green : array ``[visits, 2]``
        Day and green fruit a plant.
    """

    season: str
    block: str
    cultivar: str
    film: str
    transplant: str
    planting_date: date
    start: FloatArray
    stop: FloatArray
    picked: FloatArray
    expected: FloatArray
    dates: FloatArray
    expected_dates: FloatArray
    green: FloatArray

    @property
    def key(self) -> Key:
        """Block, cultivar, film and transplant type."""
        return self.block, self.cultivar, self.film, self.transplant

    @property
    def day_of_year(self) -> int:
        """Day of the year of planting."""
        return self.planting_date.timetuple().tm_yday


def cumulative_at(cumulative: FloatArray, days: FloatArray) -> FloatArray:
    """Read a daily cumulative course ``[..., days + 1]`` at some days; flat beyond its ends.

    Examples
    --------
    >>> cumulative_at(np.array([0.0, 2.0, 6.0]), np.array([-1.0, 1.5, 9.0])).tolist()
    [0.0, 4.0, 6.0]
    """
    at = np.clip(days, 0.0, cumulative.shape[-1] - 1.0)
    low = np.minimum(at.astype(np.int64), cumulative.shape[-1] - 2)
    below, above = cumulative[..., low], cumulative[..., low + 1]
    return np.asarray(below + (at - low) * (above - below))


def day_passed(cumulative: FloatArray, amount: float) -> float:
    """Day, counted in parts, on which a daily cumulative course passes an amount; NaN where never.

    Examples
    --------
    >>> day_passed(np.array([0.0, 2.0, 6.0]), 4.0)
    1.5
    """
    at = int(np.searchsorted(cumulative, amount))
    if at >= len(cumulative):
        return float("nan")
    if at == 0:
        return 0.0
    return at - 1 + float((amount - cumulative[at - 1]) / (cumulative[at] - cumulative[at - 1]))


def past_seasons(table: pd.DataFrame, first_pick_g: float) -> tuple[PastSeason, ...]:
    """Past seasons of a table that a fit wrote.

    Parameters
    ----------
    table : DataFrame
        Columns of `phenocast.tables.PAST_SEASONS`.
    first_pick_g : float
        Fruit that counts as the first pick. [g per plant]

    Returns
    -------
    tuple of PastSeason
        Of every block-season with two picks or more and an expectation of them.
    """
    found = []
    for (season, block), own in table.groupby(["season", "block"], sort=True):
        picks = own[(own["kind"] == PICK) & own["left_out_expected"].notna()].sort_values("stop_d")
        if len(picks) < 2:
            continue
        bloom, green = own[own["kind"] == BLOOM], own[own["kind"] == GREEN]
        start, stop, fruit, model = (
            picks[name].to_numpy(dtype=np.float64)
            for name in ("start_d", "stop_d", "value", "left_out_expected")
        )
        # nothing ripened between planting and the first pick but shortly before it
        start = np.maximum(start, stop - LONGEST_WINDOW_D)
        picked, expected = (_course(start, stop, one) for one in (fruit, model))
        seen, model_d = (
            float(bloom[names].to_numpy(dtype=np.float64).mean()) if len(bloom) else np.nan
            for names in (["start_d", "stop_d"], ["left_out_expected"])
        )
        first = own.iloc[0]
        found.append(
            PastSeason(
                str(season), str(block), str(first["cultivar"]), str(first["film"]),
                str(first["transplant"]), pd.Timestamp(first["planting_date"]).date(),
                start, stop, picked, expected,
                np.array([seen, day_passed(picked, first_pick_g)]),
                np.array([model_d, day_passed(expected, first_pick_g)]),
                green[["stop_d", "value"]].to_numpy(dtype=np.float64),
            )
        )  # fmt: skip
    return tuple(found)


def _course(start: FloatArray, stop: FloatArray, fruit: FloatArray) -> FloatArray:
    """Daily cumulative course of fruit that ripened evenly in its windows."""
    times = np.concatenate([[0.0], start[:1], stop])
    sums = np.concatenate([[0.0, 0.0], np.cumsum(fruit)])
    return np.asarray(np.interp(np.arange(np.ceil(stop[-1]) + 1.0), times, sums))


def key_of(block: Block) -> Key:
    """Block, cultivar, film and transplant type of a block of this season."""
    return block.name, block.cultivar, block.film, block.transplant


def alike(
    key: Key, past: Iterable[PastSeason], *, without: str = "", own: bool = True
) -> tuple[list[PastSeason], FloatArray]:
    """Past seasons that stand for a block, and their weights, which sum to 1.

    Parameters
    ----------
    key : block, cultivar, film and transplant type.
    past : seasons to choose from.
    without : season that is left out.
    own : whether those of the block itself count; without them it is taken as new.
    """
    found, weights = [], []
    for one in past:
        if one.season == without or one.transplant != key[3]:
            continue
        weight = ALIKE_CULTIVAR if one.cultivar == key[1] else ALIKE_TRANSPLANT
        if one.key == key:
            weight = 1.0 if own else 0.0
        if weight > 0.0:
            found.append(one)
            weights.append(weight)
    return found, np.array(weights) / max(sum(weights), 1e-12)


def planting_slope(past: Sequence[PastSeason]) -> float:
    """Change of the days from planting to first pick with a day of later planting.

    Within blocks over their seasons, drawn to `USUAL_SLOPE` where planting dates hardly differ.
    """
    product, square = USUAL_SLOPE * SLOPE_STRENGTH, SLOPE_STRENGTH
    for block in {one.block for one in past}:
        rows = np.array(
            [(one.day_of_year, one.dates[1]) for one in past
             if one.block == block and np.isfinite(one.dates[1])]
        ).reshape(-1, 2)  # fmt: skip
        planted, days = (rows - rows.mean(axis=0)).T if len(rows) else np.zeros((2, 0))
        product += float(planted @ days)
        square += float(planted @ planted)
    return product / square
