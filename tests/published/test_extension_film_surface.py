"""Extension notes of Delaware and Michigan, read: black film above 130 to 140 degF (54 to 60 degC)
on clear days with air in the 90s degF and light wind. Band: above 50 and below 80 degC.
"""

from __future__ import annotations

import numpy as np

from tests.crown.stations import days_of, season, station


def test_black_film_on_hot_clear_days():
    start, n = "2001-07-01", 75
    forcing, clear_sky = station("greensboro")
    sun = days_of(forcing.solar_w_m2, start, n)[:, 9:16].sum(1)
    clear = sun / days_of(clear_sky, start, n)[:, 9:16].sum(1) > 0.9
    light = days_of(forcing.wind_m_s, start, n)[:, 10:16].mean(1) < 3.0
    hot = clear & light & (days_of(forcing.air_c, start, n).max(1) > 32.0)
    film = days_of(
        season("greensboro", "black", start, cover=0.0, sprinkled_days=0).film_surface_c, start, n
    ).max(1)[hot]
    assert hot.sum() >= 5
    assert film.min() > 50.0
    assert film.max() < 80.0
    assert np.median(film) > 54.0
