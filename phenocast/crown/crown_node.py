"""Temperature of the crown from what surrounds it, without a heat store of its own.

A crown of 25 mm follows its surroundings within 4 to 10 minutes, so each hour stands alone.
"""

from __future__ import annotations

from numba import njit

from phenocast.crown.sprinkling import PSYCHROMETRIC_KPA_K, saturation_kpa, saturation_slope


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
    conductance; two Newton steps find its temperature.

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
    if wet_share <= 0.0:
        return dry
    factor = wet_share * air_weight / PSYCHROMETRIC_KPA_K
    crown = dry
    for _ in range(3):
        saturation = saturation_kpa(crown)
        gap = crown - dry + factor * (saturation - vapour_pressure_kpa)
        crown -= gap / (1.0 + factor * saturation_slope(crown, saturation))
    return crown
