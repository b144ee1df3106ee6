"""Day lengths that weather works with, against an almanac and two libraries.

Almanac: 46 N, 3 September 1998, sunrise 05:23, sunset 18:35 (read): 13 h 12 min; tolerance 1.5 min,
for both are printed to the minute. The geometric formula gives 13 h 04 min. Table: 2025, longitude
0, computed by pvlib 0.16.1 (sunrise to sunset), ephem 4.2.1 (civil twilight -6 deg; sun's centre
without refraction). Tolerance 0.006 h: this package takes noon's declination for the whole day.
"""

from __future__ import annotations

import numpy as np
import pytest

from phenocast.weather.solar import ALMANAC, CIVIL_TWILIGHT, SUN_CENTRE, day_length_h

DATES = np.array(["2025-03-20", "2025-06-21", "2025-09-22", "2025-12-21"], "datetime64[D]")
TABLE = {
    (28.0, ALMANAC): (12.127, 13.920, 12.130, 10.367),
    (38.0, ALMANAC): (12.144, 14.806, 12.149, 9.526),
    (52.0, ALMANAC): (12.187, 16.735, 12.195, 7.743),
    (28.0, CIVIL_TWILIGHT): (12.907, 14.811, 12.910, 11.227),
    (38.0, CIVIL_TWILIGHT): (13.019, 15.855, 13.024, 10.511),
    (52.0, CIVIL_TWILIGHT): (13.309, 18.365, 13.318, 9.108),
    (28.0, SUN_CENTRE): (12.001, 13.779, 12.004, 10.226),
    (38.0, SUN_CENTRE): (12.002, 14.641, 12.008, 9.363),
    (52.0, SUN_CENTRE): (12.006, 16.495, 12.014, 7.508),
}


@pytest.mark.parametrize(("latitude", "angle"), TABLE)
def test_table(latitude, angle):
    got = day_length_h(DATES, latitude, angle)
    assert got == pytest.approx(TABLE[latitude, angle], abs=0.006)


def test_printed_almanac():
    day = np.array(["1998-09-03"], "datetime64[D]")
    assert day_length_h(day, 46.0, ALMANAC) == pytest.approx([13.2], abs=0.025)
    # the geometric day is eight minutes shorter: the two definitions are not to be mixed
    assert day_length_h(day, 46.0, SUN_CENTRE) == pytest.approx([13.0 + 4.0 / 60.0], abs=0.025)


@pytest.mark.parametrize("latitude", [28.0, -36.0, 52.0, 60.0])
def test_twenty_years_against_pvlib(latitude):
    import pandas as pd
    from pvlib.solarposition import sun_rise_set_transit_spa

    dates = np.arange("2005-01-01", "2025-01-01", 7, dtype="datetime64[D]")
    spa = sun_rise_set_transit_spa(pd.DatetimeIndex(dates).tz_localize("UTC"), latitude, 0.0)
    hours = (spa["sunset"] - spa["sunrise"]).dt.total_seconds().to_numpy() / 3600.0
    assert np.abs(day_length_h(dates, latitude, ALMANAC) - hours).max() < 0.01
