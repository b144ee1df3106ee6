"""Where the kernels read and write: rows of the weather, rows of eight plants, and their dates.

The kernels allocate nothing. A caller makes a `Work` once with `make_work` and passes it again for
every eight plants and every year of the same length; everything in it is overwritten.

Prefix sums use the first ``n_days + 1`` places of a row (place ``i`` is the sum before the
beginning of day ``i``), daily series the first ``n_days``, cohorts as many as there are. Rows are
longer than that: a search looks one place beyond the season, and what is spread over the plants of
a block needs room at both ends.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from phenocast.vector import LANES, side_by_side

N_TRANSPLANT_COHORTS = 3
"""Trusses that a transplant may bring with it: the cohorts before the first day."""

N_RANKS = 3
"""Fruit ranks that are followed: primary, secondary and tertiary."""

SPREAD_HALF_WIDTH_D = 18
"""Days to each side over which ripening of the plants of a block is spread: three times the
largest spread that is allowed."""

# rows of the weather, which all plants share: prefix sums, at the beginning of each day
AIR_CLOCK = 0
CROWN_HEAT = 1
AIR_HEAT = 2
AIR_SUM = 3
GROWTH_LIGHT = 4
# daily
COHORT_ENDS = 5
"""1 on the last day of a cohort: the flowers initiated since the one before it go on together."""
SET_HEAT = 6
PER_LIGHT = 7
SIZE_WARMTH = 8
"""Weather of a window, at noon of each day; of light its inverse, 0 where there is none."""
N_WEATHER = 9

# rows of the plants: prefix sums, at the beginning of each day
BUD_CLOCK = 0
RESTING = 1
FROST_TIGHT_BUD = 2
FROST_POPCORN = 3
FROST_OPEN = 4
FROST_FRUIT = 5
# cohorts
COHORT_START = 6
COHORT_FLOWERS = 7
COHORT_HEAT = 8
# daily series
INDUCTION_RESPONSE = 9
"""Response of induction to crown temperature, which the caller fills: cultivars differ in it."""
ESTABLISHED = 10
INDUCTION_RATE = 11
INDUCTION_SUM = 12
INDUCED_SHARE = 13
BRANCH_CROWNS = 14
VIGOUR = 15
LEAVES = 16
FLOWERS_INITIATED = 17
EMERGED = 18
OPEN_1 = 19
OPEN_2 = 20
OPEN_3 = 21
RIPENING_1 = 22
RIPENING_2 = 23
RIPENING_3 = 24
RIPE_G = 25
MARKETABLE_G = 26
RIPE_FRUIT = 27
GREEN_FRUIT = 28
"""Fruit set and not ripe at the end of each day, per living plant."""
MARKETABLE_SO_FAR_G = 29
"""Prefix sum of `MARKETABLE_G`."""
# daily series that begin `SPREAD_HALF_WIDTH_D` places on
UNSMOOTHED_G = 30
UNSMOOTHED_MARKETABLE = 31
UNSMOOTHED_FRUIT = 32
SPREAD_WEIGHTS = 33
"""Not a series: what the plants of a block lay on each lag of ripening."""
N_ROWS = 34

# dates, in days since the beginning of the planting day; infinite where not reached
FLOWER_INITIATION = 0
EMERGENCE = 1
ANTHESIS = 2
FIRST_RIPE = 3
FIRST_PICK = 4
REST_RELEASE = 5
SURVIVING_SHARE = 6
"""Not a date: the share of plants that live through the heat after planting."""
N_DATES = 7

AIR_STEPS_A_DAY = 4
"""Entries of the table of days by running sum of the air, for each day of the season."""


class Work(NamedTuple):
    """What the kernels read and write.

    ``weather`` is ``[N_WEATHER, places]``, ``rows`` ``[N_ROWS, places, LANES]`` and ``dates``
    ``[N_DATES, LANES]``; ``air_days`` ``[steps]`` says in which day the running sum of development
    in the air passes each of as many equal steps.
    """

    weather: NDArray[np.float64]
    air_days: NDArray[np.int64]
    rows: NDArray[np.float64]
    dates: NDArray[np.float64]


def make_work(n_days: int) -> Work:
    """Make what the kernels read and write in seasons of ``n_days`` days at most.

    Examples
    --------
    >>> work = make_work(300)
    >>> work.rows.shape, work.dates.shape
    ((34, 340, 8), (7, 8))
    """
    places = n_days + 2 * (SPREAD_HALF_WIDTH_D + 2)
    return Work(
        np.zeros((N_WEATHER, places)),
        np.zeros(AIR_STEPS_A_DAY * n_days, dtype=np.int64),
        side_by_side(N_ROWS, places),
        np.full((N_DATES, LANES), np.inf),
    )
