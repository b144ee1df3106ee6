"""Day length by the Solar Position Algorithm (Reda and Andreas 2004, Solar Energy 76:577-589).

Sunrise to sunset: computed by pvlib 0.16.1 `sun_rise_set_transit_spa`, longitude 0, 2025; civil
twilight by ephem 4.2.1 (sun's centre 6 degrees below the horizon, no refraction). The two libraries
agree within 0.05 min on sunrise to sunset. Tolerance: half of the last digit of the table, and
0.001 h (4 s) for the second library.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from pvlib.solarposition import sun_rise_set_transit_spa

from phenocast.thermal_time import photoperiod_h, sun_passages_h
from phenocast.weather.sun import CIVIL_TWILIGHT_DEG, SUNRISE_DEG

DATES = ["2025-03-20", "2025-06-21", "2025-09-22", "2025-12-21"]
SUNRISE_TO_SUNSET = {
    28: (12.127, 13.920, 12.130, 10.367),
    38: (12.144, 14.806, 12.149, 9.526),
    52: (12.187, 16.735, 12.195, 7.743),
}
CIVIL = {
    28: (12.907, 14.811, 12.910, 11.227),
    38: (13.019, 15.855, 13.024, 10.511),
    52: (13.309, 18.365, 13.318, 9.108),
}
CENTRE = {
    28: (12.001, 13.779, 12.004, 10.226),
    38: (12.002, 14.641, 12.008, 9.363),
    52: (12.006, 16.495, 12.014, 7.508),
}


@pytest.mark.parametrize("latitude", [28, 38, 52])
def test_table_of_three_latitudes(latitude):
    assert photoperiod_h(DATES, latitude, SUNRISE_DEG) == pytest.approx(
        SUNRISE_TO_SUNSET[latitude], abs=0.0006
    )
    assert photoperiod_h(DATES, latitude, CIVIL_TWILIGHT_DEG) == pytest.approx(
        CIVIL[latitude], abs=0.0015
    )
    assert photoperiod_h(DATES, latitude, 0.0) == pytest.approx(CENTRE[latitude], abs=0.0015)


@pytest.mark.parametrize("latitude", [-36.0, -12.0, 0.0, 28.0, 52.0, 60.0])
def test_twenty_years_against_pvlib(latitude):
    # 1 s; pvlib brings its passages nearer once, this package until they stand still
    dates = np.arange("2005-01-01", "2025-01-01", dtype="datetime64[D]")
    spa = sun_rise_set_transit_spa(pd.DatetimeIndex(dates).tz_localize("UTC"), latitude, 0.0)
    rise, sunset = sun_passages_h(dates, latitude, SUNRISE_DEG)
    for column, ours in (("sunrise", rise), ("sunset", sunset)):
        times = spa[column].dt.tz_localize(None).to_numpy().astype("datetime64[ns]")
        hours = (times - dates) / np.timedelta64(1, "ns") / 3.6e12
        assert np.max(np.abs(hours - ours)) * 3600 < 1.0


def test_printed_almanac():
    # 46 N, 3 September 1998: sunrise 05:23, sunset 18:35, day 13 h 12 min (read in a calculator's
    # documentation; its clock is local mean time). A minute either way for the printed minutes.
    almanac = float(photoperiod_h("1998-09-03", 46.0, SUNRISE_DEG))
    assert almanac == pytest.approx(13.2, abs=1.0 / 60.0)
    # the geometric day is eight minutes shorter: the two definitions are not to be mixed
    geometric = float(photoperiod_h("1998-09-03", 46.0, 0.0))
    assert geometric == pytest.approx(13.0 + 4.0 / 60.0, abs=0.025)
