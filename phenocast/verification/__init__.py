"""Scores of forecasts: CRPS of ensembles, coverage of intervals, errors of single values.

Knows arrays only.
"""

from phenocast.verification.crps import crps_ensemble
from phenocast.verification.intervals import Proportion, coverage, wilson_interval
from phenocast.verification.point import mean_absolute_error, root_mean_square_error

__all__ = [
    "Proportion",
    "coverage",
    "crps_ensemble",
    "mean_absolute_error",
    "root_mean_square_error",
    "wilson_interval",
]
