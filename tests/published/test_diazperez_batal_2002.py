"""Diaz-Perez, J.C. and Batal, K.D. (2002). J. Amer. Soc. Hort. Sci. 127:127-135, abstract read.

Tomato at Tifton, Georgia (31.5 N): root zone 1 to 5 degC above the air in the daily mean under
every film; midday up to 4 degC warmer under black than under others; widest daily range in bare
soil. Bands of this kind guided the defaults: plausibility, not validation. Weather: typical year
at 36 N; cover 0.5 stands for the growing tomato.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.crown.stations import days_of, season, station

START, N = "2001-07-15", 90


def soil(film, cover):
    return days_of(
        season("greensboro", film, START, cover=cover, sprinkled_days=0).soil_10cm_c, START, N
    )


@pytest.mark.parametrize("film", ["black", "silver", "white-on-black"])
def test_root_zone_is_one_to_five_degc_above_the_air(film):
    forcing, _ = station("greensboro")
    assert 1.0 < (soil(film, 0.5) - days_of(forcing.air_c, START, N)).mean() < 5.0


def test_midday_contrast_of_black_and_white_on_black_under_clear_sky():
    # Several field studies: 3 to 12 degC at 10 cm, cover under 0.3, clear, warm season.
    forcing, clear_sky = station("greensboro")
    sun = days_of(forcing.solar_w_m2, START, N)[:, 9:16].sum(1)
    clear = sun / days_of(clear_sky, START, N)[:, 9:16].sum(1) > 0.9
    contrast = (soil("black", 0.1) - soil("white-on-black", 0.1))[clear]
    assert clear.sum() > 10
    assert 3.0 < contrast[:, 12:17].mean() < 12.0


def test_contrast_shrinks_as_leaves_cover_the_film():
    contrast = [
        np.mean(soil("black", cover).max(1) - soil("white-on-black", cover).max(1))
        for cover in (0.0, 0.3, 0.6, 0.9)
    ]
    assert contrast[0] > contrast[1] > contrast[2] > contrast[3] > 0.0
    # About half is left at half cover.
    assert contrast[2] < 0.6 * contrast[0]


def test_bare_soil_is_cooler_than_dark_films_and_swings_more_than_reflective_ones():
    # The abstract gives bare soil the widest range of all; here black film swings as much
    # (within 2 %), a known difference: the evaporation of bare soil is held constant.
    days = {film: soil(film, 0.1) for film in ("bare-soil", "black", "silver", "white-on-black")}
    spread = {film: np.ptp(d, axis=1).mean() for film, d in days.items()}
    assert spread["bare-soil"] > spread["silver"] > spread["white-on-black"]
    assert spread["bare-soil"] > 0.95 * spread["black"]
    assert days["bare-soil"].mean() < days["silver"].mean() < days["black"].mean()
