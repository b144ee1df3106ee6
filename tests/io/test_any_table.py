"""A table with any headers, delimiter, encoding and units gives the same weather."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from phenocast.errors import InputError
from phenocast.io import Stated, read_weather, read_weather_members
from phenocast.io.weather.quantities import find_columns, quantity_of, split_header
from phenocast.season import Site
from phenocast.units import convert
from phenocast.weather.records import VALUE_COLUMNS

COAST = Site("Tamarind Coast", 29.3, -15.6, 35.0, "Atlantic/Canary")
HOURS = pd.date_range("2026-10-05", periods=30, freq="h")
AIR = np.round(20 + 5 * np.sin(np.arange(30) / 4), 1)


def lines(header, rows, delimiter=","):
    return "\n".join([header, *[delimiter.join(map(str, row)) for row in rows]]) + "\n"


def put(tmp_path, text, encoding="utf-8", name="w.csv"):
    place = tmp_path / name
    place.write_bytes(text.encode(encoding) if isinstance(text, str) else text)
    return place


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "cp1252"]
)
def test_delimiters_and_encodings(tmp_path, delimiter, encoding):
    rows = [(t.strftime("%Y-%m-%d %H:%M"), a) for t, a in zip(HOURS, AIR, strict=True)]
    text = lines(delimiter.join(["time [UTC, start]", "Luft °C air [°C]"]), rows, delimiter)
    records = read_weather(put(tmp_path, text, encoding), {"air_c": "Luft °C air"})
    assert records.table["air_c"].tolist() == AIR.tolist()
    assert records.table["time_utc"].tolist() == HOURS.tolist()
    assert records.table["row"].tolist() == list(range(2, 32))
    assert records.notes == ()


def test_decimal_comma_title_lines_comments_and_a_line_of_units(tmp_path):
    text = (
        "Station 7; exported\n# a comment\n\nDate;Time;Temp;RelHum;Notes\n;;°C;%;\n"
        "2026-10-05;01:00;18,5;80;ok\n2026-10-05;02:00;17,25;;\n2026-10-05;03:00;-9999;81;\n"
    )
    records = read_weather(put(tmp_path, text), site=COAST, stamp="end", local_standard=True)
    assert records.table["air_c"].tolist()[:2] == [18.5, 17.25]
    assert np.isnan(records.table["air_c"].iloc[2])
    assert np.isnan(records.table["relative_humidity_pct"].iloc[1])
    assert records.table["row"].tolist() == [6, 7, 8]
    assert records.table["time_utc"].iloc[0] == pd.Timestamp("2026-10-05 00:00")
    assert any("1 codes for missing" in note for note in records.notes)
    assert any("not used: Notes" in note for note in records.notes)


@pytest.mark.parametrize("where", ["header", "season", "suffix"])
def test_units_of_every_quantity(tmp_path, where):
    units = {
        "air": "degF", "dew point": "K", "wind": "mph", "rain": "in", "solar": "MJ m-2 h-1",
        "pressure": "inHg", "humidity": "1", "soil 5 cm": "degF",
    }  # fmt: skip
    values = [68.0, 283.15, 10.0, 0.5, 1.8, 29.92, 0.8, 50.0]
    endings = {"air": "degf", "wind": "mph", "rain": "in", "solar": "mj_m2_h"}
    if where == "header":
        header = ",".join(["time [UTC, start]", *[f"{k} [{u}]" for k, u in units.items()]])
        stated = {}
    elif where == "season":
        header, stated = ",".join(["time [UTC, start]", *units]), units
    else:
        header = ",".join(["time_utc", *[f"{k}_{u}" for k, u in endings.items()]])
        values = [68.0, 10.0, 0.5, 1.8]
        stated = {}
    rows = [(f"2026-10-05 {hour:02d}:00", *values) for hour in range(3)]
    row = read_weather(put(tmp_path, lines(header, rows)), units=stated).table.iloc[0]
    assert row["air_c"] == pytest.approx(20.0)
    assert row["wind_m_s"] == pytest.approx(4.4704)  # 1 mph = 0.44704 m s-1 exactly
    assert row["rain_mm"] == pytest.approx(12.7)
    assert row["solar_w_m2"] == pytest.approx(500.0)
    if where != "suffix":
        assert row["dew_point_c"] == pytest.approx(10.0)
        assert row["pressure_kpa"] == pytest.approx(101.32, abs=0.01)  # standard atmosphere
        assert row["relative_humidity_pct"] == pytest.approx(80.0)
        assert row["soil_5cm_c"] == pytest.approx(10.0)


def test_daily_extremes_and_daily_energy(tmp_path):
    header = "date,Tmax [degF],Tmin [degF],Solar radiation [MJ m-2 d-1],Precip [in]"
    rows = [(f"2026-10-{day:02d}", 86, 59, 17.28, 1) for day in range(5, 9)]
    madrid = Site("inland", 40.4, -3.7, 650.0, "Europe/Madrid")
    records = read_weather(put(tmp_path, lines(header, rows)), site=madrid)
    assert records.step == "daily"
    assert records.table["time_utc"].iloc[0] == pd.Timestamp("2026-10-04 23:00")
    first = records.table.iloc[0]
    assert first[["air_max_c", "air_min_c"]].tolist() == pytest.approx([30.0, 15.0])
    assert first["solar_w_m2"] == pytest.approx(200.0)
    assert first["rain_mm"] == pytest.approx(25.4)


def test_amounts_of_ten_minutes(tmp_path):
    stamps = pd.date_range("2026-10-05", periods=12, freq="10min")
    rows = [(t.isoformat() + "Z", 20.0, 0.3, 6.0) for t in stamps]
    text = lines("time,air_c,solar [MJ m-2],rain [mm h-1]", rows)
    records = read_weather(put(tmp_path, text), stamp="start")
    assert records.step == "subhourly"
    assert records.table["solar_w_m2"].iloc[0] == pytest.approx(500.0)
    assert records.table["rain_mm"].iloc[0] == pytest.approx(1.0)


def test_humidity_without_unit_is_per_cent_only_where_it_must_be(tmp_path):
    rows = [(f"2026-10-05 {hour:02d}:00", 20.0, 60 + hour) for hour in range(3)]
    text = lines("time [UTC, start],air_c,RH", rows)
    assert read_weather(put(tmp_path, text)).table["relative_humidity_pct"].iloc[1] == 61.0
    rows = [(f"2026-10-05 {hour:02d}:00", 20.0, 0.6) for hour in range(3)]
    with pytest.raises(InputError, match="unit is not stated"):
        read_weather(put(tmp_path, lines("time [UTC, start],air_c,RH", rows)))


@pytest.mark.parametrize("zone", [None, "UTC", "Europe/Madrid"])
@pytest.mark.parametrize("as_index", [False, True])
def test_parquet_round_trip(tmp_path, zone, as_index):
    time = HOURS if zone is None else HOURS.tz_localize("UTC").tz_convert(zone)
    frame = pd.DataFrame({"time": time, "air [degF]": convert(AIR, "degC", "degF")})
    if as_index:
        frame = frame.set_index("time")
    place = tmp_path / "w.parquet"
    frame.to_parquet(place)
    stated = {"time_zone": "UTC"} if zone is None else {}
    records = read_weather(place, stamp="start", **stated)
    assert records.table["time_utc"].tolist() == HOURS.tolist()
    np.testing.assert_allclose(records.table["air_c"], AIR)
    assert records.table["time_utc"].dtype == "datetime64[ns]"


def test_impossible_values_become_missing_only_on_request(tmp_path):
    rows = [(f"2026-10-05 {h:02d}:00", 185.0 if h == 3 else 70.0) for h in range(10)]
    place = put(tmp_path, lines("time [UTC, start],air [degF]", rows))
    with pytest.raises(InputError, match=r"row 5.*impossible air temperature.*185"):
        read_weather(place)
    records = read_weather(place, impossible="blank")
    assert np.flatnonzero(records.table["air_c"].isna()).tolist() == [3]
    assert any("1 impossible values" in n and "row 5" in n for n in records.notes)


@pytest.mark.parametrize(
    "text",
    [
        "sep=,\ntime_utc,air_c\n2026-10-05 00:00,20\n2026-10-05 01:00,21\n",
        "Year,Month,Day,Hour,air_c\n2026,10,5,0,20\n2026,10,5,1,21\n",
        "date,hour,air_c\n2026-10-05,0,20\n2026-10-05,1,21\n",
        "date,time,air_c\n2026-10-05,0000,20\n2026-10-05,0100,21\n",
        "time_utc,air_c\n2026-10-05 00:00:07,20\n2026-10-05 01:00:08,21\n",
        '"time_utc","air, 2 m (degC)"\n"2026-10-05 00:00","20"\n"2026-10-05 01:00","21"\n',
        "time_utc,air_c,\n2026-10-05 00:00,20,\n2026-10-05 01:00,21,\n",
        "time_utc air_c\n2026-10-05T00:00 20\n2026-10-05T01:00 21\n",
    ],
)
@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
def test_shapes_of_tables(tmp_path, text, ends):
    columns = {"air_c": "air, 2 m"} if "2 m" in text else {}
    place = tmp_path / "w.csv"
    place.write_bytes(text.replace("\n", ends).encode())
    records = read_weather(place, columns, site=COAST)
    assert records.table["air_c"].tolist() == [20.0, 21.0]
    assert records.step == "hourly"
    assert records.table["time_utc"].dt.floor("h").tolist() == HOURS[:2].tolist()


def test_minus_signs_of_print_are_minus_signs(tmp_path):
    text = lines("time_utc,air_c", [(t, "\N{MINUS SIGN}2.5") for t in HOURS[:3]])
    assert read_weather(put(tmp_path, text)).table["air_c"].tolist() == [-2.5] * 3


def test_members_of_an_outlook(tmp_path):
    rows = [(m, f"2026-10-05T{h:02d}:00Z", 20 + m) for m in (10, 2, 1) for h in range(4)]
    place = put(tmp_path, lines("Member,time,air_c", rows))
    members = read_weather_members(place, Stated(stamp="start"))
    assert [float(one.table["air_c"].iloc[0]) for one in members] == [21.0, 22.0, 30.0]
    assert members[0].table["row"].tolist() == [10, 11, 12, 13]
    uneven = put(tmp_path, lines("member,time,air_c", rows[:-1]))
    with pytest.raises(InputError, match="different spans"):
        read_weather_members(uneven, Stated(stamp="start"))


@given(st.sampled_from(sorted(VALUE_COLUMNS)))
def test_our_own_names_need_no_units(name):
    assert quantity_of(name) == name
    assert split_header(name).unit is not None


@pytest.mark.parametrize(
    ("header", "quantity"),
    [
        ("Air Temperature", "air_c"), ("Temp", "air_c"), ("T", "air_c"), ("tair", "air_c"),
        ("Dry-bulb", "air_c"), ("MeanAirTemp", "air_c"), ("air_f", "air_c"),
        ("Max Temp", "air_max_c"), ("tmin", "air_min_c"), ("Low temperature", "air_min_c"),
        ("Dewpoint", "dew_point_c"), ("Rel. Humidity (%)", "relative_humidity_pct"),
        ("Vapor Pressure [hPa]", "vapour_pressure_kpa"), ("WindSpeed", "wind_m_s"),
        ("Average wind speed (mph)", "wind_m_s"), ("GHI", "solar_w_m2"),
        ("Global radiation", "solar_w_m2"), ("Shortwave_down", None),
        ("Downwelling longwave", "longwave_down_w_m2"), ("Rainfall", "rain_mm"),
        ("Barometric pressure", "pressure_kpa"), ("Soil temp 10cm", "soil_10cm_c"),
        ("Wind direction", None), ("Wind gust", None), ("Leaf wetness", None),
        ("Soil moisture 10 cm", None), ("Battery", None),
    ],
)  # fmt: skip
def test_plain_headers(header, quantity):
    assert quantity_of(header) == quantity


def test_two_columns_for_one_quantity_are_asked_about():
    chosen, faults = find_columns(["air", "air temp"], {}, "a.csv")
    assert chosen == {}
    assert "several columns may be the air temperature" in str(faults[0])
    chosen, faults = find_columns(["air", "air temp"], {"air_c": "air temp"}, "a.csv")
    assert (chosen, faults) == ({"air_c": "air temp"}, [])


def test_every_value_of_a_random_table_comes_back(tmp_path_factory):
    folder = tmp_path_factory.mktemp("random")

    @given(
        st.lists(st.floats(-40, 50).map(lambda x: round(x, 3)), min_size=2, max_size=20),
        st.sampled_from([",", ";", "\t"]),
        st.sampled_from(["degC", "degF", "K"]),
    )
    def check(values, delimiter, unit):
        shown = convert(values, "degC", unit)
        rows = [
            (t.isoformat(), repr(float(v)).replace(".", "," if delimiter == ";" else "."))
            for t, v in zip(pd.date_range("2026-01-01", periods=len(values), freq="h"), shown,
                            strict=True)
        ]  # fmt: skip
        stamp = "time [UTC; start]" if delimiter == "," else "time [UTC start]"
        text = lines(delimiter.join([stamp, f"air [{unit}]"]), rows, delimiter)
        place = Path(folder, "w.csv")
        place.write_text(text)
        np.testing.assert_allclose(read_weather(place).table["air_c"], values, atol=1e-9)

    check()
