"""What the air does to a bed: heat carried by wind, and longwave from the sky, clear and cloudy."""

from __future__ import annotations

import numpy as np
from numba import njit

from phenocast._typing import FloatArray
from phenocast.vector import maximum

# Molar heat capacity of air, Campbell and Norman (1998), section 3.6 [J mol-1 K-1].
MOLAR_HEAT_CAPACITY = 29.3
GRAVITY_M_S2 = 9.81
WIND_HEIGHT_M = 2.0
# Anemometers stall near this speed [m s-1].
LEAST_WIND_M_S = 0.1
STEFAN_BOLTZMANN = 5.670374e-8
# Below this clear-sky radiation the ratio of measured to clear is more sensor than sky [W m-2].
LOW_SUN_W_M2 = 100.0
# Hours of the latest sunlight that decide the cloud of the night [h].
CLOUD_MEMORY_H = 4


@njit(cache=True, nogil=True, error_model="numpy")
def stability(damping: float, wind_m_s: float, air_c: float) -> float:
    """How strongly each kelvin of cold air on a surface damps the turbulence above it.

    On clear nights the surface is colder than the air at 2 m, and the cold air that lies on it
    shuts out the wind. The turbulent conductance b u is divided by (1 + s dT)^2 with s from here.

    Parameters
    ----------
    damping : float
        Factor of the bulk Richardson number; 4.7 is published, 0 switches the effect off. [-]
    wind_m_s : float
        Wind speed at 2 m; less than 0.1 counts as 0.1. [m s-1]
    air_c : float
        Air temperature. [degC]

    Returns
    -------
    float
        s = damping g z / (T u^2). [K-1]

    Notes
    -----
    Louis (1979), Boundary-Layer Meteorology 17:187-202, stable side with 4.7 (recalled). Under it
    the heat flux times dT stays monotone enough, with the radiation, for one root.

    Examples
    --------
    >>> round(stability(4.7, 2.0, 10.0), 4)
    0.0814
    """
    speed = maximum(wind_m_s, LEAST_WIND_M_S)
    return damping * (GRAVITY_M_S2 * WIND_HEIGHT_M / ((air_c + 273.15) * speed * speed))


def leaf_conductance(wind_m_s: FloatArray, size_m: float) -> FloatArray:
    """Heat conductance of a small plant part in the gusty wind of the field.

    Parameters
    ----------
    wind_m_s : array of float64, any shape
        Wind speed at the part. [m s-1]
    size_m : float
        Its size along the wind. [m]

    Returns
    -------
    array of float64, same shape
        Conductance of one face. [W m-2 K-1]

    Notes
    -----
    Laminar forced convection raised by 1.4 for the turbulence of the open air:
    g = 1.4 x 0.135 sqrt(u / d) mol m-2 s-1, Campbell and Norman (1998), eq. 7.30 and section 7.13.

    Examples
    --------
    >>> round(float(leaf_conductance(np.array(1.0), 0.75)), 2)
    6.39
    """
    molar = 1.4 * 0.135 * np.sqrt(np.asarray(wind_m_s, dtype=np.float64) / size_m)
    return np.asarray(molar * MOLAR_HEAT_CAPACITY, dtype=np.float64)


def clear_sky_emissivity(air_c: FloatArray, vapour_pressure_kpa: FloatArray) -> FloatArray:
    """Longwave emissivity of a cloudless sky.

    Parameters
    ----------
    air_c, vapour_pressure_kpa : arrays of float64, shapes that broadcast
        Air temperature and vapour pressure near the ground. [degC, kPa]

    Returns
    -------
    array of float64
        Emissivity, 1.24 (e / T)^(1/7) with e in hPa and T in K. [-]

    Notes
    -----
    Brutsaert (1975), Water Resources Research 11:742-744.

    Examples
    --------
    >>> round(float(clear_sky_emissivity(np.array(20.0), np.array(1.2))), 4)
    0.7855
    """
    kelvin = np.asarray(air_c, dtype=np.float64) + 273.15
    vapour_hpa = 10.0 * np.asarray(vapour_pressure_kpa, dtype=np.float64)
    return np.asarray(1.24 * (vapour_hpa / kelvin) ** (1.0 / 7.0), dtype=np.float64)


