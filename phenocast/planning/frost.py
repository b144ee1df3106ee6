"""Frost beside a labour plan: what it takes of each block, and the trays that protection keeps."""

from __future__ import annotations

from typing import Any

import numpy as np

from phenocast.forecast.result import SeasonForecast
from phenocast.planning.labour.plan import LabourPlan


def labour_frost(forecast: SeasonForecast, plan: LabourPlan) -> dict[str, Any]:
    """Return what a labour plan tells of frost.

    Parameters
    ----------
    forecast : SeasonForecast
    plan : LabourPlan
        Made without protection where a block states none.

    Returns
    -------
    dict
        ``blocks``, each with its ``frost`` as in the forecast; and
        ``with_protection``, the trays of each week of the plan where blocks that state no
        protection lose nothing to frost, or None where all state theirs.
    """
    beside = forecast.with_protection
    told: dict[str, Any] = {
        "blocks": [
            {"block": block.setup.block.name, "frost": block.frost_part(forecast.packout)}
            for block in forecast.blocks
        ],
        "with_protection": None,
    }
    if beside is not None:
        labels, total = beside.total_trays()
        places = [labels.index(week) for week in plan.weeks]
        trays = np.quantile(total[..., places], [0.1, 0.5, 0.9], axis=(0, 1))
        told["with_protection"] = {
            "weekly": [
                {"week": week, "trays": dict(zip(("p10", "p50", "p90"), row, strict=True))}
                for week, row in zip(plan.weeks, trays.T.round().tolist(), strict=True)
            ]
        }
    return told
