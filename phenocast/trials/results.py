"""What the analysis of a trial gives."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

FloatArray = NDArray[np.float64]


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
