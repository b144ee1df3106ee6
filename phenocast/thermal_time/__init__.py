"""Temperature responses, degree-hours with upper cut-offs, stress, photoperiod and chilling.

One module per subject; the names below are the public ones.
"""

from phenocast.thermal_time.accumulate import crossing_time, prefix_sums, value_at
from phenocast.thermal_time.chilling import chill_hours
from phenocast.thermal_time.degree_days import degree_days
from phenocast.thermal_time.degree_hours import degree_hours
from phenocast.thermal_time.heat_rate import heat_rate
from phenocast.thermal_time.lighting import felt_photoperiod_h, lit_hours
from phenocast.thermal_time.responses import trapezoid, wang_engel, yan_hunt, yin_beta
from phenocast.thermal_time.stress import degree_hours_above, hours_above
from phenocast.weather.solar import photoperiod_h, sun_passages_h

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
