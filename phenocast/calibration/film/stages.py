"""Stages of a film fit, each with readings of its own, and how sure all of them together are.

Every stage is a bounded least-squares fit of a few parameters with a ridge to their priors; those
of the other stages stand still meanwhile. The stages are gone through in order until nothing
moves.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import least_squares

from phenocast._typing import FloatArray, IntArray
from phenocast.parameters import Parameter

PASSES = 12
# Passes end when nothing moved by more than this share of its prior spread.
STILL = 0.02
# Steps of the derivatives, in prior standard deviations.
STEP = 0.05
# Spread of a reading about the bed before any residual is known, and the least believed [degC].
FIRST_SD_C, LEAST_SD_C = 1.0, 0.05
# Residuals in a row that are alike count as fewer: variance times (1 + r) / (1 - r), r up to this.
MOST_ALIKE = 0.95
# Places of the search over a number that can have two answers.
GRID = 49
# Other places within this of the lowest cost are told too: they lie inside its 95 % region.
AS_GOOD = 4.0
# Distance from a bound, as a share of the range, within which a number is said to lie on it.
AT_BOUND = 0.001


@dataclass(frozen=True)
class Stage:
    """Readings that tell some numbers.

    Parameters
    ----------
    name : str
    names : tuple of str
        The numbers it fits.
    observed : array of float64, shape [k]
        Readings. [degC]
    sensor, hours : arrays of int, shape [k]
        Which sensor, and the place of the hour in the weather.
    predicted : callable
        Values by name to what the readings should be, shape [k]. [degC]
    depends : tuple of str, optional
        The only numbers that its prediction depends on; None for all.
    branched : bool
        Whether its one number may fit equally well at two places (a wet and a dry soil can damp
        alike). It is then searched over its whole range, and its spread is that of all places that
        fit, not of the curvature at the best one.
    """

    name: str
    names: tuple[str, ...]
    observed: FloatArray
    sensor: IntArray
    hours: IntArray
    predicted: Callable[[Mapping[str, float]], FloatArray]
    depends: tuple[str, ...] | None = None
    branched: bool = False


@dataclass(frozen=True)
class Search:
    """Cost of one number over its whole range: minus two log posterior, up to a constant.

    Parameters
    ----------
    places, costs : arrays of float64, shape [g]
    """

    places: FloatArray
    costs: FloatArray

    def sd(self, function: Callable[[float], float], best: float) -> float:
        """Root mean square distance of a function of the number from its value at the best place.

        Examples
        --------
        >>> search = Search(np.array([0.1, 0.2, 0.3]), np.array([0.0, 90.0, 0.0]))
        >>> round(search.sd(lambda place: place, 0.1), 3)
        0.141
        """
        share = np.exp(-0.5 * (self.costs - self.costs.min()))
        share /= share.sum()
        apart = np.array([function(place) - function(best) for place in self.places.tolist()])
        return float(np.sqrt(share @ apart**2))

    def others(self, best: float) -> tuple[float, ...]:
        """Other places that fit about as well as the best one.

        Examples
        --------
        >>> Search(np.array([0.1, 0.2, 0.3]), np.array([0.0, 90.0, 1.0])).others(0.1)
        (0.3,)
        """
        padded = np.concatenate(([np.inf], self.costs, [np.inf]))
        low = (padded[1:-1] <= padded[:-2]) & (padded[1:-1] <= padded[2:])
        good = low & (self.costs - self.costs.min() < AS_GOOD)
        step = self.places[1] - self.places[0]
        far = np.abs(self.places - best) > 1.5 * step
        return tuple(float(place) for place in self.places[good & far])


@dataclass(frozen=True)
class Fitted:
    """Result of all stages.

    Parameters
    ----------
    values : dict of str to float
        Fitted and unfitted numbers.
    names : tuple of str
        Order of the covariance: those fitted first, then those held that have a spread.
    covariance : array of float64
        In the units of the numbers.
    at_bound : dict of str to float
        Fitted numbers that lie on a bound, and the bound.
    passes : int
    converged : bool
        Whether the last pass moved nothing.
    searched : dict of str to Search
        Costs over the whole range, of numbers that can fit equally well at two places.
    """

    values: dict[str, float]
    names: tuple[str, ...]
    covariance: FloatArray
    at_bound: dict[str, float]
    passes: int
    converged: bool
    searched: Mapping[str, Search] = field(default_factory=dict)

    def sd(self, name: str) -> float:
        """Return the standard deviation of one number, in its unit."""
        at = self.names.index(name)
        return float(np.sqrt(self.covariance[at, at]))

    def sd_of(self, function: Callable[[Mapping[str, float]], float]) -> float:
        """Return the standard deviation of a function of the numbers, to first order."""
        spread = {name: max(self.sd(name), 1e-12) for name in self.names}
        slope = np.array(
            [
                (
                    function({**self.values, name: self.values[name] + STEP * sd})
                    - function({**self.values, name: self.values[name] - STEP * sd})
                )
                / (2.0 * STEP * sd)
                for name, sd in spread.items()
            ]
        )
        return float(np.sqrt(slope @ self.covariance @ slope))


def fit_stages(
    stages: tuple[Stage, ...],
    priors: Mapping[str, Parameter],
    bounds: Mapping[str, tuple[float, float]],
) -> Fitted:
    """Fit all stages in order, again and again until nothing moves.

    Parameters
    ----------
    stages : tuple of Stage
        No number stands in two of them.
    priors : mapping of str to Parameter
        Of every number that is not known for certain: centre and spread.
    bounds : mapping of str to (float, float)
        Of the fitted numbers.

    Returns
    -------
    Fitted
        Its covariance is that of stagewise estimating equations (A^-1 B A^-T): a number knows of
        the spread of those of other stages and of those held. Residuals in a row that are alike
        count as fewer than they are; stages are taken as independent of each other.

    Examples
    --------
    >>> p = Parameter(1.0, "1", 0.0, 9.0, 5.0, "assumed", "", "own", "", False)
    >>> stage = Stage("line", ("slope",), np.array([2.0, 4.1, 5.9, 8.0]), np.zeros(4, int),
    ...               np.arange(4), lambda v: v["slope"] * np.array([1.0, 2.0, 3.0, 4.0]))
    >>> round(fit_stages((stage,), {"slope": p}, {"slope": (0.0, 9.0)}).values["slope"], 2)
    2.0
    """
    values = {name: parameter.value for name, parameter in priors.items()}
    for name, (lower, upper) in bounds.items():
        values[name] = float(np.clip(values[name], lower, upper))
    weights = [np.full(stage.observed.size, FIRST_SD_C**-2) for stage in stages]
    passes, moved = 0, np.inf
    # First under equal weights: those made of the residuals of a start that is far off would hold
    # the numbers near the prior.
    for weighing in (False, True):
        moved, own = np.inf, 0
        while own < PASSES and moved > STILL:
            before = dict(values)
            for at, stage in enumerate(stages):
                if weighing:
                    weights[at], _ = _weights(stage, stage.observed - stage.predicted(values))
                if stage.branched:
                    places, costs = _search(stage, values, weights[at], priors, bounds)
                    values[stage.names[0]] = float(places[np.argmin(costs)])
                _solve(stage, values, weights[at], priors, bounds)
            moved = max((abs(values[n] - before[n]) / priors[n].sd for n in bounds), default=0.0)
            own += 1
        passes += own
    searched = {
        stage.names[0]: Search(*_search(stage, values, weights[at], priors, bounds))
        for at, stage in enumerate(stages)
        if stage.branched
    }
    fitted = tuple(name for stage in stages for name in stage.names)
    names = fitted + tuple(name for name in priors if name not in fitted)
    at_bound = {}
    for name in fitted:
        near = AT_BOUND * (bounds[name][1] - bounds[name][0])
        for bound in bounds[name]:
            if abs(values[name] - bound) <= near:
                at_bound[name] = bound
    covariance = _covariance(stages, weights, values, priors, names, searched)
    return Fitted(values, names, covariance, at_bound, passes, moved <= STILL, searched)


def _solve(
    stage: Stage,
    values: dict[str, float],
    weights: FloatArray,
    priors: Mapping[str, Parameter],
    bounds: Mapping[str, tuple[float, float]],
) -> None:
    """Fit the numbers of one stage, in prior standard deviations from the prior's centre."""
    centre = np.array([priors[name].value for name in stage.names])
    spread = np.array([priors[name].sd for name in stage.names])
    root = np.sqrt(weights)

    def moved(z: FloatArray) -> dict[str, float]:
        return {**values, **dict(zip(stage.names, (centre + spread * z).tolist(), strict=True))}

    def gaps(z: FloatArray) -> FloatArray:
        return np.concatenate([root * (stage.predicted(moved(z)) - stage.observed), z])

    def slopes(z: FloatArray) -> FloatArray:
        at = moved(z)
        data = _slopes(stage, at, stage.names, priors)
        return np.vstack([root[:, None] * data, np.eye(z.size)])

    low, high = (
        (np.array([bounds[name][end] for name in stage.names]) - centre) / spread for end in (0, 1)
    )
    start = (np.array([values[name] for name in stage.names]) - centre) / spread
    found = least_squares(gaps, np.clip(start, low, high), jac=slopes, bounds=(low, high))
    values.update(moved(np.clip(found.x, low, high)))


