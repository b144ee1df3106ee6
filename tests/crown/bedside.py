"""Beds and weather for the crown's tests, built from plain numbers and not from shipped ones."""

from __future__ import annotations

import numpy as np

from phenocast.crown import BED_DTYPE, N_OUT, N_STATE, NEWTON_STEPS, run_lanes, starting_state
from phenocast.vector import lane_records, side_by_side

SIGMA = 5.670374e-8

PLAIN = {
    "solar_reflectance": 0.04,
    "solar_transmittance": 0.01,
    "longwave_emittance": 0.85,
    "longwave_transmittance": 0.10,
    "contact_conductance": 20.0,
    "wind_calm": 6.0,
    "wind_slope": 5.0,
    "wind_stable": 6.0,
    "stable_damping": 0.0,
    "deep_distance": 0.3,
    "soil_reflectance": 0.15,
    "soil_emittance": 0.95,
    "leaf_emittance": 0.97,
    "canopy_interception": 0.85,
    "crown_shading": 1.3,
    "air_above_share": 0.12,
    "crown_soil_weight": 0.59,
    "crown_radiant_weight": 0.09,
    "crown_solar_gain": 0.0004,
    "water_held": 0.2,
    "conductivity": 1.0,
    "heat_capacity": 2.0e6,
    "deep_contact": 1.0,
    "weight_top": 1.0,
    "weight_10cm": 1.0,
    "weight_air": 1.0,
}


SERIES = (
    "air", "vapour", "wind", "solar", "sky", "estimated", "deep", "cover", "sprinkling"
)  # fmt: skip


def record(**changes):
    """One bed: black film, wind conductance 6 + 5 u by day and night, k 1.0, C 2.0e6."""
    if "wind_calm" in changes:
        changes = {"wind_stable": changes["wind_calm"], **changes}
    one = np.zeros(1, dtype=BED_DTYPE).view(np.recarray)
    for name, value in {**PLAIN, **changes}.items():
        one[name] = value
    return one[0]


def weather(n, **changes):
    """Arrays of `n` hours: 20 degC, black-body sky of the air, no sun, wind 2 m/s, dry."""
    air = np.broadcast_to(np.asarray(changes.get("air", 20.0), float), n).copy()
    given = {
        "air": air,
        "vapour": 1.2,
        "wind": 2.0,
        "solar": 0.0,
        "sky": SIGMA * (air + 273.15) ** 4,
        "estimated": 0.0,
        "deep": air,
        "cover": 0.0,
        "sprinkling": 0.0,
        **changes,
    }
    return {k: np.broadcast_to(np.asarray(v, float), n).copy() for k, v in given.items()}


def run(hours, bed, *, state=None, steps=NEWTON_STEPS, age=0.0):
    """Temperatures [N_OUT, n] and the state [2, N_STATE] after the last hour."""
    n = hours["air"].size
    if state is None:
        state = starting_state(hours["air"], hours["deep"][0])
    lanes = side_by_side(2, N_STATE)
    lanes[:] = state[..., None]
    spans, film_age = side_by_side(3), side_by_side()
    spans[2], film_age[:] = n, age
    out = side_by_side(n, N_OUT)
    in_lanes = lane_records(np.atleast_1d(bed))[0]
    series = (hours[name] for name in SERIES)
    run_lanes(*series, spans, film_age, in_lanes, lanes, np.arange(N_OUT), out, steps)
    assert np.array_equal(out, np.broadcast_to(out[..., :1], out.shape), equal_nan=True)
    return out[..., 0].T.copy(), lanes[..., 0].copy()
