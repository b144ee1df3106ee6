"""The energy balance of film and soil, hour by hour: the kernel of the crown's temperature.

The film has no heat store. Its temperature Tm and that of the soil surface under it Ts are the
root of two balances,

    film:     absorbed sunlight + eps (L - sigma Tm^4) + h (Ta - Tm) + hc (Ts - Tm) - latent - water
    surface:  hc (Tm - Ts) + sunlight passed + tau_l eps_s (L - sigma Ts^4) - G,

solved by Newton together with three soil layers (0-4, 4-16, 16-60 cm) in one implicit step an
hour. The layers are linear, so they are eliminated from the bottom up once a step and leave
G = y Ts - j. The heat that enters the column is the heat its layers gain and pass on, to rounding,
whatever the Newton steps left over in the film.

Each value stands for the hour's mean, as the weather does. Written in plain Python that numba
compiles; the same functions run uncompiled.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from phenocast.crown.convection import stability, wind_conductance
from phenocast.crown.crown_node import crown_temperature
from phenocast.crown.film import aged_emittance, aged_reflectance, light_into_soil
from phenocast.crown.sky import STEFAN_BOLTZMANN
from phenocast.crown.soil import LAYER_THICKNESS_M
from phenocast.crown.sprinkling import (
    LATENT_W_M2_PER_MM_H,
    PSYCHROMETRIC_KPA_K,
    WATER_HEAT_W_M2_K_PER_MM_H,
    saturation_kpa,
    saturation_slope,
    wet_bulb_c,
)

SECONDS_PER_HOUR = 3600.0
KELVIN = 273.15
# Three steps leave the film within 0.001 degC of the root in the worst hour of a gusty record; two
# leave 0.06 there (0.02 at the crown) and are a fifth faster.
NEWTON_STEPS = 3
# Distances between the centres of the layers, from the surface down [m].
TOP_HALF_M = 0.5 * LAYER_THICKNESS_M[0]
GAP_12_M = 0.5 * (LAYER_THICKNESS_M[0] + LAYER_THICKNESS_M[1])
GAP_23_M = 0.5 * (LAYER_THICKNESS_M[1] + LAYER_THICKNESS_M[2])
BOTTOM_HALF_M = 0.5 * LAYER_THICKNESS_M[2]
# 5 cm lies three eighths of the way from the centre of the first layer to that of the second.
SHARE_5CM = (0.05 - TOP_HALF_M) / GAP_12_M
MOST_CROWN_SHADE = 0.95

FILM_SURFACE, AIR_ABOVE_FILM, CROWN, SOIL_5CM, SOIL_10CM = range(5)
N_OUT = 5
# Columns of the state: three layers, film, soil surface [degC], water on the film [mm].
TOP, ROOT, DEEP, FILM, SURFACE, WATER = range(6)
N_STATE = 6


@njit(cache=True, nogil=True, error_model="numpy")
def column_constants(conductivity, capacity, deep_conductance):  # type: ignore[no-untyped-def]
    """Return what the elimination of the three soil layers needs, the same in every hour.

    ``conductivity`` [W m-1 K-1], ``capacity`` [J m-3 K-1]; ``deep_conductance`` from the centre of
    the lowest layer to the deep soil [W m-2 K-1], 0 for a closed column.
    """
    above = conductivity / TOP_HALF_M
    upper = conductivity / GAP_12_M
    lower = conductivity / GAP_23_M
    store_1 = capacity * LAYER_THICKNESS_M[0] / SECONDS_PER_HOUR
    store_2 = capacity * LAYER_THICKNESS_M[1] / SECONDS_PER_HOUR
    store_3 = capacity * LAYER_THICKNESS_M[2] / SECONDS_PER_HOUR
    part_3 = 1.0 / (store_3 + lower + deep_conductance)
    part_2 = 1.0 / (store_2 + upper + lower - lower * lower * part_3)
    part_1 = 1.0 / (store_1 + above + upper - upper * upper * part_2)
    return (
        above,
        upper,
        lower,
        deep_conductance,
        store_1,
        store_2,
        store_3,
        part_1,
        part_2,
        part_3,
    )


@njit(cache=True, nogil=True, error_model="numpy")
def solve_surface(  # type: ignore[no-untyped-def]
    film,
    surface,
    absorbed,
    emittance,
    longwave,
    wind,
    still,
    turbulent,
    stable,
    air,
    contact,
    passed,
    open_sky,
    soil_y,
    soil_j,
    wet,
    vapour,
    carried,
    drop,
    steps,
):
    """Return film and soil-surface temperature [degC] after some Newton steps from a guess.

    ``absorbed`` and ``passed`` are the sunlight that film and soil take up, less any latent heat
    already known, and ``longwave`` what comes down [W m-2]; ``wind``, ``contact`` and ``carried``
    (by water) are conductances [W m-2 K-1]. A film colder than the air has, in place of ``wind``,
    ``still`` and the part of ``turbulent`` that the cold air on it lets through (`stability` gives
    ``stable`` [K-1]). ``open_sky`` is the longwave transmittance of the film
    times the emittance of the soil; ``soil_y`` Ts - ``soil_j`` is the heat into the soil; ``wet``
    is the wet share of the film and ``drop`` the temperature of the water on it.
    """
    for _ in range(steps):
        film_k = film + KELVIN
        film_cube = emittance * STEFAN_BOLTZMANN * film_k * film_k * film_k
        surface_k = surface + KELVIN
        surface_cube = open_sky * STEFAN_BOLTZMANN * surface_k * surface_k * surface_k
        colder = air - film
        exchange = wind
        slope = wind
        if colder > 0.0:
            damped = 1.0 / (1.0 + stable * colder)
            carried_down = turbulent * damped * damped
            exchange = still + carried_down
            slope = still + carried_down * (1.0 - stable * colder) * damped
        film_gap = (
            absorbed
            + emittance * longwave
            - film_cube * film_k
            + exchange * colder
            + contact * (surface - film)
            - carried * (film - drop)
        )
        film_slope = 4.0 * film_cube + slope + contact + carried
        if wet > 0.0:
            saturation = saturation_kpa(film)
            latent = wet * wind / PSYCHROMETRIC_KPA_K
            film_gap -= latent * (saturation - vapour)
            film_slope += latent * saturation_slope(film, saturation)
        surface_gap = (
            contact * (film - surface)
            + passed
            + open_sky * longwave
            - surface_cube * surface_k
            - soil_y * surface
            + soil_j
        )
        surface_slope = contact + 4.0 * surface_cube + soil_y
        scale = 1.0 / (film_slope * surface_slope - contact * contact)
        film += (film_gap * surface_slope + surface_gap * contact) * scale
        surface += (surface_gap * film_slope + film_gap * contact) * scale
    return film, surface


@njit(cache=True, nogil=True, error_model="numpy")
def column_hour(  # type: ignore[no-untyped-def]
    state,
    constants,
    reflectance,
    transmittance,
    emittance,
    open_sky,
    soil_reflectance,
    contact,
    wet,
    water_held,
    light,
    longwave,
    wind,
    still,
    turbulent,
    stable,
    air,
    vapour,
    deep,
    sprinkled_mm,
    drop,
    steps,
):
    """Advance one film and the soil under it by an hour; return the share of it that was wet.

    ``state`` [N_STATE] is overwritten. ``light`` and ``longwave`` are what reaches the film under
    the canopy [W m-2]; ``water_held`` is the most water that stays on it [mm].
    """
    above, upper, lower, to_deep, store_1, store_2, store_3, part_1, part_2, part_3 = constants
    rest_3 = (store_3 * state[2] + to_deep * deep) * part_3
    rest_2 = (store_2 * state[1] + lower * rest_3) * part_2
    rest_1 = (store_1 * state[0] + upper * rest_2) * part_1
    share_1 = above * part_1
    soil_y = above * (1.0 - share_1)
    soil_j = above * rest_1
    absorbed = (1.0 - reflectance - transmittance) * light
    passed = 0.0
    if transmittance > 0.0:
        passed = light * light_into_soil(transmittance, reflectance, soil_reflectance)
    water = state[5] + sprinkled_mm
    film_was = state[3]
    surface_was = state[4]
    wet_share = 0.0
    if water > 0.0:
        carried = WATER_HEAT_W_M2_K_PER_MM_H * sprinkled_mm
        film, surface = solve_surface(
            film_was,
            surface_was,
            absorbed,
            emittance,
            longwave,
            wind,
            still,
            turbulent,
            stable,
            air,
            contact,
            passed,
            open_sky,
            soil_y,
            soil_j,
            1.0,
            vapour,
            carried,
            drop,
            steps + 2,
        )
        vapour_gap = saturation_kpa(film) - vapour
        evaporated = wind / PSYCHROMETRIC_KPA_K * vapour_gap / LATENT_W_M2_PER_MM_H
        wet_share = 1.0
        if evaporated > water:
            # The film dries within the hour: all its water goes, and no more.
            wet_share = water / evaporated
            film, surface = solve_surface(
                film_was,
                surface_was,
                absorbed - water * LATENT_W_M2_PER_MM_H,
                emittance,
                longwave,
                wind,
                still,
                turbulent,
                stable,
                air,
                contact,
                passed,
                open_sky,
                soil_y,
                soil_j,
                wet * (1.0 - wet_share),
                vapour,
                carried,
                drop,
                steps + 2,
            )
            evaporated = water
        state[5] = min(water_held, water - max(evaporated, 0.0))
    else:
        film, surface = solve_surface(
            film_was,
            surface_was,
            absorbed,
            emittance,
            longwave,
            wind,
            still,
            turbulent,
            stable,
            air,
            contact,
            passed,
            open_sky,
            soil_y,
            soil_j,
            wet,
            vapour,
            0.0,
            drop,
            steps,
        )
    state[3] = film
    state[4] = surface
    state[0] = rest_1 + share_1 * surface
    state[1] = rest_2 + upper * part_2 * state[0]
    state[2] = rest_3 + lower * part_3 * state[1]
    return wet_share


@njit(cache=True, nogil=True, error_model="numpy")
def run_bed(  # type: ignore[no-untyped-def]
    air,
    vapour,
    wind_speed,
    solar,
    longwave_down,
    longwave_estimated,
    deep,
    cover,
    sprinkling,
    film_age_d,
    record,
    state,
    out,
    steps,
):
    """Run a bed through its hours and fill ``out`` ``[N_OUT, n]`` [degC].

    Parameters
    ----------
    air, vapour, wind_speed, solar, longwave_down, deep : arrays of float64, shape [n]
        Air [degC], vapour pressure [kPa], wind at 2 m [m s-1], sunlight and longwave from the sky
        [W m-2], and the month's mean air that the deep soil follows [degC].
    longwave_estimated : array of float64, shape [n]
        1 where the longwave is an estimate (its offset is added), 0 where it was measured. [-]
    cover : array of float64, shape [n]
        Share of the bed top under leaves, 0 to 1. [-]
    sprinkling : array of float64, shape [n]
        Overhead water. [mm h-1]
    film_age_d : float
        Age of the film in the first hour; it grows from there. [d]
    record : record of BED_DTYPE
    state : array of float64, shape [2, N_STATE]
        Stripe (or the one film) and shoulder: layers, film, soil surface [degC], water [mm] before
        the first hour; overwritten with those after the last, so that a run can be continued.
    out : array of float64, shape [N_OUT, n]
        Filled: film surface, air 5 cm above it, crown, soil at 5 and at 10 cm. [degC]
    steps : int
        Newton steps an hour.

    Notes
    -----
    A value that is NaN makes that hour and all later ones NaN; nothing is filled in.
    """
    constants = column_constants(
        record.conductivity,
        record.heat_capacity,
        record.deep_contact * record.conductivity / (BOTTOM_HALF_M + record.deep_distance),
    )
    striped = record.striped > 0.0
    centre = state[0]
    beside = state[1]
    open_sky = record.longwave_transmittance * record.soil_emittance
    shoulder_open_sky = record.shoulder_longwave_transmittance * record.soil_emittance
    for i in range(air.shape[0]):
        age = film_age_d + i / 24.0
        ta = air[i]
        wind = wind_conductance(record.wind_calm, record.wind_slope, wind_speed[i])
        turbulent = record.wind_slope * wind_speed[i]
        stable = stability(record.stable_damping, wind_speed[i], ta)
        sky = longwave_down[i] + record.sky_offset * longwave_estimated[i]
        kelvin = ta + KELVIN
        black = STEFAN_BOLTZMANN * kelvin * kelvin * kelvin * kelvin
        leaves = record.leaf_emittance * black
        fc = cover[i]
        light = solar[i] * (1.0 - record.canopy_interception * fc)
        longwave = sky + fc * (leaves - sky)
        below = deep[i] + record.deep_above_air
        sprinkled = sprinkling[i]
        drop = ta
        if sprinkled > 0.0:
            drop = wet_bulb_c(ta, vapour[i])
        reflectance = aged_reflectance(record.solar_reflectance, record.reflectance_loss, age)
        emittance = aged_emittance(
            record.longwave_emittance, record.emittance_rise, record.longwave_transmittance, age
        )
        wet_share = column_hour(
            centre,
            constants,
            reflectance,
            record.solar_transmittance,
            emittance,
            open_sky,
            record.soil_reflectance,
            record.contact_conductance,
            record.surface_wetness,
            record.water_held,
            light,
            longwave,
            wind,
            record.wind_stable,
            turbulent,
            stable,
            ta,
            vapour[i],
            below,
            sprinkled,
            drop,
            steps,
        )
        film = centre[3]
        around = film
        top = centre[0]
        root = centre[1]
        if striped:
            column_hour(
                beside,
                constants,
                aged_reflectance(
                    record.shoulder_solar_reflectance, record.shoulder_reflectance_loss, age
                ),
                record.shoulder_solar_transmittance,
                aged_emittance(
                    record.shoulder_longwave_emittance,
                    record.shoulder_emittance_rise,
                    record.shoulder_longwave_transmittance,
                    age,
                ),
                shoulder_open_sky,
                record.soil_reflectance,
                record.contact_conductance,
                record.surface_wetness,
                record.water_held,
                light,
                longwave,
                wind,
                record.wind_stable,
                turbulent,
                stable,
                ta,
                vapour[i],
                below,
                sprinkled,
                drop,
                steps,
            )
            around = beside[3] + record.weight_air * (film - beside[3])
            top = beside[0] + record.weight_top * (top - beside[0])
            root = beside[1] + record.weight_10cm * (root - beside[1])
        over_film = ta + record.air_above_share * (around - ta)
        shade = min(MOST_CROWN_SHADE, record.crown_shading * fc)
        seen = sky + shade * (leaves - sky)
        # The effective temperature of sky and leaves, linear about air temperature.
        above_crown = ta + (seen - black) * kelvin / (4.0 * black)
        sunlight = record.crown_solar_gain * (1.0 + reflectance) * (1.0 - shade) * solar[i]
        out[0, i] = film
        out[1, i] = over_film
        out[2, i] = crown_temperature(
            top,
            over_film,
            0.5 * (film + above_crown),
            sunlight,
            record.crown_soil_weight,
            record.crown_radiant_weight,
            wet_share,
            vapour[i],
        )
        out[3, i] = top + SHARE_5CM * (root - top)
        out[4, i] = root


def starting_state(air_c: NDArray[np.float64], deep_c: float) -> NDArray[np.float64]:
    """State of a bed before its first hour: soil at the mean air of the first three days, dry.

    Parameters
    ----------
    air_c : array of float64, shape [n]
        Hourly air temperature. [degC]
    deep_c : float
        Temperature of the lowest layer. [degC]

    Returns
    -------
    array of float64, shape [2, N_STATE]
        For `run_bed`. The top two layers forget it within days, the lowest within two weeks; start
        a run that long before the hours that matter.

    Examples
    --------
    >>> starting_state(np.full(100, 20.0), 18.0)[0]
    array([20., 20., 18., 20., 20.,  0.])
    """
    mean = float(np.mean(air_c[:72]))
    one = np.array([mean, mean, deep_c, mean, mean, 0.0])
    return np.stack([one, one])
