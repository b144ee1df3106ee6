"""Fitting parameters to records, and ranking cultivars.

Built so far: a breeder's indices from raw yields (`heat_indices`), responses to environments
(`finlay_wilkinson`, `stability_variance`, `interaction_axes`), what is not distinguishable from the
best (`against_best`) and partial pooling of cultivars (`partial_pooling`).
"""

from phenocast.calibration.best import AgainstBest, against_best, dunnett_one_sided
from phenocast.calibration.indices import HeatIndices, heat_indices
from phenocast.calibration.pooling import Pooled, partial_pooling
from phenocast.calibration.stability import (
    Axes,
    Slopes,
    finlay_wilkinson,
    interaction,
    interaction_axes,
    stability_variance,
)

__all__ = [
    "AgainstBest",
    "Axes",
    "HeatIndices",
    "Pooled",
    "Slopes",
    "against_best",
    "dunnett_one_sided",
    "finlay_wilkinson",
    "heat_indices",
    "interaction",
    "interaction_axes",
    "partial_pooling",
    "stability_variance",
]
