"""How well a fit knows the spread between seasons and between blocks, and draws of it.

A spread that rests on few seasons is itself hardly known. A new season drawn with each draw's own
spread therefore strays further than one drawn with the likeliest: over the draws its effect has the
heavy tails of Student's t.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from phenocast.calibration.cultivars import CultivarCalibrator
from phenocast.calibration.fit_numbers import PLOT_LEVEL, SEASON_LEVEL, SEASON_SHIFT
from phenocast.calibration.fit_pooling import SPREAD_LOG_SD, evidence
from phenocast.calibration.fit_scatter import Scatter
from phenocast.parameters import (
    PLOT_LEVEL_SD,
    SEASON_LEVEL_SD,
    SEASON_SHIFT_SD,
    Parameter,
    ParameterSet,
    even_shares,
)

FloatArray = NDArray[np.float64]

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
    The evidence for a spread (`phenocast.calibration.fit_pooling.evidence`, numbers and effects
    integrated out) times the lognormal prior of the fit, the two other spreads held at their
    likeliest.
    """
    began, found = Scatter(), []
    for name, of_scatter, group, unit in _SPREADS:
        units = sum(one.group == group for one in fitted.layout_.numbers)
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


def with_spreads(cultivar: ParameterSet, spreads: dict[str, Parameter]) -> ParameterSet:
    """Return a cultivar with the spreads of the field it grew in."""
    return replace(cultivar, parameters={**cultivar.parameters, **spreads})


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
