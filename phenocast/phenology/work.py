"""Where the kernels write: one block of rows for the days, one short array of dates.

The kernels allocate nothing. A caller makes a work block once with `make_work` and passes it again
for every plant and every year of the same length; everything in it is overwritten.

A row holds ``n_days + N_TRANSPLANT_COHORTS + 1`` numbers. Prefix sums use the first ``n_days + 1``
(entry ``i`` is the sum before the beginning of day ``i``), daily series the first ``n_days``, and
cohorts as many as there are, ``n_days + N_TRANSPLANT_COHORTS`` at most. The spreading of fruit over
plants needs three numbers of room behind the last day.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

N_TRANSPLANT_COHORTS = 3
"""Trusses that a transplant may bring with it: the cohorts before the first day."""

N_RANKS = 3
"""Fruit ranks that are followed: primary, secondary and tertiary."""

# prefix sums, at the beginning of each day
BUD_CLOCK = 0
AIR_CLOCK = 1
CROWN_HEAT = 2
AIR_HEAT = 3
RESTING = 4
FROST_TIGHT_BUD = 5
FROST_POPCORN = 6
FROST_OPEN = 7
FROST_FRUIT = 8
AIR_SUM = 9
GROWTH_LIGHT = 10
# cohorts
COHORT_START = 11
COHORT_FLOWERS = 12
COHORT_HEAT = 13
TRUSS_FLOWERS = 14
TRUSS_CLOCK = 15
# daily series
ESTABLISHED = 16
INDUCTION_RATE = 17
INDUCTION_SUM = 18
INDUCED_SHARE = 19
BRANCH_CROWNS = 20
VIGOUR = 21
LEAVES = 22
FLOWERS_INITIATED = 23
EMERGED = 24
OPEN_1 = 25
OPEN_2 = 26
OPEN_3 = 27
RIPENING_1 = 28
RIPENING_2 = 29
RIPENING_3 = 30
SHARP_G = 31
SHARP_MARKETABLE = 32
SHARP_FRUIT = 33
RIPE_G = 34
MARKETABLE_G = 35
RIPE_FRUIT = 36
# weather of a window, at noon of each day
SET_HEAT = 37
CARRYING_LIGHT = 38
SIZE_WARMTH = 39
PHOTOPERIOD_RESPONSE = 40
COHORT_ENDS = 41
"""1 on the last day of a cohort: the flowers initiated since the one before it go on together."""
RIPE_AT_1 = 42
RIPE_AT_2 = 43
RIPE_AT_3 = 44
"""When the fruit of the flowers that open at noon of each day is ripe, by rank. [d]"""
SETTING = 45
LOADING = 46
"""Set of a plant without load, and the load that halves it, at noon of each day."""
LEAF_RATE = 47
BRANCHING = 48
"""New leaves, and relative growth of branch crowns far below their largest number. [d-1]"""
N_WORK = 49

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


def make_work(n_days: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Make the work block and the dates for seasons of ``n_days`` days.

    Returns
    -------
    work : array ``[N_WORK, n_days + N_TRANSPLANT_COHORTS + 1]``.
    dates : array ``[N_DATES]``.

    Examples
    --------
    >>> work, dates = make_work(300)
    >>> work.shape, dates.shape
    ((49, 304), (7,))
    """
    return np.zeros((N_WORK, n_days + N_TRANSPLANT_COHORTS + 1)), np.full(N_DATES, np.inf)
