"""The bed as a function of what its sensors can tell, the soil between two depths, and the plan.

A fit moves a few parameters of one film, one soil and the bed's physics; the rest stays as shipped.
The plan says which parameters the readings at hand can tell, in which order, and why others stay.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from phenocast._typing import BoolArray, FloatArray, IntArray
from phenocast.calibration.film.stages import Stage
from phenocast.crown import (
    AIR_ABOVE_FILM,
    BED_FIELDS,
    CROWN,
    FILM_SURFACE,
    N_OUT,
    SOIL_5CM,
    SOIL_10CM,
    BedForcing,
    BedRun,
    bed_records,
    run_beds,
)
from phenocast.crown.balance import BOTTOM_HALF_M, SHARE_5CM, column_constants
from phenocast.crown.soil import soil_conductivity, soil_heat_capacity
from phenocast.errors import Fault, refuse
from phenocast.parameters import Parameter, ParameterSet

WATER = "water"
# More Newton steps than a season takes, so that derivatives by small steps are smooth.
NEWTON_STEPS = 6
# A run with fewer readings of the lower depth tells little beyond where it started [h].
LEAST_RUN_H = 12
# Longest step from one reading at 5 cm to the next over which a straight line is drawn [h].
LONGEST_BRIDGE_H = 4


@dataclass(frozen=True)
class SensorBed:
    """One bed under its weather.

    Parameters
    ----------
    forcing : BedForcing
    cover, sprinkling_mm_h : arrays of float64, shape [n]
        Share of the bed top under leaves [-], overhead water [mm h-1].
    record : recarray of BED_DTYPE, shape [1]
        The central values.
    priors : mapping of str to Parameter
        What could be fitted, by name: fields of the record and the soil's water.
    soil : ParameterSet
    film_age_d : float
        Age of the film in the first hour. [d]
    """

    forcing: BedForcing
    cover: FloatArray
    sprinkling_mm_h: FloatArray
    record: Any
    priors: Mapping[str, Parameter]
    soil: ParameterSet
    film_age_d: float

    @property
    def striped(self) -> bool:
        """Whether the bed has a stripe and a shoulder."""
        return bool(self.record.striped[0] > 0.0)

    def record_of(self, values: Mapping[str, float]) -> Any:
        """Return the record [1] with some numbers replaced."""
        record = self.record.copy()
        for name, value in values.items():
            if name != WATER:
                record[name] = value
        if WATER in values:
            ground = self.soil
            record["conductivity"] = soil_conductivity(
                ground.value("bulk_density"), ground.value("clay_share"), values[WATER]
            )
            record["heat_capacity"] = soil_heat_capacity(
                ground.value("bulk_density"), ground.value("organic_share"), values[WATER]
            )
        return record

    def temperatures(self, values: Mapping[str, float]) -> FloatArray:
        """Return film, air above it, crown, soil at 5 and 10 cm, shape [5, n]. [degC]"""
        bed = BedRun(0, self.cover, self.sprinkling_mm_h, self.film_age_d, self.record_of(values))
        runs = run_beds(self.forcing, [bed], kept=range(N_OUT), newton_steps=NEWTON_STEPS)
        ((_, _, temperatures),) = runs
        return temperatures


def sensor_bed(
    forcing: BedForcing,
    film: ParameterSet,
    physics: ParameterSet,
    soil: ParameterSet,
    *,
    shoulder: ParameterSet | None,
    stripe_width_m: float | None,
    row_offset_m: float,
    water_m3_m3: float | None,
    cover: FloatArray,
    sprinkling_mm_h: FloatArray,
    film_age_d: float,
) -> SensorBed:
    """Return the bed of a film, with the prior of every number of its record that has a spread."""
    record = bed_records(
        film, physics, soil, shoulder=shoulder, stripe_width_m=stripe_width_m,
        row_offset_m=row_offset_m, water_m3_m3=water_m3_m3,
    )  # fmt: skip
    stated = {**physics.parameters, **film.parameters}
    priors = {name: p for name, p in stated.items() if name in BED_FIELDS and p.sd > 0.0}
    water = soil[WATER] if water_m3_m3 is None else soil[WATER].with_value(water_m3_m3)
    if water.sd > 0.0:
        priors[WATER] = water
    return SensorBed(forcing, cover, sprinkling_mm_h, record, priors, soil, film_age_d)


@dataclass(frozen=True)
class SoilRuns:
    """Hours in a row in which the soil at 5 cm is known, with readings at 10 cm among them.

    Driven by the upper reading, the column gives the layer at 10 cm, whatever lies above. The lower
    reading is only compared: used in the drive as well, its noise would feign damping. Where each
    run started is not known well (one noisy reading, and a lowest layer that nobody measured), so
    both starting values are taken out by least squares.

    Parameters
    ----------
    runs : tuple of int arrays
        Places of the hours in the weather, without a gap.
    soil_5cm_c, soil_10cm_c : arrays of float64, shape [n]
        Readings at every hour of the weather, NaN where there is none; at 5 cm gaps of a few hours
        are bridged by a straight line. [degC]
    """

    runs: tuple[NDArray[np.int64], ...]
    soil_5cm_c: FloatArray
    soil_10cm_c: FloatArray

    @property
    def hours(self) -> NDArray[np.int64]:
        """Places of the hours that are compared: with a reading at 10 cm, after a run's first."""
        if not self.runs:
            return np.empty(0, dtype=np.int64)
        after_first = np.concatenate([run[1:] for run in self.runs])
        read = np.isfinite(self.soil_10cm_c[after_first])
        return np.asarray(after_first[read], dtype=np.int64)

    def predicted(self, bed: SensorBed, values: Mapping[str, float]) -> FloatArray:
        """Return the soil at 10 cm at `hours`. [degC]"""
        record = bed.record_of(values)[0]
        deep_c = bed.forcing.deep_c + float(record.deep_above_air)
        constants = tuple(
            map(
                float,
                column_constants(
                    record.conductivity, record.heat_capacity,
                    record.conductivity / (BOTTOM_HALF_M + record.deep_distance),
                ),
            )
        )  # fmt: skip
        longest = max(run.size for run in self.runs)
        still = np.zeros(longest)
        from_root = _column(constants, still, still, 1.0, 0.0)
        from_deep = _column(constants, still, still, 0.0, 1.0)
        parts = []
        for run in self.runs:
            driven = _column(constants, self.soil_5cm_c[run], deep_c[run], 0.0, 0.0)
            read = np.isfinite(self.soil_10cm_c[run[1:]])
            starts = np.column_stack([from_root[: run.size - 1], from_deep[: run.size - 1]])[read]
            gap = self.soil_10cm_c[run[1:]][read] - driven[read]
            parts.append(driven[read] + starts @ np.linalg.lstsq(starts, gap, rcond=None)[0])
        return np.concatenate(parts)


