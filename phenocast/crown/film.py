"""Optics of the film: what it absorbs, passes and gives back, and how that changes with age.

A film is described by four numbers of its upper face. Solar absorptance is never stated: it is
what reflectance and transmittance leave, so the three always add to one, in every draw.
"""

from __future__ import annotations

from numba import njit

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
    lowest = min(reflectance, LOWEST_REFLECTANCE)
    return now if now > lowest else lowest


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
    return now if now < highest else max(highest, emittance)


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
