"""Temperature responses, degree-hours with upper cut-offs, stress, photoperiod and chilling.

One module per subject; the names below are the public ones.
"""

from phenocast.thermal_time.accumulation import chill_hours, crossing_time, prefix_sums, value_at
from phenocast.thermal_time.degree_days import (
    degree_days,
    degree_hours,
    degree_hours_above,
    heat_rate,
    hours_above,
)
from phenocast.thermal_time.responses import (
    felt_photoperiod_h,
    lit_hours,
    trapezoid,
    wang_engel,
    yan_hunt,
    yin_beta,
)
from phenocast.weather.sun import photoperiod_h, sun_passages_h

__all__ = [
    "chill_hours",
    "crossing_time",
    "degree_days",
    "degree_hours",
    "degree_hours_above",
    "felt_photoperiod_h",
    "heat_rate",
    "hours_above",
    "lit_hours",
    "photoperiod_h",
    "prefix_sums",
    "sun_passages_h",
    "trapezoid",
    "value_at",
    "wang_engel",
    "yan_hunt",
    "yin_beta",
]
