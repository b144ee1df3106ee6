"""Cardinal temperatures and requirement of a one-event series, by the sum of warmth from a start.

The event comes when the sum of a temperature response since the start reaches a requirement. The
predicted date is interpolated inside the step, so that it moves smoothly with every parameter. Such
fits have many local optima: the search starts afresh from several seeds and says whether they
agreed. For each trial of the cardinal temperatures the requirement is profiled out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import optimize

from phenocast._typing import FloatArray
from phenocast.calibration.events.criteria import PROFILE_DROP, Criteria, information_criteria
from phenocast.thermal_time import heat_rate, prefix_sums, trapezoid, wang_engel

Cost = Callable[[FloatArray], float]
Bounds = Sequence[tuple[float, float]]

# Edges of the simplex of the first and of the second polish, in the unit of the numbers.
SIMPLEX = (0.5, 0.1)


@dataclass(frozen=True)
class Found:
    """Where one start ended: its seed, ``point`` ``[numbers]`` and cost."""

    seed: int
    point: FloatArray
    cost: float


def multistart(
    cost: Callable[[FloatArray], float],
    bounds: Bounds,
    seeds: Sequence[int],
    generations: int = 60,
) -> tuple[Found, ...]:
    """Search from several starts and polish each.

    Parameters
    ----------
    cost : callable
        Array ``[numbers]`` to a cost; finite everywhere, and high outside the bounds.
    bounds : pairs of lower and upper bound; numbers scaled so that a step of 0.1 to 0.5 is small.
    seeds : a seed per start, one or more.
    generations : most generations of a start.

    Returns
    -------
    tuple of Found, in the order of the seeds

    Notes
    -----
    Storn and Price (1997), J. Global Optim. 11:341-359; Nelder and Mead (1965), Comput. J.
    7:308-313, both as in scipy.

    Examples
    --------
    >>> ends = multistart(lambda x: float((x[0] - 1.0) ** 2), [(-5.0, 5.0)], (1, 2))
    >>> [round(float(end.point[0]), 3) for end in ends]
    [1.0, 1.0]
    """
    ends = []
    for seed in seeds:
        rough = optimize.differential_evolution(
            cost,
            optimize.Bounds(*np.transpose(bounds)),
            seed=seed,
            popsize=12,
            maxiter=generations,
            tol=1e-4,
            polish=False,
        )
        ends.append(Found(seed, *polish(cost, rough.x, bounds)))
    return tuple(ends)


def polish(cost: Cost, point: ArrayLike, bounds: Bounds) -> tuple[FloatArray, float]:
    """Nelder-Mead from a point, started again once because a flat simplex stops early.

    Parameters
    ----------
    cost, bounds : as for `multistart`.
    point : array ``[numbers]`` inside the bounds.

    Returns
    -------
    array ``[numbers]`` and its cost

    Examples
    --------
    >>> best, left = polish(lambda x: float(np.sum((x - 2.0) ** 2)), [0.0, 0.0], [(-5, 5)] * 2)
    >>> best.round(3).tolist(), round(left, 6)
    ([2.0, 2.0], 0.0)
    """
    best = np.asarray(point, float)
    for size in SIMPLEX:
        simplex = np.vstack([best, best + size * np.eye(best.size)])
        for row, (_, high) in zip(range(best.size), bounds, strict=True):
            if simplex[row + 1, row] > high:
                simplex[row + 1, row] -= 2.0 * size
        done = optimize.minimize(
            cost,
            best,
            method="Nelder-Mead",
            options={"initial_simplex": simplex, "xatol": 1e-4, "fatol": 1e-8, "maxiter": 400},
        )
        best = np.asarray(done.x, float)
    return best, float(cost(best))


# the parameters each response has; in degree-days all rise as t - base just above the base
RESPONSES: dict[str, tuple[str, ...]] = {
    "linear": ("base",),
    "plateau": ("base", "optimum"),
    "triangle": ("base", "optimum", "ceiling"),
    "wang_engel": ("base", "optimum", "ceiling"),
}
_LEAST_GAP_C = 0.5  # cardinal temperatures nearer than this are one temperature to any record
_GRID_C = 0.02  # responses are tabulated this finely while searching
_HUGE = 1e12
_LOOKS = (96, 24, 16, 8)  # requirements tried, each time between the neighbours of the best


@dataclass(frozen=True)
class Start:
    """One start of the search: its seed, where it ended, and the scatter it left [d]."""

    seed: int
    values: dict[str, float]
    sd_days: float


@dataclass(frozen=True)
class EventFit:
    """Outcome of a search.

    Parameters
    ----------
    values : dict
        Cardinal temperatures by name. [degC]
    requirement : float
        Sum at which the event comes. [degC d]
    sd_days : float
        Root mean square of predicted less observed. [d]
    criteria : Criteria
        Normal errors in days; parameters are the cardinals, the requirement and the scatter.
    starts : tuple of Start
        One per seed.
    starts_agree : bool
        Every start ended within 1 % and 0.02 d of the best scatter.
    at_bound : tuple of str
        Cardinals that ended on a bound of the search.
    evaluations : int
        Trials of the cardinals, over all starts.
    """

    values: dict[str, float]
    requirement: float
    sd_days: float
    criteria: Criteria
    starts: tuple[Start, ...]
    starts_agree: bool
    at_bound: tuple[str, ...]
    evaluations: int


@dataclass(frozen=True)
class Interval:
    """Interval of 95 % by profile likelihood; an end that is open stopped at the search bound."""

    low: float
    high: float
    open_low: bool
    open_high: bool


def daily_warmth(
    temperature_c: ArrayLike, response: str, values: Mapping[str, float]
) -> FloatArray:
    """Warmth that counts, in degrees above the base as far as the response lets them count.

    Parameters
    ----------
    temperature_c : temperatures, any shape. [degC]
    response : "linear", "plateau", "triangle" or "wang_engel".
    values : its cardinal temperatures by name. [degC]

    Returns
    -------
    Response (0 to 1 times optimum less base; unbounded for "linear"), same shape. [degC]

    Examples
    --------
    >>> daily_warmth([5.0, 15.0, 30.0], "plateau", {"base": 10.0, "optimum": 25.0}).tolist()
    [0.0, 5.0, 15.0]
    >>> daily_warmth([15.0, 32.5], "triangle", {"base": 10, "optimum": 25, "ceiling": 40}).tolist()
    [5.0, 7.5]
    """
    air, base = np.asarray(temperature_c, dtype=np.float64), values["base"]
    if response == "linear":
        return heat_rate(air, base)
    optimum = values["optimum"]
    if response == "plateau":
        return heat_rate(air, base, optimum, "horizontal")
    ceiling = values["ceiling"]
    if response == "triangle":
        return trapezoid(air, base, optimum, optimum, ceiling) * (optimum - base)
    return wang_engel(air, base, optimum, ceiling) * (optimum - base)


class EventProblem:
    """Temperatures and events prepared for many trials of the cardinal temperatures.

    Parameters
    ----------
    temperature_c : complete temperatures since the start, shape ``[m, n]``. [degC]
    event_day : events, inside the window, shape ``[m]``. [d]
    step_h : length of a step. [h]
    response : a key of `RESPONSES`.
    bounds : bounds of the search by name of the cardinal. [degC]

    Examples
    --------
    >>> problem = EventProblem([[8.0] * 20, [12.0] * 20], [15.0, 7.5], 24.0, "linear",
    ...                        {"base": (0.0, 10.0)})
    >>> problem.requirement([4.0])
    (60.0, 0.0)
    """

    def __init__(
        self,
        temperature_c: ArrayLike,
        event_day: ArrayLike,
        step_h: float,
        response: str,
        bounds: Mapping[str, tuple[float, float]],
    ) -> None:
        air, self.event = np.asarray(temperature_c, float), np.asarray(event_day, float)
        self.response, self.step_d = response, step_h / 24.0
        self.names = RESPONSES[response]
        self.bounds = [bounds[name] for name in self.names]
        self.rows, self.steps = air.shape
        first = np.floor(air.min() / _GRID_C) * _GRID_C
        self._grid = first + _GRID_C * np.arange(int((air.max() - first) / _GRID_C) + 3)
        place = (air - first) / _GRID_C
        self._cell = place.astype(np.int32)
        self._part = place - self._cell
        at = self.event / self.step_d
        self._event_cell = np.minimum(at.astype(np.intp), self.steps - 1)
        self._event_part = at - self._event_cell
        self._each = np.arange(self.rows)
        self.evaluations = 0

    def sums(self, point: ArrayLike) -> FloatArray:
        """Sums of warmth to the edge of every step, shape ``[m, n + 1]``. [degC d]"""
        values = dict(zip(self.names, np.asarray(point, float).tolist(), strict=True))
        table = daily_warmth(self._grid, self.response, values)
        low = table[self._cell]
        rate = low + self._part * (table[self._cell + 1] - low)
        return prefix_sums(rate, step=self.step_d)

    def days(self, sums: FloatArray, requirements: ArrayLike) -> FloatArray:
        """Day each row reaches some requirements; beyond the window, at its mean rate.

        A row that does not reach one must still pull the search the right way, so its date goes on
        rising; a fitted model answers NaN there. Shape ``[..., m]`` for requirements ``[...]``. [d]
        """
        need = np.asarray(requirements, dtype=np.float64)[..., None]
        step = np.stack([row[1:].searchsorted(need[..., 0]) for row in sums], axis=-1)
        step = np.minimum(step, self.steps - 1)
        before, after = sums[self._each, step], sums[self._each, step + 1]
        last, window = sums[:, -1], self.steps * self.step_d
        with np.errstate(divide="ignore", invalid="ignore"):
            inside = np.where(after > before, (need - before) / (after - before), 0.0)
        beyond = (need - last) / np.maximum(last, 1e-3) * window
        reached = (step + np.clip(inside, 0.0, 1.0)) * self.step_d
        late = window + np.minimum(beyond, 10.0 * window)
        return np.asarray(np.where(need <= last, reached, late))

    def requirement(self, point: ArrayLike) -> tuple[float, float]:
        """Requirement that fits best for these cardinals, and the squared days it leaves. [d2]

        Dates jump where cold days stand still, so that squared days have several hollows: the whole
        range in which some row would be early and another late is looked through, ever finer.
        """
        self.evaluations += 1
        sums = self.sums(point)
        low, high = sums[self._each, self._event_cell], sums[self._each, self._event_cell + 1]
        own = low + self._event_part * (high - low)
        first, last = float(own.min()), float(own.max())
        need, cost = float(own.mean()), np.inf
        for count in _LOOKS:
            tried = np.append(np.linspace(first, last, count), need)
            error = self.days(sums, tried) - self.event
            left = np.einsum("kr,kr->k", error, error)
            best = int(left.argmin())
            need, cost = float(tried[best]), float(left[best])
            reach = (last - first) / (count - 1)
            first, last = max(need - reach, 0.0), need + reach
        return need, cost

    def cost(self, point: ArrayLike) -> float:
        """Squared days left with the requirement profiled out; a wall where order is broken."""
        array = np.asarray(point, float)
        short = np.maximum(_LEAST_GAP_C - np.diff(array), 0.0).sum()
        if short > 0.0:
            return float(_HUGE * (1.0 + short))
        out = sum(
            max(low - x, 0.0, x - high) for x, (low, high) in zip(array, self.bounds, strict=True)
        )
        return float(_HUGE * (1.0 + out)) if out > 0.0 else self.requirement(array)[1]


def fit_event(problem: EventProblem, seeds: tuple[int, ...], generations: int = 60) -> EventFit:
    """Best cardinals and requirement over several starts of differential evolution, polished.

    Parameters
    ----------
    problem : prepared temperatures and events.
    seeds : a seed per start, one or more.
    generations : most generations of a start.

    Returns
    -------
    EventFit

    Notes
    -----
    Search and polish as `multistart`. Local search alone was found wanting for such models: Chuine,
    Cour and Rousseau (1998), Plant Cell Environ. 21:455-466.

    Examples
    --------
    >>> air = np.repeat([[8.0], [10.0], [12.0], [16.0]], 40, axis=1)
    >>> problem = EventProblem(air, [25.0, 100 / 6, 12.5, 100 / 12], 24.0, "linear",
    ...                        {"base": (0.0, 7.5)})
    >>> found = fit_event(problem, (1, 2))
    >>> round(found.values["base"], 2), round(found.requirement), found.starts_agree
    (4.0, 100, True)
    """
    before = problem.evaluations
    ends = multistart(problem.cost, problem.bounds, seeds, generations)
    lowest = min(ends, key=lambda end: end.cost)
    point, cost = lowest.point, lowest.cost
    scatter = [float(np.sqrt(end.cost / problem.rows)) for end in ends]
    sd = min(scatter)
    return EventFit(
        values=_named(problem, point),
        requirement=problem.requirement(point)[0],
        sd_days=sd,
        criteria=information_criteria(
            _log_likelihood(cost, problem.rows), len(problem.names) + 2, problem.rows
        ),
        starts=tuple(
            Start(end.seed, _named(problem, end.point), left)
            for end, left in zip(ends, scatter, strict=True)
        ),
        starts_agree=max(scatter) <= 1.01 * sd + 0.02,
        at_bound=tuple(
            name
            for name, x, (low, high) in zip(problem.names, point, problem.bounds, strict=True)
            if min(x - low, high - x) < 1e-3 * (high - low)
        ),
        evaluations=problem.evaluations - before,
    )


def profile_interval(problem: EventProblem, fit: EventFit, name: str) -> Interval:
    """Values of one cardinal that the records do not rule out, everything else fitted anew.

    Parameters
    ----------
    problem, fit : the problem and its fit.
    name : a cardinal of the response.

    Returns
    -------
    Interval

    Notes
    -----
    ``n ln(SSE / SSE_best)`` up to `PROFILE_DROP`; Raue et al. (2009), Bioinformatics 25:1923-1929.
    An open end says that the records cannot tell.

    Examples
    --------
    >>> air = np.repeat([[8.0], [10.0], [12.0], [16.0]], 40, axis=1)
    >>> problem = EventProblem(air, [25.5, 16.2, 12.9, 8.0], 24.0, "linear", {"base": (0.0, 7.5)})
    >>> found = profile_interval(problem, fit_event(problem, (1,)), "base")
    >>> found.low < 4.0 < found.high, found.open_low, found.open_high
    (True, False, False)
    """
    index = problem.names.index(name)
    best = np.array([fit.values[one] for one in problem.names])
    floor = max(problem.cost(best), 1e-12)
    low_bound, high_bound = problem.bounds[index]

    def rise(value: float, near: FloatArray) -> tuple[float, FloatArray]:
        point, cost = _with_held(problem, index, value, near)
        return problem.rows * float(np.log(max(cost, 1e-12) / floor)), point

    def end(bound: float) -> tuple[float, bool]:
        inner, near, outer = float(best[index]), best, bound
        for share in (0.01, 0.02, 0.05, 0.1, 0.2, 0.35, 0.5, 0.75, 1.0):
            outer = float(best[index]) + share * (bound - float(best[index]))
            height, point = rise(outer, near)
            if height > PROFILE_DROP:
                break
            inner, near = outer, point
        else:
            return bound, True
        for _ in range(12):
            middle = 0.5 * (inner + outer)
            height, point = rise(middle, near)
            if height > PROFILE_DROP:
                outer = middle
            else:
                inner, near = middle, point
        return 0.5 * (inner + outer), False

    low, open_low = end(low_bound)
    high, open_high = end(high_bound)
    return Interval(low, high, open_low, open_high)


def _with_held(
    problem: EventProblem, index: int, value: float, near: FloatArray
) -> tuple[FloatArray, float]:
    """Best point with one cardinal held; the others start near, moved apart where they must be."""
    point = near.copy()
    point[index] = value
    for i in range(index + 1, point.size):
        point[i] = max(point[i], point[i - 1] + 1.1 * _LEAST_GAP_C)
    for i in range(index - 1, -1, -1):
        point[i] = min(point[i], point[i + 1] - 1.1 * _LEAST_GAP_C)
    free = [i for i in range(point.size) if i != index]
    if not free:
        return point, problem.cost(point)

    def cost(rest: FloatArray) -> float:
        trial = point.copy()
        trial[free] = rest
        return problem.cost(trial)

    done = optimize.minimize(
        cost, point[free], method="Nelder-Mead", options={"xatol": 1e-3, "fatol": 1e-6}
    )
    point[free] = done.x
    return point, float(done.fun)


def _named(problem: EventProblem, point: FloatArray) -> dict[str, float]:
    return dict(zip(problem.names, np.asarray(point, float).tolist(), strict=True))


def _log_likelihood(cost: float, rows: int) -> float:
    # a perfect fit has no finite likelihood; a second of scatter stands for it
    variance = max(cost / rows, (1.0 / 86400.0) ** 2)
    return -0.5 * rows * (float(np.log(2.0 * np.pi * variance)) + cost / rows / variance)
