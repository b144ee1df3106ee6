"""A sensor fit as one document of plain values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from phenocast import __version__
from phenocast.calibration.crown_sensors import CrownSensorCalibrator

SCHEMA_VERSION = 1


def sensor_document(
    fits: Mapping[str, CrownSensorCalibrator],
    *,
    source: str,
    not_used: Sequence[Mapping[str, Any]] = (),
    warnings: Sequence[str] = (),
) -> dict[str, Any]:
    """Put the fits of one file of readings into a document.

    Parameters
    ----------
    fits : mapping of str to CrownSensorCalibrator
        By block, fitted.
    source : str
        Name of the file of readings.
    not_used : sequence of mapping
        Blocks of the file that were not fitted, ``{"block", "rows", "reason"}``.
    warnings : sequence of str

    Returns
    -------
    dict
        Temperatures and errors in degC, every number in the unit beside it; None where it was not
        fitted or no day was held out.

    Examples
    --------
    >>> sensor_document({}, source="sensors.csv")["blocks"]
    []
    """
    return {
        "schema_version": SCHEMA_VERSION,
        "kind": "sensor fit",
        "engine_version": __version__,
        "source": source,
        "blocks": [_block(name, model) for name, model in fits.items()],
        "not_used": [dict(one) for one in not_used],
        "warnings": list(warnings),
    }


def _block(name: str, model: CrownSensorCalibrator) -> dict[str, Any]:
    scores = model.scores_
    return {
        "block": name,
        "film": model.film_.name,
        "description": model.film_.labels.get("description", ""),
        "days_fitted": [str(day) for day in model.fit_days_],
        "days_held_out": [str(day) for day in model.held_out_days_],
        "numbers": [
            {
                "name": number,
                "stage": stage,
                "unit": model.priors_[number].unit,
                "before": model.priors_[number].value,
                "before_sd": model.priors_[number].sd,
                "fitted": model.values_[number],
                "fitted_sd": model.sds_[number],
                "at_bound": number in model.at_bound_,
            }
            for stage, numbers in model.stages_.items()
            for number in numbers
        ],
        "not_fitted": [{"name": number, "why": why} for number, why in model.held_.items()],
        "damping_depth_m": _known(model.damping_depth_),
        "damping_depth_sd_m": _known(model.damping_depth_sd_),
        "absorptance_over_conductance": _known(model.ratio_),
        "absorptance_over_conductance_sd": _known(model.ratio_sd_),
        "only_the_ratio_is_told": bool(model.ratio_only_),
        "converged": bool(model.converged_),
        "errors_on_days_held_out": None
        if scores is None
        else {
            "overall": scores.overall.to_dict("records"),
            "by_hour": scores.by_hour.to_dict("records"),
            "by_month": scores.by_month.to_dict("records"),
        },
        "report": model.report(),
    }


def _known(value: float) -> float | None:
    return None if np.isnan(value) else float(value)
