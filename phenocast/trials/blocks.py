"""One-factor trials in randomised blocks."""

import numpy as np
from scipy.stats import f as f_distribution

from phenocast.errors import Fault, refuse
from phenocast.trials.layout import BlockPlots
from phenocast.trials.results import BlockAnalysis, Source, StandardError


def analyse_blocks(plots: BlockPlots) -> BlockAnalysis:
    """Analysis of variance of a complete one-factor trial in randomised blocks.

    Parameters
    ----------
    plots : one value per plot (see `block_plots`).

    Returns
    -------
    BlockAnalysis

    Raises
    ------
    InputError : no variation left for the error.

    Notes
    -----
    Fisher (1935), The Design of Experiments: blocks and treatments against what is left.

    Examples
    --------
    >>> plots = BlockPlots("yield", "block", "film", ("1", "2"), ("black", "white"),
    ...                    np.array([[5.0, 6.0], [4.0, 7.0]]))
    >>> analyse_blocks(plots).table[1].f
    4.0
    """
    y = plots.values
    r, t = y.shape
    grand = float(y.mean())
    block, mean = y.mean(axis=1), y.mean(axis=0)
    residual = y - block[:, np.newaxis] - mean + grand
    error = Source("error", float((r - 1) * (t - 1)), float(np.sum(residual**2)))
    refuse(
        (
            error.ss <= 0.0,
            Fault(
                "no variation is left for the error",
                where=plots.response,
                do="check that replicates were not copied from one another",
            ),
        )
    )
    ss = r * float(np.sum((mean - grand) ** 2))
    ratio = ss / (t - 1) / error.ms
    p = float(f_distribution.sf(ratio, t - 1, error.df))
    table = (
        Source(plots.block, float(r - 1), t * float(np.sum((block - grand) ** 2))),
        Source(plots.treatment, float(t - 1), ss, "error", error.df, ratio, p),
        error,
    )
    return BlockAnalysis(
        response=plots.response,
        treatment=plots.treatment,
        treatments=plots.treatments,
        table=table,
        means=mean,
        difference=StandardError(float(np.sqrt(2 * error.ms / r)), error.df),
        cv=float(np.sqrt(error.ms) / abs(grand)),
        residuals=residual,
        notes=plots.notes,
    )
