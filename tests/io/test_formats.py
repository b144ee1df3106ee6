"""Open formats: known values of known rows, in internal units, at the right hour."""

from __future__ import annotations

import gzip
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
import pytest

from phenocast.errors import InputError
from phenocast.io import read_weather
from phenocast.season import Site

DATA = Path(__file__).parent.parent / "data"
DEMO = Path(__file__).parent.parent.parent / "demo_weather"
PVLIB = Path(pvlib.__file__).parent / "data"
DELTA = Site("delta", 31.5, -90.0, 30.0, "America/Chicago")


def at(records, stamp):
    """The row whose interval starts at a stamp."""
    found = records.table[records.table["time_utc"] == pd.Timestamp(stamp)]
    assert len(found) == 1
    return found.iloc[0]


def test_tmy3_year_of_greensboro():
    # First data row of the file: 01/01/1988 01:00, 10.0 degC, 6.1 degC, 77 %, 993 mbar, 6.2 m/s.
    records = read_weather(PVLIB / "723170TYA.CSV")
    assert (records.latitude, records.longitude, records.elevation_m) == (36.1, -79.95, 273.0)
    assert records.utc_offset_h == -5.0
    assert records.typical_year
    assert records.wind_height_m == 10.0
    assert len(records.table) == 8760
    first = at(records, "2001-01-01 05:00")  # 00:00 local standard time
    assert first["row"] == 3
    assert first["air_c"] == 10.0
    assert first["dew_point_c"] == 6.1
    assert first["relative_humidity_pct"] == 77.0
    assert first["pressure_kpa"] == pytest.approx(99.3)
    assert first["wind_m_s"] == 6.2
    assert "rain_mm" not in records.columns


def test_tmy3_last_hour_of_a_leap_february_stays_in_february():
    records = read_weather(DATA / "greensboro_february_tmy3.csv")
    local = records.table["time_utc"] - pd.Timedelta(hours=5)
    assert list(local.dt.strftime("%m-%d").unique()) == ["02-27", "02-28", "03-01"]
    assert (records.table["time_utc"].diff().dropna() == pd.Timedelta(hours=1)).all()
    assert len(records.table) == 72
    assert any("72 of 8760" in note for note in records.notes)


def test_tmy2_reads_tenths():
    # First data row: "...0200A7 0150A7 073A7 1017A7 ... 067A7": 20.0, 15.0 degC, 73 %, 1017 mbar.
    for path in (DATA / "miami_january_tmy2.tm2", PVLIB / "12839.tm2"):
        records = read_weather(path)
        first = at(records, "2001-01-01 05:00")
        assert first["row"] == 2
        assert first["air_c"] == 20.0
        assert first["dew_point_c"] == 15.0
        assert first["relative_humidity_pct"] == 73.0
        assert first["pressure_kpa"] == pytest.approx(101.7)
        assert first["wind_m_s"] == pytest.approx(6.7)
    assert records.latitude == pytest.approx(25.8)
    assert records.longitude == pytest.approx(-80.0 - 16.0 / 60.0)


def test_tmy2_of_a_place_with_several_words(tmp_path):
    text = (DATA / "miami_january_tmy2.tm2").read_text()
    named = text.replace("MIAMI                 ", "NEW PORT OF MIAMI     ", 1)
    assert named != text
    place = tmp_path / "year.tm2"
    place.write_text(named)
    assert read_weather(place).latitude == pytest.approx(25.8)


def test_epw_of_san_francisco():
    path = DEMO / "san_francisco_tmy3.epw"
    cells = path.read_text().splitlines()[8].split(",")
    records = read_weather(path)
    assert records.typical_year
    assert (records.latitude, records.utc_offset_h) == (37.62, -8.0)
    assert len(records.table) == 8760
    first = at(records, "2001-01-01 08:00")
    assert first["row"] == 9
    assert first["air_c"] == float(cells[6])
    assert first["pressure_kpa"] == pytest.approx(float(cells[9]) / 1000.0)
    assert first["longwave_down_w_m2"] == float(cells[12])
    assert first["wind_m_s"] == float(cells[21])


