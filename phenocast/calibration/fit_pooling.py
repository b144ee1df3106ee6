"""How alike cultivars, seasons and plots are: spreads that the records themselves speak for.

Around the likeliest vector the likelihood is taken as a normal, so that the evidence for any spread
of the prior follows without another run.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from phenocast.calibration.fit_numbers import CULTIVAR, Layout
from phenocast.calibration.fit_scatter import Scatter
from phenocast.calibration.fit_search import Point, prior_precision

FloatArray = NDArray[np.float64]

# Grids of the search, and how firmly the spreads of seasons and plots are held to where they
# began: standard deviation of their logarithm. Few seasons tell little of a spread between them.
ALIKE = (0.0, 0.2, 0.4, 0.6, 0.8, 0.95)
WORTH = 5.0
"""Evidence, in units of log-likelihood, that likeness must gain over cultivars that have nothing in
common but their priors. It is judged for some six numbers in two rounds, and 2 came by chance in a
third of simulated fits; likeness that is not there leaves intervals far too narrow, while likeness
that is missed only leaves them wide."""
_FACTORS = np.exp(np.linspace(-2.0, 2.0, 17))
SPREAD_LOG_SD = 0.7


def evidence(layout: Layout, point: Point, scatter: Scatter) -> float:
    """Log of how likely the records are under the spreads of a prior, up to a constant.

    Parameters
    ----------
    layout : Layout
    point : around which the likelihood is taken as a normal.
    scatter : whose spreads and likeness are judged.
    """
    prior = prior_precision(layout, scatter)
    curve = point.information + prior
    pull = point.information @ point.vector + point.gradient
    _, log_prior = np.linalg.slogdet(prior)
    _, log_curve = np.linalg.slogdet(curve)
    return 0.5 * float(log_prior - log_curve + pull @ np.linalg.solve(curve, pull))


def estimated_spreads(layout: Layout, point: Point, scatter: Scatter, began: Scatter) -> Scatter:
    """Return the scatter with spreads of seasons and plots, and likeness of cultivars, estimated.

    Parameters
    ----------
    layout, point : as in `evidence`.
    scatter : as it is now.
    began : what the spreads of seasons and plots are held to.
    """
    for name in ("plot_level", "season_level", "season_shift"):
        middle = float(getattr(began, name))
        found = [
            evidence(layout, point, _with(scatter, name, middle * float(factor)))
            - 0.5 * (np.log(factor) / SPREAD_LOG_SD) ** 2
            for factor in _FACTORS
        ]
        scatter = _with(scatter, name, middle * float(_FACTORS[int(np.argmax(found))]))
    names = {one.name: 0 for one in layout.numbers if one.group == CULTIVAR}
    for one in layout.numbers:
        if one.group == CULTIVAR:
            names[one.name] += 1
    for name, count in names.items():
        if count < 2:
            continue
        tried = [replace(scatter, alike={**scatter.alike, name: rho}) for rho in ALIKE]
        found = [evidence(layout, point, one) for one in tried]
        best = int(np.argmax(found))
        scatter = tried[best if found[best] - found[0] > WORTH else 0]
    return scatter


def _with(scatter: Scatter, name: str, value: float) -> Scatter:
    changed: dict[str, Any] = {name: value}
    return replace(scatter, **changed)
