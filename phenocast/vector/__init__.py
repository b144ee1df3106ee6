"""Numbers side by side in a kernel: NumPy's operations, and what teaches them to the compiler.

Eight go side by side where the compiler takes vector types, else one at a time: `LANES`.
"""

from importlib import import_module

from phenocast.vector.ops import (
    any_lane,
    clip,
    everywhere,
    everywhere_int,
    exp,
    in_groups,
    lane_of,
    lane_records,
    lanes,
    load,
    maximum,
    minimum,
    row_of,
    scatter,
    series,
    side_by_side,
    sqrt,
    store,
    take,
    trunc,
    where,
    with_lane,
)
from phenocast.vector.width import LANES

import_module("phenocast.vector.single" if LANES == 1 else "phenocast.vector.wide")

__all__ = [
    "LANES",
    "any_lane",
    "clip",
    "everywhere",
    "everywhere_int",
    "exp",
    "in_groups",
    "lane_of",
    "lane_records",
    "lanes",
    "load",
    "maximum",
    "minimum",
    "row_of",
    "scatter",
    "series",
    "side_by_side",
    "sqrt",
    "store",
    "take",
    "trunc",
    "where",
    "with_lane",
]
