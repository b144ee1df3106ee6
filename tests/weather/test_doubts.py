"""Weather that can be and is most likely wrong is told; honest weather is not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from phenocast.errors import CAUTION
from phenocast.io import read_weather
from phenocast.parameters.library import shipped
from phenocast.season.site import Site
from phenocast.weather import WeatherRecords, clear_sky_w_m2, to_hourly
from phenocast.weather.quality import LIGHT_SHARE, STILL_H, record_doubts
from tests.weather.records_for_tests import SITE, made

DAYS = 30


def lively(hours=24 * DAYS, **columns) -> WeatherRecords:
    """Records in which every quantity changes from hour to hour, unless it is given."""
    at = np.arange(hours)
    swing = np.sin(at / 24.0 * 2.0 * np.pi)
    usual = {
        "dew_point_c": 9.0 + swing + 0.01 * np.sin(at),
        "relative_humidity_pct": 70.0 - 20.0 * swing + np.cos(at),
        "wind_m_s": 2.0 - swing + 0.1 * np.cos(at),
        "rain_mm": np.zeros(hours),
    }
    return made(hours, **(usual | columns))


def put(values, start, hours, value):
    """Values with one and the same value from an hour on."""
    changed = np.array(values, dtype=np.float64)
    changed[start : start + hours] = value
    return changed


def test_lively_records_are_not_doubted():
    assert record_doubts(lively(), SITE) == []


@pytest.mark.parametrize(
    ("quantity", "value", "hours"),
    [
        ("relative_humidity_pct", 63.0, 96),
        ("wind_m_s", 1.8, 96),
        ("dew_point_c", 9.0, 120),
        ("air_c", 12.0, 60),
        ("solar_w_m2", 210.0, 30),
        ("solar_w_m2", 0.0, 96),
        ("wind_m_s", 0.0, 300),
        ("relative_humidity_pct", 100.0, 600),
        ("rain_mm", 0.2, 40),
    ],
)
def test_a_sensor_stuck_for_days_is_told_with_value_place_and_length(quantity, value, hours):
    records = lively()
    light = clear_sky_w_m2(records.table["time_utc"].to_numpy().astype("datetime64[h]"), SITE)
    records.table["solar_w_m2"] = 0.8 * light
    records.table[quantity] = put(records.table[quantity], 100, hours, value)
    (told,) = record_doubts(records, SITE)
    assert told.startswith(CAUTION)
    # solar of 0 runs into the nights beside it
    if (quantity, value) != ("solar_w_m2", 0.0):
        assert f"stands at {value:g} for {hours} hours from 2024-01-05T04:00 UTC (row 102)" in told
    assert 'checked = ["still sensor"]' in told


@pytest.mark.parametrize(
    ("quantity", "value", "hours"),
    [
        ("relative_humidity_pct", 100.0, 300),  # fog for twelve days
        ("relative_humidity_pct", 63.0, 40),
        ("wind_m_s", 0.0, 60),  # calm nights and a calm day
        ("dew_point_c", 9.0, 60),  # humid air keeps its dew point
        ("rain_mm", 0.0, 24 * DAYS),
        ("solar_w_m2", 0.0, 15),  # a winter night
    ],
)
def test_what_nature_does_is_not_told(quantity, value, hours):
    records = lively()
    light = clear_sky_w_m2(records.table["time_utc"].to_numpy().astype("datetime64[h]"), SITE)
    records.table["solar_w_m2"] = 0.8 * light
    if quantity != "solar_w_m2":
        records.table[quantity] = put(records.table[quantity], 100, hours, value)
    assert record_doubts(records, SITE) == []


def test_days_alike_are_told_after_ten_of_them_in_daily_records():
    day = np.arange(60)
    columns = {"air_max_c": 25.0 + np.sin(day), "air_min_c": 12.0 + np.sin(day)}
    alike = {"air_max_c": put(columns["air_max_c"], 20, 9, 26.0)}
    assert record_doubts(made(60, step="daily", **(columns | alike))) == []
    stuck = {"air_max_c": put(columns["air_max_c"], 20, 15, 26.0)}
    (told,) = record_doubts(made(60, step="daily", **(columns | stuck)))
    assert "stands at 26 for 360 hours from 2024-01-21T00:00 UTC (row 22)" in told


def test_a_fraction_in_a_percentage_column_is_told():
    fraction = lively().table["relative_humidity_pct"].to_numpy() / 100.0
    (told,) = record_doubts(lively(relative_humidity_pct=fraction))
    assert "in all 720 rows, as a fraction would" in told
    assert 'units = { relative_humidity_pct = "fraction" }' in told
    assert 'checked = ["humidity"]' in told


@pytest.mark.parametrize(
    ("latitude", "longitude", "words"),
    [
        (137.62, -122.4, "no place on the earth"),
        (29.3, -1560.0, "no place on the earth"),
        (-29.3, -15.6, "6516 km from Low Quay"),
        (29.3, 15.6, "3016 km from Low Quay"),
        (29.3, -14.9, "68 km from Low Quay"),
    ],
)
def test_coordinates_out_of_range_or_far_from_the_site_are_told(latitude, longitude, words):
    records = replace(lively(), latitude=latitude, longitude=longitude)
    (told,) = record_doubts(records, SITE)
    assert words in told
    assert "station.csv is for latitude" in told
    assert record_doubts(replace(records, latitude=29.5, longitude=-15.4), SITE) == []


def sunny(site: Site, hours=24 * 180, share=0.9, start="2024-10-01") -> WeatherRecords:
    """Half a year under a nearly clear sky of a place."""
    records = made(hours, start=start)
    stamps = records.table["time_utc"].to_numpy().astype("datetime64[h]")
    records.table["solar_w_m2"] = share * clear_sky_w_m2(stamps, site)
    return records


def of_sun(records: WeatherRecords, site: Site) -> list[str]:
    return [one for one in to_hourly(records, site).warnings if '"sun"' in one]


def test_the_sun_of_another_latitude_is_told_and_the_mirrored_one_named():
    assert of_sun(sunny(SITE), SITE) == []
    (told,) = of_sun(sunny(SITE), replace(SITE, latitude=-29.3))
    assert "does not fit latitude -29.3 (it does fit 29.3)" in told
    assert told.startswith(CAUTION)
    # ten degrees too far north: December is brighter there than the sky allows
    assert of_sun(sunny(SITE), replace(SITE, latitude=44.0))


def test_sunlight_in_a_wrong_unit_or_under_cover_is_told():
    assert "27% of the sunlight" in of_sun(sunny(SITE, share=0.4), SITE)[0]
    assert of_sun(sunny(SITE, share=1.3), SITE)


def test_the_sun_of_daily_records_is_held_against_the_latitude_too():
    hourly = sunny(SITE)
    total = hourly.table["solar_w_m2"].to_numpy().reshape(-1, 24).mean(axis=1)
    swing = np.sin(np.arange(len(total)))
    daily = made(len(total), start="2024-10-01", step="daily", air_max_c=22.0 + swing,
                 air_min_c=12.0 + swing, solar_w_m2=total)  # fmt: skip
    assert of_sun(daily, SITE) == []
    assert of_sun(daily, replace(SITE, latitude=-29.3))


# Real records. Stations of the US Climate Reference Network as `tests/data/README.md` says: of 14
# looked at, the one of the brightest sky (Arizona) and the one of the dullest (Louisiana).
STATIONS = {"53132": "Etc/GMT+7", "53960": "Etc/GMT+6"}


@pytest.mark.parametrize("station", STATIONS)
def test_a_year_of_a_real_station_is_not_doubted_and_its_mirror_image_is(station):
    table = pd.read_csv(shipped("tests", "data", "uscrn_2020_daily_two_stations.csv"),
                        dtype={"wban": str}, na_values=["-9999.0", "-99.0"])  # fmt: skip
    table = table[table["wban"] == station]
    place = table[["latitude", "longitude"]].iloc[0]
    site = Site(station, *place, 500.0, STATIONS[station])
    records = made(
        len(table), start="2020-01-01", step="daily", air_max_c=table["t_daily_max"].to_numpy(),
        air_min_c=table["t_daily_min"].to_numpy(), rain_mm=table["p_daily_calc"].to_numpy(),
        solar_w_m2=table["solarad_daily"].to_numpy() / 0.0864,
        relative_humidity_pct=table["rh_daily_avg"].to_numpy(),
    )  # fmt: skip
    assert not [one for one in to_hourly(records, site).warnings if one.startswith(CAUTION)]
    assert of_sun(records, replace(site, latitude=-site.latitude))


def test_a_real_winter_by_the_hour_is_not_doubted():
    """US-Tw3 of tests/published/data: 38.1 N, 121.6 W, an alfalfa field in the fog of a delta."""
    table = pd.read_csv(shipped("tests", "published", "data", "us_tw3_2014_winter.csv"))
    records = made(
        len(table), start=table["start_of_hour_utc_minus_8"].iloc[0], air_c=table["TA"].to_numpy(),
        relative_humidity_pct=table["RH"].clip(0.0, 105.0).to_numpy(),
        wind_m_s=table["WS"].to_numpy(), solar_w_m2=table["SW_IN"].to_numpy(),
        longwave_down_w_m2=table["LW_IN"].to_numpy(),
    )  # fmt: skip
    records.table["time_utc"] += pd.Timedelta(hours=8)
    site = Site("Twitchell", 38.1, -121.6, -9.0, "Etc/GMT+8")
    assert record_doubts(records, site) == []
    assert of_sun(records, site) == []


def test_no_shipped_file_is_doubted():
    for name, site in (
        ("low_quay_observed.csv", SITE),
        ("tamarind_coast.parquet", SITE),
        ("san_francisco_tmy3.epw", Site("San Francisco", 37.62, -122.4, 2.0, "Etc/GMT+8")),
    ):
        records = read_weather(shipped("demo_weather", name), stamp="start", time_zone="UTC",
                               wind_height_m=2.0)  # fmt: skip
        told = to_hourly(records, site).warnings
        assert not [one for one in told if one.startswith(CAUTION)], name
    assert set(STILL_H) > {"air_c", "relative_humidity_pct", "wind_m_s", "solar_w_m2", "rain_mm"}
    assert LIGHT_SHARE[0] < 0.60 < 0.79 < LIGHT_SHARE[1]  # of the 14 stations
