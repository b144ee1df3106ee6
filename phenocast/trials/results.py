"""What the analysis of a trial gives, and restricted maximum likelihood where plots are missing.

Missing plots make the strata of a trial overlap, so that sums of squares no longer answer. The
restricted likelihood does. It has two unknown ratios of variance only, and trials are small, so it
is maximised as it stands, a variance of 0 included: beds that happen to differ less than plots
within them are common, and general optimisers stumble there.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike
from scipy.linalg import cho_factor, cho_solve
from scipy.optimize import minimize, minimize_scalar
from scipy.special import ndtri

from phenocast._typing import FloatArray
from phenocast.errors import Fault, NoAnswerError, refuse


@dataclass(frozen=True)
class Source:
    """One line of an analysis of variance.

    ``error`` names the line whose mean square is the yardstick of ``f``; empty for error lines and
    blocks. Sums of squares are NaN under REML, which has none.
    """

    name: str
    df: float
    ss: float = float("nan")
    error: str = ""
    error_df: float = float("nan")
    f: float = float("nan")
    p: float = float("nan")

    @property
    def ms(self) -> float:
        """Mean square."""
        return self.ss / self.df


@dataclass(frozen=True)
class StandardError:
    """Standard error of a difference of two means, in the unit of the response, and its df."""

    value: float
    df: float


@dataclass(frozen=True)
class Components:
    """Variance between blocks, between whole plots of a block, and between sub-plots of a whole
    plot.

    An analysis of variance may estimate one below 0, which says that it is small; it is given as
    estimated. REML stops at 0.
    """

    block: float
    whole_plot: float
    sub_plot: float


@dataclass(frozen=True)
class Residuals:
    """Residuals of both strata, for plots of what the analysis assumes.

    ``fitted`` and ``sub_plot`` have the shape ``[block, whole, sub]``, ``whole_plot`` the shape
    ``[block, whole]``; NaN where there is no plot. Spread that grows with the fitted value asks for
    another scale of the response.
    """

    fitted: FloatArray
    sub_plot: FloatArray
    whole_plot: FloatArray

    def normal_scores(self, stratum: str = "sub_plot") -> tuple[FloatArray, FloatArray]:
        """Expected normal scores and sorted residuals over their spread, for a quantile plot.

        Parameters
        ----------
        stratum : "sub_plot" or "whole_plot".

        Returns
        -------
        Scores by Blom's rule ``(i - 3/8) / (n + 1/4)`` and residuals, both of shape ``[n]``. [1]
        """
        values = self.sub_plot if stratum == "sub_plot" else self.whole_plot
        ordered = np.sort(values[np.isfinite(values)])
        n = ordered.size
        scores = ndtri((np.arange(1, n + 1) - 0.375) / (n + 0.25))
        spread = float(np.sqrt(np.mean(ordered**2)))
        return np.asarray(scores), ordered / spread if spread > 0.0 else ordered


@dataclass(frozen=True)
class SplitPlotAnalysis:
    """Result of `analyse_split_plots`.

    Parameters
    ----------
    method : str
        "analysis of variance", or "REML" where plots are missing.
    response, whole, sub : str
        Names of the response and of both factors.
    wholes, subs : tuples of str
        Their levels.
    table : tuple of Source
        The analysis of variance, or the tests of the fixed effects under REML.
    cell_means : array ``[whole, sub]``
        Means over blocks, in the unit of the response (adjusted for missing plots under REML).
    cell_covariance : array ``[whole * sub, whole * sub]``
        Their covariance; what all cells of a block share cancels in differences.
    components : Components
    whole_error, sub_error : StandardError
        Standard errors of difference between two whole-plot means and two sub-plot means.
    sub_within_whole, whole_within_sub : StandardError
        Between two sub-plot levels at one whole-plot level, and between two whole-plot levels at
        one or different sub-plot levels. With plots missing all four are root mean squares over the
        pairs; each comparison carries its own.
    cv_whole, cv_sub : float
        Coefficients of variation of both strata. [1]
    residuals : Residuals
    notes : tuple of str
        Anything the reader must know: what was averaged, what was missing, what is at its bound.
    """

    method: str
    response: str
    whole: str
    sub: str
    wholes: tuple[str, ...]
    subs: tuple[str, ...]
    table: tuple[Source, ...]
    cell_means: FloatArray
    cell_covariance: FloatArray = field(repr=False)
    components: Components
    whole_error: StandardError
    sub_error: StandardError
    sub_within_whole: StandardError
    whole_within_sub: StandardError
    cv_whole: float
    cv_sub: float
    residuals: Residuals = field(repr=False)
    notes: tuple[str, ...] = ()

    @property
    def whole_means(self) -> FloatArray:
        """Mean of each whole-plot level, sub-plot levels weighing the same. ``[whole]``."""
        return np.asarray(self.cell_means.mean(axis=1))

    @property
    def sub_means(self) -> FloatArray:
        """Mean of each sub-plot level, whole-plot levels weighing the same. ``[sub]``."""
        return np.asarray(self.cell_means.mean(axis=0))

    def source(self, name: str) -> Source:
        """Line of the table by its name.

        Raises
        ------
        KeyError : no line has that name.
        """
        for line in self.table:
            if line.name == name:
                return line
        raise KeyError(name)


@dataclass(frozen=True)
class BlockAnalysis:
    """Result of `analyse_blocks`: a one-factor trial in randomised blocks.

    ``means`` has the shape ``[treatment]``, ``residuals`` the shape ``[block, treatment]``; both in
    the unit of the response. ``difference`` is the standard error of a difference of two means.
    """

    response: str
    treatment: str
    treatments: tuple[str, ...]
    table: tuple[Source, ...]
    means: FloatArray
    difference: StandardError
    cv: float
    residuals: FloatArray = field(repr=False)
    notes: tuple[str, ...] = ()


_SMALLEST, _LARGEST = -12.0, 16.0  # logarithm of a variance ratio; below, it is 0 for any purpose


@dataclass(frozen=True)
class RemlFit:
    """Fixed effects, their covariance, variance components and restricted log likelihood.

    ``residual`` [n] is the response less fixed and random effects; ``whole_plot_effect`` [n] is the
    predicted deviation of the whole plot of each row.
    """

    effects: FloatArray
    covariance: FloatArray
    components: Components
    log_likelihood: float
    residual: FloatArray
    whole_plot_effect: FloatArray
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Solved:
    """Generalised least squares at given variance ratios."""

    deviance: float
    scale: float
    effects: FloatArray
    information: FloatArray
    weighted_residual: FloatArray


def fit_reml(
    response: ArrayLike, design: ArrayLike, block: ArrayLike, whole_plot: ArrayLike
) -> RemlFit:
    """Mixed model with random blocks and random whole plots within blocks.

    Parameters
    ----------
    response : values without gaps, shape ``[n]``.
    design : columns of the fixed effects, shape ``[n, p]``, of full rank.
    block, whole_plot : labels, shape ``[n]``; a whole plot is known by its label within its block.

    Returns
    -------
    RemlFit

    Raises
    ------
    InputError : a design without full rank, or no more rows than columns.
    NoAnswerError : the likelihood has no maximum that could be found.

    Notes
    -----
    Patterson and Thompson (1971), Biometrika 58:545-554.

    Examples
    --------
    >>> y = [5.1, 6.0, 7.2, 8.4, 4.0, 5.2, 6.9, 7.1, 6.2, 6.8, 7.9, 9.5]
    >>> design = np.tile(np.kron(np.eye(2), np.ones((2, 1))), (3, 1))
    >>> fit = fit_reml(y, design, np.repeat([1, 2, 3], 4), np.tile([1, 1, 2, 2], 3))
    >>> fit.effects.round(3).tolist()
    [5.55, 7.833]
    """
    y, x = np.asarray(response, dtype=np.float64), np.asarray(design, dtype=np.float64)
    refuse(
        (
            np.linalg.matrix_rank(x) < x.shape[1] or y.size <= x.shape[1],
            Fault("the plots present do not tell all effects apart", where="design of the trial"),
        )
    )
    of_block = np.unique(np.asarray(block), return_inverse=True)[1]
    of_label = np.unique(np.asarray(whole_plot), return_inverse=True)[1]
    same_block = of_block[:, np.newaxis] == of_block
    same_whole = same_block & (of_label[:, np.newaxis] == of_label)
    kernels = (same_block.astype(np.float64), same_whole.astype(np.float64))

    def solved(ratios: FloatArray) -> _Solved:
        return _solve(y, x, kernels, ratios)

    ratios = _best_ratios(solved)
    best = solved(ratios)
    components = Components(
        float(ratios[0] * best.scale), float(ratios[1] * best.scale), best.scale
    )
    notes = [
        f"variance between {what} is at its bound of 0"
        for what, ratio in zip(("blocks", "whole plots"), ratios, strict=True)
        if ratio == 0.0
    ]
    return RemlFit(
        effects=best.effects,
        covariance=np.asarray(best.scale * np.linalg.inv(best.information)),
        components=components,
        log_likelihood=-0.5 * best.deviance,
        residual=best.weighted_residual,
        whole_plot_effect=ratios[1] * kernels[1] @ best.weighted_residual,
        notes=tuple(notes),
    )


def _solve(
    y: FloatArray, x: FloatArray, kernels: tuple[FloatArray, FloatArray], ratios: FloatArray
) -> _Solved:
    relative = np.eye(y.size) + ratios[0] * kernels[0] + ratios[1] * kernels[1]
    factor = cho_factor(relative, lower=True)
    weighted_x = cho_solve(factor, x)
    information = np.asarray(x.T @ weighted_x, dtype=np.float64)
    effects = np.asarray(np.linalg.solve(information, weighted_x.T @ y), dtype=np.float64)
    weighted_residual = np.asarray(cho_solve(factor, y - x @ effects))
    freedom = y.size - x.shape[1]
    scale = float((y - x @ effects) @ weighted_residual) / freedom
    refuse(
        (
            scale <= 0.0,
            Fault("no variation is left for the sub-plot error", where="response of the trial"),
        ),
        error=NoAnswerError,
    )
    deviance = (
        freedom * (np.log(2.0 * np.pi * scale) + 1.0)
        + 2.0 * float(np.sum(np.log(np.diag(factor[0]))))
        + float(np.linalg.slogdet(information)[1])
    )
    return _Solved(float(deviance), scale, effects, information, weighted_residual)


def _best_ratios(solved: Callable[[FloatArray], _Solved]) -> FloatArray:
    """Ratios of block and whole-plot variance to the sub-plot variance, 0 included."""

    def deviance(logs: FloatArray, free: tuple[int, ...]) -> float:
        if np.any(np.abs(np.asarray(logs)) > _LARGEST):
            return np.inf
        return solved(_ratios(logs, free)).deviance

    found = [(solved(np.zeros(2)).deviance, np.zeros(2))]
    for free in ((0,), (1,)):
        line = minimize_scalar(
            lambda log, free=free: deviance(np.array([log]), free),
            bounds=(_SMALLEST, _LARGEST),
            method="bounded",
            options={"xatol": 1e-9},
        )
        found.append((float(line.fun), _ratios(np.array([line.x]), free)))
    grid = [np.array([one, other]) for one in (-4.0, 0.0, 3.0) for other in (-4.0, 0.0, 3.0)]
    start = min(grid, key=lambda logs: deviance(logs, (0, 1)))
    plane = minimize(
        deviance,
        start,
        args=((0, 1),),
        method="Nelder-Mead",
        options={"xatol": 1e-8, "fatol": 1e-11, "maxiter": 2000},
    )
    refuse(
        (
            not plane.success,
            Fault("REML found no maximum", do="look for plots far from all others, or fewer terms"),
        ),
        error=NoAnswerError,
    )
    found.append((float(plane.fun), _ratios(plane.x, (0, 1))))
    least = min(value for value, _ in found)
    # of maxima that are alike, the one with more variances at 0 (it comes first)
    ratios = next(ratios for value, ratios in found if value <= least + 1e-7)
    refuse(
        (
            np.any(np.log(np.maximum(ratios, 1e-300)) > _LARGEST - 0.1),
            Fault("no variation is left for the sub-plot error", where="response of the trial"),
        ),
        error=NoAnswerError,
    )
    return ratios


def _ratios(logs: FloatArray, free: tuple[int, ...]) -> FloatArray:
    ratios = np.zeros(2)
    ratios[list(free)] = np.exp(logs)
    return ratios
