"""The bed as a function of what its sensors can tell, and the soil between two depths.

A fit moves a few parameters of one film, one soil and the bed's physics; the rest stays as shipped.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from phenocast._typing import FloatArray
from phenocast.crown import BED_FIELDS, N_OUT, BedForcing, BedRun, bed_records, run_beds
from phenocast.crown.balance import BOTTOM_HALF_M, SHARE_5CM, column_constants
from phenocast.crown.soil import soil_conductivity, soil_heat_capacity
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
