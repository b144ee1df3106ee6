"""Scores of forecasts; knows arrays only.

Proper scores of distributions (CRPS, ranked probability, Brier, pinball, interval), checks of
calibration (PIT, ranks, coverage) and the plain errors of single values.
"""

from phenocast.verification.calibration import pit_categories, pit_normal, rank_histogram, ranks
from phenocast.verification.crps import crps_ensemble, crps_normal
from phenocast.verification.intervals import (
    Proportion,
    coverage,
    interval_score,
    pinball_loss,
    wilson_interval,
)
from phenocast.verification.point import (
    bias,
    hits,
    mean_absolute_error,
    root_mean_square_error,
    skill,
)
from phenocast.verification.probability import (
    BrierParts,
    brier_parts,
    brier_score,
    ranked_probability_score,
)

__all__ = [
    "BrierParts",
    "Proportion",
    "bias",
    "brier_parts",
    "brier_score",
    "coverage",
    "crps_ensemble",
    "crps_normal",
    "hits",
    "interval_score",
    "mean_absolute_error",
    "pinball_loss",
    "pit_categories",
    "pit_normal",
    "rank_histogram",
    "ranked_probability_score",
    "ranks",
    "root_mean_square_error",
    "skill",
    "wilson_interval",
]
