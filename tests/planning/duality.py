"""The relaxed program of a plan and its dual, which must agree."""

from __future__ import annotations

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import csr_array, vstack

from phenocast.planning.labour.milp import Program


def dual_bound(program: Program) -> tuple[float, float]:
    """Return the value of the relaxed program and that of its dual, from the multipliers.

    Equal at the optimum (strong duality); a difference means that the solver or the program
    is at fault.
    """
    low, high = program.row_bounds()
    matrix = program.matrix()
    equal = low == high
    above, below = np.isfinite(low) & ~equal, np.isfinite(high) & ~equal
    left = csr_array(vstack([matrix[below], -matrix[above]]))
    right = np.concatenate([high[below], -low[above]])
    lower, upper = np.concatenate(program._lower), np.concatenate(program._upper)
    found = linprog(
        program.cost_vector(), A_ub=left if len(right) else None,
        b_ub=right if len(right) else None, A_eq=matrix[equal] if equal.any() else None,
        b_eq=low[equal] if equal.any() else None,
        bounds=np.column_stack([lower, upper]), method="highs",
    )  # fmt: skip
    assert found.x is not None, found.message
    dual = float(np.dot(found.ineqlin.marginals, right)) if len(right) else 0.0
    dual += float(np.dot(found.eqlin.marginals, low[equal])) if equal.any() else 0.0
    for side, multipliers in ((lower, found.lower.marginals), (upper, found.upper.marginals)):
        finite = np.isfinite(side)
        dual += float(np.dot(side[finite], multipliers[finite]))
    return float(found.fun), dual
