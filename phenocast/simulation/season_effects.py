"""What makes a season late or poor for all blocks at once, and one block richer than another."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from phenocast._typing import FloatArray
from phenocast.phenology.work import FIRST_PICK, FLOWER_INITIATION

# The stages stand first in a row of dates, in the order in which a plant passes them.
_STAGES = slice(FLOWER_INITIATION, FIRST_PICK + 1)


@dataclass(frozen=True)
class SeasonEffects:
    """Effects of the season and of a block that a fit found, for every trace and draw.

    Parameters
    ----------
    late : array ``[traces, draws]``
        How much later everything happens. [d]
    level : array ``[traces, draws]``
        Factor of the fruit. [1]
    spreads : mapping of str to float
        Median of the spreads that they were drawn from, by name.
    """

    late: FloatArray
    level: FloatArray
    spreads: Mapping[str, float]


def moved_dates(dates: FloatArray, late: FloatArray, n_days: int) -> FloatArray:
    """Return dates with every stage later, never before planting; inf beyond the last day.

    Parameters
    ----------
    dates : array ``[draws, N_DATES]``
        Days since planting; only stages are moved. [d]
    late : array ``[draws]`` [d]
    n_days : days that were simulated.
    """
    moved = dates.copy()
    stages = np.maximum(dates[:, _STAGES] + late[:, None], 0.0)
    moved[:, _STAGES] = np.where(stages < n_days, stages, np.inf)
    return moved
