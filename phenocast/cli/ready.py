"""What a forecast needs is made ready before it is asked for: kernels, parameters, readers."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager

LINEAR_ALGEBRA = "scipy.linalg"


def ready_to_forecast() -> None:
    """Load what a forecast runs on: with one kernel, run for a day, numba loads what all need."""
    import numpy as np

    import phenocast.forecast.run  # noqa: F401
    from phenocast.parameters import bed, cultivars, films, shelters, soils, transplants
    from phenocast.simulation.responses import TABLE_SIZE, fill_daily_means

    with _without_linear_algebra():
        fill_daily_means(np.zeros(24), np.zeros((TABLE_SIZE, 1)), np.empty((1, 1)))
    for shelf in (bed, films, shelters, soils, transplants, cultivars):  # each is read once
        shelf()


def ready_to_read() -> None:
    """Load what reads the weather of a season."""
    import phenocast.io.weather_of_season
    import phenocast.io.weather_table
    import phenocast.weather.assembly  # noqa: F401


@contextmanager
def _without_linear_algebra() -> Iterator[None]:
    """Keep numba from loading the linear algebra of SciPy while it loads itself.

    It looks whether there is one as soon as a kernel is loaded, which takes as long as all that it
    needs besides, and looks again when a kernel that multiplies matrices is compiled: no kernel of
    a forecast does. Afterwards it is there for whoever imports it. Not to be used while another
    thread may import it.
    """
    if LINEAR_ALGEBRA in sys.modules:
        yield
        return
    sys.modules[LINEAR_ALGEBRA] = None  # type: ignore[assignment]  # as if not installed
    try:
        yield
    finally:
        del sys.modules[LINEAR_ALGEBRA]
