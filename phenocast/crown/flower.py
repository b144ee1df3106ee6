"""Temperature of open flowers, for frost: the energy balance of a small body over the bed."""

from __future__ import annotations

import numpy as np

from phenocast._typing import FloatArray
from phenocast.crown.atmosphere import STEFAN_BOLTZMANN, leaf_conductance
from phenocast.crown.series import BedForcing
from phenocast.crown.sprinkling import PSYCHROMETRIC_KPA_K
from phenocast.parameters import ParameterSet
from phenocast.weather.humidity import saturation_slope, saturation_vapour_pressure


def flower_temperature(
    forcing: BedForcing, physics: ParameterSet, *, wet: bool = False
) -> FloatArray:
    """Temperature of an open flower at 15 cm, hour by hour.

    By night the surface of leaves and bed radiates to the sky and cools; the air at flower height
    is drawn toward it; the flower itself radiates to the sky above and to that surface below and
    takes heat from the air. By day sunlight is added to the same balance.

    Parameters
    ----------
    forcing : BedForcing
        Weather over the bed; under a row cover, that of `sheltered`, whose longwave counts.
    physics : ParameterSet
        The bed's physics with its ``flower_*`` numbers.
    wet : bool
        Of a flower that is wet all round and evaporates: the wet bulb at flower height, open to the
        sky. The heat of freezing is left out.

    Returns
    -------
    array of float64, shape [n]
        Flower temperature. [degC]

    Notes
    -----
    Convection of a small part: Campbell and Norman (1998), eq. 7.30. The share of the way that air
    at 15 cm has gone toward the surface is an assumption (`flower_ground_share`). Latent heat of
    dew and of freezing is left out: with dew the true flower is warmer.

    Examples
    --------
    >>> from phenocast.parameters import bed
    >>> night = BedForcing(*(np.array([v]) for v in (2.0, 0.6, 0.5, 0.0, 250.0, 8.0, 0.0)))
    >>> bool(-3.0 < flower_temperature(night, bed())[0] < 0.0)
    True
    """
    air = forcing.air_c
    sky = forcing.longwave_down_w_m2 + physics.value("sky_offset") * forcing.longwave_estimated
    emittance = physics.value("flower_emittance")
    wind = physics.value("wind_calm") + physics.value("wind_slope") * forcing.wind_m_s
    surface = _radiating(air, sky, emittance, wind, np.zeros_like(air))
    by_night = np.where(forcing.solar_w_m2 > 0.0, 0.0, physics.value("flower_ground_share"))
    near = air + by_night * (surface - air)
    # By day the surface below is taken at air temperature: warm surfaces do no frost damage.
    below = np.where(forcing.solar_w_m2 > 0.0, air, surface) + 273.15
    view = physics.value("flower_sky_view")
    seen = view * sky + (1.0 - view) * STEFAN_BOLTZMANN * np.square(np.square(below))
    local = np.maximum(
        physics.value("flower_least_wind"), physics.value("flower_wind_share") * forcing.wind_m_s
    )
    conductance = leaf_conductance(local, physics.value("flower_size"))
    # Sunlight falls on about half of the flower's surface.
    sunlight = 0.5 * physics.value("flower_absorptance") * forcing.solar_w_m2
    vapour = forcing.vapour_pressure_kpa if wet else None
    return _radiating(near, seen, emittance, conductance, sunlight, vapour)


def _radiating(
    air_c: FloatArray,
    seen_w_m2: FloatArray,
    emittance: float,
    conductance: FloatArray,
    absorbed_w_m2: FloatArray,
    vapour_kpa: FloatArray | None = None,
) -> FloatArray:
    """Temperature [degC] of a surface without heat store between air and longwave, by Newton.

    With the vapour pressure of the air the surface is wet and evaporates by the psychrometric
    equation.
    """
    temperature = np.array(air_c, dtype=np.float64)
    evaporating = evaporating_slope = np.zeros(1)
    for _ in range(4):
        kelvin = temperature + 273.15
        # products: a power of an array takes ten times as long
        cube = emittance * STEFAN_BOLTZMANN * (kelvin * kelvin * kelvin)
        gap = (
            absorbed_w_m2
            + emittance * seen_w_m2
            - cube * kelvin
            + conductance * (air_c - temperature)
        )
        if vapour_kpa is not None:
            per_kpa = conductance / PSYCHROMETRIC_KPA_K
            evaporating = per_kpa * (saturation_vapour_pressure(temperature) - vapour_kpa)
            evaporating_slope = per_kpa * saturation_slope(temperature)
        temperature = temperature + (gap - evaporating) / (
            4.0 * cube + conductance + evaporating_slope
        )
    return temperature