def test_epw_codes_are_missing_and_one_year_is_that_year(tmp_path):
    lines = (DEMO / "san_francisco_tmy3.epw").read_text().splitlines()[: 8 + 48]
    lines[0] = lines[0].replace("TMY3", "logger")
    for number in range(8, len(lines)):
        cells = lines[number].split(",")
        cells[0], cells[6] = "2024", "99.9" if number == 10 else cells[6]
        cells[13] = "9999"
        lines[number] = ",".join(cells)
    place = tmp_path / "real.epw"
    place.write_text("\n".join(lines) + "\n")
    records = read_weather(place)
    assert not records.typical_year
    assert records.table["time_utc"].iloc[0] == pd.Timestamp("2024-01-01 08:00")
    assert np.flatnonzero(records.table["air_c"].isna()).tolist() == [2]
    assert "solar_w_m2" not in records.columns
    assert any("taken as the year 2024" in note for note in records.notes)


def test_fixed_formats_say_that_stated_units_are_not_used():
    records = read_weather(DEMO / "san_francisco_tmy3.epw", units={"air_c": "degF"}, stamp="start")
    assert any("not used" in note and "units, stamp" in note for note in records.notes)


def test_ghcn_fixed_width():
    records = read_weather(DATA / "ghcn_invented.dly", site=DELTA)
    assert records.step == "daily"
    table = records.table
    assert len(table) == 31
    assert table["time_utc"].iloc[0] == pd.Timestamp("2026-11-01 06:00")  # midnight at UTC-6
    assert table["air_max_c"].iloc[0] == pytest.approx(25.1)
    assert table["air_min_c"].iloc[0] == pytest.approx(15.1)
    assert table["rain_mm"].iloc[2] == pytest.approx(25.4)
    assert np.isnan(table["air_max_c"].iloc[6])  # 61.2 degC, flag X
    assert np.isnan(table["air_min_c"].iloc[8])  # -9999
    assert np.isnan(table["air_min_c"].iloc[11])  # flag I
    assert table["air_max_c"].iloc[30] == pytest.approx(-0.5)
    assert table["air_min_c"].iloc[30] == pytest.approx(-8.2)
    assert any("2 values failed" in n and "flag I: 1, flag X: 1" in n for n in records.notes)


def test_ghcn_by_station_moves_maxima_read_in_the_morning():
    records = read_weather(DATA / "ghcn_by_station_invented.csv", site=DELTA)
    table = records.table
    # 1 November was read at midnight and keeps its own maximum; that of the 2nd has no free day.
    assert table["air_max_c"].to_numpy()[:4] == pytest.approx([25.1, 25.3, 25.4, 25.5])
    assert np.isnan(table["air_max_c"].iloc[4])
    assert table["air_min_c"].iloc[4] == pytest.approx(15.5)
    assert any("4 maxima read before noon" in note for note in records.notes)


def test_ghcn_access_knows_its_place():
    records = read_weather(DATA / "ghcn_access_invented.csv", site=DELTA)
    assert (records.latitude, records.longitude, records.elevation_m) == (29.3, -15.6, 35.0)
    assert records.table["air_max_c"].to_numpy()[:3] == pytest.approx([25.1, 25.2, 25.3])
    assert np.isnan(records.table["air_max_c"].iloc[3])
    assert records.table["row"].iloc[0] == 2


def test_ghcn_minimum_above_maximum_is_dropped_and_counted(tmp_path):
    values = (("01", "TMAX", 100), ("01", "TMIN", 150), ("02", "TMAX", 200), ("02", "TMIN", 150))
    lines = [f"ZZ000000001,202611{day},{element},{value},,,Z," for day, element, value in values]
    place = tmp_path / "a.csv"
    place.write_text("\n".join(lines))
    records = read_weather(place, site=DELTA)
    assert records.table["air_max_c"].isna().tolist() == [True, False]
    assert any("1 days with TMIN above TMAX" in note for note in records.notes)


def test_uscrn_hourly_is_end_of_hour_in_utc():
    records = read_weather(DATA / "uscrn_hourly_invented.txt")
    assert records.step == "hourly"
    assert (records.latitude, records.longitude, records.utc_offset_h) == (31.5, -90.0, -6.0)
    table = records.table
    assert table["time_utc"].iloc[0] == pd.Timestamp("2026-10-05 05:00")
    assert table["air_c"].to_numpy()[:2].tolist() == [18.0, 19.0]
    assert np.isnan(table["air_c"].iloc[2])
    assert table["solar_w_m2"].iloc[4] == 150.0
    assert np.isnan(table["solar_w_m2"].iloc[5])  # flag 3
    assert table["rain_mm"].iloc[1] == 1.4
    assert table["relative_humidity_pct"].iloc[0] == 80.0
    assert table["soil_5cm_c"].iloc[1] == 20.1
    assert table["soil_10cm_c"].iloc[1] == 21.0


