"""The energy balance of film and soil, hour by hour: the kernel of the crown's temperature.

The film has no heat store of its own. Its temperature is the root of

    absorbed sunlight + longwave + wind (Ta - Tm) + soil (T1 - Tm) - latent - water = 0,

solved together with three soil layers (0-4, 4-16, 16-60 cm) in one implicit step an hour. The
layers are eliminated from the bottom up, which leaves one equation in the film temperature;
Newton steps solve it. Heat in the column is conserved exactly, because the flux that enters the
top layer is the flux that leaves the film.

Written in plain Python that numba compiles; the same functions run uncompiled.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from phenocast.crown.convection import wind_conductance
from phenocast.crown.crown_node import crown_temperature
from phenocast.crown.film import aged_emittance, aged_reflectance, light_into_soil
from phenocast.crown.sky import STEFAN_BOLTZMANN
from phenocast.crown.soil import LAYER_THICKNESS_M
from phenocast.crown.sprinkling import (
    PSYCHROMETRIC_KPA_K,
    WATER_HEAT_W_M2_K_PER_MM_H,
    saturation_kpa,
    saturation_slope,
    wet_bulb_c,
)

SECONDS_PER_HOUR = 3600.0
KELVIN = 273.15
NEWTON_STEPS = 3
# Mean emittance of leaves over the bed, Campbell and Norman (1998), chapter 11 (recalled) [-].
LEAF_EMITTANCE = 0.97
# Distances between the centres of the layers and from the film to the first centre [m].
TOP_HALF_M = 0.5 * LAYER_THICKNESS_M[0]
GAP_12_M = 0.5 * (LAYER_THICKNESS_M[0] + LAYER_THICKNESS_M[1])
GAP_23_M = 0.5 * (LAYER_THICKNESS_M[1] + LAYER_THICKNESS_M[2])
BOTTOM_HALF_M = 0.5 * LAYER_THICKNESS_M[2]
# 5 cm lies three eighths of the way from the centre of the first layer to that of the second.
SHARE_5CM = (0.05 - TOP_HALF_M) / GAP_12_M

FILM_SURFACE = 0
AIR_ABOVE_FILM = 1
CROWN = 2
SOIL_5CM = 3
SOIL_10CM = 4
N_OUT = 5


@njit(cache=True, nogil=True, error_model="numpy")
def column_step(
    layers, absorbed, emittance, longwave_in, wind, air, soil_source, contact,
    conductivity, capacity, deep, deep_conductance, wet, vapour, sprinkled_mm_h, drop_c, first_guess,
):
    """Advance film and soil by one hour and return the film temperature [degC].

    ``layers`` holds the three soil temperatures [degC] and is overwritten. ``absorbed`` is sunlight
    taken up by the film, ``longwave_in`` what falls on it, ``soil_source`` what the soil takes up
    directly through it [W m-2]; ``wind`` and ``contact`` are conductances [W m-2 K-1];
    ``conductivity`` [W m-1 K-1] and ``capacity`` [J m-3 K-1] are the soil's; ``wet`` is the wet
    share of the film.
    """
    top = 1.0 / (1.0 / contact + TOP_HALF_M / conductivity)
    upper = conductivity / GAP_12_M
    lower = conductivity / GAP_23_M
    store_1 = capacity * LAYER_THICKNESS_M[0] / SECONDS_PER_HOUR
    store_2 = capacity * LAYER_THICKNESS_M[1] / SECONDS_PER_HOUR
    store_3 = capacity * LAYER_THICKNESS_M[2] / SECONDS_PER_HOUR
    sum_3 = store_3 + lower + deep_conductance
    constant_3 = (store_3 * layers[2] + deep_conductance * deep) / sum_3
    sum_2 = store_2 + upper + lower - lower * lower / sum_3
    constant_2 = (store_2 * layers[1] + lower * constant_3) / sum_2
    sum_1 = store_1 + top + upper - upper * upper / sum_2
    constant_1 = (store_1 * layers[0] + upper * constant_2 + soil_source) / sum_1
    slope_1 = top / sum_1

    film = first_guess
    for _ in range(NEWTON_STEPS):
        kelvin = film + KELVIN
        cube = emittance * STEFAN_BOLTZMANN * kelvin * kelvin * kelvin
        gap = (
            absorbed
            + emittance * longwave_in
            - cube * kelvin
            + wind * (air - film)
            + top * (constant_1 + (slope_1 - 1.0) * film)
        )
        slope = -4.0 * cube - wind + top * (slope_1 - 1.0)
        if wet > 0.0:
            saturation = saturation_kpa(film)
            latent = wet * wind / PSYCHROMETRIC_KPA_K
            gap -= latent * (saturation - vapour)
            slope -= latent * saturation_slope(film, saturation)
        if sprinkled_mm_h > 0.0:
            carried = WATER_HEAT_W_M2_K_PER_MM_H * sprinkled_mm_h
            gap -= carried * (film - drop_c)
            slope -= carried
        film -= gap / slope
    layers[0] = constant_1 + slope_1 * film
    layers[1] = constant_2 + upper / sum_2 * layers[0]
    layers[2] = constant_3 + lower / sum_3 * layers[1]
    return film


@njit(cache=True, nogil=True, error_model="numpy")
def film_hour(
    layers, solar, sky, canopy, wind, air, vapour, deep, reflectance, transmittance, emittance,
    longwave_transmittance, record, wet, sprinkled_mm_h, drop_c, first_guess, shade_cover,
):
    """Advance one column (a film and the soil below it) by one hour; return the film [degC].

    ``solar`` is the sunlight above the canopy and ``sky`` the longwave from the sky [W m-2];
    ``canopy`` is the longwave of leaves at air temperature [W m-2]; ``shade_cover`` is the share of
    the bed top that leaves cover.
    """
    light = solar * (1.0 - record.canopy_interception * shade_cover)
    longwave = (1.0 - shade_cover) * sky + shade_cover * canopy
    absorbed = (1.0 - reflectance - transmittance) * light
    into_soil = light * light_into_soil(transmittance, reflectance, record.soil_reflectance)
    # What the soil sends up through the film is taken at the top layer's last temperature: the
    # exchange is small for every film but the clear one, and explicit in the step.
    kelvin = layers[0] + KELVIN
    emitted = STEFAN_BOLTZMANN * kelvin * kelvin * kelvin * kelvin
    into_soil += longwave_transmittance * record.soil_emittance * (longwave - emitted)
    return column_step(
        layers, absorbed, emittance, longwave, wind, air, into_soil, record.contact_conductance,
        record.conductivity, record.heat_capacity, deep,
        record.conductivity / (BOTTOM_HALF_M + record.deep_distance),
        wet, vapour, sprinkled_mm_h, drop_c, first_guess,
    )


@njit(cache=True, nogil=True, error_model="numpy")
def run_bed(
    air, vapour, wind_speed, solar, sky, deep, cover, sprinkling, film_age_d, drying_h, record,
    start_layers, out,
):
    """Run a bed through its hours and fill ``out`` ``[N_OUT, hours]`` [degC].

    Parameters
    ----------
    air, vapour, wind_speed, solar, sky, deep : arrays of float64, shape [n]
        Air [degC], vapour pressure [kPa], wind at 2 m [m s-1], sunlight and longwave from the sky
        [W m-2], temperature of the deep soil [degC].
    cover : array of float64, shape [n]
        Share of the bed top under leaves, 0 to 1. [-]
    sprinkling : array of float64, shape [n]
        Overhead water. [mm h-1]
    film_age_d : float
        Age of the film in the first hour; it grows from there. [d]
    drying_h : float
        Hours in which film and crown stay wet after the water stops. [h]
    record : record of BED_DTYPE
    start_layers : array of float64, shape [3]
        Soil temperatures before the first hour. [degC]
    out : array of float64, shape [N_OUT, n]
        Filled: film surface, air 5 cm above it, crown, soil at 5 and at 10 cm. [degC]
    """
    layers = start_layers.copy()
    beside = start_layers.copy()
    film = air[0]
    shoulder = air[0]
    striped = record.striped > 0.0
    drying_left = 0.0
    for i in range(air.shape[0]):
        age = film_age_d + i / 24.0
        wind = wind_conductance(record.wind_calm, record.wind_slope, wind_speed[i])
        longwave = sky[i] + record.sky_offset
        kelvin = air[i] + KELVIN
        black = STEFAN_BOLTZMANN * kelvin * kelvin * kelvin * kelvin
        canopy = LEAF_EMITTANCE * black
        water = sprinkling[i]
        wet = record.surface_wetness
        plant_wet = 0.0
        drop = air[i]
        if water > 0.0:
            drop = wet_bulb_c(air[i], vapour[i])
            plant_wet = 1.0
            drying_left = drying_h
        elif drying_left > 0.0:
            plant_wet = min(1.0, drying_left)
            drying_left -= 1.0
        wet = max(wet, plant_wet)
        reflectance = aged_reflectance(record.solar_reflectance, record.reflectance_loss, age)
        emittance = aged_emittance(
            record.longwave_emittance, record.emittance_rise, record.longwave_transmittance, age
        )
        film = film_hour(
            layers, solar[i], longwave, canopy, wind, air[i], vapour[i], deep[i], reflectance,
            record.solar_transmittance, emittance, record.longwave_transmittance, record, wet,
            water, drop, film, cover[i],
        )
        top = layers[0]
        root = layers[1]
        if striped:
            shoulder = film_hour(
                beside, solar[i], longwave, canopy, wind, air[i], vapour[i], deep[i],
                aged_reflectance(
                    record.shoulder_solar_reflectance, record.shoulder_reflectance_loss, age
                ),
                record.shoulder_solar_transmittance,
                aged_emittance(
                    record.shoulder_longwave_emittance, record.shoulder_emittance_rise,
                    record.shoulder_longwave_transmittance, age,
                ),
                record.shoulder_longwave_transmittance, record, wet, water, drop, shoulder,
                cover[i],
            )
            top = record.weight_top * top + (1.0 - record.weight_top) * beside[0]
            root = record.weight_10cm * root + (1.0 - record.weight_10cm) * beside[1]
        above = air[i] + record.air_above_share * (film - air[i])
        shade = min(0.95, record.crown_shading * cover[i])
        seen = (1.0 - shade) * longwave + shade * canopy
        radiant = 0.5 * film + 0.5 * (air[i] + (seen - black) * kelvin / (4.0 * black))
        absorbed_k = record.crown_solar_gain * (1.0 + reflectance) * (1.0 - shade) * solar[i]
        out[FILM_SURFACE, i] = film
        out[AIR_ABOVE_FILM, i] = above
        out[CROWN, i] = crown_temperature(
            top, above, radiant, absorbed_k, record.crown_soil_weight,
            record.crown_radiant_weight, plant_wet, vapour[i],
        )
        out[SOIL_5CM, i] = top + SHARE_5CM * (root - top)
        out[SOIL_10CM, i] = root


def start_layers(air_c: np.ndarray, deep_c: float) -> np.ndarray:
    """Return soil temperatures [degC] to start a run from: the mean air of the first three days.

    The deep layer starts at the deep temperature. A run of ten days forgets its start.

    Examples
    --------
    >>> start_layers(np.full(100, 20.0), 18.0)
    array([20., 20., 18.])
    """
    mean = float(np.mean(air_c[:72]))
    return np.array([mean, mean, deep_c])
