"""The film over a bed: its optics and their ageing, the reach of a stripe, and the crown in it.

A film is described by four numbers of its upper face. Solar absorptance is never stated: it is
what reflectance and transmittance leave, so the three always add to one, in every draw.

Functions of an hour take lanes of `phenocast.vector` as well as single numbers.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from phenocast._typing import FloatArray
from phenocast.crown.sprinkling import PSYCHROMETRIC_KPA_K, saturation_kpa, saturation_slope
from phenocast.vector import any_lane, maximum, minimum, where

Values = float | FloatArray

DAYS_PER_AGEING_STEP = 100.0
LOWEST_REFLECTANCE = 0.02


@njit(cache=True, nogil=True, error_model="numpy")
def aged_reflectance(reflectance: float, loss_per_100d: float, age_d: float) -> float:
    """Solar reflectance of a film that has lain in the field.

    Dust, spray and weathering take reflectance away at a steady rate; what is no longer reflected
    is absorbed.

    Parameters
    ----------
    reflectance : float
        Solar reflectance when laid. [-]
    loss_per_100d : float
        Reflectance lost in 100 days. [-]
    age_d : float
        Days since the film was laid. [d]

    Returns
    -------
    float
        Solar reflectance now, never under 0.02 (a dirty black film). [-]

    Notes
    -----
    The linear form is an assumption; no source was read.

    Examples
    --------
    >>> round(aged_reflectance(0.66, 0.05, 60.0), 3)
    0.63
    """
    now = reflectance - loss_per_100d * age_d / DAYS_PER_AGEING_STEP
    return maximum(now, minimum(reflectance, LOWEST_REFLECTANCE))


@njit(cache=True, nogil=True, error_model="numpy")
def aged_emittance(
    emittance: float, rise_per_100d: float, transmittance: float, age_d: float
) -> float:
    """Longwave emittance of a film that has lain in the field.

    The bare or thinly coated metal of a metallised film weathers toward the emittance of plastic.

    Parameters
    ----------
    emittance, rise_per_100d : float
        Emittance of the upper face when laid, and its gain in 100 days. [-]
    transmittance : float
        Longwave transmittance, which the emittance can never crowd out. [-]
    age_d : float
        Days since the film was laid. [d]

    Returns
    -------
    float
        Emittance now; emittance and transmittance stay at or under 1. [-]

    Examples
    --------
    >>> round(aged_emittance(0.50, 0.05, 0.09, 100.0), 3)
    0.55
    """
    now = emittance + rise_per_100d * age_d / DAYS_PER_AGEING_STEP
    highest = 1.0 - transmittance
    return where(now < highest, now, maximum(highest, emittance))


@njit(cache=True, nogil=True, error_model="numpy")
def light_into_soil(
    transmittance: float, underside_reflectance: float, soil_reflectance: float
) -> float:
    """Share of the sunlight on a film that the soil under it absorbs.

    The light that passes the film bounces between soil and film until it is absorbed:
    tau (1 - a) / (1 - rho a).

    Parameters
    ----------
    transmittance : float
        Solar transmittance of the film. [-]
    underside_reflectance : float
        Solar reflectance of the film's underside. [-]
    soil_reflectance : float
        Solar reflectance of the soil. [-]

    Returns
    -------
    float
        Share absorbed by the soil. [-]

    Examples
    --------
    >>> round(light_into_soil(0.84, 0.11, 0.15), 3)
    0.726
    """
    return (
        transmittance * (1.0 - soil_reflectance) / (1.0 - underside_reflectance * soil_reflectance)
    )


@njit(cache=True, nogil=True, error_model="numpy")
def crown_temperature(
    soil_c: float,
    air_above_film_c: float,
    radiant_c: float,
    absorbed_k: float,
    soil_weight: float,
    radiant_weight: float,
    wet_share: float,
    vapour_pressure_kpa: float,
) -> float:
    """Crown temperature as a weighted mean of soil, air over the film and radiant surroundings.

    Parameters
    ----------
    soil_c : float
        Temperature of the top soil at the crown. [degC]
    air_above_film_c : float
        Air temperature just above the film. [degC]
    radiant_c : float
        Mean radiant temperature of film and sky or canopy. [degC]
    absorbed_k : float
        Warming by absorbed sunlight. [K]
    soil_weight, radiant_weight : float
        Weights of soil and radiant surroundings; the air has the rest. [-]
    wet_share : float
        Share of the crown that is wet, 0 to 1. [-]
    vapour_pressure_kpa : float
        Vapour pressure of the air. [kPa]

    Returns
    -------
    float
        Crown temperature. [degC]

    Notes
    -----
    The weights are conductances over their sum: soil 40, air 22, radiation 6 W m-2 K-1 for a
    half-buried crown of 25 mm in a slow wind. A wet crown gives up latent heat through the air
    conductance; three Newton steps find its temperature.

    Examples
    --------
    >>> round(crown_temperature(25.0, 28.0, 30.0, 0.2, 0.6, 0.1, 0.0, 1.5), 2)
    26.6
    """
    air_weight = 1.0 - soil_weight - radiant_weight
    dry = (
        soil_weight * soil_c
        + air_weight * air_above_film_c
        + radiant_weight * radiant_c
        + absorbed_k
    )
    crown = dry
    if any_lane(wet_share > 0.0):
        factor = wet_share * air_weight / PSYCHROMETRIC_KPA_K
        for _ in range(3):
            saturation = saturation_kpa(crown)
            gap = crown - dry + factor * (saturation - vapour_pressure_kpa)
            crown = crown - gap / (1.0 + factor * saturation_slope(crown, saturation))
    return crown


def stripe_weight(width_m: Values, depth_m: Values, offset_m: Values = 0.0) -> FloatArray:
    """Weight of the stripe in the soil temperature at a depth, the rest being the shoulders'.

    Parameters
    ----------
    width_m : float or array of float64
        Width of the stripe. [m]
    depth_m : float or array of float64
        Depth under the surface, above 0. [m]
    offset_m : float or array of float64
        Distance from the centre line of the stripe. [m]

    Returns
    -------
    array of float64, the broadcast shape
        Weight, 0 to 1: [atan((a - y)/z) + atan((a + y)/z)] / pi with a half the width. [-]

    Notes
    -----
    Exact steady solution for a half-space whose surface has one temperature on a strip and
    another beside it; Carslaw and Jaeger (1959) type. On the centre line (2/pi) atan(a/z).

    Examples
    --------
    >>> round(float(stripe_weight(0.30, 0.10)), 3)
    0.626
    """
    half = np.asarray(width_m, dtype=np.float64) / 2.0
    depth = np.asarray(depth_m, dtype=np.float64)
    offset = np.asarray(offset_m, dtype=np.float64)
    return np.asarray(
        (np.arctan((half - offset) / depth) + np.arctan((half + offset) / depth)) / np.pi,
        dtype=np.float64,
    )


def mixing_weight(
    width_m: Values, depth_m: Values, offset_m: Values, lateral_extra: Values
) -> FloatArray:
    """Weight of the stripe for weather that changes by the hour.

    The daily wave has less time than the steady state to spread sideways, so the stripe keeps
    more of its own temperature: the steady weight plus a lateral extra, which fades as the steady
    weight fades, so that a stripe of no width still has no weight.

    Parameters
    ----------
    width_m, depth_m, offset_m : float or array of float64
        As in `stripe_weight`. [m]
    lateral_extra : float or array of float64
        Weight added where the stripe is wide. [-]

    Returns
    -------
    array of float64
        Weight, 0 to 1. [-]

    Examples
    --------
    >>> float(mixing_weight(0.0, 0.10, 0.0, 0.1))
    0.0
    >>> round(float(mixing_weight(0.30, 0.10, 0.0, 0.1)), 3)
    0.726
    """
    steady = stripe_weight(width_m, depth_m, offset_m)
    # Under a tenth the extra shrinks with the steady weight, so the limit Ws -> 0 holds.
    extra = np.asarray(lateral_extra, dtype=np.float64) * np.minimum(1.0, steady / 0.1)
    return np.minimum(1.0, steady + extra)
