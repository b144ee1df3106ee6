"""Heat carried by wind from a flat bed top and from a flower."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

# Molar heat capacity of air, Campbell and Norman (1998), section 3.6 [J mol-1 K-1].
MOLAR_HEAT_CAPACITY = 29.3
GRAVITY_M_S2 = 9.81
WIND_HEIGHT_M = 2.0
# Anemometers stall near this speed [m s-1].
LEAST_WIND_M_S = 0.1


@njit(cache=True, nogil=True, error_model="numpy")
def wind_conductance(calm: float, per_wind: float, wind_m_s: float) -> float:
    """Heat conductance between a bed top and the air, a + b u.

    Parameters
    ----------
    calm : float
        Conductance without wind, a. [W m-2 K-1]
    per_wind : float
        Gain for each metre per second, b. [W m-2 K-1 per m s-1]
    wind_m_s : float
        Wind speed at 2 m. [m s-1]

    Returns
    -------
    float
        Conductance. [W m-2 K-1]

    Notes
    -----
    The linear form is that of McAdams for a smooth plate out of doors (5.7 + 3.8 u, recalled) and
    of Faiman (2008) for solar panels.

    Examples
    --------
    >>> wind_conductance(6.0, 5.0, 2.0)
    16.0
    """
    return calm + per_wind * wind_m_s


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
    speed = max(wind_m_s, LEAST_WIND_M_S)
    return damping * GRAVITY_M_S2 * WIND_HEIGHT_M / ((air_c + 273.15) * speed * speed)


def leaf_conductance(wind_m_s: NDArray[np.float64], size_m: float) -> NDArray[np.float64]:
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
