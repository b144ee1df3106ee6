"""Which parameters the readings at hand can tell, in which order, and why the others stay."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from phenocast._typing import BoolArray, FloatArray, IntArray
from phenocast.calibration.film.bed import WATER, SensorBed, soil_runs
from phenocast.calibration.film.stages import Stage
from phenocast.crown import AIR_ABOVE_FILM, CROWN, FILM_SURFACE, SOIL_5CM, SOIL_10CM
from phenocast.errors import Fault, refuse

# Sunlight under which an hour is night, and over which it is day [W m-2].
NIGHT_W_M2, DAY_W_M2 = 5.0, 50.0
# Fewer readings than this in a stage tell nothing that its prior does not [1].
LEAST_READINGS = 24
# Share of the night hours with estimated longwave under which its offset cannot be told.
LEAST_ESTIMATED = 0.1

CROWN_NUMBERS = ("crown_soil_weight", "crown_radiant_weight", "crown_solar_gain")


@dataclass
class Plan:
    """Stages in order, bounds of what they fit, and why the other numbers stay as they are.

    ``ratio_only`` is true where no film sensor parts reflectance from conductance.
    """

    stages: list[Stage] = field(default_factory=list)
    bounds: dict[str, tuple[float, float]] = field(default_factory=dict)
    held: dict[str, str] = field(default_factory=dict)
    ratio_only: bool = False


def plan_of(bed: SensorBed, places: IntArray, readings: FloatArray) -> Plan:
    """Return the stages that some readings allow.

    Parameters
    ----------
    bed : SensorBed
    places : array of int, shape [m]
        Hour of each row in the weather.
    readings : array of float64, shape [m, 5]
        NaN where missing. [degC]

    Returns
    -------
    Plan
        (1) water of the soil from two depths; (2) offset of the sky and emittance from nights;
        (3) reflectance, with the slope on wind where the film itself is read, from days; contact of
        film and soil where both are read, and the deep soil's level; the air above the film;
        (4) weights of the crown.

    Raises
    ------
    InputError
        When the bounds of the crown's weights would let the air weigh less than nothing.
    """
    plan = Plan()
    sun = bed.forcing.solar_w_m2[places]
    film = np.isfinite(readings[:, FILM_SURFACE])
    _soil_stage(plan, bed, places, readings)
    night = film & (sun < NIGHT_W_M2)
    sky = {"sky_offset": "", "longwave_emittance": ""}
    estimated = bed.forcing.longwave_estimated[places[night]]
    if night.sum() < LEAST_READINGS:
        sky = dict.fromkeys(sky, "the film was not read at night")
    elif estimated.mean() < LEAST_ESTIMATED:
        sky["sky_offset"] = "the longwave of the sky was measured"
    _add_stage(plan, bed, "nights", sky, places, readings, [(FILM_SURFACE, night)])
    by_day = film & (sun > DAY_W_M2)
    days = {"solar_reflectance": "", "wind_slope": ""}
    everywhere = np.ones(places.size, dtype=bool)
    below = [(at, everywhere) for at in (SOIL_5CM, SOIL_10CM)]
    read_below = np.isfinite(readings[:, [SOIL_5CM, SOIL_10CM]]).sum() >= LEAST_READINGS
    contact = {
        "contact_conductance": "it takes film and soil sensors together",
        "deep_above_air": "" if read_below else "the soil was not read",
    }
    if by_day.sum() >= LEAST_READINGS:
        _add_stage(plan, bed, "days", days, places, readings, [(FILM_SURFACE, by_day)])
        if read_below:
            contact["contact_conductance"] = ""
    else:
        plan.ratio_only = True
        days["wind_slope"] = "the film was not read by day; only absorptance over conductance shows"
        if not read_below:
            days["solar_reflectance"] = "neither film nor soil was read"
        _add_stage(plan, bed, "days", days, places, readings, below)
    _add_stage(plan, bed, "contact", contact, places, readings, below)
    for name, numbers, at in (
        ("air above the film", ("air_above_share",), AIR_ABOVE_FILM),
        ("crown", CROWN_NUMBERS, CROWN),
    ):
        have = np.isfinite(readings[:, at])
        why = "" if have.sum() >= LEAST_READINGS else f"the {name} was not read"
        _add_stage(plan, bed, name, dict.fromkeys(numbers, why), places, readings, [(at, have)])
    if "crown_soil_weight" in plan.bounds and "crown_radiant_weight" in plan.bounds:
        most = plan.bounds["crown_soil_weight"][1] + plan.bounds["crown_radiant_weight"][1]
        refuse(
            (
                most > 1.0,
                Fault(
                    "the bounds of the crown's weights let the air weigh less than nothing",
                    "crown_soil_weight, crown_radiant_weight",
                    most,
                    "upper bounds, sum at most 1",
                ),
            )
        )
    return plan


def _soil_stage(plan: Plan, bed: SensorBed, places: IntArray, readings: FloatArray) -> None:
    """Water of the soil from two depths, whatever lies above them."""
    runs = soil_runs(places, readings[:, [SOIL_5CM, SOIL_10CM]], len(bed.forcing))
    why = ""
    if WATER not in bed.priors:
        why = "it has no spread: taken as known"
    elif bed.striped:
        why = "under a striped film two soil columns mix"
    elif runs.hours.size < LEAST_READINGS:
        why = "the soil was not read at both depths for half a day or more in a row"
    if why:
        plan.held[WATER] = why
        return
    plan.bounds[WATER] = (bed.priors[WATER].lower, bed.priors[WATER].upper)
    plan.stages.append(
        Stage(
            "soil", (WATER,), runs.soil_10cm_c[runs.hours],
            np.full(runs.hours.size, SOIL_10CM), runs.hours,
            lambda values: runs.predicted(bed, values), depends=(WATER,), branched=True,
        )
    )  # fmt: skip


def _add_stage(
    plan: Plan,
    bed: SensorBed,
    name: str,
    numbers: Mapping[str, str],
    places: IntArray,
    readings: FloatArray,
    used: list[tuple[int, BoolArray]],
) -> None:
    """Add a stage; ``numbers`` gives why each is not fitted, "" where it is."""
    fitted = []
    for number, why in numbers.items():
        reason = why or ("" if number in bed.priors else "it has no spread: taken as known")
        if reason:
            plan.held[number] = reason
        else:
            fitted.append(number)
            plan.bounds[number] = _bounds(bed, number)
    if not fitted:
        return
    rows, sensor = [], []
    for at, mask in used:
        own = np.flatnonzero(mask & np.isfinite(readings[:, at]))
        rows.append(own)
        sensor.append(np.full(own.size, at))
    row, column = np.concatenate(rows), np.concatenate(sensor)
    hours = places[row]
    plan.stages.append(
        Stage(
            name, tuple(fitted), readings[row, column], column, hours,
            lambda values: bed.temperatures(values)[column, hours],
        )
    )  # fmt: skip


def _bounds(bed: SensorBed, name: str) -> tuple[float, float]:
    """Bounds of the certificate, cut where the optics would add to more than 1."""
    prior, record = bed.priors[name], bed.record[0]
    upper = prior.upper
    for own, beside in (("solar_reflectance", "solar_transmittance"),
                        ("longwave_emittance", "longwave_transmittance")):  # fmt: skip
        if name == own:
            upper = min(upper, 1.0 - float(record[beside]))
    refuse(
        (
            not prior.lower < upper,
            Fault("the bounds leave nothing to fit", name, (prior.lower, upper), "lower < upper"),
        )
    )
    return prior.lower, upper
