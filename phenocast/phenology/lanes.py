"""Eight plants side by side, for the kernels: what `phenocast.phenology.lane_operations` says.

To import from here, rather than from there, is to have the compiler taught as well.
"""

from phenocast.phenology import lane_instructions, lane_memory
from phenocast.phenology.lane_operations import (
    LANES,
    any_lane,
    drop,
    everywhere,
    everywhere_day,
    in_groups,
    lane_of,
    lanes,
    least,
    load,
    most,
    pick,
    root,
    row_of,
    series,
    side_by_side,
    store,
    where,
    whole,
    with_lane,
    within,
)

TAUGHT = (lane_instructions, lane_memory)

__all__ = [
    "LANES",
    "TAUGHT",
    "any_lane",
    "drop",
    "everywhere",
    "everywhere_day",
    "in_groups",
    "lane_of",
    "lanes",
    "least",
    "load",
    "most",
    "pick",
    "root",
    "row_of",
    "series",
    "side_by_side",
    "store",
    "where",
    "whole",
    "with_lane",
    "within",
]
