"""How alike cultivars, seasons and plots are: spreads that the records themselves speak for.

Around the likeliest vector the likelihood is taken as a normal, so that the evidence for any spread
of the prior follows without another run. A spread that rests on few seasons is itself hardly known:
a new season drawn with each draw's own spread strays further than one drawn with the likeliest, and
over the draws its effect has the heavy tails of Student's t.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from phenocast._typing import FloatArray
from phenocast.calibration.cultivar.likelihood import Scatter
from phenocast.calibration.cultivar.optimise import Point, prior_precision
from phenocast.calibration.cultivar.parameters import (
    CULTIVAR,
    PLOT_LEVEL,
    SEASON_LEVEL,
    SEASON_SHIFT,
    Layout,
)
from phenocast.parameters import (
    PLOT_LEVEL_SD,
    SEASON_LEVEL_SD,
    SEASON_SHIFT_SD,
    Parameter,
    even_shares,
)

if TYPE_CHECKING:
    from phenocast.calibration.cultivar.estimator import CultivarCalibrator

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
            evidence(layout, point, _with_spread(scatter, name, middle * float(factor)))
            - 0.5 * (np.log(factor) / SPREAD_LOG_SD) ** 2
            for factor in _FACTORS
        ]
        scatter = _with_spread(scatter, name, middle * float(_FACTORS[int(np.argmax(found))]))
    names = {one.name: 0 for one in layout.entries if one.group == CULTIVAR}
    for one in layout.entries:
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


def _with_spread(scatter: Scatter, name: str, value: float) -> Scatter:
    changed: dict[str, Any] = {name: value}
    return replace(scatter, **changed)


# Name in a parameter file, name in the scatter of a fit, group of the effects, unit.
_SPREADS = (
    (SEASON_SHIFT_SD, "season_shift", SEASON_SHIFT, "d"),
    (SEASON_LEVEL_SD, "season_level", SEASON_LEVEL, "1"),
    (PLOT_LEVEL_SD, "plot_level", PLOT_LEVEL, "1"),
)
_GRID = np.linspace(-3.0, 3.0, 61)
"""Logarithm of a spread about where its search began: four prior deviations to either side."""
_FEWEST = 2
"""Seasons, or blocks, from which a spread between them can be told at all."""


@dataclass(frozen=True)
class Spread:
    """One spread, and how well the records tell it.

    Parameters
    ----------
    name : str
        As a parameter file names it.
    unit : str
    values, weights : array ``[grid]``
        The spread, and how likely each is after the records; the weights sum to 1.
    units : int
        Seasons, or blocks of a season, that it was estimated from.
    told : bool
        Whether there were enough of them; otherwise this is what was believed before.
    """

    name: str
    unit: str
    values: FloatArray
    weights: FloatArray
    units: int
    told: bool

    def quantile(self, share: float | Sequence[float] | FloatArray) -> FloatArray:
        """Return the spread that is not exceeded with a probability."""
        upto = np.cumsum(self.weights) - 0.5 * self.weights
        found = np.exp(np.interp(share, upto, np.log(self.values)))
        return np.asarray(np.clip(found, self.values[0], self.values[-1]))

    @property
    def between(self) -> str:
        """What it lies between: "block" or "season"."""
        return "block" if self.name == PLOT_LEVEL_SD else "season"

    @property
    def middle(self) -> float:
        """Median. [unit]"""
        return float(self.quantile(0.5))

    @property
    def sd(self) -> float:
        """Standard deviation. [unit]"""
        mean = float(self.weights @ self.values)
        return float(np.sqrt(self.weights @ (self.values - mean) ** 2))

    def draws(self, n: int, seed: int) -> FloatArray:
        """Draws, evenly, ``[n]``."""
        rng = np.random.default_rng([seed, *self.name.encode()])
        return self.quantile(even_shares(rng, n))


def fitted_spreads(fitted: CultivarCalibrator) -> tuple[Spread, ...]:
    """Return what a fit knows of each spread.

    Parameters
    ----------
    fitted : after its fit.

    Notes
    -----
    The evidence for a spread (`evidence`, numbers and effects
    integrated out) times the lognormal prior of the fit, the two other spreads held at their
    likeliest.
    """
    began, found = Scatter(), []
    for name, of_scatter, group, unit in _SPREADS:
        units = sum(one.group == group for one in fitted.layout_.entries)
        values = float(getattr(began, of_scatter)) * np.exp(_GRID)
        log_weight = -0.5 * (_GRID / SPREAD_LOG_SD) ** 2
        told = units >= _FEWEST
        if told:
            likely = []
            for value in values:
                changed: dict[str, Any] = {of_scatter: float(value)}
                trial = replace(fitted.scatter_, **changed)
                likely.append(evidence(fitted.layout_, fitted.point_, trial))
            log_weight = log_weight + np.array(likely)
        weights = np.exp(log_weight - log_weight.max())
        found.append(Spread(name, unit, values, weights / weights.sum(), units, told))
    return tuple(found)


def spread_parameters(
    spreads: Sequence[Spread], conditions: str, source: str
) -> dict[str, Parameter]:
    """Return the spreads with their birth certificates.

    Parameters
    ----------
    spreads : as `fitted_spreads` gives them.
    conditions : of the records.
    source : of a spread that records told; one that they did not is an assumption.
    """
    found = {}
    for one in spreads:
        of = f"{one.between}s"
        if one.told:
            basis, source_of = "fitted", source
            where = f"fit.json, scatter.spreads; from {one.units} {of}"
        else:
            basis, source_of = "assumed", "own_assumption"
            where = f"{one.units} of {of}: a spread between them cannot be told"
        found[one.name] = Parameter(
            value=one.middle, unit=one.unit, lower=float(one.values[0]),
            upper=float(one.values[-1]), sd=one.sd, basis=basis, conditions=conditions,
            source=source_of, where=where, read=True,
        )  # fmt: skip
    return found


def spreads_plain(spreads: Sequence[Spread]) -> list[dict[str, object]]:
    """Return the spreads for a document."""
    return [
        {
            "name": one.name,
            "unit": one.unit,
            "value": one.middle,
            "sd": one.sd,
            "interval_80": [float(end) for end in one.quantile([0.1, 0.9])],
            "units": one.units,
            "told_by_records": one.told,
        }
        for one in spreads
    ]
