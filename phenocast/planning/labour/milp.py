"""A linear or integer program built by named groups of rows, solved by HiGHS through scipy.

The groups carry the names that a user would give the rules of a plan, so that an infeasible
program can say which rule stands in the way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

from phenocast._typing import FloatArray, IntArray
from phenocast.errors import Fault, NoAnswerError

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
    _entries: list[tuple[IntArray, IntArray, FloatArray]] = field(default_factory=list)
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
        size = int(np.prod(shape))
        rows = np.arange(size, dtype=np.int64) + self.n_rows
        for variables, coefficient in terms:
            columns = np.broadcast_to(variables, shape).ravel()
            weights = np.broadcast_to(np.asarray(coefficient, dtype=np.float64), shape).ravel()
            self._entries.append((rows, columns, weights))
        self._row_lower.append(np.broadcast_to(np.asarray(lower, float), shape).ravel())
        self._row_upper.append(np.broadcast_to(np.asarray(upper, float), shape).ravel())
        if given:
            self._given.add(group)
        if group not in self._groups:
            self._groups.append(group)
        self._row_group.append(np.full(size, self._groups.index(group), dtype=np.int64))
        self.n_rows += size

    def total(
        self, group: str, terms: Sequence[tuple[IntArray, ArrayLike]], *,
        lower: float = -np.inf, upper: float = np.inf,
    ) -> None:  # fmt: skip
        """Add one row: lower <= sum over all elements of all terms <= upper."""
        for variables, coefficient in terms:
            columns = np.ravel(variables)
            weights = np.broadcast_to(np.asarray(coefficient, float), np.shape(variables)).ravel()
            self._entries.append((np.full(columns.size, self.n_rows), columns, weights))
        self._row_lower.append(np.array([lower]))
        self._row_upper.append(np.array([upper]))
        if group not in self._groups:
            self._groups.append(group)
        self._row_group.append(np.array([self._groups.index(group)]))
        self.n_rows += 1

    def cost_vector(self) -> FloatArray:
        """Return the cost of every variable."""
        return np.concatenate(self._cost)

    def matrix(self) -> csr_array:
        """Return the coefficients, ``[rows, variables]``."""
        rows = np.concatenate([r for r, _, _ in self._entries])
        columns = np.concatenate([c for _, c, _ in self._entries])
        weights = np.concatenate([w for _, _, w in self._entries])
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
