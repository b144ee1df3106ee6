"""Vegetable centre trial in spring, tropics (AVRDC; title not noted), excerpt read.

Daily maximum at 10 cm most often near 16:00, minimum 07:00, under all mulches. Band 15:00 to 18:30
for the maximum and 06:00 to 08:30 for the minimum: hourly values, three soil layers.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.crown.stations import days_of, season, station


@pytest.mark.parametrize("film", ["black", "white-on-black", "clear", "metallised", "bare-soil"])
def test_hours_of_extremes_at_10_cm(film):
    start, n = "2002-03-15", 60
    forcing, clear_sky = station("miami")
    sun = days_of(forcing.solar_w_m2, start, n)[:, 9:16].sum(1)
    clear = sun / days_of(clear_sky, start, n)[:, 9:16].sum(1) > 0.85
    soil = days_of(season("miami", film, start, cover=0.2, sprinkled_days=0).soil_10cm_c, start, n)[
        clear
    ]
    # Each value stands for the middle of its hour.
    assert 15.0 <= np.median(soil.argmax(1)) + 0.5 <= 18.5
    assert 6.0 <= np.median(soil[:, :12].argmin(1)) + 0.5 <= 8.5
