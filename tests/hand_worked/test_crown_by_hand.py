"""One bed in one hour, its balance worked out backwards: the answer is chosen, and what must drive
it follows by plain arithmetic.

sigma T^4 [W m-2] with sigma 5.670374e-8: 315.657 799 at 0 degC, 325.004 798 at 2, 329.755 384 at 3,
364.483 580 at 10, 418.765 889 at 20, 430.311 403 at 22, 448.075 254 at 25, 478.896 866 at 30,
511.281 870 at 35. Saturation [kPa]: 2.643 931 at 22 degC, 2.983 917 at 24, 3.167 778 at 25,
3.361 440 at 26, 3.779 930 at 28.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from phenocast.crown import (
    AIR_ABOVE_FILM,
    CROWN,
    FILM_SURFACE,
    SOIL_5CM,
    SOIL_10CM,
    BedForcing,
    bed_records,
    bed_temperatures,
    canopy_cover,
    canopy_degree_days,
    deep_temperature,
    flower_temperature,
    sheltered,
    sky_longwave,
    starting_state,
)
from phenocast.crown.atmosphere import (
    cloud_cover,
    leaf_conductance,
    stability,
)
from phenocast.crown.film import (
    aged_emittance,
    aged_reflectance,
    crown_temperature,
    light_into_soil,
    mixing_weight,
    stripe_weight,
)
from phenocast.crown.frost_protection import watered_flower
from phenocast.crown.soil import damping_depth, soil_conductivity, soil_heat_capacity
from phenocast.crown.sprinkling import saturation_slope, wet_bulb_c
from phenocast.parameters import bed, films, shelters, soils
from phenocast.season import FrostProtection
from tests.crown.bedside import record, run, weather

# A film that has no soil: what it takes up and gives off is the whole balance.
ALONE = {
    "contact_conductance": 0.0, "solar_transmittance": 0.0, "longwave_transmittance": 0.0,
    "deep_contact": 0.0,
}  # fmt: skip


def test_a_series_begins_and_ends_with_its_own_hours():
    # dark at 20 degC save for the last of 30 hours, in which the film warms
    hours = weather(30, vapour=1.0)
    hours["solar"][-1] = 800.0
    forcing = BedForcing(
        hours["air"], hours["vapour"], hours["wind"], hours["solar"], hours["sky"], hours["deep"],
        np.zeros(30),
    )  # fmt: skip
    found = bed_temperatures(forcing, np.zeros(30), np.zeros(30), record())
    assert found.film_surface_c[:-1] == pytest.approx(np.full(29, 20.0), abs=0.01)
    assert found.film_surface_c[-1] > 35.0


def state_of(soil, film=25.0, water=0.0):
    """State of a bed before the hour: three layers of soil, film and soil surface, water [mm]."""
    layers = (soil,) * 3 if np.ndim(soil) == 0 else soil
    one = np.array([*layers, film, layers[0], water])
    return np.stack([one, one])


def one_hour(bed_, *, state, age=0.0, **hour):
    out, after = run(weather(1, **hour), bed_, state=state, steps=15, age=age)
    return out[:, 0], after


def test_a_clear_film_and_three_layers_of_soil():
    # k 0.56 over 2, 8 and 28 cm: 28, 7 and 2 W m-2 K-1; to the deep soil 0.56 / (0.22 + 0.34) = 1.
    # C 1.8e6 in 4, 12 and 44 cm over 3600 s: 20, 60 and 220 W m-2 K-1.
    # Wanted after the hour: surface 30, layers 24, 20, 18. Flows down: 28 x 6 = 168, 7 x 4 = 28,
    # 2 x 2 = 4, and 1.8 to a deep soil of 16.2 (15.2, and 1 above). Gains 140 / 20 = 7,
    # 24 / 60 = 0.4 and 2.2 / 220 = 0.01: before the hour 17, 19.6 and 17.99.
    # Surface: 168 = 20 x (35 - 30) + 0.2 x 0.95 x (400 - 478.896 866) + light, so light is
    # 82.990 405 = 0.2 x 0.75 / (1 - 0.4 x 0.25) = 1/6 of the sun: 497.942 427.
    # Film at 35: 0.4 x 497.942 427 + 0.5 x (400 - 511.281 870) - 20 x 5 = 43.536 036 goes to the
    # air through 6 + 5 x 2 = 16: the air is 2.721 002 colder, 32.278 998.
    film = record(
        solar_reflectance=0.4, solar_transmittance=0.2, longwave_emittance=0.5,
        longwave_transmittance=0.2, soil_reflectance=0.25, soil_emittance=0.95,
        conductivity=0.56, heat_capacity=1.8e6, deep_distance=0.34, deep_above_air=1.0,
    )  # fmt: skip
    out, after = one_hour(
        film, state=state_of((17.0, 19.6, 17.99)), air=32.2789977543, solar=497.9424270865,
        sky=400.0, deep=15.2,
    )  # fmt: skip
    assert after[0, :5] == pytest.approx([24.0, 20.0, 18.0, 35.0, 30.0], abs=1e-7)
    assert out[FILM_SURFACE] == pytest.approx(35.0, abs=1e-7)
    assert out[SOIL_10CM] == pytest.approx(20.0, abs=1e-7)
    assert out[SOIL_5CM] == pytest.approx(22.5, abs=1e-7)  # 3/8 of the way from 24 to 20
    # air over the film 32.278 998 + 0.12 x 2.721 002 = 32.605 518; the sky is at 17.817 023 (400
    # against 493.460 930 of the air, over 4 x 493.460 930 / 305.428 998), the mean of film and sky
    # 26.408 511; sun 0.0004 x (1 + 0.4) x 497.942 427 = 0.278 848;
    # 0.59 x 24 + 0.32 x 32.605 518 + 0.09 x 26.408 511 + 0.278 848
    assert out[AIR_ABOVE_FILM] == pytest.approx(32.6055180238, abs=1e-7)
    assert out[CROWN] == pytest.approx(27.2493795596, abs=1e-7)


# Leaves at 0.9 x 448.075 254 = 403.267 728 over half of the bed, a sky of 350 + 10 of the estimate.
# Film at 30 in air of 25: 16 x 5 = 80 = 0.5 x (381.633 864 - 478.896 866) + light, with 381.633 864
# the mean of sky and leaves: light 128.631 501 = 0.7 of 183.759 287, and that 1 - 0.8 x 0.5 = 0.6
# of the sun: 306.265 478.
LEAFY = {
    **ALONE, "solar_reflectance": 0.3, "longwave_emittance": 0.5, "leaf_emittance": 0.9,
    "canopy_interception": 0.8, "crown_soil_weight": 0.5, "crown_radiant_weight": 0.1,
    "crown_solar_gain": 0.0005, "sky_offset": 10.0,
}  # fmt: skip


@pytest.mark.parametrize(
    ("shading", "crown"),
    [
        # shade 1.2 x 0.5 = 0.6: the crown sees 360 + 0.6 x 43.267 728 = 385.960 637, a body of
        # 14.667 208; sun 0.0005 x 1.3 x 0.4 x 306.265 478 = 0.079 629;
        # 0.5 x 20 + 0.4 x 25.6 + 0.1 x (30 + 14.667 208) / 2 + 0.079 629
        (1.2, 22.5529894419),
        # no more than 0.95 of shade: 401.104 342, 17.186 370; sun 0.009 954
        (2.0, 22.6092721177),
    ],
)
def test_leaves_over_film_and_crown(shading, crown):
    out, _ = one_hour(
        record(**LEAFY, crown_shading=shading), state=state_of(20.0), air=25.0,
        solar=306.2654782698, sky=350.0, estimated=1.0, cover=0.5,
    )  # fmt: skip
    assert out[FILM_SURFACE] == pytest.approx(30.0, abs=1e-7)
    assert out[AIR_ABOVE_FILM] == pytest.approx(25.6, abs=1e-7)  # 0.12 of 5
    assert out[CROWN] == pytest.approx(crown, abs=1e-7)


def test_cold_air_that_lies_on_a_film_by_night():
    # 14 degC, 1 m/s: s = 4.7 x 9.81 x 2 / 287.15 = 0.321 135; film at 10, so the wind's 5 is
    # divided by (1 + 4 x 0.321 135)^2 = 5.219 128: 0.958 014, and with 0.5 of still air 1.458 014.
    # 4 x 1.458 014 = 0.8 x (364.483 580 - 357.193 508)
    film = record(**ALONE, longwave_emittance=0.8, wind_stable=0.5, stable_damping=4.7)
    assert stability(4.7, 1.0, 14.0) == pytest.approx(0.32113529514, rel=1e-9)
    # below 0.1 m/s the wind counts as 0.1 here, and as itself (5 x 0.05) in what it carries
    assert stability(4.7, 0.05, 14.0) == pytest.approx(32.113529514, rel=1e-9)
    for wind, sky in ((1.0, 357.1935083898), (0.05, 361.9835056391)):
        out, _ = one_hour(film, state=state_of(12.0, film=9.0), air=14.0, wind=wind, sky=sky)
        assert out[FILM_SURFACE] == pytest.approx(10.0, abs=1e-6)


def test_a_film_ages_by_the_hour():
    # 0.6 - 0.05 x 48 / 100 = 0.576 of 500 W m-2 are given back; 212 through 16 W m-2 K-1 are
    # 13.25 K; an hour later 0.05 / 2400 x 500 / 16 = 0.000 651 more
    film = record(**ALONE, solar_reflectance=0.6, reflectance_loss=0.05, longwave_emittance=0.0)
    out, _ = run(weather(2, air=25.0, solar=500.0), film, state=state_of(20.0), steps=15, age=48.0)
    assert out[FILM_SURFACE] == pytest.approx([38.25, 38.25065104167], abs=1e-8)
    assert aged_reflectance(0.6, 0.05, 48.0) == pytest.approx(0.576)
    assert aged_reflectance(0.04, 0.1, 30.0) == 0.02  # 0.01 would be cleaner than dust
    assert aged_reflectance(0.015, 0.1, 30.0) == 0.015
    assert aged_emittance(0.5, 0.05, 0.1, 48.0) == pytest.approx(0.524)
    assert aged_emittance(0.85, 0.1, 0.1, 100.0) == pytest.approx(0.9)  # all that is not passed
    assert aged_emittance(0.95, 0.1, 0.1, 100.0) == 0.95
    # 0.8 x 0.7 / (1 - 0.2 x 0.3)
    assert light_into_soil(0.8, 0.2, 0.3) == pytest.approx(0.5957446809)


def test_an_ageing_emittance_in_the_balance():
    # at 100 d 0.5 + 0.1 = 0.6 of 418.765 889 - 352.099 222 = 66.666 667 leave: 40 through 16
    film = record(**ALONE, longwave_emittance=0.5, emittance_rise=0.1)
    out, _ = one_hour(film, state=state_of(20.0), air=22.5, sky=352.0992223970, age=100.0)
    assert out[FILM_SURFACE] == pytest.approx(20.0, abs=1e-7)


def test_a_stripe_between_its_shoulders():
    # Each film alone: 0.2 x 400 = 80 over 16 make the stripe 30 in air of 25, 0.6 x 400 = 240 the
    # shoulder 40; closed soils of 20 and 26. Around the plant 40 - 0.7 x 10 = 33, air over the film
    # 25 + 0.12 x 8 = 25.96, top soil 26 - 0.9 x 6 = 20.6, root zone 26 - 0.6 x 6 = 22.4, 5 cm
    # 20.6 + 3/8 x 1.8 = 21.275. The sky is black: crown 0.59 x 20.6 + 0.32 x 25.96
    # + 0.09 x (30 + 25) / 2 + 0.0004 x (1 + 0.8) x 400 = 12.154 + 8.3072 + 2.475 + 0.288
    striped = record(
        **ALONE, solar_reflectance=0.8, longwave_emittance=0.0, striped=1.0,
        shoulder_solar_reflectance=0.4, weight_top=0.9, weight_10cm=0.6, weight_air=0.7,
    )  # fmt: skip
    state = np.stack([state_of(20.0)[0], state_of(26.0)[0]])
    out, after = one_hour(striped, state=state, air=25.0, solar=400.0)
    expected = [30.0, 25.96, 23.2242, 21.275, 22.4]
    assert out == pytest.approx(expected, abs=1e-7)
    assert after[:, 3] == pytest.approx([30.0, 40.0], abs=1e-7)
    # the shoulder ages by its own numbers: 0.4 - 0.04 x 50 / 100 = 0.38, 248 / 16 = 15.5
    _, after = one_hour(
        record(
            **ALONE, solar_reflectance=0.8, longwave_emittance=0.0, striped=1.0,
            shoulder_solar_reflectance=0.4, shoulder_reflectance_loss=0.04,
        ),
        state=state, air=25.0, solar=400.0, age=50.0,
    )  # fmt: skip
    assert after[:, 3] == pytest.approx([30.0, 40.5], abs=1e-7)


def test_how_far_a_stripe_reaches():
    # (2 / pi) atan(10 / 2), atan(10 / 10) and atan(10 / 5); at the edge (atan 0 + atan 2) / pi
    assert stripe_weight(0.2, 0.02) == pytest.approx(0.8743340836)
    assert stripe_weight(0.2, 0.10) == pytest.approx(0.5)
    assert stripe_weight(0.2, 0.10, 0.1) == pytest.approx(0.3524163823)
    # an extra of 0.1; under a tenth it fades: 0.063 451 + 0.1 x 0.634 510; never over 1
    assert mixing_weight(0.2, 0.02, 0.0, 0.1) == pytest.approx(0.9743340836)
    assert mixing_weight(0.02, 0.10, 0.0, 0.1) == pytest.approx(0.1269020697)
    assert mixing_weight(0.2, 0.02, 0.0, 0.2) == 1.0


def test_record_of_a_striped_film_on_a_soil():
    physics = bed().with_values({"stripe_lateral_extra": 0.1})
    soil = soils()["sandy loam"].with_values(
        {"bulk_density": 1.325, "clay_share": 0.16, "organic_share": 0.02, "water": 0.2}
    )
    white = films()["white-striped"]
    one = bed_records(white, physics, soil, shoulder=films()["black"], stripe_width_m=0.2)[0]
    weights = (one.weight_top, one.weight_10cm, one.weight_air)
    assert weights == pytest.approx((0.9743340836, 0.6, 0.7048327647))
    # minerals 1.325 x 0.98 / 2.65 = 0.49, organic 0.0265 / 1.3 = 0.020 385 of the volume:
    # 2.31 x 0.49 + 2.51 x 0.020 385 + 4.18 x 0.2
    assert one.heat_capacity == pytest.approx(2.0190653846e6)
    assert (one.solar_reflectance, one.shoulder_solar_reflectance) == (0.5, 0.04)
    off = bed_records(
        white, physics, soil, shoulder=films()["black"], stripe_width_m=0.2, row_offset_m=0.1
    )[0]
    assert off.weight_10cm == pytest.approx(0.4524163823)


def test_soil():
    # 1.5 Mg m-3, clay 0.16, water 0.2: 0.65 - 1.17 + 1.35 = 0.83; 1.06 x 1.5 x 0.2 = 0.318;
    # 0.03 + 0.1 x 2.25 = 0.255; (1 + 2.6 / 0.4) x 0.2 = 1.5, exp(-1.5^4) = 0.006 329 715;
    # 0.83 + 0.318 - 0.575 x 0.006 329 715
    assert soil_conductivity(1.5, 0.16, 0.2) == pytest.approx(1.1443604136)
    assert soil_heat_capacity(1.325, 0.02, 0.2) == pytest.approx(2.0190653846e6)
    # sqrt(2 x 5e-7 / 7.272 205e-5)
    assert damping_depth(1.0, 2e6) == pytest.approx(0.1172646029)
    assert damping_depth(1.0, 2e6, 96.0) == pytest.approx(0.2345292057)


def test_a_sprinkled_film_gives_heat_to_the_water_and_the_air():
    # Vapour 2.643 931 - 0.066 x 8 = 2.115 931: the wet bulb of air at 30 is 22, so are the drops.
    # Film at 28: 16 / 0.066 x (3.779 930 - 2.115 931) = 403.393 739 evaporate, 2 mm h-1 x 1.163 x 6
    # = 13.956 go with the water, 16 x 2 = 32 come from the air: the sun gives 385.349 739, half of
    # 770.699 477. Of 0.1 + 2 mm 403.393 739 / 680.555 556 = 0.592 742 evaporate.
    assert wet_bulb_c(30.0, 2.1159311922) == pytest.approx(22.0, abs=1e-8)
    film = {**ALONE, "solar_reflectance": 0.5, "longwave_emittance": 0.0}
    for held, left in ((0.2, 0.2), (2.0, 1.5072581800)):
        out, after = one_hour(
            record(**film, water_held=held), state=state_of(20.0, water=0.1), air=30.0,
            vapour=2.1159311922, solar=770.6994772289, sprinkling=2.0,
        )  # fmt: skip
        assert out[FILM_SURFACE] == pytest.approx(28.0, abs=1e-7)
        assert after[0, 5] == pytest.approx(left, abs=1e-8)


def test_a_film_that_dries_within_the_hour():
    # Held all wet it would be at 24: 16 / 0.066 x 0.5 = 121.212 121 evaporate into vapour of
    # 2.483 917, 96 from the air and 25.212 121 from the sun: 0.178 108 mm in the hour. There is
    # 0.1 mm: it is wet for 0.561 458 of the hour, gives up 68.055 556, and the film is at
    # 30 + (25.212 121 - 68.055 556) / 16 = 27.322 285.
    # Crown: air 30 - 0.12 x 2.677 715 = 29.678 674, radiant (27.322 285 + 30) / 2 and the sun's
    # 0.0004 x 1.5 x 50.424 242 are 12.106 933 together; a soil of 27.596 403 makes it 28.388 811
    # dry. Wet, 26 = 28.388 811 - 0.561 458 x 0.32 / 0.066 x (3.361 440 - 2.483 917)
    film = record(**ALONE, solar_reflectance=0.5, longwave_emittance=0.0)
    out, after = one_hour(
        film, state=state_of(27.5964028841, water=0.1), air=30.0, vapour=2.4839174772,
        solar=50.4242424242,
    )  # fmt: skip
    assert out[FILM_SURFACE] == pytest.approx(27.3222853535, abs=1e-7)
    assert out[CROWN] == pytest.approx(26.0, abs=1e-5)
    assert after[0, 5] == 0.0


def test_bare_soil_evaporates_from_its_wet_share():
    # 0.25 x 16 / 0.066 x (3.779 930 - 2.483 917) = 78.546 236, of which the air gives 32
    film = record(**ALONE, solar_reflectance=0.5, longwave_emittance=0.0, surface_wetness=0.25)
    out, _ = one_hour(
        film, state=state_of(20.0), air=30.0, vapour=2.4839174772, solar=2 * 46.5462355654
    )
    assert out[FILM_SURFACE] == pytest.approx(28.0, abs=1e-7)
    # 4098 x 2.643 931 / (22 + 237.3)^2
    assert saturation_slope(22.0, 2.6439311922) == pytest.approx(0.1611450869)


def test_crown_node():
    # dry: 0.6 x 25 + 0.3 x 28 + 0.1 x 30 + 0.2
    assert crown_temperature(25.0, 28.0, 30.0, 0.2, 0.6, 0.1, 0.0, 1.5) == pytest.approx(26.6)
    # all wet at 25: 0.32 / 0.066 x (3.167 778 - 2.115 931) = 5.099 862 below the dry 30.099 862
    wet = crown_temperature(30.0, 30.0, 30.0, 0.0998619408, 0.59, 0.09, 1.0, 2.1159311922)
    assert wet == pytest.approx(25.0, abs=1e-6)


def test_conductance_of_a_flower():
    # 1.4 x 0.135 x sqrt(0.4 / 0.025) x 29.3
    assert leaf_conductance(np.array(0.4), 0.025) == pytest.approx(22.1508)


def test_sky():
    # (0.820 632 kPa x 10 / 293.15)^(1/7) = 0.6: clear 0.744; half of the sun came: 0.744 x 0.58 +
    # 0.42 = 0.851 52 of 418.765 889
    sky = sky_longwave(
        np.array([20.0]), np.array([0.820632384]), np.array([300.0]), np.array([600.0])
    )
    assert sky == pytest.approx([356.5875298555], rel=1e-9)
    # the ratio of the latest four hours of high sun (above 100 W m-2 of clear sky): 100 / 200,
    # 400 / 600, 1000 / 1200, 1400 / 2000, then 1600 / 2400 without the first; night keeps the last
    clear = np.array([0.0, 80.0, 200.0, 400.0, 600.0, 800.0, 600.0, 50.0, 0.0])
    solar = np.array([0.0, 60.0, 100.0, 300.0, 600.0, 400.0, 300.0, 10.0, 0.0])
    expected = [0.5, 0.5, 0.5, 1 / 3, 1 / 6, 0.3, 1 / 3, 1 / 3, 1 / 3]
    assert cloud_cover(solar, clear) == pytest.approx(expected)


def test_deep_soil_and_the_start():
    # three days of 10, then warmer by the hour: the mean of all there is, of 720 h at most
    air = np.concatenate([np.full(72, 10.0), np.full(720, 16.0)])
    deep = deep_temperature(air)
    assert deep[[0, 71, 107, 719, 791]] == pytest.approx(
        [10.0, 10.0, 12.0, 10.0 + 6.0 * 648 / 720, 16.0]
    )
    # mean of 72 h; the deep layer is given
    assert starting_state(np.concatenate([np.arange(72.0), np.full(9, 99.0)]), 18.0)[1] == (
        pytest.approx([35.5, 35.5, 18.0, 35.5, 35.5, 0.0])
    )


def test_a_canopy_of_three_days():
    # 15, 0 and 40 degC above 5, at most 26, none on the first day: 0, 0, 21
    air = np.repeat([15.0, 0.0, 40.0], 24)
    warmth = canopy_degree_days(air, base_c=5.0, ceiling_c=26.0, delay_h=24)
    assert warmth[[23, 47, 59, 71]] == pytest.approx([0.0, 0.0, 10.5, 21.0])
    # midpoint ln 9 scales off: the logistic is 0.1 at the start, 0.25 ln 3 scales before the
    # midpoint, 0.5 there: shares 0, 0.15 / 0.9 and 0.4 / 0.9 of 0.6 above 0.1
    cover = canopy_cover(
        np.array([0.0, 109.8612288668, 219.7224577336]), initial=0.1, maximum=0.7,
        midpoint_degree_days=219.7224577336, scale_degree_days=100.0,
    )  # fmt: skip
    assert cover == pytest.approx([0.1, 0.2, 0.3666666667])


def forcing(hours=1, **hour):
    given = {
        "air_c": 10.0, "vapour_pressure_kpa": 0.6, "wind_m_s": 2.0, "solar_w_m2": 400.0,
        "longwave_down_w_m2": 300.0, "deep_c": 8.0, "longwave_estimated": 1.0, **hour,
    }  # fmt: skip
    return BedForcing(**{name: np.full(hours, value) for name, value in given.items()})


def test_half_an_hour_under_a_row_cover():
    cover = shelters()["row-cover"].with_values(
        {"solar_transmittance": 0.8, "longwave_transmittance": 0.45, "wind_share": 0.15,
         "solar_warming": 0.006, "night_warming": 1.5}
    )  # fmt: skip
    inside = sheltered(forcing(), np.array([0.5]), cover)
    # 400 x (1 - 0.5 x 0.2); 10 + 0.5 x (1.5 + 0.006 x 400); 2 x (1 - 0.5 x 0.85); of the sky
    # 0.5 x 0.55 = 0.275 is hidden by a cover at 10.975 degC, which sends 369.529 828
    assert inside.solar_w_m2 == pytest.approx([360.0])
    assert inside.air_c == pytest.approx([11.95])
    assert inside.wind_m_s == pytest.approx([1.15])
    assert inside.longwave_down_w_m2 == pytest.approx([319.1207026052])
    assert inside.longwave_estimated == pytest.approx([0.725])


def test_a_flower_by_night_and_by_day():
    physics = bed().with_values(
        {"sky_offset": 5.0, "flower_emittance": 0.9, "wind_calm": 6.0, "wind_slope": 5.0,
         "flower_sky_view": 0.6, "flower_size": 0.025, "flower_wind_share": 0.4,
         "flower_least_wind": 0.2, "flower_absorptance": 0.5}
    )  # fmt: skip
    # Night, air 5, 1 m/s: the surface is at 2 where 0.9 x (325.004 798 - 288.338 132) = 11 x 3.
    # The flower sees 0.6 of that sky and 0.4 of the surface, 303.004 798, and is at 3 where
    # 22.1508 x (air at it - 3) = 0.9 x (329.755 384 - 303.004 798): air at it 4.086 892, which is
    # 0.304 369 of the way from 5 to 2.
    night = forcing(air_c=5.0, wind_m_s=1.0, solar_w_m2=0.0, longwave_down_w_m2=283.3381318327)
    share = physics.with_values({"flower_ground_share": 0.3043693423})
    assert flower_temperature(night, share) == pytest.approx([3.0], abs=1e-6)
    # Day, air 20: 0.6 x 350 + 0.4 x 418.765 889 = 377.506 356 against 430.311 403 at 22 degC:
    # 47.524 543 and 2 x 22.1508 to the air are half of half of the sun
    day = replace(
        forcing(air_c=20.0, wind_m_s=1.0, longwave_down_w_m2=345.0),
        solar_w_m2=np.array([367.3045704683]),
    )
    assert flower_temperature(day, share) == pytest.approx([22.0], abs=1e-6)
    # in still air the drainage wind of 0.2 m/s carries 22.1508 / sqrt(2) = 15.662 981
    still = replace(day, wind_m_s=np.array([0.0]), solar_w_m2=np.array([4 * 78.8505053]))
    assert flower_temperature(still, share) == pytest.approx([22.0], abs=1e-6)


def test_water_runs_in_nights_that_would_frost_and_not_in_the_one_before():
    # Noon at hour 12: the first night ends at hour 36. Flowers at 1 degC but for hour 36, at -0.5:
    # water runs from there on, and too little of it leaves the flower at its wet bulb. Air 2 degC,
    # 0.3 kPa, 24 m/s at the flower: 108.5 W m-2 K-1, and 4.4 more from what it sees, at 2 degC too:
    # e_s(T) - 0.3 = 0.066 x (1 + 4.4 / 108.5) x (2 - T), so T = -1.59
    even = forcing(hours=60, air_c=2.0, vapour_pressure_kpa=0.3, wind_m_s=60.0, solar_w_m2=0.0,
                   longwave_estimated=0.0,
                   longwave_down_w_m2=5.670374e-8 * 275.15**4)  # fmt: skip
    dry = np.full(60, 1.0)
    dry[36] = -0.5
    stated = FrostProtection("overhead-water", rate_mm_h=0.01)
    found = watered_flower(dry, even, bed(), stated, np.ones(60, dtype=bool), 12)
    assert found[:36].tolist() == [1.0] * 36
    assert found[36:] == pytest.approx(np.full(24, -1.59), abs=0.02)
