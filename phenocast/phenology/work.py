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

from phenocast._typing import FloatArray, IntArray
from phenocast.vector import LANES, side_by_side

N_TRANSPLANT_COHORTS = 3
"""Trusses that a transplant may bring with it: the cohorts before the first day."""

N_RANKS = 3
"""Fruit ranks that are followed: primary, secondary and tertiary."""

SPREAD_HALF_WIDTH_D = 18
"""Days to each side over which ripening of the plants of a block is spread: three times the
largest spread that is allowed."""

(
    # rows of the weather, which all plants share: prefix sums, at the beginning of each day
    AIR_CLOCK,
    CROWN_HEAT,
    AIR_HEAT,
    AIR_SUM,
    GROWTH_LIGHT,
    # daily: 1 on the last day of a cohort, whose flowers since the one before it go on together
    COHORT_ENDS,
    # weather of a window, at noon of each day; of light its inverse, 0 where there is none
    SET_HEAT,
    PER_LIGHT,
    SIZE_WARMTH,
    N_WEATHER,
) = range(10)

(
    # rows of the plants: prefix sums, at the beginning of each day
    BUD_CLOCK,
    RESTING,
    FROST_TIGHT_BUD,
    FROST_POPCORN,
    FROST_OPEN,
    FROST_FRUIT,
    # cohorts
    COHORT_START,
    COHORT_FLOWERS,
    COHORT_HEAT,
    # daily series; the caller fills the response of induction to crown temperature
    INDUCTION_RESPONSE,
    ESTABLISHED,
    INDUCTION_RATE,
    INDUCTION_SUM,
    INDUCED_SHARE,
    BRANCH_CROWNS,
    VIGOUR,
    LEAVES,
    FLOWERS_INITIATED,
    EMERGED,
    OPEN_1,
    OPEN_2,
    OPEN_3,
    RIPENING_1,
    RIPENING_2,
    RIPENING_3,
    RIPE_G,
    MARKETABLE_G,
    RIPE_FRUIT,
    # fruit set and not ripe at the end of each day, per living plant
    GREEN_FRUIT,
    # prefix sum of `MARKETABLE_G`
    MARKETABLE_SO_FAR_G,
    # daily series that begin `SPREAD_HALF_WIDTH_D` places on
    UNSMOOTHED_G,
    UNSMOOTHED_MARKETABLE,
    UNSMOOTHED_FRUIT,
    # not a series: what the plants of a block lay on each lag of ripening
    SPREAD_WEIGHTS,
    N_ROWS,
) = range(35)

(
    # dates, in days since the beginning of the planting day; infinite where not reached
    FLOWER_INITIATION,
    EMERGENCE,
    ANTHESIS,
    FIRST_RIPE,
    FIRST_PICK,
    REST_RELEASE,
    # not a date: the share of plants that live through the heat after planting
    SURVIVING_SHARE,
    N_DATES,
) = range(8)

AIR_STEPS_A_DAY = 4
"""Entries of the table of days by running sum of the air, for each day of the season."""


class Work(NamedTuple):
    """What the kernels read and write.

    ``weather`` is ``[N_WEATHER, places]``, ``rows`` ``[N_ROWS, places, LANES]`` and ``dates``
    ``[N_DATES, LANES]``; ``air_days`` ``[steps]`` says in which day the running sum of development
    in the air passes each of as many equal steps.
    """

    weather: FloatArray
    air_days: IntArray
    rows: FloatArray
    dates: FloatArray


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