def soil_runs(places: NDArray[np.int64], readings: FloatArray, n_hours: int) -> SoilRuns:
    """Return the runs of hours with both depths, over short gaps.

    Parameters
    ----------
    places : array of int, shape [m]
        Place of each reading in the weather.
    readings : array of float64, shape [m, 2]
        Soil at 5 and at 10 cm, NaN where missing. [degC]
    n_hours : int
        Hours of weather.

    Examples
    --------
    >>> found = soil_runs(np.arange(40), np.full((40, 2), 20.0), 50)
    >>> [run.size for run in found.runs]
    [40]
    """
    at = np.full((n_hours, 2), np.nan)
    at[places] = readings
    known = np.flatnonzero(np.isfinite(at[:, 0]))
    pieces = np.split(known, np.flatnonzero(np.diff(known) > LONGEST_BRIDGE_H) + 1)
    upper, runs = at[:, 0].copy(), []
    for piece in pieces:
        if piece.size == 0:
            continue
        run = np.arange(piece[0], piece[-1] + 1, dtype=np.int64)
        upper[run] = np.interp(run, piece, at[piece, 0])
        if np.isfinite(at[run, 1]).sum() >= LEAST_RUN_H:
            runs.append(run)
    return SoilRuns(tuple(runs), upper, at[:, 1])


def _column(
    constants: tuple[float, ...], soil_5cm_c: FloatArray, deep_c: FloatArray, root: float,
    lowest: float,
) -> FloatArray:  # fmt: skip
    """Middle layer after each hour but the first, under a given temperature at 5 cm.

    The step is that of `column_hour`; 5 cm lies on the line between the two upper layers, so the
    top layer follows from 5 cm and the middle layer of the same hour.
    """
    _, upper, lower, to_deep, _, store_2, store_3, _, part_2, part_3 = constants
    from_5cm = upper * part_2 / (1.0 - SHARE_5CM)
    damped = 1.0 / (1.0 + from_5cm * SHARE_5CM)
    hours = zip(soil_5cm_c[1:].tolist(), deep_c[1:].tolist(), strict=True)
    out = np.empty(soil_5cm_c.size - 1)
    for i, (at_5cm, deep) in enumerate(hours):
        rest_3 = (store_3 * lowest + to_deep * deep) * part_3
        root = ((store_2 * root + lower * rest_3) * part_2 + from_5cm * at_5cm) * damped
        lowest = rest_3 + lower * part_3 * root
        out[i] = root
    return out


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
