"""From emergence of a truss to open flowers, rank by rank, and what frost leaves of them."""

from __future__ import annotations

from typing import Any

from numba import njit

from phenocast.phenology.air_days import reach_in_air
from phenocast.phenology.steps import exponential, put, sum_at
from phenocast.vector import any_lane, maximum, minimum, take, where

POPCORN_D = 4.0
"""Days before anthesis in which a bud shows white and is as tender as a green fruit."""


@njit(cache=True, nogil=True, error_model="numpy", forceinline=True)
def open_rank(
    opened: Any,
    share: Any,
    n_days: int,
    emerging: Any,
    emerged_at: Any,
    flowers: Any,
    to_open: Any,
    air: tuple[int, Any, Any],
    frost: tuple[int, int, Any, Any],
) -> bool:
    """Carry the flowers of one rank (0, 1 or 2) of a cohort from emergence to anthesis.

    ``emerging`` is the day in which ``emerged_at`` lies, `n_days` where the season ends before;
    ``flowers`` are those of the whole truss; ``frost`` is the first and the last night that harms
    buds, and the rows of their survival.
    """
    n_steps, air_clock, air_days = air
    day = minimum(emerging, n_days - 1)
    before = take(air_clock, day)
    target = before + (emerged_at - day) * (take(air_clock, day + 1) - before) + to_open
    opening, open_at = reach_in_air(n_days, n_steps, air_clock, air_days, target)
    opens = (opening < n_days) & (emerging < n_days)
    if not any_lane(opens):
        return False
    flowers = where(opens, flowers * share, 0.0)
    first_night, last_night, tight_bud, popcorn = frost
    if first_night <= last_night:
        last = minimum(opening, n_days - 1)
        # most cohorts open before the first frost or emerge after the last
        if any_lane((last >= first_night) & (day <= last_night)):
            flowers = _after_frost(
                n_days, day, last, emerged_at, open_at, flowers, tight_bud, popcorn
            )
    put(opened, where(opens, open_at, 0.0), flowers)
    return True


@njit(cache=True, nogil=True, error_model="numpy")
def _after_frost(
    n_days: int,
    emerging: Any,
    opening: Any,
    emerged_at: Any,
    open_at: Any,
    flowers: Any,
    tight_bud: Any,
    popcorn: Any,
) -> Any:
    """Flowers that frost leaves between emergence and anthesis."""
    # many meet no frost between two: the sums of their first and last day are the same
    if not any_lane(
        (take(tight_bud, opening + 1) < take(tight_bud, emerging))
        | (take(popcorn, opening + 1) < take(popcorn, emerging))
    ):
        return flowers
    popcorn_at = maximum(open_at - POPCORN_D, emerged_at)
    lived = (
        sum_at(tight_bud, popcorn_at, n_days)
        - sum_at(tight_bud, emerged_at, n_days)
        + sum_at(popcorn, open_at, n_days)
        - sum_at(popcorn, popcorn_at, n_days)
    )
    return where(lived < 0.0, flowers * exponential(lived), flowers)
