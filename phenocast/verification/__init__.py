"""Scores of forecasts: CRPS of ensembles, coverage of intervals, errors of single values.

Knows arrays only.
"""

from phenocast.verification.scores import (
    Proportion,
    coverage,
    crps_ensemble,
    mean_absolute_error,
    root_mean_square_error,
    wilson_interval,
)

__all__ = [
    "Proportion",
    "coverage",
    "crps_ensemble",
    "mean_absolute_error",
    "root_mean_square_error",
    "wilson_interval",
]