def cloud_cover(solar_w_m2: FloatArray, clear_sky_w_m2: FloatArray) -> FloatArray:
    """Cloud as the share of clear-sky radiation that did not arrive.

    By day the share is taken over the latest four hours of sun; through the night the value of
    the last afternoon is carried on, and before the first sunlight of a record the first one is
    carried back.

    Parameters
    ----------
    solar_w_m2, clear_sky_w_m2 : arrays of float64, shape [n]
        Solar radiation on the level, measured and under a clear sky, hour by hour. [W m-2]

    Returns
    -------
    array of float64, shape [n]
        Cloud, 0 (clear) to 1; NaN where the radiation is NaN; 0 in a record without any
        sunlight. [-]

    Examples
    --------
    >>> cloud_cover(np.array([0.0, 300.0, 300.0, 0.0]), np.array([0.0, 600.0, 600.0, 0.0]))
    array([0.5, 0.5, 0.5, 0.5])
    """
    solar = np.asarray(solar_w_m2, dtype=np.float64)
    clear = np.asarray(clear_sky_w_m2, dtype=np.float64)
    high = clear > LOW_SUN_W_M2
    sunny = np.flatnonzero(high)
    if sunny.size == 0:
        return np.where(np.isnan(solar), np.nan, 0.0)
    ends = np.arange(1, sunny.size + 1)
    starts = np.maximum(ends - CLOUD_MEMORY_H, 0)
    arrived = np.concatenate(([0.0], np.cumsum(np.nan_to_num(solar[sunny]))))
    possible = np.concatenate(([0.0], np.cumsum(clear[sunny])))
    ratio = (arrived[ends] - arrived[starts]) / (possible[ends] - possible[starts])
    latest = np.cumsum(high) - 1
    cloud = 1.0 - np.clip(ratio[np.maximum(latest, 0)], 0.0, 1.0)
    return np.where(np.isnan(solar), np.nan, cloud)


def sky_longwave(
    air_c: FloatArray,
    vapour_pressure_kpa: FloatArray,
    solar_w_m2: FloatArray,
    clear_sky_w_m2: FloatArray,
    measured_w_m2: FloatArray | None = None,
) -> FloatArray:
    """Longwave radiation that comes down from the sky, hour by hour.

    Measured values are kept where they are finite; elsewhere the clear-sky emissivity is raised
    by cloud, eps = eps_clear (1 - 0.84 c) + 0.84 c.

    Parameters
    ----------
    air_c, vapour_pressure_kpa, solar_w_m2, clear_sky_w_m2 : arrays of float64, shape [n]
        Hourly air temperature, vapour pressure, solar radiation and clear-sky solar radiation.
        [degC, kPa, W m-2, W m-2]
    measured_w_m2 : array of float64, shape [n], optional
        Measured longwave from above, NaN where there is none. [W m-2]

    Returns
    -------
    array of float64, shape [n]
        Longwave from the sky. [W m-2]

    Notes
    -----
    Clear sky: Brutsaert (1975). Cloud: Campbell and Norman (1998), section 10.2.

    Examples
    --------
    >>> clear = np.array([800.0])
    >>> sky_longwave(np.array([20.0]), np.array([1.2]), clear, clear).round(1)
    array([328.9])
    """
    cloud = cloud_cover(solar_w_m2, clear_sky_w_m2)
    clear = clear_sky_emissivity(air_c, vapour_pressure_kpa)
    emissivity = np.minimum(clear * (1.0 - 0.84 * cloud) + 0.84 * cloud, 1.0)
    kelvin = np.asarray(air_c, dtype=np.float64) + 273.15
    estimate = emissivity * STEFAN_BOLTZMANN * np.square(np.square(kelvin))
    if measured_w_m2 is None:
        return np.asarray(estimate, dtype=np.float64)
    measured = np.asarray(measured_w_m2, dtype=np.float64)
    return np.where(np.isfinite(measured), measured, estimate)
