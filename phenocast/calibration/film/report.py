"""What sensors told of a film: in words, as a film that a season can name, and as a document."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from phenocast import __version__
from phenocast.calibration.film.bed import WATER, SensorBed
from phenocast.calibration.film.stages import Fitted
from phenocast.crown.atmosphere import STEFAN_BOLTZMANN
from phenocast.crown.film import aged_reflectance
from phenocast.crown.soil import damping_depth
from phenocast.errors import applying
from phenocast.parameters import Parameter, ParameterSet

if TYPE_CHECKING:
    from phenocast.calibration.film.estimator import CrownSensorCalibrator

SOURCE = "own sensors"
# Water and level of the deep soil are those of the weeks that were logged; no other season should
# take them from a film.
OF_THE_WEEKS = (WATER, "deep_above_air")
# A number whose spread shrank by less than this share is said to be no surer than before.
LEARNED = 0.1


def absorptance_over_conductance(
    values: Mapping[str, float], bed: SensorBed, air_c: float, wind_m_s: float, age_d: float
) -> float:
    """Absorptance over conductance to the air and sky: warming by sunlight [K per W m-2].

    Parameters
    ----------
    values : mapping of str to float
        Fitted numbers; the others are those of the bed.
    bed : SensorBed
    air_c, wind_m_s : float
        Mean air [degC] and wind [m s-1] of the hours of sun.
    age_d : float
        Age of the film. [d]

    Returns
    -------
    float
        alpha / (a + b u + 4 eps sigma T^3). [K per W m-2]
    """
    record = bed.record_of(values)[0]
    reflectance = aged_reflectance(record.solar_reflectance, record.reflectance_loss, age_d)
    radiative = 4.0 * record.longwave_emittance * STEFAN_BOLTZMANN * (air_c + 273.15) ** 3
    return float(
        (1.0 - reflectance - record.solar_transmittance)
        / (record.wind_calm + record.wind_slope * wind_m_s + radiative)
    )


def fitted_film(
    name: str, film: ParameterSet, priors: Mapping[str, Parameter], fitted: Fitted,
    numbers: Sequence[str], conditions: str, where: str,
) -> ParameterSet:  # fmt: skip
    """Film with the fitted numbers in place, each with a certificate of its own.

    Numbers of bed and crown are written into the film too, which overrides them by name. Water and
    level of the deep soil are left out: the water belongs to the bed of a season file and is told
    in the description, the level to the weeks that were logged.

    Examples
    --------
    >>> p = Parameter(0.5, "1", 0.0, 1.0, 0.1, "assumed", "new", "own_assumption", "", False)
    >>> film = ParameterSet("white", {"solar_reflectance": p}, {"description": "white film"})
    >>> fitted = Fitted({"solar_reflectance": 0.4}, ("solar_reflectance",), np.eye(1) * 1e-4, {}, 1,
    ...                 True)
    >>> own = fitted_film("south", film, dict(film), fitted, ("solar_reflectance",), "", "")
    >>> own["solar_reflectance"].value, own["solar_reflectance"].sd, own["solar_reflectance"].source
    (0.4, 0.01, 'own sensors')
    """
    certificates = {
        key: replace(
            priors[key], value=fitted.values[key], sd=fitted.sd(key), basis="fitted",
            conditions=conditions, source=SOURCE,
            where=where + (f"; at its bound {fitted.at_bound[key]:g}" if key in fitted.at_bound
                           else ""),
            read=True,
        )
        for key in numbers
        if key not in OF_THE_WEEKS
    }  # fmt: skip
    described = f"fitted to sensors, from {film.labels.get('description', film.name)}"
    if WATER in numbers:
        described += (
            f"; the soil under it held {fitted.values[WATER]:.3f} m3 m-3 of water: "
            f"state soil_water_m3_m3 = {fitted.values[WATER]:.3f} under [bed]"
        )
    return ParameterSet(
        name, {**film.parameters, **certificates}, {**film.labels, "description": described}
    )


def report_text(model: CrownSensorCalibrator) -> str:
    """Report of a fit: a line a parameter, what could not be told, errors on days held out."""
    fitted, scores = model.fit_, model.scores_
    lines = []
    for stage, names in model.stages_.items():
        lines.append(f"{stage}:")
        for name in names:
            prior, sd, value = model.priors_[name], model.sds_[name], fitted.values[name]
            unit = "" if prior.unit == "1" else f" {prior.unit}"
            also = fitted.searched[name].others(value) if name in fitted.searched else ()
            places, bound = ", ".join(f"{one:.3g}" for one in also), fitted.at_bound.get(name, 0.0)
            told = applying(
                (True, (f"  {name} {value:.4g} +- {sd:.2g}{unit} (prior: {prior.value:.4g} +- "
                 f"{prior.sd:.2g})")),
                (sd > (1.0 - LEARNED) * prior.sd,
                 "no surer than the prior: it leans on parameters that are not known better"),
                (also, f"{places} fits about as well"),
                (name in fitted.at_bound, f"AT ITS BOUND {bound:g}"),
            )  # fmt: skip
            lines.append("; ".join(told))
    lines += [f"not fitted: {name}: {why}" for name, why in model.held_.items()]
    for what, value, sd, unit in (
        ("damping depth of the daily wave", model.damping_depth_, model.damping_depth_sd_, "m"),
        ("absorptance over conductance", model.ratio_, model.ratio_sd_, "K per W m-2"),
    ):
        if not np.isnan(value):
            lines.append(f"{what}: {value:.4f} +- {sd:.4f} {unit}")
    lines += applying(
        (
            model.ratio_only_,
            (
                "Only this ratio is identifiable without a film sensor: the reflectance above "
                "stands and falls with the conductance that was assumed, and its spread says so."
            ),
        ),
        (
            not fitted.converged,
            f"NOT CONVERGED: parameters still move after {fitted.passes} passes",
        ),
        (scores is None, "no day was held out: nothing is known of the error on other days"),
    )
    if scores is not None:
        lines.append("on days held out (RMSE, bias prior -> fitted, degC):")
        lines += [
            f"  {row.sensor}: {row.rmse_prior:.2f}, {row.bias_prior:+.2f} -> "
            f"{row.rmse_fitted:.2f}, {row.bias_fitted:+.2f} ({row.n} hours)"
            for row in scores.overall.itertuples()
        ]
    return "\n".join(lines)


def damping_of(fitted: Fitted, bed: SensorBed) -> tuple[float, float]:
    """Damping depth of the daily wave and its spread over all water that fits. [m]"""

    def depth(water: float) -> float:
        record = bed.record_of({WATER: water})[0]
        return float(damping_depth(record.conductivity, record.heat_capacity))

    best = fitted.values[WATER]
    return depth(best), fitted.searched[WATER].sd(depth, best)


SCHEMA_VERSION = 2


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
        "parameters": [
            {
                "name": number,
                "stage": stage,
                "unit": model.priors_[number].unit,
                "prior": model.priors_[number].value,
                "prior_sd": model.priors_[number].sd,
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
    }


def _known(value: float) -> float | None:
    return None if np.isnan(value) else float(value)
