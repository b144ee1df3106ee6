"""The energy balance of film and soil, hour by hour: the kernel of the crown's temperature.

The film has no heat store. Its temperature Tm and that of the soil surface under it Ts are the
root of two balances,

    film:     absorbed sunlight + eps (L - sigma Tm^4) + h (Ta - Tm) + hc (Ts - Tm) - latent - water
    surface:  hc (Tm - Ts) + sunlight passed + tau_l eps_s (L - sigma Ts^4) - G,

solved by Newton together with three soil layers (0-4, 4-16, 16-60 cm) in one implicit step an
hour. The layers are linear, so they are eliminated from the bottom up once a step and leave
G = y Ts - j. The heat that enters the column is the heat its layers gain and pass on, to rounding,
whatever the Newton steps left over in the film.

Each value stands for the hour's mean, as the weather does. The kernel is written in the operations
of `phenocast.vector`. A lane is a bed under one draw; all lanes of a run lie under one weather.
"""

from __future__ import annotations

from collections import namedtuple

import numpy as np
from numba import njit
from numpy.typing import ArrayLike

from phenocast._typing import FloatArray
from phenocast.crown.atmosphere import STEFAN_BOLTZMANN, stability
from phenocast.crown.film import (
    aged_emittance,
    aged_reflectance,
    crown_temperature,
    light_into_soil,
)
from phenocast.crown.soil import LAYER_THICKNESS_M
from phenocast.crown.sprinkling import (
    LATENT_W_M2_PER_MM_H,
    PSYCHROMETRIC_KPA_K,
    WATER_HEAT_W_M2_K_PER_MM_H,
    saturation_kpa,
    saturation_slope,
    wet_bulb_c,
)
from phenocast.vector import (
    any_lane,
    clip,
    everywhere,
    lanes,
    load,
    maximum,
    minimum,
    row_of,
    series,
    store,
    take,
    trunc,
    where,
)

SECONDS_PER_HOUR = 3600.0
KELVIN = 273.15
# Three steps leave the film within 0.001 degC of the root in the worst hour of a gusty record; two
# leave 0.06 there (0.02 at the crown) and are a fifth faster. Evaporation takes two more.
NEWTON_STEPS = 3
MORE_WHEN_WET = 2
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


# A film and the soil under it: three layers, film, soil surface [degC], water on it [mm].
Column = namedtuple("Column", "top root deep film surface water")
# What the elimination of the layers needs, the same in every hour. Conductances down from the
# surface and the centre of each layer [W m-2 K-1], heat stored in an hour for each kelvin [W m-2
# K-1], and one over what is left in the diagonal [W-1 m2 K].
Soil = namedtuple("Soil", "above upper lower to_deep store_1 store_2 store_3 part_1 part_2 part_3")
# A film in one hour: optics of its face, share of sunlight into the soil, and what it holds.
# ``open_sky`` is its longwave transmittance times the emittance of the soil; ``contact`` its
# conductance to the soil [W m-2 K-1]; ``wet`` the share that evaporates when no water stands on
# it; ``held`` the most water that does [mm].
Face = namedtuple("Face", "reflectance absorptance into_soil emittance open_sky contact wet held")
# What lies over a film in one hour, under the canopy. Air and vapour [degC, kPa], light and
# longwave [W m-2]; ``calm`` and ``still``, the conductance without wind of a film warmer and
# colder than the air, and ``turbulent``, what wind adds [W m-2 K-1], damped on a colder film by
# ``stable`` [K-1]; water [mm] and its temperature; the deep soil [degC].
Over = namedtuple(
    "Over",
    "air vapour light longwave calm still turbulent stable sprinkled drop deep",
)
N_STATE = len(Column._fields)


