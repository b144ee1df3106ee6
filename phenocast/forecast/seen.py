"""What the records of a season say of one block: dates, picks, green fruit, plants that stand."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from phenocast._typing import FloatArray
from phenocast.forecast.discrepancy import Windows
from phenocast.forecast.past_seasons import LONGEST_WINDOW_D

NOON = 0.5
"""A visit stands at the middle of its day. [d]"""
LEAST_GREEN = 0.5
"""Green fruit a plant below which a count foretells nothing."""
USUAL_ROUND_D = 7.0
"""A first visit that finds a stage is taken to have come a usual round after it. [d]"""
LEAST_STANDING = 0.05
"""Share of standing plants below which their fruit is not scaled any further."""


@dataclass(frozen=True)
class Seen:
    """What the records of one block say; days count from planting.

    Parameters
    ----------
    visits : int
        Days with a record.
    last_d : float
        Time of the last visit; 0 without one. [d]
    bloom_d, first_pick_d : float
        When half of the plants had flowered and when picks passed the threshold; NaN if not yet.
    no_bloom_d, no_pick_d : float
        Last visit that says that they were not reached; 0 without one.
    windows : Windows
        Windows in which the fruit of each pick ripened. [d]
    picked, standing : arrays ``[picks]``
        Fruit of each pick [g per plant set], and share of the plants that stood.
    green : tuple of float, optional
        Time of the last count of green fruit and the count.
    alive : float
        Share of the plants that stand.
    ended : bool
        Two visits in a row found nothing ripe, green or in flower after picking had begun.
    """

    visits: int = 0
    last_d: float = 0.0
    bloom_d: float = np.nan
    first_pick_d: float = np.nan
    no_bloom_d: float = 0.0
    no_pick_d: float = 0.0
    windows: Windows = field(default_factory=lambda: Windows(np.zeros(0), np.zeros(0)))
    picked: FloatArray = field(default_factory=lambda: np.zeros(0))
    standing: FloatArray = field(default_factory=lambda: np.zeros(0))
    green: tuple[float, float] | None = None
    alive: float = 1.0
    ended: bool = False


def seen_of(table: pd.DataFrame, first_pick_g: float) -> Seen:
    """Read the records of one block.

    Parameters
    ----------
    table : DataFrame
        As `phenocast.season.SeasonRecords` holds it for a block.
    first_pick_g : fruit that counts as the first pick. [g per plant]

    Examples
    --------
    >>> table = pd.DataFrame({"day": [40, 60, 67], "plants_seen": [20, 20, 20],
    ...                       "plants_in_bloom": [5, 20, 20], "marketable_g": [np.nan, 4.0, 8.0],
    ...                       "picked": [False, True, True]})
    >>> seen = seen_of(table, 10.0)
    >>> seen.windows.start.tolist(), seen.first_pick_d, round(seen.bloom_d, 1)
    ([40.5, 60.5], 65.75, 44.4)
    """
    if table.empty:
        return Seen()
    column = {name: table[name].to_numpy(dtype=np.float64) if name in table
              else np.full(len(table), np.nan) for name in (
        "day", "plants_seen", "plants_in_bloom", "open_flowers", "green_fruit", "ripe_fruit",
        "marketable_g", "picked", "fruit_left", "lost_share")}  # fmt: skip
    day = column["day"] + NOON
    standing = 1.0 - np.nancumsum(column["lost_share"])
    fruit, emptied = column["marketable_g"], column["picked"] == 1.0
    weighed = np.isfinite(fruit) & emptied
    begun = int(np.argmax(fruit > 0.0)) if np.any(fruit > 0.0) else len(day)
    windows = Windows(np.zeros(0), np.zeros(0))
    picked, stood, first, no_pick = np.zeros(0), np.zeros(0), np.nan, 0.0
    ripe = (column["ripe_fruit"] > 0.0) | (column["fruit_left"] == 1.0)
    before = day[(np.arange(len(day)) < begun) & (weighed | ~ripe)]
    if begun < len(day):
        rounds = np.flatnonzero(weighed & (np.arange(len(day)) >= begun))
        opened = before[-1] if len(before) else day[begun] - USUAL_ROUND_D
        opened = max(opened, day[begun] - LONGEST_WINDOW_D)
        windows = Windows(np.concatenate([[opened], day[rounds[:-1]]]), day[rounds])
        picked, stood = fruit[rounds], np.maximum(standing[rounds], LEAST_STANDING)
        sums = np.concatenate([[0.0], np.cumsum(fruit[rounds])])
        if sums[-1] >= first_pick_g:
            first = float(np.interp(first_pick_g, sums, np.append(windows.start[0], windows.stop)))
        else:
            no_pick = float(day[rounds[-1]])
    elif len(before):
        no_pick = float(before[-1])
    bloom, no_bloom = _bloom(day, column["plants_in_bloom"] / column["plants_seen"])
    green = np.flatnonzero(column["green_fruit"] > LEAST_GREEN)
    last = len(day) - 1
    counted = len(green) and day[last] - day[green[-1]] < USUAL_ROUND_D
    bare = (
        (column["open_flowers"] == 0.0) & (column["green_fruit"] == 0.0)
        & ((column["ripe_fruit"] == 0.0) | (fruit == 0.0))
    )  # fmt: skip
    return Seen(
        visits=len(day), last_d=float(day[last]), bloom_d=bloom, first_pick_d=first,
        no_bloom_d=no_bloom, no_pick_d=no_pick, windows=windows, picked=picked, standing=stood,
        green=(float(day[green[-1]]), float(column["green_fruit"][green[-1]])) if counted else None,
        alive=float(max(standing[last], 0.0)),
        ended=bool(begun < last and len(day) > 1 and bare[-2:].all()),
    )  # fmt: skip


def _bloom(day: FloatArray, share: FloatArray) -> tuple[float, float]:
    """Time at which half of the plants had flowered, NaN if not seen, and the last visit before."""
    known = np.isfinite(share)
    day, share = day[known], np.clip(share[known], 0.01, 0.99)
    if not len(day):
        return float("nan"), 0.0
    half = int(np.argmax(share >= 0.5)) if np.any(share >= 0.5) else len(day)
    if half == len(day):
        return float("nan"), float(day[-1])
    if half == 0:
        return float(day[0] - USUAL_ROUND_D / 2.0), 0.0
    odds = np.log(share[half - 1 : half + 1] / (1.0 - share[half - 1 : half + 1]))
    return float(np.interp(0.0, odds, day[half - 1 : half + 1])), 0.0


def times_wanted(seen: Seen, issue_d: float) -> tuple[float, ...]:
    """Times at which the state of every draw must be known beside the ends of weeks. [d]"""
    times = {*seen.windows.start, *seen.windows.stop, seen.no_pick_d, issue_d + 1.0}
    if seen.green is not None:
        times.add(seen.green[0])
    return tuple(sorted(float(one) for one in times if one > 0.0))
