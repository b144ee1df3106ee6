"""Over which days the heat of a crown is told, so that it says something of the crop.

Heat harms what it meets: flowers that are formed between planting and first bloom, and in summer
crops of day-neutral types the fruit of the bearing weeks. Months after the last fruit harm nothing.
Blocks that are held against each other are told over the same days after planting, so that a later
bloom adds no heat: those of the reference, or of the block that blooms soonest where there is none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np

from phenocast.simulation.setup import BlockSetup

TO_FIRST_BLOOM = "to_first_bloom"
BEARING = "bearing"
MIDWINTER, MIDSUMMER = (12, 21), (6, 21)
"""Solstices of the north, month and day."""


@dataclass(frozen=True)
class HeatDays:
    """Days of one block, counted from planting.

    Parameters
    ----------
    planting : date
    n_days : int
        Days of the season.
    bloom : int or None
        Days before the first bloom, 1 at least; None where it is not reached.
    bearing : int or None
        First day of the bearing weeks of a day-neutral summer crop; None for any other.
    """

    planting: date
    n_days: int
    bloom: int | None
    bearing: int | None

    @property
    def to_bloom(self) -> tuple[int, int]:
        """First day to first bloom, and the day after the last; without bloom of the season."""
        return 0, self.n_days if self.bloom is None else self.bloom

    @property
    def headline(self) -> tuple[str, tuple[int, int]]:
        """Days that the heat of the block is told over first, with their name."""
        if self.bearing is None:
            return TO_FIRST_BLOOM, self.to_bloom
        return BEARING, (self.bearing, self.n_days)


def heat_days(setup: BlockSetup, bloom_d: float, first_pick_d: float) -> HeatDays:
    """Return the days of a block whose season is cut at its end.

    Parameters
    ----------
    setup : BlockSetup
    bloom_d, first_pick_d : float
        Medians, in days since planting; infinite where not reached in half of the cases. [d]
    """
    n_days = setup.n_days
    bears = summer_crop(setup) and first_pick_d < n_days
    return HeatDays(
        setup.block.planting_date,
        n_days,
        max(1, int(bloom_d)) if bloom_d < n_days else None,
        int(first_pick_d) if bears else None,
    )


def summer_crop(setup: BlockSetup) -> bool:
    """Say whether a block bears through the summer: day-neutral, planted while days lengthen."""
    planted = setup.block.planting_date
    lengthening_north = not MIDSUMMER <= (planted.month, planted.day) < MIDWINTER
    return setup.cultivar.labels.get("flowering") == "day-neutral" and lengthening_north == (
        setup.site.latitude >= 0.0
    )


def same_days(
    lead: Sequence[HeatDays], planted: Sequence[tuple[date, int]]
) -> tuple[dict[str, Any], list[tuple[int, int]]]:
    """Return the days over which blocks are held against each other.

    Parameters
    ----------
    lead : the blocks that decide: the reference alone, or all.
    planted : planting date and days of the season of each block.

    Returns
    -------
    (told, windows)
        What the days are, as plain values; of each block the first day since planting and the day
        after the last. Bearing weeks where all of ``lead`` are summer crops that bear at the same
        time, otherwise the days after planting to the soonest first bloom.

    Examples
    --------
    >>> early, late = (HeatDays(date(2026, 10, day), 200, bloom, None)
    ...                for day, bloom in ((1, 30), (9, 40)))
    >>> same_days([early, late], [(early.planting, 200), (late.planting, 20)])
    ({'days': 30, 'from': None, 'to': None}, [(0, 30), (0, 20)])
    """
    starts = [one.planting + timedelta(days=one.bearing) for one in lead if one.bearing is not None]
    stop = min(one.planting + timedelta(days=one.n_days) for one in lead)
    if len(starts) == len(lead) and max(starts) < stop:
        first = max(starts)
        windows = [
            (_within((first - day).days, n_days), _within((stop - day).days, n_days))
            for day, n_days in planted
        ]
        last = stop - timedelta(days=1)
        return {
            "days": (stop - first).days,
            "from": first.isoformat(),
            "to": last.isoformat(),
        }, windows
    days = min(one.to_bloom[1] for one in lead)
    told: dict[str, Any] = {"days": days, "from": None, "to": None}
    return told, [(0, _within(days, n_days)) for _, n_days in planted]


def _within(days: int, n_days: int) -> int:
    return int(np.clip(days, 0, n_days))
