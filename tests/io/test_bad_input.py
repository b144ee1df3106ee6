"""Bad input: one refusal that says what, where, the value, what is allowed and what to do."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from phenocast.errors import InputError, PhenocastError
from phenocast.io import read_season, read_weather, season_weather, template
from phenocast.season import Site
from phenocast.weather.quality import record_doubts

COAST = Site("Tamarind Coast", 29.3, -15.6, 35.0, "Atlantic/Canary")
HEAD = "time [UTC, start],air [degC],wind [m s-1]"


def hours(count=5, day=5):
    return [f"2026-10-{day:02d} {hour:02d}:00" for hour in range(count)]


def csv(folder, *rows, header=HEAD, name="w.csv"):
    place = folder / name
    place.write_text("\n".join([header, *rows]) + "\n")
    return place


def good_rows(**changed):
    """Five rows; ``row3="..."`` replaces the line of that number."""
    rows = [f"{stamp},20.0,2.0" for stamp in hours()]
    for key, line in changed.items():
        rows[int(key[3:]) - 2] = line
    return rows


def parquet_cut(folder):
    frame = pd.DataFrame({"time": pd.date_range("2026-10-05", periods=500, freq="h"),
                          "air_c": np.linspace(10, 20, 500)})  # fmt: skip
    place = folder / "w.parquet"
    frame.to_parquet(place)
    place.write_bytes(place.read_bytes()[:-200])
    return place


def parquet_broken(folder):
    place = folder / "w.parquet"
    place.write_bytes(b"PAR1" + os.urandom(200) + b"PAR1")
    return place


def a_folder(folder):
    (folder / "w.csv").mkdir()
    return folder / "w.csv"


def raw(content):
    def make(folder):
        place = folder / "w.csv"
        place.write_bytes(content)
        return place

    return make


def zipped_cut(folder):
    import gzip

    place = folder / "w.csv.gz"
    place.write_bytes(gzip.compress(HEAD.encode() * 50)[:-20])
    return place


def unreadable(folder):
    place = csv(folder, *good_rows())
    return place / "inside"


CASES = {
    "missing file": (lambda f: f / "gone.csv", ["gone.csv", "no such file", "check the path"]),
    "folder for a file": (a_folder, ["w.csv", "it is a folder", "name the file inside"]),
    "part of the path is a file": (unreadable, ["part of the path is a file"]),
    "empty file": (raw(b""), ["the file is empty"]),
    "blank file": (raw(b"\n\n  \n"), ["the file is empty"]),
    "spreadsheet": (raw(b"PK\x03\x04" + b"x" * 50), ["a spreadsheet", "save the sheet as CSV"]),
    "image": (raw(b"\x89PNG\r\n" + b"x" * 50), ["this is an image"]),
    "binary": (raw(bytes(range(256)) * 20), ["not readable text", "save it again as CSV in UTF-8"]),
    "half a UTF-16 file": (
        raw("time [UTC],air_c\n2026-10-05 01:00,20\n".encode("utf-16")[:-1]),
        ["not readable text", "utf-16"],
    ),
    "gzip cut off": (zipped_cut, ["gzip file is damaged or cut off"]),
    "Parquet cut off": (parquet_cut, ["Parquet file is cut off", "write or copy it again"]),
    "Parquet damaged": (parquet_broken, ["Parquet file is damaged"]),
    "header only": (lambda f: csv(f), ["a header but no rows"]),
    "no header": (
        lambda f: csv(f, *good_rows()[1:], header=good_rows()[0]),
        ["no line of headers", "time [UTC],air [degC]"],
    ),
    "prose": (raw(b"Dear Sir,\nplease find\nattached\n"), ["no columns are found"]),
    "header twice": (
        lambda f: csv(f, *good_rows(), header="time [UTC],air [degC],air [degC]"),
        ["column 'air [degC]'", "the header comes twice"],
    ),
    "line cut off": (
        lambda f: csv(f, *good_rows(row5="2026-10-05 03:00,20.")),
        ["row 5", "more or fewer cells", "value 2", "allowed: 3 cells"],
    ),
    "no stamps": (
        lambda f: csv(f, "1,20.0,2", "2,21.0,2", header="n,air [degC],wind [m s-1]"),
        ["no column of stamps", 'columns = { time = '],
    ),
    "no air": (
        lambda f: csv(f, *[f"{s},5" for s in hours()], header="time [UTC],T9 [degC]"),
        ["no air temperature is found", 'columns = { air_c = "T9 [degC]" }'],
    ),
    "duplicate stamp": (
        lambda f: csv(f, *good_rows(row4="2026-10-05 01:00,20,2")),
        ["row 4", "the stamp comes twice", "2026-10-05 01:00", "remove one"],
    ),
    "stamps run backwards": (
        lambda f: csv(f, *good_rows(row5="2026-10-04 22:00,20,2")),
        ["row 5", "the stamps run backwards", "sort the rows"],
    ),
    "day-first dates": (
        lambda f: csv(f, "05/10/2026 00:00,20,2", "05/10/2026 01:00,20,2"),
        ["day first or month first", "05/10/2026", "time_format"],
    ),
    "no such day": (
        lambda f: csv(f, *good_rows(row4="2026-02-30 01:00,20,2")),
        ["row 4", "no such day", "2026-02-30"],
    ),
    "stamp missing": (
        lambda f: csv(f, *good_rows(row4=",20,2")), ["row 4", "not a date and time"]
    ),
    "air of 99 degC": (
        lambda f: csv(f, *good_rows(row4="2026-10-05 02:00,99,2")),
        ["w.csv, row 4, column 'air [degC]'", "impossible air temperature", "value 99.0",
         "allowed: -60 to 60 degC", "correct the cell"],
    ),
    "Fahrenheit named Celsius": (
        lambda f: csv(f, *[f"{s},75,2" for s in hours()]),
        ["impossible air temperature", "Fahrenheit", '"degF"'],
    ),
    "humidity of 140": (
        lambda f: csv(f, *[f"{s},20,140" for s in hours()], header="time [UTC],air_c,RH [%]"),
        ["impossible relative humidity", "value 140.0"],
    ),
    "negative wind": (
        lambda f: csv(f, *good_rows(row2="2026-10-05 00:00,20,-3")),
        ["row 2", "impossible mean wind"],
    ),
    "not a number": (
        lambda f: csv(f, *good_rows(row3="2026-10-05 01:00,warm,2")),
        ["row 3", "column 'air [degC]'", "not a number", "'warm'", "empty where missing"],
    ),
    "unit missing": (
        lambda f: csv(f, *good_rows(), header="time [UTC],air,wind [m s-1]"),
        ["column 'air'", "the unit is not stated", "degC, degF, K", "air [degC]",
         "units = { air_c"],
    ),
    "unit unknown": (
        lambda f: csv(f, *good_rows(), header="time [UTC],air [degX],wind [m s-1]"),
        ["unknown unit", "'degX'", "degC, degF, K"],
    ),
    "unit of another kind": (
        lambda f: csv(f, *good_rows(), header="time [UTC],air [mph],wind [m s-1]"),
        ["a speed is not a unit of air temperature", "'mph'"],
    ),
    "temperature difference": (
        lambda f: csv(f, *good_rows(), header="time [UTC],air [delta_degC],wind [m s-1]"),
        ["a temperature difference is not a unit of air temperature"],
    ),
    "empty column": (
        lambda f: csv(f, *[f"{s},20," for s in hours()]),
        ["column 'wind [m s-1]'", "no value at all", "take the column out"],
    ),
    "empty air": (
        lambda f: csv(f, *[f"{s},,2" for s in hours()]),
        ["column 'air [degC]'", "no value at all"],
    ),
    "Tmin above Tmax": (
        lambda f: csv(f, "2026-10-05,25,15", "2026-10-06,14,19",
                      header="date,Tmax [degC],Tmin [degC]"),
        ["row 3", "Tmin", "minimum of air temperature is above the maximum", "19 above 14"],
    ),
    "only Tmax": (
        lambda f: csv(f, "2026-10-05,25", "2026-10-06,14", header="date,Tmax [degC]"),
        ["need both the maximum and the minimum"],
    ),
    "three-hourly": (
        lambda f: csv(f, *[f"2026-10-05 {h:02d}:00,20,2" for h in range(0, 24, 3)]),
        ["neither daily nor hourly", "3 h between most rows"],
    ),
    "weekly": (
        lambda f: csv(f, *[f"2026-10-{d:02d},25,15" for d in (1, 8, 15, 22)],
                      header="date,Tmax [degC],Tmin [degC]"),
        ["neither daily nor hourly", "7 days between most rows"],
    ),
    "year out of range": (
        lambda f: csv(f, *[f"1026-10-05 {h:02d}:00,20,2" for h in range(3)]),
        ["row 2", "the year is out of range", "1900 to 2100"],
    ),
    "ensemble for observed weather": (
        lambda f: csv(f, "1,2026-10-05 00:00,20", "2,2026-10-05 00:00,21",
                      header="member,time [UTC],air_c"),
        ["a column 'member'", "weather.outlook"],
    ),
    "web page": (raw(b"<html><body>not, found</body></html>"), ["a web page", "fetch the file"]),
    "JSON": (raw(b'{"time": [1, 2], "air": [3, 4]}'), ["a JSON document"]),
    "unknown zone in the header": (
        lambda f: csv(f, *good_rows(), header="time [Atlantic/Canari],air [degC],wind [m s-1]"),
        ["unknown time zone", "Atlantic/Canari"],
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_bad_weather_is_refused_plainly(tmp_path, case):
    make, words = CASES[case]
    place = make(tmp_path)
    with pytest.raises(PhenocastError) as caught:
        read_weather(place, site=COAST)
    assert caught.value.exit_code == 3
    text = str(caught.value)
    for word in words:
        assert word in text, text
    assert "Traceback" not in text
    assert all(fault.what and fault.where for fault in caught.value.faults)


def test_all_faults_of_a_file_are_told_at_once_and_long_lists_are_counted(tmp_path):
    rows = [f"2026-10-05 {h:02d}:00,{'hot' if h else 99},200,5" for h in range(20)]
    rows[4] = rows[3]
    place = csv(tmp_path, *rows, header="time [UTC],air [degC],wind [m s-1],rain")
    with pytest.raises(InputError) as caught:
        read_weather(place)
    text = str(caught.value)
    for word in ("comes twice", "not a number", "an impossible mean wind", "impossible air",
                 "the unit is not stated"):  # fmt: skip
        assert word in text
    assert "not a number: in 19 rows, of which the first 5 are shown" in text
    assert text.count("not a number (") == 5


@pytest.mark.parametrize(
    ("stated", "words"),
    [
        ({"columns": {"air_c": "T9"}}, ["no such column", "'T9'", "air [degC]"]),
        ({"columns": {"aire": "air"}}, ["unknown quantity in columns", "'aire'"]),
        ({"units": {"rain": "mm"}}, ["units names a column that is not read", "'rain'"]),
        ({"units": {"air_c": "degF"}}, ["another unit than the file itself", "degF", "degC"]),
        ({"time_zone": "Atlantic/Canari"}, ["unknown time zone", "did you mean 'Atlantic/Canary'"]),
        ({"stamp": "middle"}, ["not a stamp", "middle"]),
        ({"time_format": "%d/%m/%Y"}, ["does not follow the stated time_format", "row 2"]),
        ({"impossible": "drop"}, ["not a choice", "drop"]),
    ],
)
def test_bad_statements_are_refused(tmp_path, stated, words):
    with pytest.raises(InputError) as caught:
        read_weather(csv(tmp_path, *good_rows()), **stated)
    for word in words:
        assert word in str(caught.value)


# ---- seasons ------------------------------------------------------------------------------------


def season_with(folder, replace=(), weather=None, append=""):
    text = template("season")
    for old, new in replace:
        assert old in text
        text = text.replace(old, new, 1)
    place = folder / "season.toml"
    place.write_text(text + append)
    (folder / "weather.csv").write_text(template("weather") if weather is None else weather)
    return place


SEASONS = {
    "unknown film": ([('"white-on-black"', '"white-on-blak"')], ["film", "white-on-black"]),
    "unknown cultivar": ([('"Basalt"', '"Basalte"')], ["cultivar", "did you mean 'Basalt'"]),
    "zero plants": ([("43000", "0")], ["plants_per_ha"]),
    "negative area": ([("= 1.5\n", "= -1.5\n")], ["area_ha", "-1.5"]),
    "polar latitude": ([("latitude = 29.3", "latitude = 78.2")], ["latitude", "polar"]),
    "day-first planting date": (
        [("2026-10-05", '"05/10/2026"')], ["planting_date", "2026-10-05"]
    ),
    "decimal comma": ([("29.3 ", "29,3 ")],
                      ["season.toml, row 7", "cannot be read as TOML", "point"]),
    "unknown key": ([("\nheight_m", "\nheigth_m")], ["heigth_m", "height_m"]),
    "planted before the weather": (
        [("planting_date = 2026-10-05", "planting_date = 2026-09-20")],
        ["planting_date (north field)", "before the weather of weather.csv begins", "2026-09-20",
         "2026-10-05 or later"],
    ),
    "weather ends before planting": (
        [("planting_date = 2026-10-05", "planting_date = 2026-11-20")],
        ["weather of weather.csv ends before the planting date", "2026-11-20",
         "2026-10-07 or earlier", "weather.history"],
    ),
    "no such weather file": (
        [('"weather.csv" }', '"wether.csv" }')], ["wether.csv", "no such file"]
    ),
    "no such cover file": (
        [('transplant = "bare-root"', 'cover = { file = "cover.csv" }\ntransplant = "bare-root"')],
        ["cover.csv", "no such file"],
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", SEASONS)
def test_bad_seasons_are_refused_plainly(tmp_path, case):
    changes, words = SEASONS[case]
    place = season_with(tmp_path, changes)
    with pytest.raises(InputError) as caught:
        season_weather(read_season(place), tmp_path)
    for word in words:
        assert word in str(caught.value), str(caught.value)


def test_faults_of_several_weather_files_are_told_at_once(tmp_path):
    place = season_with(
        tmp_path,
        [('observed = { file = "weather.csv" }',
          'observed = { file = "weather.csv" }\nhistory = { file = ["a.csv", "b.csv"] }')],
        weather=template("weather").replace("2026-10-05 03:00,", "2026-10-05 02:00,"),
    )  # fmt: skip
    with pytest.raises(InputError) as caught:
        season_weather(read_season(place), tmp_path)
    text = str(caught.value)
    assert "comes twice" in text
    assert "a.csv" in text
    assert "b.csv" in text


def test_typical_year_is_history_not_observation(tmp_path):
    epw = Path(__file__).parent.parent.parent / "demo_weather" / "san_francisco_tmy3.epw"
    place = season_with(tmp_path, [('"weather.csv" }', f'"{epw}" }}')])
    with pytest.raises(InputError, match=r"typical year is not weather that was observed"):
        season_weather(read_season(place), tmp_path)


def test_past_years_let_a_block_be_planted_after_the_observed_weather(tmp_path):
    epw = Path(__file__).parent.parent.parent / "demo_weather" / "san_francisco_tmy3.epw"
    place = season_with(
        tmp_path,
        [('observed = { file = "weather.csv" }',
          f'observed = {{ file = "weather.csv" }}\nhistory = {{ file = "{epw}" }}'),
         ("planting_date = 2026-10-05", "planting_date = 2026-11-20")],
    )  # fmt: skip
    weather = season_weather(read_season(place), tmp_path)
    assert weather.history[0].typical_year
    (far,) = record_doubts(weather.history[0], read_season(place).site)
    assert "san_francisco_tmy3.epw is for latitude 37.62, longitude -122.4, " in far


def test_overlapping_files_and_an_outlook_that_leaves_a_gap(tmp_path):
    text = template("weather")
    (tmp_path / "more.csv").write_text(text)
    (tmp_path / "outlook.csv").write_text(
        "member,time [UTC start],air_c\n"
        + "".join(f"1,2026-10-20 {h:02d}:00,20\n" for h in range(9))
    )
    place = season_with(
        tmp_path,
        [('observed = { file = "weather.csv" }',
          'observed = { file = ["weather.csv", "more.csv"] }\noutlook = { file = "outlook.csv" }')],
    )  # fmt: skip
    with pytest.raises(InputError) as caught:
        season_weather(read_season(place), tmp_path)
    assert "two files of observed weather overlap" in str(caught.value)
    assert "the outlook does not follow" in str(caught.value)