def _search(
    stage: Stage,
    values: Mapping[str, float],
    weights: FloatArray,
    priors: Mapping[str, Parameter],
    bounds: Mapping[str, tuple[float, float]],
) -> tuple[FloatArray, FloatArray]:
    """Places over the range of the one number of a stage, and the cost at each."""
    (name,) = stage.names
    prior = priors[name]
    places = np.linspace(*bounds[name], GRID)
    costs = np.empty(GRID)
    for at, place in enumerate(places.tolist()):
        gaps = stage.predicted({**values, name: place}) - stage.observed
        costs[at] = float(weights @ gaps**2) + ((place - prior.value) / prior.sd) ** 2
    return places, costs


def _slopes(
    stage: Stage,
    values: Mapping[str, float],
    names: tuple[str, ...],
    priors: Mapping[str, Parameter],
) -> FloatArray:
    """Derivatives of a stage's prediction per prior standard deviation, shape [k, p]."""
    out = np.zeros((stage.observed.size, len(names)))
    for at, name in enumerate(names):
        if stage.depends is not None and name not in stage.depends:
            continue
        step = STEP * priors[name].sd
        up = stage.predicted({**values, name: values[name] + step})
        down = stage.predicted({**values, name: values[name] - step})
        out[:, at] = (up - down) / (2.0 * STEP)
    return out


