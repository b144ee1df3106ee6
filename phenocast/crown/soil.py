"""Thermal properties of the soil of the bed, and its three layers."""

from __future__ import annotations

import numpy as np

from phenocast._typing import FloatArray

Values = float | FloatArray

# Layers of the column: 0-4, 4-16 and 16-60 cm, so the middle one is centred at 10 cm [m].
LAYER_THICKNESS_M = (0.04, 0.12, 0.44)
# Density of soil minerals and of soil organic matter [Mg m-3].
MINERAL_DENSITY = 2.65
ORGANIC_DENSITY = 1.3


def soil_conductivity(
    bulk_density_mg_m3: Values, clay_share: Values, water_m3_m3: Values
) -> FloatArray:
    """Thermal conductivity of a mineral soil.

    Parameters
    ----------
    bulk_density_mg_m3 : float or array of float64
        Dry bulk density. [Mg m-3]
    clay_share : float or array of float64
        Clay by mass of the mineral part, above 0. [-]
    water_m3_m3 : float or array of float64
        Water by volume. [m3 m-3]

    Returns
    -------
    array of float64, the broadcast shape
        Conductivity, A + B theta - (A - D) exp(-(C theta)^4). [W m-1 K-1]

    Notes
    -----
    Campbell (1985), Soil Physics with BASIC, chapter 4.

    Examples
    --------
    >>> round(float(soil_conductivity(1.45, 0.10, 0.15)), 2)
    1.0
    """
    density = np.asarray(bulk_density_mg_m3, dtype=np.float64)
    water = np.asarray(water_m3_m3, dtype=np.float64)
    moist = 0.65 - 0.78 * density + 0.60 * density**2
    slope = 1.06 * density
    rise = 1.0 + 2.6 / np.sqrt(np.asarray(clay_share, dtype=np.float64))
    dry = 0.03 + 0.1 * density**2
    return np.asarray(
        moist + slope * water - (moist - dry) * np.exp(-((rise * water) ** 4)), dtype=np.float64
    )


def soil_heat_capacity(
    bulk_density_mg_m3: Values, organic_share: Values, water_m3_m3: Values
) -> FloatArray:
    """Volumetric heat capacity of a soil.

    Parameters
    ----------
    bulk_density_mg_m3 : float or array of float64
        Dry bulk density. [Mg m-3]
    organic_share : float or array of float64
        Organic matter by mass. [-]
    water_m3_m3 : float or array of float64
        Water by volume. [m3 m-3]

    Returns
    -------
    array of float64, the broadcast shape
        Heat capacity. [J m-3 K-1]

    Notes
    -----
    Sum of the parts by volume with 2.31 (minerals), 2.51 (organic matter) and 4.18 (water)
    MJ m-3 K-1, Campbell and Norman (1998), chapter 8 (recalled).

    Examples
    --------
    >>> round(float(soil_heat_capacity(1.45, 0.0, 0.15)) / 1e6, 2)
    1.89
    """
    density = np.asarray(bulk_density_mg_m3, dtype=np.float64)
    organic = np.asarray(organic_share, dtype=np.float64)
    mineral_volume = density * (1.0 - organic) / MINERAL_DENSITY
    organic_volume = density * organic / ORGANIC_DENSITY
    water = np.asarray(water_m3_m3, dtype=np.float64)
    return np.asarray(
        1e6 * (2.31 * mineral_volume + 2.51 * organic_volume + 4.18 * water), dtype=np.float64
    )


def damping_depth(
    conductivity_w_m_k: Values, heat_capacity_j_m3_k: Values, period_h: float = 24.0
) -> FloatArray:
    """Depth at which a temperature wave has shrunk to 1/e of its surface amplitude.

    Parameters
    ----------
    conductivity_w_m_k, heat_capacity_j_m3_k : float or array of float64
        Thermal conductivity and volumetric heat capacity. [W m-1 K-1, J m-3 K-1]
    period_h : float
        Period of the wave. [h]

    Returns
    -------
    array of float64
        Damping depth. [m]

    Examples
    --------
    >>> round(float(damping_depth(1.0, 2.5e6)), 3)
    0.105
    """
    frequency = 2.0 * np.pi / (period_h * 3600.0)
    diffusivity = np.asarray(conductivity_w_m_k, dtype=np.float64) / np.asarray(
        heat_capacity_j_m3_k, dtype=np.float64
    )
    return np.asarray(np.sqrt(2.0 * diffusivity / frequency), dtype=np.float64)
