"""phenocast: from a weather file and a mulch film to the week of first pick.

The package itself imports nothing heavy: a sub-package is loaded when it is first named, so that
``phenocast --help`` answers at once.

Examples
--------
>>> import phenocast
>>> phenocast.units.convert(50.0, "degF", "degC")
10.0
"""

from __future__ import annotations

import importlib
import os
from types import ModuleType

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

__all__ = ["__version__"]

# Before any kernel is loaded from disk; a millisecond.
KERNELS_KEPT = keep_kernels(os.path.dirname(os.path.abspath(__file__)))


def __getattr__(name: str) -> ModuleType:
    """Load a sub-package when it is first asked for."""
    if name in _LAYERS:
        return importlib.import_module(f"phenocast.{name}")
    raise AttributeError(f"module 'phenocast' has no attribute {name!r}")


def __dir__() -> list[str]:
    """Names of the package, the sub-packages included."""
    return sorted([*globals(), *_LAYERS])
