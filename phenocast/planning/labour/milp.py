"""A linear or integer program by named groups of rows, and a few seasons that stand for many.

HiGHS solves the program, through scipy. The groups carry the names that a user would give the rules
of a plan, so that an infeasible program can say which rule stands in the way.

The seasons kept are real draws of the forecast, never means of several. They are found by
partitioning around medoids (Kaufman and Rousseeuw 1990) with the swap step that prices all medoids
at once for each candidate (Schubert and Rousseeuw 2019); distances are Euclidean over weeks.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array
from scipy.spatial.distance import cdist

from phenocast._typing import FloatArray, IntArray
from phenocast.errors import Fault, NoAnswerError, refuse

_OPTIMAL, _LIMIT, _INFEASIBLE = 0, 1, 2


@dataclass(frozen=True)
class Solution:
    """What the solver found.

    ``values`` of every variable; ``objective`` and ``bound``, the best that could still exist;
    ``gap`` between them as a share of the objective; ``proven`` where the gap asked for was met.
    """

    values: FloatArray
    objective: float
    bound: float
    gap: float
    proven: bool


@dataclass
class Program:
    """Minimise cost over variables within bounds, subject to named groups of rows.

    Examples
    --------
    >>> p = Program()
    >>> x = p.variables(2, cost=[1.0, 2.0], upper=3.0)
    >>> p.rows("demand", [(x[:1], 1.0), (x[1:], 1.0)], lower=4.0)
    >>> p.solve().values.round(6), p.solve().objective
    (array([3., 1.]), 5.0)
    """

    _cost: list[FloatArray] = field(default_factory=list)
    _lower: list[FloatArray] = field(default_factory=list)
    _upper: list[FloatArray] = field(default_factory=list)
    _whole: list[FloatArray] = field(default_factory=list)
    _groups: list[str] = field(default_factory=list)
    _given: set[str] = field(default_factory=set)
    _entries: list[tuple[Any, ...]] = field(default_factory=list)
    _row_lower: list[FloatArray] = field(default_factory=list)
    _row_upper: list[FloatArray] = field(default_factory=list)
    _row_group: list[IntArray] = field(default_factory=list)
    n_variables: int = 0
    n_rows: int = 0

    def variables(
        self,
        shape: int | tuple[int, ...],
        *,
        cost: ArrayLike = 0.0,
        lower: ArrayLike = 0.0,
        upper: ArrayLike = np.inf,
        whole: bool = False,
    ) -> IntArray:
        """Add variables and return their numbers in ``shape``; the rest broadcasts to it."""
        numbers = np.arange(int(np.prod(shape)), dtype=np.int64).reshape(shape) + self.n_variables
        for held, given in ((self._cost, cost), (self._lower, lower), (self._upper, upper),
                            (self._whole, float(whole))):  # fmt: skip
            wide = np.broadcast_to(np.asarray(given, dtype=np.float64), numbers.shape)
            held.append(wide.ravel())
        self.n_variables += numbers.size
        return numbers

    def rows(
        self,
        group: str,
        terms: Sequence[tuple[IntArray, ArrayLike]],
        *,
        lower: ArrayLike = -np.inf,
        upper: ArrayLike = np.inf,
        given: bool = False,
    ) -> None:
        """Add one row for each element of the terms' variables: lower <= sum of terms <= upper.

        Parameters
        ----------
        group : str
            What the rows mean, in the user's words.
        terms : list of (variables, coefficients)
            Variables in arrays that broadcast to one shape, the shape of the rows.
        lower, upper : arrays that broadcast to that shape
        given : bool
            Whether the rows hold by nature and not by a rule that could be loosened, so that they
            are not named where the program is infeasible.
        """
        shape = np.broadcast_shapes(*(np.shape(v) for v, _ in terms), np.shape(lower),
                                    np.shape(upper))  # fmt: skip
        rows = np.arange(int(np.prod(shape)), dtype=np.int64).reshape(shape) + self.n_rows
        self._add(group, [(rows, *term) for term in terms], lower, upper, shape)
        if given:
            self._given.add(group)

    def total(
        self, group: str, terms: Sequence[tuple[IntArray, ArrayLike]], *,
        lower: float = -np.inf, upper: float = np.inf,
    ) -> None:  # fmt: skip
        """Add one row that sums all variables of all terms."""
        row = np.array([self.n_rows])
        self._add(group, [(row, *term) for term in terms], lower, upper, (1,))

    def _add(
        self, group: str, terms: Sequence[tuple[IntArray, IntArray, ArrayLike]], lower: ArrayLike,
        upper: ArrayLike, shape: tuple[int, ...],
    ) -> None:  # fmt: skip
        """Add rows of a group; each term tells row, variable and weight of its entries."""
        for row, variables, coefficient in terms:
            entries = np.broadcast_arrays(row, variables, np.asarray(coefficient, float))
            self._entries.append(tuple(one.ravel() for one in entries))
        for held, bound in ((self._row_lower, lower), (self._row_upper, upper)):
            held.append(np.broadcast_to(np.asarray(bound, float), shape).ravel())
        if group not in self._groups:
            self._groups.append(group)
        size = int(np.prod(shape))
        self._row_group.append(np.full(size, self._groups.index(group), dtype=np.int64))
        self.n_rows += size

    def cost_vector(self) -> FloatArray:
        """Return the cost of every variable."""
        return np.concatenate(self._cost)

    def matrix(self) -> csr_array:
        """Return the coefficients, ``[rows, variables]``."""
        rows, columns, weights = (np.concatenate(part) for part in zip(*self._entries, strict=True))
        return csr_array((weights, (rows, columns)), shape=(self.n_rows, self.n_variables))

    def row_bounds(self) -> tuple[FloatArray, FloatArray]:
        """Return the lower and upper bound of every row."""
        return np.concatenate(self._row_lower), np.concatenate(self._row_upper)

    def solve(
        self, *, time_limit_s: float = 60.0, gap: float = 1e-4, relaxed: bool = False
    ) -> Solution:
        """Solve to the relative gap asked for, or as far as the time allows.

        Parameters
        ----------
        time_limit_s : float
            [s]
        gap : float
            Relative gap at which the solver may stop.
        relaxed : bool
            Whether whole numbers may be fractions.

        Raises
        ------
        NoAnswerError
            Where the rows contradict each other (the groups that do are named), or the time ended
            before any solution was found.
        """
        found = self._run(None, time_limit_s, gap, relaxed)
        if found.x is None:
            if found.status == _INFEASIBLE:
                raise NoAnswerError(self._blame(time_limit_s))
            raise NoAnswerError(
                Fault("the solver ended without a plan", value=found.message,
                      do="give more time, fewer scenarios or wider limits")
            )  # fmt: skip
        objective = float(found.fun)
        bound = getattr(found, "mip_dual_bound", None)
        bound = objective if bound is None else float(bound)
        reached = abs(objective - bound) / max(abs(objective), 1e-9)
        proven = found.status == _OPTIMAL
        return Solution(np.asarray(found.x), objective, bound, reached, proven)

    def _run(self, without: set[int] | None, time_limit_s: float, gap: float, relaxed: bool) -> Any:
        low, high = self.row_bounds()
        if without:
            free = np.isin(np.concatenate(self._row_group), list(without))
            low, high = np.where(free, -np.inf, low), np.where(free, np.inf, high)
        whole = np.concatenate(self._whole)
        return milp(
            self.cost_vector(),
            constraints=LinearConstraint(self.matrix(), low, high),
            bounds=Bounds(np.concatenate(self._lower), np.concatenate(self._upper)),
            integrality=(whole * (not relaxed)).astype(np.int64),
            options={"time_limit": time_limit_s, "mip_rel_gap": gap, "disp": False},
        )

    def _blame(self, time_limit_s: float) -> list[Fault]:
        """Return the rules of which any one, left out, would make the program feasible."""
        rules = [(n, name) for n, name in enumerate(self._groups) if name not in self._given]
        alone = [
            name
            for number, name in rules
            if self._run({number}, time_limit_s, 1.0, False).x is not None
        ]
        if len(alone) == 1:
            return [Fault(f"no plan can keep this rule together with the others: {alone[0]}",
                          do="loosen it")]  # fmt: skip
        if alone:
            return [
                Fault(f"no plan can keep all rules; without this one there would be a plan: {name}",
                      do="loosen it, or another one named here")
                for name in alone
            ]  # fmt: skip
        return [
            Fault("no plan can keep these rules, and leaving out one alone does not help",
                  value="; ".join(name for _, name in rules), do="loosen several of them")
        ]  # fmt: skip


LARGEST_SEARCH = 2000
"""Seasons among which medoids are searched; the rest are still assigned, weighed and measured."""


@dataclass(frozen=True)
class Reduction:
    """The kept seasons and what was lost by keeping no more.

    Parameters
    ----------
    kept : array of int [k]
        Numbers of the kept seasons, rising.
    probabilities : array [k]
        Share of all seasons that each stands for.
    distance_share : float
        Mean distance of a season to the one that stands for it, as a share of the mean distance
        between the season and the mean season: 0 is perfect, 1 is no better than one mean season.
    mean_error, p90_error : float
        Largest error of any week's mean and 90 % quantile, as a share of the busiest week's.
    """

    kept: IntArray
    probabilities: FloatArray
    distance_share: float
    mean_error: float
    p90_error: float


def reduce_seasons(seasons: FloatArray, k: int) -> Reduction:
    """Return ``k`` seasons that stand for all.

    Parameters
    ----------
    seasons : array [n, weeks]
    k : int
        How many to keep, 1 or more; all of them where ``k`` is not below ``n``.

    Raises
    ------
    InputError
        Where there is no season, a value is not finite, or ``k`` is below 1.

    Examples
    --------
    >>> found = reduce_seasons(np.array([[1.0], [1.1], [5.0], [5.2], [5.1]]), 2)
    >>> found.kept, found.probabilities
    (array([0, 4]), array([0.4, 0.6]))
    """
    seasons = np.asarray(seasons, dtype=np.float64)
    refuse(
        (
            seasons.ndim != 2 or len(seasons) == 0,
            Fault("no seasons to reduce", value=seasons.shape, allowed="[n, weeks]"),
        ),
        (not np.all(np.isfinite(seasons)), Fault("a season holds what is not a number")),
        (k < 1, Fault("too few seasons to keep", value=k, allowed="1 or more")),
    )
    n = len(seasons)
    if k >= n:
        return Reduction(np.arange(n), np.full(n, 1.0 / n), 0.0, 0.0, 0.0)
    # Evenly spaced numbers keep every future's share of the search.
    searched = np.unique(np.linspace(0, n - 1, min(n, LARGEST_SEARCH)).round().astype(np.int64))
    kept = np.sort(searched[_medoids(cdist(seasons[searched], seasons[searched]), k)])
    distance = cdist(seasons, seasons[kept])
    nearest = distance.argmin(axis=1)
    shares = np.bincount(nearest, minlength=k) / n
    return Reduction(kept, shares, *_errors(seasons, kept, shares, distance.min(axis=1)))


def _medoids(distance: FloatArray, k: int) -> IntArray:
    """Return the columns of a square distance matrix that stand for all rows best."""
    chosen = [int(distance.sum(axis=1).argmin())]
    near = distance[chosen[0]].copy()
    while len(chosen) < k:
        gain = np.maximum(near[:, None] - distance, 0.0).sum(axis=0)
        gain[chosen] = -1.0
        chosen.append(int(gain.argmax()))
        near = np.minimum(near, distance[chosen[-1]])
    medoids = np.array(chosen, dtype=np.int64)
    if k == 1:
        return medoids
    while True:
        improved = False
        owner, first, second = _two_nearest(distance, medoids)
        leaving = np.bincount(owner, weights=second - first, minlength=k)
        for candidate in range(len(distance)):
            if candidate in medoids:
                continue
            d = distance[candidate]
            closer = d < first
            shared = float((d - first)[closer].sum())
            own = np.where(closer, first - second, np.minimum(d - second, 0.0))
            change = leaving + np.bincount(owner, weights=own, minlength=k) + shared
            best = int(change.argmin())
            if change[best] < -1e-9 * max(first.sum(), 1e-300):
                medoids[best] = candidate
                owner, first, second = _two_nearest(distance, medoids)
                leaving = np.bincount(owner, weights=second - first, minlength=k)
                improved = True
        if not improved:
            return medoids


def _two_nearest(
    distance: FloatArray, medoids: IntArray
) -> tuple[IntArray, FloatArray, FloatArray]:
    block = distance[:, medoids]
    two = np.argpartition(block, 1, axis=1)[:, :2]
    values = np.take_along_axis(block, two, axis=1)
    swap = values[:, 0] > values[:, 1]
    owner = np.where(swap, two[:, 1], two[:, 0])
    return owner, values.min(axis=1), values.max(axis=1)


def _errors(
    seasons: FloatArray, kept: IntArray, shares: FloatArray, distance: FloatArray
) -> tuple[float, float, float]:
    mean = seasons.mean(axis=0)
    spread = float(np.linalg.norm(seasons - mean, axis=1).mean())
    busiest = float(mean.max()) or 1.0
    mean_error = float(np.abs(shares @ seasons[kept] - mean).max()) / busiest
    p90 = np.quantile(seasons, 0.9, axis=0)
    kept_p90 = weighted_quantile(seasons[kept], shares, 0.9)
    p90_error = float(np.abs(kept_p90 - p90).max()) / (float(p90.max()) or 1.0)
    return float(distance.mean()) / spread if spread > 0.0 else 0.0, mean_error, p90_error


def weighted_quantile(values: FloatArray, shares: FloatArray, level: float) -> FloatArray:
    """Return the least value that a share ``level`` of the seasons does not exceed, per column.

    Parameters
    ----------
    values : array [n, ...]
    shares : array [n]
        Adding up to 1.
    level : float

    Examples
    --------
    >>> weighted_quantile(np.array([[1.0], [2.0], [9.0]]), np.array([0.5, 0.4, 0.1]), 0.9)
    array([2.])
    """
    order = np.argsort(values, axis=0)
    ranked = np.take_along_axis(values, order, axis=0)
    below = np.cumsum(shares[order], axis=0)
    at = np.argmax(below >= level - 1e-12, axis=0)
    return np.asarray(np.take_along_axis(ranked, at[None], axis=0)[0])
