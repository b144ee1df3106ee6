"""Numbers side by side in a kernel: NumPy's operations, and what teaches them to the compiler.

Eight go side by side where the compiler takes vector types, else one at a time: `LANES`.
"""

from phenocast.vector.ops import (
    any_lane,
    clip,
    everywhere,
    everywhere_int,
    in_groups,
    lane_of,
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

if LANES == 1:
    from phenocast.vector import single as taught
else:
    from phenocast.vector import wide as taught

__all__ = [
    "LANES",
    "any_lane",
    "clip",
    "everywhere",
    "everywhere_int",
    "in_groups",
    "lane_of",
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
    "taught",
    "trunc",
    "where",
    "with_lane",
]
