"""Scores of forecasts: CRPS of ensembles, coverage of intervals.

Knows arrays only.
"""

from phenocast.verification.scores import (
    Proportion,
    coverage,
    crps_ensemble,
    wilson_interval,
)

__all__ = [
    "Proportion",
    "coverage",
    "crps_ensemble",
    "wilson_interval",
]
