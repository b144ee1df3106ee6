"""An estimator of cultivar parameters from past picks, flowers and dates."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr
from sklearn.base import BaseEstimator, RegressorMixin
from sklearn.utils.validation import check_is_fitted
from threadpoolctl import threadpool_limits

from phenocast._typing import FloatArray
from phenocast.calibration.cultivar.blocks import FitBlock
from phenocast.calibration.cultivar.discrepancy import Discrepancy, model_discrepancy
from phenocast.calibration.cultivar.likelihood import Scatter, record_terms
from phenocast.calibration.cultivar.model import DATES, FRUIT_MASS, KINDS, Runs
from phenocast.calibration.cultivar.optimise import Point, Problem, basin_hopping, covariance
from phenocast.calibration.cultivar.parameters import (
    AT_PLANTING,
    CULTIVAR,
    CUT_OFF,
    HEAT,
    SIZE,
    SUPPLY,
    TIMING,
    TRANSPLANT,
    Layout,
    cut_normal,
    layout_of,
)
from phenocast.calibration.cultivar.records import COLUMNS, Chambers
from phenocast.calibration.cultivar.selection import (
    STEPS,
    Checkpoint,
    forward_selection,
)
from phenocast.calibration.cultivar.uncertainty import importance_weighted
from phenocast.errors import Fault, InputError, broken, raise_any, refuse

Progress = Callable[[str], None]

PARAMETERS = (*TIMING, *SUPPLY, *SIZE, *HEAT, *CUT_OFF)
VALUES = [
    "group", "owner", "name", "unit", "value", "sd", "interval_80", "interval_95", "prior",
    "prior_sd", "lower", "upper", "contraction", "at_bound", "entry",
]  # fmt: skip
"""Columns of `CultivarCalibrator.values`."""
_APART = 0.5
"""Starts whose costs differ by less than this found the same place: half a unit of log-likelihood
moves no number by more than its spread."""
_BOUND = 1e-6
_SHARES = (0.025, 0.1, 0.5, 0.9, 0.975)  # of the two intervals and the median
_LEAST_SD = 1e-9
_FAR = 8.0  # standard deviations at which a bound cuts nothing off, to the last digit


class CultivarCalibrator(RegressorMixin, BaseEstimator):  # type: ignore[misc]  # no types
    """Fit named numbers of cultivars to records, with priors, bounds and pooling.

    X has the columns of `cultivar.records.COLUMNS` (block number, kind, window in
    days since planting) and y what was recorded; `fit_rows` makes both. The block-seasons are a
    setting and not a part of X: a bed must be run whole whatever rows a cross-validation leaves
    out.

    Numbers are freed in the order that makes them identifiable: requirement sums and the state at
    planting (dates and the course of picking), then supply (phyllochron) and, where fruit was
    weighed, fruit mass, then one heat sensitivity for each cultivar, which multiplies the loss of
    vigour and the loss of buds together, last the cut-off of induction. A group is kept only
    where the records support it (`forward_selection`). Every parameter has the shipped value and
    spread as its prior and the shipped bounds; how far cultivars share their deviations is
    estimated. Records of a season share a shift [d] and a level, records of a block a level.

    Parameters
    ----------
    blocks : sequence of FitBlock
        There is no default that works.
    parameters : sequence of str
        Cultivar numbers that may be freed.
    at_planting : sequence of str
        Transplant numbers that may be freed; shared by all blocks of a type.
    select : bool
        Free a group only where it is earned; otherwise free all but the cut-off at once.
    pool : bool
        Estimate how alike cultivars are, and how seasons and plots differ.
    student_df : float, optional
        Student's t instead of the normal, so that a wrong record counts for less.
    seeds : sequence of int
        Of further starts of the search, which must end where the first did.
    chambers : DataFrame, optional
        Chamber trials, as `phenocast.io.read_chamber_trials` gives them; they speak of induction
        and count in every fit, whatever rows it leaves out.

    Attributes
    ----------
    layout_ : Layout
    problem_ : Problem
        Records, runs and priors of the last search.
    vector_, covariance_ : arrays
        Middle of the posterior in standard deviations of the priors, and its covariance: by
        Laplace around the likeliest numbers, those of cultivars by weighed draws from it, and
        wider by what bent curves would move (`discrepancy`).
    point_ : Point
        The likeliest numbers.
    effective_draws_ : dict of str to float
        How many even draws those of a cultivar are worth (`importance_weighted`).
    discrepancy_ : Discrepancy
        What bends of the response curves make of the fit.
    free_ : array of int
        Entries that were fitted.
    scatter_ : Scatter
    selection_ : list of Step
    top_ : Step
    starts_ : list of dict
        Seed, cost and largest difference from the best of each start.
    converged_, starts_agree_ : bool
    log_likelihood_ : float
    units_ : int
        Independent units: seasons by planting dates.
    n_features_in_, feature_names_in_

    Notes
    -----
    Of scikit-learn's generic checks those on construction, parameters and the state before a fit
    apply. Those that fit invented numbers do not: X are windows in block-seasons, and what cannot
    be is refused with an `InputError` and its faults, not a ValueError. `score` is the mean
    log-likelihood of a record, seasons and plots that the fit did not see at their usual level.
    Spreads take the bed's temperatures as right, and the curves of the model as far as the records
    do not show them wrong.

    Examples
    --------
    >>> CultivarCalibrator().fit(np.zeros((1, 4)), [1.0])
    Traceback (most recent call last):
    ...
    phenocast.errors.InputError: blocks: no block-season (allowed: a sequence of FitBlock)
    """

    def __init__(
        self,
        blocks: Sequence[FitBlock] | None = None,
        *,
        parameters: Sequence[str] = PARAMETERS,
        at_planting: Sequence[str] = AT_PLANTING,
        select: bool = True,
        pool: bool = True,
        student_df: float | None = None,
        seeds: Sequence[int] = (1, 2),
        chambers: pd.DataFrame | None = None,
    ) -> None:
        self.blocks = blocks
        self.parameters = parameters
        self.at_planting = at_planting
        self.select = select
        self.pool = pool
        self.student_df = student_df
        self.seeds = seeds
        self.chambers = chambers

    def __sklearn_tags__(self) -> Any:
        """Tags of scikit-learn: X are windows in blocks, not any numbers."""
        tags = super().__sklearn_tags__()
        tags.input_tags.two_d_array = False
        return tags

    def fit(
        self,
        X: pd.DataFrame | ArrayLike,
        y: ArrayLike,
        *,
        checkpoint: Checkpoint | None = None,
        progress: Progress | None = None,
    ) -> CultivarCalibrator:
        """Fit to records.

        Parameters
        ----------
        X : DataFrame or array ``[m, 4]``
        y : array ``[m]``
        checkpoint : steps that were done before, and where to keep new ones.
        progress : called with what is being done.

        Raises
        ------
        InputError
            With the faults: settings or rows that cannot be.
        """
        kept = Checkpoint() if checkpoint is None else checkpoint
        tell = progress or (lambda _what: None)
        blocks = self._blocks()
        block_of, kind, start, stop, observed = _checked(X, y, len(blocks))
        used = np.unique(block_of)
        self.blocks_ = tuple(blocks[i] for i in used)
        place = np.full(len(blocks), -1, dtype=np.int64)
        place[used] = np.arange(used.size)
        numbers = [n for n in self.parameters if n not in SIZE or np.any(kind == FRUIT_MASS)]
        self.layout_: Layout = layout_of(self.blocks_, numbers, self.at_planting)
        runs = Runs(self.blocks_, self.layout_, place[block_of], kind, start, stop)
        trials = None
        if self.chambers is not None:
            sets = {block.cultivar: block.cultivar_set for block in self.blocks_}
            trials = Chambers(self.chambers, sets, self.layout_)
        problem = Problem(
            runs, kind, start, observed, Scatter(student_df=self.student_df), chambers=trials
        )
        seasons = np.array([blocks[i].season for i in block_of], dtype=object)
        self.units_ = len({(b.season, b.planting) for b in self.blocks_})
        steps: Sequence[tuple[str, tuple[str, ...]]] = STEPS
        if not self.select:
            freed = tuple(n for _, names in STEPS for n in names if n not in CUT_OFF)
            steps = (("every number but the cut-off", freed),)
        # the matrices are small: threads of the linear algebra would only wait for each other
        with threadpool_limits(limits=1, user_api="blas"):
            self.selection_, self.top_ = forward_selection(
                problem, seasons if self.select else np.zeros(len(kind)), self.units_, steps,
                pool=self.pool, checkpoint=kept, tell=tell,
            )  # fmt: skip
            self._finish(problem, kept, tell)
        self.n_features_in_ = len(COLUMNS)
        if isinstance(X, pd.DataFrame):
            self.feature_names_in_ = np.array(COLUMNS, dtype=object)
        return self

    def _finish(self, problem: Problem, checkpoint: Checkpoint, tell: Progress) -> None:
        """Start again from elsewhere, keep the best, and take its covariance."""
        freed = [n for step in self.selection_ if step.kept for n in step.frees]
        self.free_ = self.layout_.free(freed)
        self.scatter_: Scatter = self.top_.scatter
        self.problem_ = problem.with_scatter(self.scatter_)
        ends: list[tuple[int | None, dict[str, Any]]] = []
        own = self.layout_.where(CULTIVAR, TRANSPLANT)
        moving = np.intersect1d(own, self.free_)
        for seed in (None, *self.seeds):
            begin = self.top_.vector.copy()
            if seed is not None:
                rng = np.random.default_rng(seed)
                begin[moving] = np.clip(
                    rng.standard_normal(moving.size), self.problem_.low[moving],
                    self.problem_.high[moving],
                )  # fmt: skip
            tell("polishing" if seed is None else f"start {seed}")
            work = partial(self._start, begin, softly=seed is not None)
            ends.append((seed, checkpoint.step(f"start: {seed}", work)))
        best = min(ends, key=lambda one: one[1]["cost"])[1]
        vector = np.array(best["vector"])
        self.starts_ = [
            {
                "seed": seed,
                "cost": one["cost"],
                "steps": one["steps"],
                "converged": one["converged"],
                "largest_difference_sd": float(
                    np.max(np.abs(np.array(one["vector"]) - vector)[moving], initial=0.0)
                ),
            }
            for seed, one in ends
        ]
        self.converged_ = bool(best["converged"])
        self.starts_agree_ = all(one["cost"] - best["cost"] < _APART for one in self.starts_)
        self.point_: Point = self.problem_.point(vector, self.free_)
        self.log_likelihood_ = self.point_.log_likelihood
        laplace = covariance(self.problem_, self.point_, self.free_)
        found = importance_weighted(self.problem_, self.point_, laplace, self.free_)
        self.vector_, self.effective_draws_ = found.vector, found.worth
        self.discrepancy_: Discrepancy = model_discrepancy(self.problem_, self.point_, self.free_)
        self.covariance_ = found.covariance + self.discrepancy_.covariance

    def _start(self, begin: FloatArray, *, softly: bool) -> dict[str, Any]:
        return basin_hopping(self.problem_, begin, self.free_, softly=softly).plain()

    def predict(self, X: pd.DataFrame | ArrayLike) -> FloatArray:
        """Expected records; of a date, its day since planting.

        Parameters
        ----------
        X : DataFrame or array ``[m, 4]``

        Returns
        -------
        array ``[m]``
            In the unit of each row's kind. Cultivars, seasons and plots that the fit did not see
            have their prior.
        """
        check_is_fitted(self, "vector_")
        blocks = self._blocks()
        block_of, kind, start, stop, _ = _checked(X, None, len(blocks))
        layout = layout_of(blocks, list(dict.fromkeys(self._fitted_names())), self.at_planting)
        known = {(n.group, n.owner, n.name): i for i, n in enumerate(self.layout_.entries)}
        vector = np.array(
            [
                self.vector_[known[key]] if (key := (n.group, n.owner, n.name)) in known else 0.0
                for n in layout.entries
            ]
        )
        return Runs(blocks, layout, block_of, kind, start, stop).predict(vector)

    def score(
        self, X: pd.DataFrame | ArrayLike, y: ArrayLike, sample_weight: ArrayLike | None = None
    ) -> float:
        """Mean log-likelihood of a record; greater is better.

        Parameters
        ----------
        X, y : as in `fit`.
        sample_weight : array ``[m]``, optional
        """
        expected = self.predict(X)
        _, kind, start, _, observed = _checked(X, y, len(self._blocks()))
        terms = record_terms(kind, start, observed, expected, self.scatter_)
        weight = None if sample_weight is None else np.asarray(sample_weight, dtype=np.float64)
        return float(np.average(terms.log_likelihood, weights=weight))

    def values(self) -> pd.DataFrame:
        """Every fitted number with prior, spread and contraction.

        Returns
        -------
        DataFrame
            Columns `VALUES`; ``contraction`` is posterior sd over prior sd, ``entry`` the place in
            the vector. ``value`` and the intervals are quantiles of a normal that is cut off at the
            bounds, as are the draws: where the mode lies on a bound the value is inside.
        """
        check_is_fitted(self, "vector_")
        rows = []
        for i in self.free_:
            one = self.layout_.entries[int(i)]
            if one.prior is None:
                continue
            z, sd_z = float(self.vector_[i]), float(np.sqrt(self.covariance_[i, i]))
            p = one.prior
            known = one.in_unit(
                cut_normal(_SHARES, z, max(sd_z, _LEAST_SD), one.low, one.high)
            ).tolist()
            rows.append(
                {
                    "group": "cultivar" if one.group == CULTIVAR else "transplant",
                    "owner": one.owner,
                    "name": one.name,
                    "unit": p.unit,
                    "value": known[2],
                    "sd": p.sd * sd_z,
                    "interval_80": [known[1], known[3]],
                    "interval_95": [known[0], known[4]],
                    "prior": p.value,
                    "prior_sd": p.sd,
                    "lower": p.lower,
                    "upper": p.upper,
                    "contraction": sd_z,
                    "at_bound": z <= one.low + _BOUND or z >= one.high - _BOUND,
                    "entry": int(i),
                }
            )
        return pd.DataFrame(rows, columns=VALUES)

    def draws(self, n: int, seed: int) -> FloatArray:
        """Draws of the vector, ``[n, entries]``; each number has the quantiles of `values`.

        Numbers go together as the covariance has them; each is then cut off at its bounds.

        Parameters
        ----------
        n : number of draws.
        seed : of the draws.
        """
        check_is_fitted(self, "vector_")
        own = self.free_
        rng = np.random.default_rng(seed)
        root = np.linalg.cholesky(self.covariance_[np.ix_(own, own)] + 1e-12 * np.eye(own.size))
        drawn = np.repeat(self.vector_[None, :], n, axis=0)
        drawn[:, own] += rng.standard_normal((n, own.size)) @ root.T
        low, high = self.problem_.low, self.problem_.high
        sd = np.sqrt((root**2).sum(axis=1))
        away = np.minimum(self.vector_ - low, high - self.vector_)[own]
        for i, spread in zip(own[away < _FAR * sd], sd[away < _FAR * sd], strict=True):
            middle = self.vector_[i]
            share = ndtr((drawn[:, i] - middle) / spread)
            drawn[:, i] = cut_normal(share, middle, spread, low[i], high[i])
        return drawn

    def _fitted_names(self) -> list[str]:
        return [one.name for one in self.layout_.entries if one.group == CULTIVAR]

    def _blocks(self) -> Sequence[FitBlock]:
        refuse(
            (not self.blocks, Fault("no block-season", "blocks", allowed="a sequence of FitBlock")),
            (
                self.student_df is not None and not self.student_df > 0.0,
                Fault("not above 0", "student_df", self.student_df, "> 0, or None"),
            ),
        )
        assert self.blocks is not None
        known = set(self.blocks[0].cultivar_set)
        unknown = [n for n in self.parameters if n not in known]
        if unknown:
            raise InputError(Fault("no such parameter of a cultivar", "parameters", unknown[0]))
        return self.blocks


def _checked(
    X: pd.DataFrame | ArrayLike, y: ArrayLike | None, n_blocks: int
) -> tuple[NDArray[np.int64], NDArray[np.int64], FloatArray, FloatArray, FloatArray]:
    """Columns of X and the records, refused where they cannot be."""
    if isinstance(X, pd.DataFrame):
        missing = [name for name in COLUMNS if name not in X]
        if missing:
            raise InputError(Fault("a column is missing", "X", missing[0], ", ".join(COLUMNS)))
        table = X[list(COLUMNS)].to_numpy(dtype=np.float64)
    else:
        table = np.asarray(X, dtype=np.float64)
    refuse(
        (
            table.ndim != 2 or table.shape[1] != len(COLUMNS) or not len(table),
            Fault("not one row a record", "X", table.shape, "[records, 4]"),
        )
    )
    block, kind, start, stop = table.T
    faults = broken(
        (
            not np.all((block == np.floor(block)) & (block >= 0) & (block < n_blocks)),
            Fault("not a block", "X, block", allowed=f"0 to {n_blocks - 1}"),
        ),
        (
            not np.all(np.isin(kind, np.arange(len(KINDS)))),
            Fault("not a kind of record", "X, kind", allowed=f"0 to {len(KINDS) - 1}"),
        ),
        (not np.all(start <= stop), Fault("a window ends before it starts", "X, stop_d")),
    )
    observed = np.zeros(len(table)) if y is None else np.asarray(y, dtype=np.float64)
    if observed.shape != (len(table),):
        faults.append(Fault("not one value for every row", "y", observed.shape, f"({len(table)},)"))
    else:
        date = np.isin(kind, DATES)
        if np.any(np.isnan(observed)) or np.any(~np.isfinite(observed[~date])):
            faults.append(Fault("a value is missing", "y"))
        elif np.any(observed < 0.0):
            faults.append(Fault("below 0", "y", float(observed.min()), ">= 0"))
    raise_any(faults)
    return (
        block.astype(np.int64), kind.astype(np.int64), np.ascontiguousarray(start),
        np.ascontiguousarray(stop), observed,
    )  # fmt: skip
