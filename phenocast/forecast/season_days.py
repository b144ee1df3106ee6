"""Which days count: those of an open season, and those over which the heat of a crown is told.

A season that is left open ends by a rule of the plant, not of prices.

Heat harms what it meets: flowers that are formed between planting and first bloom, and in summer
crops of day-neutral types the fruit of the bearing weeks. Months after the last fruit harm nothing.
Blocks that are held against each other are told over the same days after planting, so that a later
bloom adds no heat: those of the reference, or of the block that blooms soonest where there is none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from phenocast.harvest import iso_week
from phenocast.parameters import ParameterSet
from phenocast.simulation.setup import BlockSetup

STATED = "stated"
FRUIT = "fruit"
STILL_BEARING = "still-bearing"
LITTLE_FRUIT = "little-fruit"


@dataclass(frozen=True)
class SeasonEnd:
    """The last day of a season and why.

    Parameters
    ----------
    last_day : date
        One day for all weather years and draws.
    rule : str
        `STATED` in the season file; `FRUIT`: half of the cases fall short of ``g_per_plant`` for
        good; `STILL_BEARING` when the simulated days run out; `LITTLE_FRUIT`: no week reaches it.
    simulated_to : date
        Last day that was simulated; a season of the last two rules ends with it.
    g_per_plant : float
        Fruit of a week that still counts as bearing. [g]
    weeks : int
        Whole weeks with less after which the crop is over.
    """

    last_day: date
    rule: str
    simulated_to: date
    g_per_plant: float
    weeks: int

    def cut(self, setup: BlockSetup) -> BlockSetup:
        """Return the setup of a block whose season ends so."""
        return replace(setup, block=replace(setup.block, season_end=self.last_day))

    def n_weeks(self, weeks: Sequence[str]) -> int:
        """Return how many of some ISO weeks the season has; it ends with one of them."""
        return weeks.index(iso_week(self.last_day)) + 1

    def to_dict(self) -> dict[str, Any]:
        """Return why the season ends; the day stands beside it as ``last_day``."""
        return {
            "rule": self.rule,
            "simulated_to": self.simulated_to.isoformat(),
            "g_per_plant": self.g_per_plant,
            "weeks": self.weeks,
        }


def season_end(
    cultivar: ParameterSet,
    stated: date | None,
    last_day: date,
    weekly_g: NDArray[np.floating[Any]],
    weeks: Sequence[str],
) -> SeasonEnd:
    """Find the last day of a season: that of the last week in which half of the cases still bear.

    Parameters
    ----------
    cultivar : with ``season_end_fruit`` and ``season_end_weeks``.
    stated : the season end of the season file, which is kept; None where it is left open.
    last_day : last day that was simulated.
    weekly_g : array ``[cases, weeks]``
        Marketable fruit of each case. [g per plant]
    weeks : their ISO weeks; the last may be cut short, and then it cannot show that a crop is over.

    Examples
    --------
    >>> from phenocast.parameters import cultivars
    >>> fruit = np.array([[30.0, 6.0, 4.0, 1.0, 0.5]])
    >>> weeks = ["2027-W20", "2027-W21", "2027-W22", "2027-W23", "2027-W24"]
    >>> end = season_end(cultivars()["Basalt"], None, date(2027, 6, 20), fruit, weeks)
    >>> end.last_day.isoformat(), end.rule
    ('2027-05-30', 'fruit')
    >>> season_end(cultivars()["Basalt"], None, date(2027, 6, 6), fruit[:, :3], weeks[:3]).rule
    'still-bearing'
    """
    amount = cultivar.value("season_end_fruit")
    needed = int(cultivar.value("season_end_weeks"))
    ends, rule = last_day, STATED
    if stated is None:
        bears = np.flatnonzero(2 * np.count_nonzero(weekly_g >= amount, axis=0) >= len(weekly_g))
        last = int(bears[-1]) if bears.size else 0
        below = len(weeks) - 1 - last - (last_day.isoweekday() < 7)
        rule = STILL_BEARING if bears.size else LITTLE_FRUIT
        if bears.size and below >= needed:
            rule = FRUIT
            year, week = weeks[last].split("-W")
            ends = date.fromisocalendar(int(year), int(week), 7)
    return SeasonEnd(ends, rule, last_day, amount, needed)


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
