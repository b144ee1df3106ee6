"""Photoperiod response of induction on a day of a season, compiled.

The equations are those of `phenocast.phenology.induction`, which also says where they come from;
here they are written for eight plants at once.
"""

from __future__ import annotations

from typing import Any

from numba import njit

from phenocast.phenology.induction import (
    COOLEST_CHAMBER_C,
    REFERENCE_CROWN_C,
    WARMEST_CHAMBER_C,
)
from phenocast.phenology.steps import exponential
from phenocast.vector import any_lane, clip, lanes, where


@njit(cache=True, nogil=True, error_model="numpy")
def photoperiod_response(photoperiod_h: float, crown_c: float, plant: Any) -> Any:
    """Photoperiod response of one day, 0 to 1.

    Parameters
    ----------
    photoperiod_h : photoperiod that the plant feels. [h]
    crown_c : mean crown temperature. [degC]
    plant : one record of `phenocast.phenology.plant_records`, or of `lane_records` for eight.

    Examples
    --------
    >>> from phenocast.parameters import cultivars, transplants
    >>> from phenocast.phenology import plant_records
    >>> plant = plant_records(cultivars()["Basalt"], transplants()["plug"])[0]
    >>> photoperiod_response(10.0, 18.0, plant) > 0.9, photoperiod_response(16.0, 18.0, plant) < 0.1
    (True, True)
    """
    promoted = lanes(plant.long_day_promoted) > 0.5
    response = lanes(plant.long_day_promoted)
    if any_lane(promoted):
        response = _long_day_promoted(photoperiod_h, crown_c, plant)
    if any_lane(lanes(plant.long_day_promoted) <= 0.5):
        response = where(promoted, response, _short_day(photoperiod_h, crown_c, plant))
    return response


@njit(cache=True, nogil=True, error_model="numpy")
def _long_day_promoted(photoperiod_h: float, crown_c: float, plant: Any) -> Any:
    """Photoperiod response of a day, 0 to 1, of a type that long days promote."""
    neutral = lanes(plant.long_day_neutral)
    plateau_to = lanes(plant.long_day_plateau_to)
    plateau = lanes(plant.long_day_plateau)
    per_rise = 1.0 / (lanes(plant.long_day_plateau_from) - neutral)
    per_second_rise = 1.0 / (lanes(plant.long_day_obligate) - plateau_to)
    per_width = 1.0 / lanes(plant.photoperiod_width)
    rise = clip((crown_c - neutral) * per_rise, 0.0, 1.0)
    second_rise = clip((crown_c - plateau_to) * per_second_rise, 0.0, 1.0)
    dependence = plateau * rise + (1.0 - plateau) * second_rise
    critical = lanes(plant.critical_photoperiod_18)
    excess = exponential((photoperiod_h - critical) * per_width)
    return 1.0 - dependence / (1.0 + excess)


@njit(cache=True, nogil=True, error_model="numpy")
def _short_day(photoperiod_h: float, crown_c: float, plant: Any) -> Any:
    """Photoperiod response of a day, 0 to 1, of a short-day type."""
    per_width = 1.0 / lanes(plant.photoperiod_width)
    clipped = min(max(crown_c, COOLEST_CHAMBER_C), WARMEST_CHAMBER_C)
    critical = lanes(plant.critical_photoperiod_18) - lanes(plant.critical_photoperiod_slope) * (
        clipped - REFERENCE_CROWN_C
    )
    return 1.0 / (1.0 + exponential((photoperiod_h - critical) * per_width))
