"""Forward selection of groups of parameters: by BIC and by seasons left out.

The first step keeps the shipped parameters and only lets seasons and plots differ. Each further
step frees a group, which is kept only where BIC falls and the cross-validated loss does not rise.
What a step found is kept in a checkpoint, so that a fit that was cut off goes on where it ended.
"""

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from phenocast._typing import FloatArray, IntArray
from phenocast.calibration.cultivar.likelihood import Scatter, estimated_scatter
from phenocast.calibration.cultivar.model import DATES, KINDS
from phenocast.calibration.cultivar.optimise import (
    Problem,
    covariance,
    marginal_log_likelihood,
    search,
    search_softly,
)
from phenocast.calibration.cultivar.parameters import (
    AT_PLANTING,
    CULTIVAR,
    CUT_OFF,
    HEAT,
    SIZE,
    SUPPLY,
    TIMING,
    TRANSPLANT,
)
from phenocast.calibration.cultivar.pooling import estimated_spreads


class Checkpoint:
    """What each step found, by its name; a step that is in it is not done again.

    A step gives a mapping of plain values (numbers, texts, lists), so that a file can keep it.
    Steps must be the same for the same input: then a fit that was cut off ends as one that was not.

    Parameters
    ----------
    found : mapping, optional
        Steps of an earlier run.
    keep : callable, optional
        Called with the name and the outcome of each step when it is done.

    Examples
    --------
    >>> checkpoint = Checkpoint({"first": {"sum": 3.0}})
    >>> checkpoint.step("first", lambda: {"sum": -1.0})
    {'sum': 3.0}
    >>> checkpoint.step("second", lambda: {"sum": 4.0})
    {'sum': 4.0}
    >>> sorted(checkpoint.found)
    ['first', 'second']
    """

    def __init__(
        self,
        found: dict[str, dict[str, Any]] | None = None,
        keep: Callable[[str, dict[str, Any]], None] | None = None,
    ) -> None:
        self.found = dict(found or {})
        self._keep = keep

    def step(self, name: str, work: Callable[[], dict[str, Any]]) -> dict[str, Any]:
        """Outcome of a step: as it was kept, or by doing the work."""
        if name not in self.found:
            self.found[name] = work()
            if self._keep is not None:
                self._keep(name, self.found[name])
        return self.found[name]


STEPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("shipped numbers", ()),
    ("requirement sums and state at planting", (*TIMING, *AT_PLANTING)),
    ("size and supply", (*SUPPLY, *SIZE)),
    ("one heat sensitivity for each cultivar", HEAT),
    ("the cut-off of induction", CUT_OFF),
)
ROUNDS = 2
"""Rounds of search and of spreads for a step: a third changes the cost by less than 0.1."""
LEFT_OUT_STEPS = 8
"""Steps of a search without one season: it begins where the fit with all seasons ended."""
# A loss that is higher by less than this has not risen: the rest is rounding of a search.
_SAME = 1e-4


@dataclass(frozen=True)
class Step:
    """One step of the model selection.

    Parameters
    ----------
    name : str
    frees : tuple of str
        What it frees.
    parameters : float
        Effective number freed so far: what the records, not the priors, decide. A number that
        stays as unsure as its prior counts for nothing. Spreads are not counted; every step has
        them.
    log_likelihood : float
        Effects of seasons and plots integrated out.
    bic : float
    left_out : dict of str to float
        Root mean square error by kind of record, from fits without the season; empty where there
        is one season only. [unit of the kind; d]
    left_out_loss : float
        Minus the mean log-likelihood of a record of a season that the fit did not see, effects of
        season and plots integrated out; this is the error that decides, since the root mean
        square is ruled by what all blocks of a season share. NaN for one season. [1]
    kept : bool
    why : str
    vector : array
    scatter : Scatter
    expected : array ``[records]``
        Each record as the fit without its season expects it; NaN where there is one season only.
        [unit of the kind; d]
    """

    name: str
    frees: tuple[str, ...]
    parameters: float
    log_likelihood: float
    bic: float
    left_out: dict[str, float]
    left_out_loss: float
    kept: bool
    why: str
    vector: FloatArray
    scatter: Scatter
    expected: FloatArray


def forward_selection(
    problem: Problem,
    seasons: NDArray[Any],
    units: int,
    steps: Sequence[tuple[str, tuple[str, ...]]],
    *,
    pool: bool,
    checkpoint: Checkpoint,
    tell: Callable[[str], None],
) -> tuple[list[Step], Step]:
    """Select by steps that free more parameters.

    Parameters
    ----------
    problem : with the scatter that the search begins from.
    seasons : ``[records]``, season of each record.
    units : independent units: seasons by planting dates.
    steps : names and the numbers each frees, the first with none.
    pool : whether spreads of seasons, plots and cultivars are estimated.
    checkpoint, tell : for steps that are done, and for progress.

    Returns
    -------
    steps : every step that was tried.
    top : the last that stayed.
    """
    layout, began = problem.layout, problem.scatter
    present = {one.name for one in layout.entries}
    kept: tuple[str, ...] = ()
    top: Step | None = None
    tried: list[Step] = []
    for name, numbers in steps:
        names = tuple(n for n in numbers if n in present)
        if numbers and not names:
            continue
        free = layout.free((*kept, *names))
        start = np.zeros(len(layout.entries)) if top is None else top.vector
        scatter = began if top is None else top.scatter
        label = f"{name} after {', '.join(kept)}"
        tell(name)
        work = partial(_fit_step, problem.with_scatter(scatter), start, free, began, pool)
        outcome = checkpoint.step(f"step: {label}", work)
        scatter, vector = scatter_from(outcome["scatter"]), np.array(outcome["vector"])
        parameters = float(outcome["effective"])
        bic = parameters * float(np.log(units)) - 2.0 * float(outcome["log_likelihood"])
        expected, loss = _left_out(
            problem.with_scatter(scatter), vector, free, seasons, checkpoint, label, tell
        )
        left = errors_by_kind(problem.kind, problem.start, problem.observed, expected)
        stays, why = (True, "the first step") if top is None else _judge(top, bic, loss)
        step = Step(name, names, parameters, outcome["log_likelihood"], bic, left, loss, stays, why,
                    vector, scatter, expected)  # fmt: skip
        tried.append(step)
        if stays:
            top, kept = step, (*kept, *names)
    assert top is not None
    return tried, top


