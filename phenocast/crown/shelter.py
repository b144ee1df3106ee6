"""Row covers and low tunnels: the weather inside, from the weather outside."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from phenocast._typing import FloatArray
from phenocast.crown.atmosphere import STEFAN_BOLTZMANN
from phenocast.crown.series import BedForcing
from phenocast.parameters import ParameterSet


def sheltered(forcing: BedForcing, covered: FloatArray, shelter: ParameterSet) -> BedForcing:
    """Weather under a row cover or low tunnel in the hours that it is closed.

    The air inside is warmer at all hours by the night warming and by day also in step with the
    sunlight that enters; light and wind are cut; the cover sends down longwave of its own, at the
    mean of inside and outside air, for the part of the sky that it hides.

    Parameters
    ----------
    forcing : BedForcing
        Weather outside.
    covered : array of float64 or bool, shape [n]
        Share of the hour that the shelter is closed, 0 to 1. [-]
    shelter : ParameterSet
        One of `phenocast.parameters.shelters`.

    Returns
    -------
    BedForcing
        Weather over the bed. Vapour pressure and deep soil are left as outside.

    Notes
    -----
    A modifier and not a balance of the tunnel's air; the warming is a fit or an assumption, with
    its basis in ``calibration/films.toml``.

    Examples
    --------
    >>> from phenocast.parameters import shelters
    >>> night = BedForcing(*(np.array([v]) for v in (2.0, 0.6, 1.0, 0.0, 250.0, 8.0, 0.0)))
    >>> inside = sheltered(night, np.array([1.0]), shelters()["low-tunnel"])
    >>> inside.air_c
    array([4.])
    """
    share = np.asarray(covered, dtype=np.float64)
    light = forcing.solar_w_m2 * (1.0 - share * (1.0 - shelter.value("solar_transmittance")))
    warming = share * (
        shelter.value("night_warming") + shelter.value("solar_warming") * forcing.solar_w_m2
    )
    air = forcing.air_c + warming
    cover_k = 0.5 * (air + forcing.air_c) + 273.15
    hidden = share * (1.0 - shelter.value("longwave_transmittance"))
    longwave = forcing.longwave_down_w_m2 + hidden * (
        STEFAN_BOLTZMANN * cover_k**4 - forcing.longwave_down_w_m2
    )
    wind = forcing.wind_m_s * (1.0 - share * (1.0 - shelter.value("wind_share")))
    return replace(
        forcing,
        air_c=air,
        wind_m_s=wind,
        solar_w_m2=light,
        longwave_down_w_m2=longwave,
        # Only the sky that is still seen carries the error of the sky's estimate.
        longwave_estimated=forcing.longwave_estimated * (1.0 - hidden),
    )
