"""On which day the season of a block ends that is left open: a rule of the plant, not of prices."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
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