def _fit_step(
    problem: Problem, start: FloatArray, free: IntArray, began: Scatter, pool: bool
) -> dict[str, Any]:
    """Search with some entries free, spreads and scatter estimated in turn with the parameters."""
    point = search_softly(problem, start, free)
    for _ in range(ROUNDS):
        grid = np.ix_(free, free)
        curve = point.information[grid]
        used = float(np.trace(np.linalg.solve(curve + problem.prior[grid], curve)))
        freedom = 1.0 - used / max(float(problem.weight.sum()), 1.0)
        expected = problem.runs.predict(point.vector)
        own = problem.weight > 0.0
        scatter = estimated_scatter(
            problem.kind[own], problem.start[own], problem.observed[own], expected[own],
            problem.scatter, freedom,
        )  # fmt: skip
        if pool:
            scatter = estimated_spreads(problem.layout, point, scatter, began)
        problem = problem.with_scatter(scatter)
        point = search(problem, point.vector, free)
    fitted = np.intersect1d(problem.layout.where(CULTIVAR, TRANSPLANT), free)
    spread = np.diag(covariance(problem, point, free))
    return point.plain() | {
        "scatter": scatter_plain(problem.scatter),
        "log_likelihood": marginal_log_likelihood(problem, point),
        "effective": float(np.sum(1.0 - spread[fitted])),
    }


def _left_out(
    problem: Problem,
    vector: FloatArray,
    free: IntArray,
    seasons: NDArray[Any],
    checkpoint: Checkpoint,
    label: str,
    tell: Callable[[str], None],
) -> tuple[FloatArray, float]:
    """Expected records and loss of each season from a fit without it.

    For what is expected the season's own effects are 0, as in a forecast; for the loss they are
    integrated out.
    """
    names = sorted(set(seasons.tolist()))
    expected, log_l = np.full(len(seasons), np.nan), 0.0
    if len(names) < 2:
        return expected, float("nan")
    for one in names:
        tell(f"{label.split(' after ')[0]}, without {one}")
        out = seasons == one

        def work(out: NDArray[np.bool_] = out) -> dict[str, Any]:
            rest = problem.reweighted(np.where(out, 0.0, problem.weight))
            found = search(rest, vector, free, most_steps=LEFT_OUT_STEPS)
            unseen = problem.reweighted(np.where(out, problem.weight, 0.0), chambers=False)
            near = search(unseen, found.vector, problem.layout.effects, most_steps=LEFT_OUT_STEPS)
            return {
                "expected": problem.runs.predict(found.vector)[out].tolist(),
                "log_likelihood": marginal_log_likelihood(unseen, near),
            }

        outcome = checkpoint.step(f"left out: {label}, {one}", work)
        expected[out] = outcome["expected"]
        log_l += outcome["log_likelihood"]
    return expected, -log_l / len(seasons)


def errors_by_kind(
    kind: IntArray, start: FloatArray, observed: FloatArray, expected: FloatArray
) -> dict[str, float]:
    """Root mean square error of each kind of record; of dates, by how far the visits are missed.

    Examples
    --------
    >>> errors_by_kind(np.array([0, 5]), np.array([0.0, 50.0]), np.array([4.0, 57.0]),
    ...                np.array([1.0, 60.0]))
    {'marketable_g_per_plant': 3.0, 'first pick': 3.0}
    """
    found = {}
    for what in (int(one) for one in np.unique(kind)):
        own = (kind == what) & np.isfinite(expected)
        if not own.any():
            continue
        miss = observed[own] - expected[own]
        if what in DATES:
            early = np.maximum(start[own] - expected[own], 0.0)
            late = np.maximum(expected[own] - observed[own], 0.0)
            miss = early + late
        found[KINDS[what]] = float(np.sqrt(np.mean(miss**2)))
    return found


def _judge(top: Step, bic: float, loss: float) -> tuple[bool, str]:
    if bic >= top.bic:
        return False, f"BIC rises by {bic - top.bic:.1f}"
    falls = f"BIC falls by {top.bic - bic:.1f}"
    if np.isnan(loss):
        return True, f"{falls}; one season only, so none could be left out"
    told = f"the loss on seasons left out goes from {top.left_out_loss:.4f} to {loss:.4f}"
    if loss > top.left_out_loss + _SAME:
        return False, f"{falls}, but {told}"
    return True, f"{falls}; {told}"


def scatter_plain(scatter: Scatter) -> dict[str, Any]:
    """Scatter as plain values that a file can keep."""
    return {**asdict(scatter), "by_kind": {str(k): list(v) for k, v in scatter.by_kind.items()}}


def scatter_from(plain: dict[str, Any]) -> Scatter:
    """Scatter of plain values.

    Examples
    --------
    >>> scatter_from(scatter_plain(Scatter())) == Scatter()
    True
    """
    by_kind = {int(k): tuple(map(float, v)) for k, v in plain["by_kind"].items()}
    return Scatter(**{**plain, "by_kind": by_kind})