def _weights(stage: Stage, residuals: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Weight of every reading, one over its mean square residual, and how many it stands for.

    The second is the factor by which residuals in a row that are alike widen the spread. It is no
    part of the weight: a model that cannot follow the readings would then follow its prior.
    """
    weight, alike_factor = np.empty(residuals.size), np.empty(residuals.size)
    for sensor in np.unique(stage.sensor):
        own = np.flatnonzero(stage.sensor == sensor)
        own = own[np.argsort(stage.hours[own], kind="stable")]
        errors = residuals[own]
        mean_square = float(np.mean(errors**2))
        pairs = np.diff(stage.hours[own]) == 1
        alike = 0.0
        if pairs.any() and mean_square > 0.0:
            alike = float(np.mean(errors[:-1][pairs] * errors[1:][pairs])) / mean_square
        alike = min(max(alike, 0.0), MOST_ALIKE)
        weight[own] = 1.0 / max(mean_square, LEAST_SD_C**2)
        alike_factor[own] = (1.0 + alike) / (1.0 - alike)
    return weight, alike_factor


def _covariance(
    stages: tuple[Stage, ...],
    weights: list[FloatArray],
    values: Mapping[str, float],
    priors: Mapping[str, Parameter],
    names: tuple[str, ...],
    searched: Mapping[str, Search],
) -> FloatArray:
    """Covariance of all numbers, in their units."""
    A = np.eye(len(names))
    B = np.eye(len(names))
    for stage, weight in zip(stages, weights, strict=True):
        slope = _slopes(stage, values, names, priors)
        own = [names.index(name) for name in stage.names]
        _, alike = _weights(stage, stage.observed - stage.predicted(values))
        A[own] += (slope[:, own] * weight[:, None]).T @ slope
        B[np.ix_(own, own)] += (slope[:, own] * (weight * alike)[:, None]).T @ slope[:, own]
    for name, search in searched.items():
        # The row of such a number in A holds its own place only: nothing else moves its readings.
        at, spread_all = names.index(name), search.sd(lambda place: place, values[name])
        B[at, at] = max(B[at, at], (A[at, at] * spread_all / priors[name].sd) ** 2)
    inverse = np.linalg.inv(A)
    spread = np.array([priors[name].sd for name in names])
    return np.asarray(inverse @ B @ inverse.T * np.outer(spread, spread), dtype=np.float64)
