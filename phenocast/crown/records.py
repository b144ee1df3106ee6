"""Everything one bed needs, as one record of floats: film, shoulder, soil, geometry and physics.

Records are NumPy record arrays, so that the compiled kernel and the same Python function run
uncompiled read them alike, and a set of draws is simply a longer array.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from phenocast.crown.soil import soil_conductivity, soil_heat_capacity
from phenocast.crown.stripe import mixing_weight
from phenocast.errors import Fault, InputError
from phenocast.parameters import ParameterSet

_OPTICS = (
    "solar_reflectance",
    "solar_transmittance",
    "longwave_emittance",
    "longwave_transmittance",
    "reflectance_loss",
    "emittance_rise",
)
_PHYSICS = (
    "contact_conductance",
    "wind_calm",
    "wind_slope",
    "sky_offset",
    "deep_distance",
    "soil_reflectance",
    "soil_emittance",
    "canopy_interception",
    "crown_shading",
    "air_above_share",
    "crown_soil_weight",
    "crown_radiant_weight",
    "crown_solar_gain",
    "surface_wetness",
)
_FROM_GEOMETRY = ("conductivity", "heat_capacity", "weight_top", "weight_10cm", "striped")

BED_FIELDS: tuple[str, ...] = (
    *_OPTICS,
    *(f"shoulder_{name}" for name in _OPTICS),
    *_PHYSICS,
    *_FROM_GEOMETRY,
)
BED_DTYPE = np.dtype([(name, np.float64) for name in BED_FIELDS])

TOP_DEPTH_M = 0.02
ROOT_DEPTH_M = 0.10


def bed_records(
    film: ParameterSet,
    physics: ParameterSet,
    soil: ParameterSet,
    *,
    shoulder: ParameterSet | None = None,
    stripe_width_m: float | None = None,
    row_offset_m: float = 0.0,
    water_m3_m3: float | None = None,
    n_draws: int | None = None,
    seed: int = 0,
) -> np.recarray[Any, Any]:
    """Return the records of one film on one soil.

    Parameters
    ----------
    film, physics, soil : ParameterSet
        A film, the bed's physics and a soil, as in ``calibration/``. A film may override any
        number of the physics by the same name.
    shoulder : ParameterSet, optional
        The film beside the stripe; without it the whole bed top has one film.
    stripe_width_m, row_offset_m : float
        Width of the stripe and distance of the plants from its centre line. [m]
    water_m3_m3 : float, optional
        Water in the soil by volume; the soil's own default otherwise. [m3 m-3]
    n_draws : int, optional
        Number of draws from what is not known; None gives one record of the central values.
    seed : int

    Returns
    -------
    recarray of BED_DTYPE, shape (n_draws,) or (1,)

    Raises
    ------
    InputError
        When the optics of a film do not add up, or a striped film has no width.

    Examples
    --------
    >>> from phenocast.parameters import bed, films, soils
    >>> record = bed_records(films()["black"], bed(), soils()["sandy loam"])[0]
    >>> bool(record.solar_reflectance < 0.1), bool(record.striped == 0.0)
    (True, True)
    """
    n = 1 if n_draws is None else n_draws
    records = np.zeros(n, dtype=BED_DTYPE).view(np.recarray)
    numbers = {**_values(physics, n_draws, seed), **_values(film, n_draws, seed)}
    ground = _values(soil, n_draws, seed)
    for name in (*_OPTICS, *_PHYSICS):
        records[name] = numbers[name]
    _check_optics(film.name, records, "")
    if shoulder is not None:
        width = numbers.get("stripe_width") if stripe_width_m is None else stripe_width_m
        if width is None:
            raise InputError(
                Fault("a striped film needs a width", where=film.name, do="state stripe_width_m")
            )
        beside = {**_values(physics, n_draws, seed), **_values(shoulder, n_draws, seed)}
        for name in _OPTICS:
            records[f"shoulder_{name}"] = beside[name]
        _check_optics(shoulder.name, records, "shoulder_")
        extra = numbers["stripe_lateral_extra"]
        records["striped"] = 1.0
        records["weight_top"] = mixing_weight(width, TOP_DEPTH_M, row_offset_m, extra)
        records["weight_10cm"] = mixing_weight(width, ROOT_DEPTH_M, row_offset_m, extra)
    else:
        records["weight_top"] = records["weight_10cm"] = 1.0
    water = ground["water"] if water_m3_m3 is None else water_m3_m3
    records["conductivity"] = soil_conductivity(ground["bulk_density"], ground["clay_share"], water)
    records["heat_capacity"] = soil_heat_capacity(
        ground["bulk_density"], ground["organic_share"], water
    )
    return records


def _values(
    parameters: ParameterSet, n_draws: int | None, seed: int
) -> dict[str, NDArray[np.float64]]:
    if n_draws is None:
        return {key: np.array([value]) for key, value in parameters.numbers().items()}
    return parameters.draw(seed, n_draws)


def _check_optics(name: str, records: np.recarray[Any, Any], prefix: str) -> None:
    solar = records[f"{prefix}solar_reflectance"] + records[f"{prefix}solar_transmittance"]
    if np.any(solar > 1.0):
        raise InputError(
            Fault("solar reflectance and transmittance add to more than 1", where=name,
                  value=round(float(solar.max()), 3), allowed="at most 1")
        )
    # Emittance and transmittance are drawn apart; where a draw takes them past 1 the transmittance
    # gives way, since the emittance decides the film's own temperature.
    room = 1.0 - records[f"{prefix}longwave_emittance"]
    over = f"{prefix}longwave_transmittance"
    records[over] = np.minimum(records[over], room)