def test_uscrn_daily_solar_is_energy_of_the_day():
    records = read_weather(DATA / "uscrn_daily_invented.txt", site=DELTA)
    table = records.table
    assert records.step == "daily"
    assert table["time_utc"].iloc[0] == pd.Timestamp("2026-10-05 06:00")
    assert table["solar_w_m2"].iloc[0] == pytest.approx(200.0)  # 17.28 MJ m-2 d-1
    assert np.isnan(table["solar_w_m2"].iloc[3])
    assert table[["air_max_c", "air_min_c", "air_c"]].iloc[0].tolist() == [27.0, 15.0, 20.5]
    assert table["relative_humidity_pct"].iloc[0] == 70.0
    assert table["soil_5cm_c"].iloc[3] == 25.0


def test_uscrn_five_minutes_of_tucson():
    records = read_weather(DATA / "uscrn_subhourly_tucson.txt")
    table = records.table
    assert records.step == "subhourly"
    assert records.wind_height_m == 1.5
    assert records.utc_offset_h == -7.0
    assert table["time_utc"].iloc[0] == pd.Timestamp("2019-01-01 16:05")
    assert np.isnan(table["air_c"].iloc[0])
    assert table["air_c"].iloc[1] == 3.3
    assert table["wind_m_s"].tolist() == [0.78, 0.36, 0.53, 0.64]
    assert table["solar_w_m2"].iloc[2] == 340.0
    assert "soil_5cm_c" not in records.columns


@pytest.mark.parametrize(
    "name",
    ["ghcn_invented.dly", "uscrn_hourly_invented.txt", "greensboro_february_tmy3.csv",
     "miami_january_tmy2.tm2"],
)  # fmt: skip
def test_format_follows_content_not_name_and_gzip_is_undone(tmp_path, name):
    plain = read_weather(DATA / name, site=DELTA)
    place = tmp_path / "anything.xyz"
    place.write_bytes(gzip.compress((DATA / name).read_bytes()))
    pd.testing.assert_frame_equal(read_weather(place, site=DELTA).table, plain.table)


@pytest.mark.parametrize(
    ("name", "keep", "words"),
    [
        ("ghcn_invented.dly", 0.97, "row 6: the line is cut off"),
        ("uscrn_hourly_invented.txt", 0.95, "row 6: the line has more or fewer columns"),
        ("greensboro_february_tmy3.csv", 0.999, "row 74: the TMY3 file is damaged"),
        ("miami_january_tmy2.tm2", 0.99, "row 49: the TMY2 file is damaged"),
    ],
)
def test_cut_off_files_are_refused_with_their_row(tmp_path, name, keep, words):
    content = (DATA / name).read_bytes()
    place = tmp_path / name
    place.write_bytes(content[: int(len(content) * keep)])
    with pytest.raises(InputError) as caught:
        read_weather(place, site=DELTA)
    assert words in str(caught.value)


def test_stations_are_not_mixed(tmp_path):
    for name in ("ghcn_invented.dly", "uscrn_daily_invented.txt"):
        text = (DATA / name).read_text()
        other = text.replace("ZZ000000001", "ZZ000000002").replace("99999 ", "88888 ")
        place = tmp_path / name
        place.write_text(text + other)
        with pytest.raises(InputError, match="several stations are mixed"):
            read_weather(place, site=DELTA)


@pytest.mark.parametrize(
    ("name", "hours"),
    [
        ("ghcn_invented.dly", 24 * 31),
        ("ghcn_access_invented.csv", 24 * 5),
        ("uscrn_hourly_invented.txt", 6),
        ("uscrn_daily_invented.txt", 24 * 4),
        ("greensboro_february_tmy3.csv", 72),
        ("miami_january_tmy2.tm2", 48),
    ],
)
def test_every_format_becomes_an_hourly_table(name, hours):
    from phenocast.weather import to_hourly

    hourly = to_hourly(read_weather(DATA / name, site=DELTA), DELTA, max_missing_share=0.5)
    assert len(hourly.time_utc) == hours
    assert np.isfinite(hourly.air_c).all()
    assert -15.0 < hourly.air_c.min() <= hourly.air_c.max() < 35.0
