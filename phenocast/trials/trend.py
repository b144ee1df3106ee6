"""A sub-plot factor with numeric levels, such as planting date: a straight line, or more."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.stats import f as f_distribution

from phenocast.errors import Fault, InputError
from phenocast.trials.layout import SplitPlots
from phenocast.trials.results import SplitPlotAnalysis


@dataclass(frozen=True)
class Trend:
    """Straight line through the sub-plot means, and what is left over.

    ``slope`` and its standard error are in the unit of the response per unit of the levels; the
    sums of squares are on ``1`` and ``levels - 2`` degrees of freedom, both judged by the sub-plot
    error.
    """

    slope: float
    slope_error: float
    linear_ss: float
    linear_f: float
    linear_p: float
    deviations_ss: float
    deviations_f: float
    deviations_p: float


def sub_plot_trend(plots: SplitPlots, analysis: SplitPlotAnalysis, levels: ArrayLike) -> Trend:
    """Split the effect of a numeric sub-plot factor into a straight line and deviations from it.

    Parameters
    ----------
    plots : the complete trial.
    analysis : its analysis of variance.
    levels : numeric value of each sub-plot level, in the order of ``plots.subs``; not all alike.

    Returns
    -------
    Trend

    Raises
    ------
    InputError : plots are missing; levels that do not fit, or fewer than three.

    Examples
    --------
    >>> from phenocast.trials.split_plot import analyse_split_plots
    >>> rng = np.random.default_rng(1)
    >>> y = np.array([10.0, 12.0, 14.0]) + rng.normal(0, 0.1, (4, 2, 3))
    >>> plots = SplitPlots("yield", "block", "film", "day", tuple("1234"), ("black", "white"),
    ...                    ("0", "7", "14"), y)
    >>> round(sub_plot_trend(plots, analyse_split_plots(plots), [0, 7, 14]).slope, 2)
    0.29
    """
    x = np.asarray(levels, dtype=np.float64)
    r, a, b = plots.values.shape
    if not plots.complete:
        raise InputError(Fault("a trend needs all plots present", where=plots.response))
    if x.shape != (b,) or b < 3 or not np.all(np.isfinite(x)) or np.ptp(x) == 0.0:
        raise InputError(
            Fault(
                "levels do not fit the trial",
                where="levels",
                value=x.tolist(),
                allowed=f"{b} numbers, not all alike, for 3 or more levels",
            )
        )
    centred = x - x.mean()
    slope = float(centred @ analysis.sub_means / (centred @ centred))
    linear = r * a * slope**2 * float(centred @ centred)
    error = analysis.source("sub-plot error")
    deviations = analysis.source(plots.sub).ss - linear
    ratio, other = linear / error.ms, deviations / (b - 2) / error.ms
    return Trend(
        slope=slope,
        slope_error=float(np.sqrt(error.ms / (r * a * (centred @ centred)))),
        linear_ss=linear,
        linear_f=ratio,
        linear_p=float(f_distribution.sf(ratio, 1, error.df)),
        deviations_ss=deviations,
        deviations_f=other,
        deviations_p=float(f_distribution.sf(other, b - 2, error.df)),
    )
