"""Everything one bed needs, as one record of floats: film, shoulder, soil, geometry and physics.

Records are NumPy record arrays, so that the compiled kernel and the same Python function run
uncompiled read them alike, and a set of draws is simply a longer array.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from phenocast._typing import FloatArray
from phenocast.crown.film import mixing_weight, stripe_weight
from phenocast.crown.soil import soil_conductivity, soil_heat_capacity
from phenocast.errors import Fault, InputError, broken
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
    "wind_stable",
    "stable_damping",
    "sky_offset",
    "deep_distance",
    "deep_above_air",
    "soil_reflectance",
    "soil_emittance",
    "leaf_emittance",
    "canopy_interception",
    "crown_shading",
    "air_above_share",
    "crown_soil_weight",
    "crown_radiant_weight",
    "crown_solar_gain",
    "surface_wetness",
    "water_held",
)
_DERIVED = (
    "conductivity",
    "heat_capacity",
    "deep_contact",
    "striped",
    "weight_top",
    "weight_10cm",
    "weight_air",
)

BED_FIELDS: tuple[str, ...] = (
    *_OPTICS,
    *(f"shoulder_{name}" for name in _OPTICS),
    *_PHYSICS,
    *_DERIVED,
)
BED_DTYPE = np.dtype([(name, np.float64) for name in BED_FIELDS])

TOP_DEPTH_M = 0.02
ROOT_DEPTH_M = 0.10
AIR_HEIGHT_M = 0.05


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
        The film beside the stripe; a film whose label ``shoulder`` names one cannot do without.
    stripe_width_m : float, optional
        Width of the stripe; the film's own ``stripe_width`` otherwise. [m]
    row_offset_m : float
        Distance of the plants from the centre line of the stripe. [m]
    water_m3_m3 : float, optional
        Water in the soil by volume; the soil's own default otherwise. [m3 m-3]
    n_draws : int, optional
        Number of draws from what is not known; None gives one record of the central values. Two
        films drawn with one seed share the draws of physics and soil.
    seed : int

    Returns
    -------
    recarray of BED_DTYPE, shape [n_draws] or [1]

    Raises
    ------
    InputError
        When the optics of a film do not add up, a number is missing, the soil holds more water
        than pores, or a striped film has no width or no shoulder.

    Examples
    --------
    >>> from phenocast.parameters import bed, films, soils
    >>> record = bed_records(films()["black"], bed(), soils()["sandy loam"])[0]
    >>> bool(record.solar_reflectance < 0.1), bool(record.striped == 0.0)
    (True, True)
    """
    n = 1 if n_draws is None else n_draws
    records = np.zeros(n, dtype=BED_DTYPE).view(np.recarray)
    shared = _values(physics, n_draws, seed)
    numbers = {**shared, **_values(film, n_draws, seed)}
    ground = _values(soil, n_draws, seed)
    for name in (*_OPTICS, *_PHYSICS):
        records[name] = _number(numbers, name, film.name)
    _settle_optics(film, records, "")
    records["deep_contact"] = 1.0
    if shoulder is None:
        if "shoulder" in film.labels:
            raise InputError(
                Fault(
                    "a striped film needs the film of its shoulder",
                    where=film.name,
                    value=film.labels["shoulder"],
                    do="pass that film as shoulder",
                )
            )
        records["weight_top"] = records["weight_10cm"] = records["weight_air"] = 1.0
    else:
        width = numbers.get("stripe_width") if stripe_width_m is None else stripe_width_m
        if width is None or not np.all(np.asarray(width) >= 0.0):
            raise InputError(
                Fault(
                    "a striped film needs the width of its stripe",
                    where=film.name,
                    value=stripe_width_m,
                    allowed="0 m or more",
                    do="state stripe_width_m",
                )
            )
        beside = {**shared, **_values(shoulder, n_draws, seed)}
        for name in _OPTICS:
            records[f"shoulder_{name}"] = _number(beside, name, shoulder.name)
        _settle_optics(shoulder, records, "shoulder_")
        extra = _number(numbers, "stripe_lateral_extra", film.name)
        records["striped"] = 1.0
        records["weight_top"] = mixing_weight(width, TOP_DEPTH_M, row_offset_m, extra)
        records["weight_10cm"] = mixing_weight(width, ROOT_DEPTH_M, row_offset_m, extra)
        # The air 5 cm above takes from stripe and shoulder by the angle under which it sees them;
        # an assumption, since wind mixes it along the bed as well.
        records["weight_air"] = stripe_weight(width, AIR_HEIGHT_M, row_offset_m)
    water = ground["water"] if water_m3_m3 is None else np.full(n, water_m3_m3)
    pores = 1.0 - ground["bulk_density"] / 2.65
    if not np.all((water >= 0.0) & (water < pores)):
        raise InputError(
            Fault(
                "soil water out of range",
                where=soil.name,
                value=float(np.max(water)),
                allowed=f"0 to {float(np.min(pores)):.2f} m3 m-3, the pores of this soil",
            )
        )
    records["conductivity"] = soil_conductivity(ground["bulk_density"], ground["clay_share"], water)
    records["heat_capacity"] = soil_heat_capacity(
        ground["bulk_density"], ground["organic_share"], water
    )
    return records


def _values(parameters: ParameterSet, n_draws: int | None, seed: int) -> dict[str, FloatArray]:
    if n_draws is None:
        return {key: np.array([value]) for key, value in parameters.numbers().items()}
    return parameters.draw(seed, n_draws)


def _number(numbers: dict[str, FloatArray], name: str, where: str) -> FloatArray:
    if name not in numbers:
        raise InputError(
            Fault(
                "a film or the bed lacks a number",
                where=where,
                value=name,
                do="give it in the film's table with its provenance",
            )
        )
    return numbers[name]


def _settle_optics(film: ParameterSet, records: np.recarray[Any, Any], prefix: str) -> None:
    """Refuse optics that cannot be, and bring draws that overshoot back to what can."""
    optics = {part: records[f"{prefix}{part}"] for part in _OPTICS[:4]}
    solar = film.value("solar_reflectance") + film.value("solar_transmittance")
    faults = broken(
        *(
            (
                not np.all((values >= 0.0) & (values <= 1.0)),
                Fault(
                    f"{part} out of range",
                    where=film.name,
                    value=float(values[np.argmax(np.abs(values - 0.5))]),
                    allowed="0 to 1",
                ),
            )
            for part, values in optics.items()
        ),
        (
            solar > 1.0,
            Fault(
                "solar reflectance and transmittance add to more than 1",
                where=film.name,
                value=round(solar, 3),
                allowed="at most 1",
            ),
        ),
    )
    if faults:
        raise InputError(faults)
    # The parts are drawn apart. Where a draw takes two of them past 1 the transmittance gives way:
    # reflectance and emittance decide the film's own temperature.
    for kept, gives_way in (
        ("solar_reflectance", "solar_transmittance"),
        ("longwave_emittance", "longwave_transmittance"),
    ):
        room = 1.0 - records[f"{prefix}{kept}"]
        records[f"{prefix}{gives_way}"] = np.minimum(records[f"{prefix}{gives_way}"], room)
