from __future__ import annotations

import numpy as np
import pandas as pd
import pvlib
import pytest

from phenocast.season.site import Site
from phenocast.weather.sun import (
    SUNRISE_DEG,
    clear_sky_w_m2,
    sun_elevation_deg,
    sun_passages_h,
)

NORTH = Site("north", 29.3, -15.6, 35.0, "Atlantic/Canary")
SOUTH = Site("south", -34.9, 138.6, 50.0, "Australia/Adelaide")
HIGH = Site("high", 60.2, 24.9, 20.0, "Europe/Helsinki")


def hours_of(year):
    first = np.datetime64(f"{year}-01-01T00", "h")
    last = np.datetime64(f"{year + 1}-01-01T00", "h")
    return np.arange(first, last)


@pytest.mark.parametrize("site", [NORTH, SOUTH, HIGH], ids=lambda s: s.name)
@pytest.mark.parametrize("year", [2001, 2024, 2039])
def test_the_looked_up_year_is_that_year_within_what_is_stated(site, year):
    hours = hours_of(year)
    place = pvlib.location.Location(site.latitude, site.longitude, "UTC", site.elevation_m)
    total = np.zeros(len(hours))
    for second in (450, 1350, 2250, 3150):
        index = pd.DatetimeIndex(
            hours.astype("datetime64[s]") + np.timedelta64(second, "s"), tz="UTC"
        )
        clear = place.get_clearsky(index, model="ineichen", linke_turbidity=3.0)
        total += np.nan_to_num(clear["ghi"].to_numpy())
    assert np.abs(clear_sky_w_m2(hours, site) - total / 4.0).max() < 0.6


def test_twenty_years_of_hours_compute_one_year_once(monkeypatch, tmp_path):
    monkeypatch.setenv("PHENOCAST_CACHE_DIR", str(tmp_path))
    calls = []
    whole = pvlib.location.Location.get_clearsky

    def counted(self, times, **options):
        calls.append(len(times))
        return whole(self, times, **options)

    monkeypatch.setattr(pvlib.location.Location, "get_clearsky", counted)
    site = Site("once", 12.34, 56.78, 9.0, "Asia/Muscat")
    hours = np.concatenate([hours_of(year) for year in range(2001, 2021)])
    assert clear_sky_w_m2(hours, site).shape == hours.shape
    assert len(calls) == 1
    clear_sky_w_m2(hours, site)
    assert len(calls) == 1
    assert calls[0] < 1.01 * 4 * 8784


def test_the_sky_is_dark_exactly_while_the_sun_is_down():
    hours = hours_of(2025)
    clear = clear_sky_w_m2(hours, NORTH)
    middle = sun_elevation_deg(hours.astype("datetime64[m]") + np.timedelta64(30, "m"), NORTH)
    assert (clear[middle > 1.0] > 0.0).all()
    assert (clear[middle < -9.0] == 0.0).all()


@pytest.mark.parametrize("site", [NORTH, SOUTH, HIGH], ids=lambda s: s.name)
def test_the_sun_stands_on_the_horizon_at_sunrise_and_sunset(site):
    days = np.array(["2025-02-10", "2025-06-21", "2025-11-05"], "datetime64[D]")
    for clock in sun_passages_h(days, site.latitude, SUNRISE_DEG, longitude=site.longitude):
        instants = days.astype("datetime64[s]") + np.round(clock * 3600.0).astype("timedelta64[s]")
        index = pd.DatetimeIndex(instants, tz="UTC")
        place = (site.latitude, site.longitude, site.elevation_m)
        position = pvlib.solarposition.get_solarposition(index, *place)
        # without refraction; the instant is rounded to a second, 0.004 deg
        assert position["elevation"].to_numpy() == pytest.approx([-SUNRISE_DEG] * 3, abs=0.005)