@njit(cache=True, nogil=True, error_model="numpy")
def column_constants(conductivity, capacity, deep_conductance):  # type: ignore[no-untyped-def]
    """Return the `Soil` of a column.

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
    return Soil(
        above, upper, lower, deep_conductance, store_1, store_2, store_3, part_1, part_2, part_3
    )


@njit(cache=True, nogil=True, error_model="numpy")
def solve_surface(column, face, over, soil_y, soil_j, latent, wet, carried, steps):  # type: ignore[no-untyped-def]
    """Return film and soil-surface temperature [degC] after some Newton steps from the hour before.

    ``soil_y`` Ts - ``soil_j`` is the heat into the soil; ``latent`` heat that is already known
    [W m-2]; ``wet`` the share of the film that evaporates besides; ``carried`` the conductance of
    the water that runs off [W m-2 K-1].
    """
    film = column.film
    surface = column.surface
    absorbed = face.absorptance * over.light - latent + face.emittance * over.longwave
    passed = face.into_soil * over.light + face.open_sky * over.longwave + soil_j
    evaporating = wet * (over.calm + over.turbulent) / PSYCHROMETRIC_KPA_K
    evaporates = any_lane(wet > 0.0)
    square = face.contact * face.contact
    for _ in range(steps):
        film_k = film + KELVIN
        film_cube = face.emittance * STEFAN_BOLTZMANN * (film_k * film_k) * film_k
        surface_k = surface + KELVIN
        surface_cube = face.open_sky * STEFAN_BOLTZMANN * (surface_k * surface_k) * surface_k
        # Cold air on a film colder than the air divides what the wind carries by damped^2.
        colder = over.air - film
        calm = where(colder > 0.0, over.still, over.calm)
        damping = over.stable * maximum(colder, 0.0)
        damped = 1.0 + damping
        film_gap = (
            absorbed
            - film_cube * film_k
            + calm * colder
            + face.contact * (surface - film)
            - carried * (film - over.drop)
        )
        film_slope = 4.0 * film_cube + calm + face.contact + carried
        if evaporates:
            saturation = saturation_kpa(film)
            film_gap -= evaporating * (saturation - over.vapour)
            film_slope += evaporating * saturation_slope(film, saturation)
        surface_gap = face.contact * (film - surface) + passed - surface_cube * surface_k
        surface_gap -= soil_y * surface
        surface_slope = face.contact + 4.0 * surface_cube + soil_y
        # Both balances times damped^3, so that a step takes one division and not two.
        cubed = damped * damped * damped
        film_gap = film_gap * cubed + over.turbulent * colder * damped
        film_slope = film_slope * cubed + over.turbulent * (1.0 - damping)
        scale = 1.0 / (film_slope * surface_slope - square * cubed)
        film, surface = (
            film + (film_gap * surface_slope + surface_gap * face.contact * cubed) * scale,
            surface + (surface_gap * film_slope + film_gap * face.contact) * scale,
        )
    return film, surface


@njit(cache=True, nogil=True, error_model="numpy")
def column_hour(column, soil, face, over, steps):  # type: ignore[no-untyped-def]
    """Return a film and its soil an hour later, and the share of the hour that the film was wet."""
    rest_3 = (soil.store_3 * column.deep + soil.to_deep * over.deep) * soil.part_3
    rest_2 = (soil.store_2 * column.root + soil.lower * rest_3) * soil.part_2
    rest_1 = (soil.store_1 * column.top + soil.upper * rest_2) * soil.part_1
    share_1 = soil.above * soil.part_1
    soil_y = soil.above * (1.0 - share_1)
    soil_j = soil.above * rest_1
    film = column.film
    surface = column.surface
    none = everywhere(0.0)
    wet_share = none
    water = column.water + over.sprinkled
    watered = water > 0.0
    if any_lane(~watered):
        film, surface = solve_surface(
            column, face, over, soil_y, soil_j, none, face.wet, none, steps
        )
    if any_lane(watered):
        carried = WATER_HEAT_W_M2_K_PER_MM_H * over.sprinkled
        more = steps + MORE_WHEN_WET
        all_wet = everywhere(1.0)
        soaked, under = solve_surface(
            column, face, over, soil_y, soil_j, none, all_wet, carried, more
        )
        per_kpa = (over.calm + over.turbulent) / PSYCHROMETRIC_KPA_K / LATENT_W_M2_PER_MM_H
        evaporated = per_kpa * (saturation_kpa(soaked) - over.vapour)
        dries = watered & (evaporated > water)
        wet_share = where(watered, all_wet, none)
        if any_lane(dries):
            # The film dries within the hour: all its water goes, and no more.
            wet_share = where(dries, water / evaporated, wet_share)
            evaporated = minimum(evaporated, water)
            latent = water * LATENT_W_M2_PER_MM_H
            dry_part = face.wet * (1.0 - wet_share)
            dried, beneath = solve_surface(
                column, face, over, soil_y, soil_j, latent, dry_part, carried, more
            )
            soaked = where(dries, dried, soaked)
            under = where(dries, beneath, under)
        film = where(watered, soaked, film)
        surface = where(watered, under, surface)
        left = minimum(face.held, water - maximum(evaporated, 0.0))
        water = where(watered, left, water)
    top = rest_1 + share_1 * surface
    root = rest_2 + soil.upper * soil.part_2 * top
    deep = rest_3 + soil.lower * soil.part_3 * root
    return Column(top, root, deep, film, surface, water), wet_share


@njit(cache=True, nogil=True, error_model="numpy")
def _begun(begins, row, column):  # type: ignore[no-untyped-def]
    """Return a column in which some lanes begin from a row of the state."""
    return Column(
        where(begins, load(row, 0), column.top),
        where(begins, load(row, 1), column.root),
        where(begins, load(row, 2), column.deep),
        where(begins, load(row, 3), column.film),
        where(begins, load(row, 4), column.surface),
        where(begins, load(row, 5), column.water),
    )


@njit(cache=True, nogil=True, error_model="numpy")
def _aged_face(record, age, reflectance, loss, transmittance, emittance, rise, passed):  # type: ignore[no-untyped-def]
    """Return a film of some age [d], of its six optical numbers in the order of the records."""
    now = aged_reflectance(reflectance, loss, age)
    return Face(
        now,
        1.0 - now - transmittance,
        light_into_soil(transmittance, now, lanes(record.soil_reflectance)),
        aged_emittance(emittance, rise, passed, age),
        passed * lanes(record.soil_emittance),
        lanes(record.contact_conductance),
        lanes(record.surface_wetness),
        lanes(record.water_held),
    )


@njit(cache=True, nogil=True, error_model="numpy")
def run_lanes(  # type: ignore[no-untyped-def]
    air,
    vapour,
    wind_speed,
    solar,
    longwave_down,
    longwave_estimated,
    deep,
    cover,
    sprinkling,
    spans,
    film_age_d,
    record,
    state,
    rows,
    out,
    steps,
):
    """Run beds side by side through some hours and fill ``out`` [degC].

    Parameters
    ----------
    air, vapour, wind_speed, solar, longwave_down, deep : arrays of float64, shape [n]
        Air [degC], vapour pressure [kPa], wind at 2 m [m s-1], sunlight and longwave from the sky
        [W m-2], and the month's mean air that the deep soil follows [degC].
    longwave_estimated : array of float64, shape [n]
        1 where the longwave is an estimate (its offset is added), 0 where it was measured. [-]
    cover, sprinkling : arrays of float64, shape [m]
        Share of the bed top under leaves, 0 to 1 [-], and overhead water [mm h-1], of one bed after
        the other.
    spans : array of float64, shape [3, LANES]
        Hour in which each lane begins, and where in ``cover`` and ``sprinkling`` its values begin
        and end. Beyond them the first and the last value hold; what comes out before a lane begins
        means nothing.
    film_age_d : array of float64, shape [LANES]
        Age of the film when the lane begins; it grows from there. [d]
    record : record of `phenocast.vector.lane_records` of BED_DTYPE
    state : array of float64, shape [2, N_STATE, LANES]
        Stripe (or the one film) and shoulder when each lane begins, as in `Column`; overwritten
        with those after the last hour, so that a run can be continued.
    rows : array of int64, shape [N_OUT]
        Place in ``out`` of film surface, air 5 cm above it, crown, soil at 5 and at 10 cm; -1 where
        it is not wanted.
    out : array of float64, shape [n, kept, LANES]
        Filled. [degC]
    steps : int
        Newton steps an hour.

    Notes
    -----
    A value that is NaN makes that hour and all later ones NaN; nothing is filled in.
    """
    soil = column_constants(
        lanes(record.conductivity),
        lanes(record.heat_capacity),
        lanes(record.deep_contact)
        * lanes(record.conductivity)
        / (BOTTOM_HALF_M + lanes(record.deep_distance)),
    )
    striped = any_lane(lanes(record.striped) > 0.0)
    begin = trunc(load(series(spans), 0))
    first = trunc(load(series(spans), 1))
    last = trunc(load(series(spans), 2)) - 1
    none = everywhere(0.0)
    centre = Column(none, none, none, none, none, none)
    beside = centre
    for i in range(air.shape[0]):
        begins = begin == i
        if any_lane(begins):
            centre = _begun(begins, row_of(state, 0), centre)
            beside = _begun(begins, row_of(state, 1), beside)
        since = i - begin
        at = clip(first + since, first, last)
        age = lanes(film_age_d) + since / 24.0
        ta = air[i]
        kelvin = ta + KELVIN
        black = STEFAN_BOLTZMANN * kelvin * kelvin * kelvin * kelvin
        leaves = lanes(record.leaf_emittance) * black
        sky = longwave_down[i] + lanes(record.sky_offset) * longwave_estimated[i]
        fc = take(cover, at)
        sprinkled = take(sprinkling, at)
        drop = ta
        if any_lane(sprinkled > 0.0):
            drop = wet_bulb_c(ta, vapour[i])
        over = Over(
            ta,
            vapour[i],
            solar[i] * (1.0 - lanes(record.canopy_interception) * fc),
            sky + fc * (leaves - sky),
            lanes(record.wind_calm),
            lanes(record.wind_stable),
            lanes(record.wind_slope) * wind_speed[i],
            stability(lanes(record.stable_damping), wind_speed[i], ta),
            sprinkled,
            drop,
            deep[i] + lanes(record.deep_above_air),
        )
        face = _aged_face(
            record,
            age,
            lanes(record.solar_reflectance),
            lanes(record.reflectance_loss),
            lanes(record.solar_transmittance),
            lanes(record.longwave_emittance),
            lanes(record.emittance_rise),
            lanes(record.longwave_transmittance),
        )
        centre, wet_share = column_hour(centre, soil, face, over, steps)
        film = centre.film
        around = film
        top = centre.top
        root = centre.root
        if striped:
            shoulder = _aged_face(
                record,
                age,
                lanes(record.shoulder_solar_reflectance),
                lanes(record.shoulder_reflectance_loss),
                lanes(record.shoulder_solar_transmittance),
                lanes(record.shoulder_longwave_emittance),
                lanes(record.shoulder_emittance_rise),
                lanes(record.shoulder_longwave_transmittance),
            )
            beside, _ = column_hour(beside, soil, shoulder, over, steps)
            around = beside.film + lanes(record.weight_air) * (film - beside.film)
            top = beside.top + lanes(record.weight_top) * (top - beside.top)
            root = beside.root + lanes(record.weight_10cm) * (root - beside.root)
        over_film = ta + lanes(record.air_above_share) * (around - ta)
        shade = minimum(MOST_CROWN_SHADE, lanes(record.crown_shading) * fc)
        seen = sky + shade * (leaves - sky)
        # The effective temperature of sky and leaves, linear about air temperature.
        above_crown = ta + (seen - black) * (kelvin / (4.0 * black))
        sunlight = (
            lanes(record.crown_solar_gain) * (1.0 + face.reflectance) * (1.0 - shade) * solar[i]
        )
        crown = crown_temperature(
            top,
            over_film,
            0.5 * (film + above_crown),
            sunlight,
            lanes(record.crown_soil_weight),
            lanes(record.crown_radiant_weight),
            wet_share,
            vapour[i],
        )
        kept = row_of(out, i)
        # in the order of their numbers, `FILM_SURFACE` first
        temperatures = (film, over_film, crown, top + SHARE_5CM * (root - top), root)
        for number in range(N_OUT):
            if rows[number] >= 0:
                store(kept, rows[number], temperatures[number])
    for place in range(N_STATE):
        store(row_of(state, 0), place, centre[place])
        store(row_of(state, 1), place, beside[place])


def starting_state(air_c: FloatArray, deep_c: ArrayLike) -> FloatArray:
    """State of a bed before its first hour: soil at the mean air of the first three days, dry.

    Parameters
    ----------
    air_c : array of float64, shape [n]
        Hourly air temperature. [degC]
    deep_c : float or array of float64, shape [draws]
        Temperature of the lowest layer. [degC]

    Returns
    -------
    array of float64, shape [2, N_STATE] or [2, N_STATE, draws]
        For `run_lanes`. The top two layers forget it within days, the lowest within two weeks;
        start a run that long before the hours that matter.

    Examples
    --------
    >>> starting_state(np.full(100, 20.0), 18.0)[0]
    array([20., 20., 18., 20., 20.,  0.])
    """
    deep = np.asarray(deep_c, dtype=np.float64)
    mean = np.full_like(deep, air_c[:72].mean())
    one = np.array([mean, mean, deep, mean, mean, np.zeros_like(deep)])
    return np.array([one, one])
