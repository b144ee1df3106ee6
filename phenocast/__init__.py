"""phenocast: from a weather file and a mulch film to the week of first pick.

The package itself imports nothing heavy: a sub-package is loaded when it is first named, so that
``phenocast --help`` answers at once.

Examples
--------
>>> import phenocast
>>> phenocast.units.convert(50.0, "degF", "degC")
10.0
"""

import importlib
import os
from typing import Any

from phenocast.cache import keep_kernels

__version__ = "0.1.0"

_LAYERS = (
    "units",
    "errors",
    "vector",
    "tables",
    "parameters",
    "season",
    "verification",
    "weather",
    "crown",
    "thermal_time",
    "phenology",
    "harvest",
    "simulation",
    "forecast",
    "calibration",
    "trials",
    "planning",
    "io",
    "report",
    "cli",
)

# What to import, each with the module that offers it: questions first, then functions on arrays.
_PUBLIC = {
    "load_season": "io",
    "season_from_frames": "io",
    "read_season_records": "io",
    "run_forecast": "forecast",
    "run_options": "forecast.options",
    "hindcast_blocks": "forecast",
    "CultivarCalibrator": "calibration",
    "CrownSensorCalibrator": "calibration",
    "rank_draws": "calibration",
    "plan_labour": "planning.labour.plan",
    "analyse_seasons": "trials",
    "wang_engel": "thermal_time",
    "yin_beta": "thermal_time",
    "yan_hunt": "thermal_time",
    "trapezoid": "thermal_time",
    "degree_hours": "thermal_time",
    "degree_days": "thermal_time",
    "degree_hours_above": "thermal_time",
    "hours_above": "thermal_time",
    "chill_hours": "thermal_time",
    "prefix_sums": "thermal_time",
    "crossing_time": "thermal_time",
    "photoperiod_h": "thermal_time",
    "bed_records": "crown",
    "bed_forcing": "crown",
    "bed_temperatures": "crown",
    "sky_longwave": "crown",
    "chamber_days": "phenology.chamber",
    "grow": "harvest",
    "block_setup": "simulation",
    "simulate_block": "simulation",
}

__all__ = ["__version__", *_PUBLIC]

# Before any kernel is loaded from disk; a millisecond.
KERNELS_KEPT = keep_kernels(os.path.dirname(os.path.abspath(__file__)))


def __getattr__(name: str) -> Any:
    """Load a sub-package, or what it offers, when it is first asked for."""
    if name in _LAYERS:
        return importlib.import_module(f"phenocast.{name}")
    if name in _PUBLIC:
        return getattr(importlib.import_module(f"phenocast.{_PUBLIC[name]}"), name)
    raise AttributeError(f"module 'phenocast' has no attribute {name!r}")


def __dir__() -> list[str]:
    """Names of the package, the sub-packages included."""
    return sorted([*globals(), *_LAYERS, *_PUBLIC])
