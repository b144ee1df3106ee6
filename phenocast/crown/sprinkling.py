"""Overhead sprinkling: water on film and plant, and the heat that it takes away."""

from __future__ import annotations

from numba import njit

from phenocast.vector import exp
from phenocast.weather.humidity import (
    SATURATION_AT_0_KPA,
    SATURATION_FACTOR,
    SATURATION_OFFSET_C,
    SATURATION_SLOPE_C,
)

# Psychrometric constant near sea level [kPa K-1].
PSYCHROMETRIC_KPA_K = 0.066
# Latent heat that 1 mm of water takes when it evaporates within an hour [W m-2 per mm h-1].
LATENT_W_M2_PER_MM_H = 2.45e6 / 3600.0
# Heat that 1 mm h-1 of water carries for each kelvin [W m-2 K-1 per mm h-1]: 4186 J kg-1 / 3600 s.
WATER_HEAT_W_M2_K_PER_MM_H = 1.163


@njit(cache=True, nogil=True, error_model="numpy")
def saturation_kpa(temperature_c: float) -> float:
    """Saturation vapour pressure over water.

    Parameters
    ----------
    temperature_c : float
        Temperature. [degC]

    Returns
    -------
    float
        0.6108 exp(17.27 T / (T + 237.3)). [kPa]

    Notes
    -----
    FAO Irrigation and Drainage Paper 56 (1998), eq. 11.

    Examples
    --------
    >>> round(saturation_kpa(20.0), 3)
    2.338
    """
    shifted = temperature_c + SATURATION_OFFSET_C
    return SATURATION_AT_0_KPA * exp(SATURATION_FACTOR * temperature_c / shifted)


@njit(cache=True, nogil=True, error_model="numpy")
def saturation_slope(temperature_c: float, saturation: float) -> float:
    """Slope of the saturation curve.

    Parameters
    ----------
    temperature_c : float
        Temperature. [degC]
    saturation : float
        Saturation vapour pressure at that temperature. [kPa]

    Returns
    -------
    float
        Slope, 4098 e_s / (T + 237.3)^2. [kPa K-1]

    Notes
    -----
    FAO Irrigation and Drainage Paper 56 (1998), eq. 13.

    Examples
    --------
    >>> round(saturation_slope(20.0, saturation_kpa(20.0)), 4)
    0.1447
    """
    shifted = temperature_c + SATURATION_OFFSET_C
    return SATURATION_SLOPE_C / (shifted * shifted) * saturation


@njit(cache=True, nogil=True, error_model="numpy")
def wet_bulb_c(air_c: float, vapour_pressure_kpa: float) -> float:
    """Temperature of a wet body in moving air, from the psychrometric equation.

    Drops of a sprinkler reach the bed close to it.

    Parameters
    ----------
    air_c, vapour_pressure_kpa : float
        Air temperature and vapour pressure. [degC, kPa]

    Returns
    -------
    float
        Wet bulb, the root of e_s(Tw) - e = 0.066 (Ta - Tw). [degC]

    Examples
    --------
    >>> round(wet_bulb_c(30.0, 0.5 * saturation_kpa(30.0)), 2)
    22.02
    """
    wet = air_c
    for _ in range(6):
        saturation = saturation_kpa(wet)
        gap = saturation - vapour_pressure_kpa - PSYCHROMETRIC_KPA_K * (air_c - wet)
        wet -= gap / (saturation_slope(wet, saturation) + PSYCHROMETRIC_KPA_K)
    return wet
