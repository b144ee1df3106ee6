"""Named files of the open formats and of Parquet that no reader can take."""

from __future__ import annotations

import json
from datetime import date, time, timedelta
from decimal import Decimal

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from tests.hostile.mutations import outcome, refused
from tests.hostile.tables import (
    DATA,
    SOUND,
    changed,
    hours,
    parquet,
    table,
    weather,
    with_cell,
    with_line,
    written,
)


def arrow(columns, **metadata):
    made = pa.table(columns)
    if metadata:
        made = made.replace_schema_metadata(
            {key.encode(): value.encode() for key, value in metadata.items()}
        )
    stream = pa.BufferOutputStream()
    pq.write_table(made, stream)
    return stream.getvalue().to_pybytes()


def bad_utf8(*, name=False):
    """A Parquet file with bytes that are no UTF-8 in a cell, or in the name of a column."""
    content = arrow({"time": hours(3)["time"], "air_c": [1.0, 2.0, 3.0], "zzzzzz": ["qqqqqq"] * 3})
    old = b"zzzzzz" if name else b"qqqqqq"
    return content.replace(old, b"\xff\xfe\xfd\xff\xfe\xfd")


TIMES = pa.array(pd.date_range("2026-10-05", periods=3, freq="h", tz="UTC"))

FIXED = {
    "EPW of only a header": (b"LOCATION,a,b,c,TMY3,1,2,3,4,5\n", "the EPW file has no rows"),
    "EPW without a place": (with_line("EPW", 1, "LOCATION,a"), "the latitude is not a number"),
    "EPW with a latitude that is a word": (
        with_cell("EPW", 1, 6, "north"), "row 1", "the latitude is not a number", "'north'",
    ),
    "EPW with a longitude that is nan": (with_cell("EPW", 1, 7, "nan"), "the longitude is not a"),
    "EPW with an elevation of 1e400": (with_cell("EPW", 1, 9, "1e400"), "the elevation is not a"),
    "EPW 420 days from UTC": (with_cell("EPW", 1, 8, "10101"), "no such offset from UTC"),
    "EPW with hour 25": (with_cell("EPW", 12, 3, "25"), "row 12", "no such day or time"),
    "EPW with hour 0": (with_cell("EPW", 12, 3, "0"), "row 12", "no such day or time"),
    "EPW with month 13": (with_cell("EPW", 12, 1, "13"), "row 12", "no such day or time"),
    "EPW of year 9999": (with_cell("EPW", 12, 0, "9999"), "row 12", "the year is out of range"),
    "EPW with a line cut off": (with_line("EPW", 12, "1999,1,1,4"), "row 12", "is cut off"),
    "EPW with a line too long": (
        SOUND["EPW"][1]() + SOUND["EPW"][1]().splitlines()[-1] + b",1,2\n",
        "row 41", "too many cells",
    ),
    "EPW with air that is a word": (with_cell("EPW", 12, 6, "hot"), "row 12", "not a number"),
    "EPW with the same hour twice": (
        SOUND["EPW"][1]() + SOUND["EPW"][1]().splitlines()[-1], "the stamp comes twice",
    ),
    "EPW without air": (
        b"\n".join([*SOUND["EPW"][1]().splitlines()[:8],
                    with_cell("EPW", 9, 6, "99.9").splitlines()[8]]),
        "no air temperature is in the file",
    ),
    "TMY3 of only two headers": (
        b"\n".join(SOUND["TMY3"][1]().splitlines()[:2]), "the TMY3 file has no rows",
    ),
    "TMY3 with a time of 24:61": (with_cell("TMY3", 9, 1, "24:61"), "row 9", "no such day or time"),
    "TMY3 with a time of 25:00": (with_cell("TMY3", 9, 1, "25:00"), "row 9", "no such day or time"),
    "TMY3 with an empty time": (with_cell("TMY3", 9, 1, ""), "row 9", "no such day or time"),
    "TMY3 with a time of three parts": (with_cell("TMY3", 9, 1, "01:00:00"), "row 9"),
    "TMY3 with a time of huge numbers": (with_cell("TMY3", 9, 1, f"{'9' * 5000}:00"), "row 9"),
    "TMY3 with 30 February": (with_cell("TMY3", 9, 0, "02/30/1996"), "row 9", "no such day"),
    "TMY3 without a place": (with_line("TMY3", 1, "723170"), "the latitude is not a number"),
    "TMY3 with one header": (
        with_line("TMY3", 2, "Date (MM/DD/YYYY)"), "row 3", "the line has too many cells",
    ),
    "TMY3 with air that is a word": (
        changed("TMY3", ",10.0,A,7,", ",warm,A,7,") if b",10.0,A,7," in SOUND["TMY3"][1]()
        else with_cell("TMY3", 9, 31, "warm"),
        "not a number",
    ),
    "TMY2 of only a header": (
        SOUND["TMY2"][1]().splitlines()[0] + b"\n", "the TMY2 file has no rows",
    ),
    "TMY2 with a line cut off": (with_line("TMY2", 9, " 6201010"), "row 9", "is cut off"),
    "TMY2 with hour 99": (changed("TMY2", "\n 62010105", "\n 62010199"), "row 6", "no such day"),
    "TMY2 with month 00": (changed("TMY2", "\n 62010105", "\n 62000105"), "row 6", "no such day"),
    "TMY2 with letters for air": (
        with_line("TMY2", 3, SOUND["TMY2"][1]().splitlines()[2].decode()[:67] + "warm"
                  + SOUND["TMY2"][1]().splitlines()[2].decode()[71:]),
        "row 3", "not a number", "warm",
    ),
    "GHCN of year 0": (
        (DATA / "ghcn_invented.dly").read_bytes().replace(b"202611", b"000011"),
        "the year is out of range", "1900 to 2100",
    ),
    "GHCN of year 9999": (
        (DATA / "ghcn_invented.dly").read_bytes().replace(b"202611", b"999911"),
        "the year is out of range",
    ),
    "GHCN by station of year 0": (
        (DATA / "ghcn_by_station_invented.csv").read_bytes().replace(b",2026", b",0000"),
        "the year is out of range",
    ),
    "GHCN by station of year 9999": (
        (DATA / "ghcn_by_station_invented.csv").read_bytes().replace(b",2026", b",9999"),
        "the year is out of range",
    ),
    "GHCN access of year 9999": (
        (DATA / "ghcn_access_invented.csv").read_bytes().replace(b"2026-", b"9999-"),
        "the year is out of range",
    ),
    "GHCN with every maximum below its minimum": (
        (DATA / "ghcn_invented.dly").read_bytes().replace(b"TMAX", b"TTTT")
        .replace(b"TMIN", b"TMAX").replace(b"TTTT", b"TMIN"),
        "no day has a maximum and a minimum at or below it",
    ),
    "GHCN without a minimum": (
        (DATA / "ghcn_invented.dly").read_bytes().replace(b"TMIN", b"TOBS"),
        "lacks daily extremes",
    ),
    "GHCN with letters in a value": (
        (DATA / "ghcn_invented.dly").read_bytes().replace(b"  152", b"  x52"),
        "not a",
    ),
    "GHCN with a line cut off": (
        b"\n".join(line[:-60] for line in (DATA / "ghcn_invented.dly").read_bytes().splitlines()),
        "the line is cut off",
    ),
    "GHCN of two stations": (
        b"".join([SOUND["GHCN fixed width"][1](),
                  SOUND["GHCN fixed width"][1]().replace(b"2026", b"2027")
                  .replace(SOUND["GHCN fixed width"][1]()[:11], b"USC00099999")]),
        "several stations are mixed",
    ),
    "GHCN twice over": (SOUND["GHCN fixed width"][1]() * 2, "a day comes twice"),
    "GHCN by station with five cells": (
        with_line("GHCN by station", 4, "USC00011084,20261103,TMAX,253,"), "not a line of GHCN",
    ),
    "GHCN by station with a day of nine digits": (
        with_cell("GHCN by station", 4, 1, "202611031"), "not a line of GHCN",
    ),
    "GHCN by station with 31 November": (
        with_cell("GHCN by station", 2, 1, "20261131"), "no such day or time",
    ),
    "USCRN with a longitude that is a word": (
        with_cell("USCRN hourly", 1, 6, "west", None), "row 1", "the longitude is not a number",
    ),
    "USCRN with a latitude that is nan": (
        with_cell("USCRN hourly", 1, 7, "nan", None), "row 1", "the latitude is not a number",
    ),
    "USCRN by day with a latitude that is a word": (
        with_cell("USCRN daily", 1, 4, "x", None), "row 1", "the latitude is not a number",
    ),
    "USCRN with hour 25": (with_cell("USCRN hourly", 3, 2, "2500", None), "row 3", "no such day"),
    "USCRN with air that is a word": (
        with_cell("USCRN hourly", 3, 9, "warm", None), "row 3", "not a number",
    ),
    "USCRN of two stations": (
        with_cell("USCRN hourly", 3, 0, "99998", None), "several stations are mixed",
    ),
    "USCRN with a line cut off": (
        with_line("USCRN hourly", 3, "53104 20261005"), "row 3", "more or fewer columns",
    ),
    "USCRN twice over": (SOUND["USCRN hourly"][1]() * 2, "the stamp comes twice"),
    "USCRN by day of year 1999 and 30 February": (
        with_cell("USCRN daily", 2, 1, "19990230", None), "row 2", "no such day or time",
    ),
}  # fmt: skip
PARQUET = {
    "four bytes": (b"PAR1", "the Parquet file is"),
    "magic at both ends": (b"PAR1" + b"\x00" * 50 + b"PAR1", "the Parquet file is damaged"),
    "cut in half": (parquet(hours())[:1500], "the Parquet file is cut off"),
    "a broken footer": (
        parquet(hours())[:-40] + b"\xff" * 32 + parquet(hours())[-8:],
        "the Parquet file is damaged",
    ),
    "a footer longer than the file": (
        parquet(hours())[:-8] + b"\xff\xff\xff\x7fPAR1", "the Parquet file is damaged",
    ),
    "no rows": (parquet(hours(0)), "the table has no rows"),
    "no columns": (arrow({}), "the table has no rows"),
    "texts that are no UTF-8": (bad_utf8(), "column 'zzzzzz'", "cannot be read", "UTF-8"),
    "a header that is no UTF-8": (bad_utf8(name=True), "the Parquet file is damaged"),
    "a zone that does not exist": (
        arrow({"time": TIMES.cast(pa.timestamp("us", "Mars/Olympus")), "air_c": [1.0, 2.0, 3.0]}),
        "column 'time'", "cannot be read", "Mars/Olympus",
    ),
    "a zone of no letters": (
        arrow({"time": TIMES.cast(pa.timestamp("us", "\x1b[31m")), "air_c": [1.0, 2.0, 3.0]}),
        "column 'time'", "cannot be read",
    ),
    "years in the thousands": (
        arrow({"time": pa.array([10**15, 2 * 10**15, 3 * 10**15], pa.timestamp("ms")),
               "air_c": [1.0, 2.0, 3.0]}),
        "the year is out of range", "row 1",
    ),
    "the year 1": (
        arrow({"time": pa.array([-62135596800] * 3, pa.timestamp("s")), "air_c": [1.0] * 3}),
        "the year is out of range",
    ),
    "a missing time": (
        arrow({"time": pa.array([None, *TIMES[1:].to_pylist()], TIMES.type), "air_c": [1.0] * 3}),
        "row 1", "the stamp is missing",
    ),
    "lists in cells": (
        arrow({"time": TIMES, "air_c": [[1.0], [2.0, 3.0], []]}), "column 'air_c'", "holds lists",
    ),
    "records in cells": (
        arrow({"time": TIMES, "air_c": [{"mean": 1.0}] * 3}), "column 'air_c'", "holds lists",
    ),
    "bytes for numbers": (
        arrow({"time": TIMES, "air_c": [b"\xff", b"\xfe", b"2"]}),
        "column 'air_c'", "cannot be read",
    ),
    "truth for numbers": (arrow({"time": TIMES, "air_c": [True, False, True]}), "not a number"),
    "times of day for times": (
        arrow({"time": [time(1), time(2), time(3)], "air_c": [1.0] * 3}), "not a date and time",
    ),
    "lengths of time for times": (
        arrow({"time": [timedelta(1)] * 3, "air_c": [1.0] * 3}), "not a date and time",
    ),
    "numbers of the largest kind": (
        arrow({"time": TIMES, "air_c": [1e308, 1.0, 2.0]}), "row 1", "no quantity is so large",
    ),
    "numbers of 38 digits": (
        arrow({"time": TIMES, "air_c": pa.array([Decimal("9" * 38)] * 3)}),
        "no quantity is so large",
    ),
    "the same header twice": (
        arrow(pa.Table.from_arrays([TIMES, pa.array([1.0] * 3), pa.array([2.0] * 3)],
                                   ["time", "air_c", "air_c"])),
        "column 'air_c'", "the header comes twice",
    ),
    "a thousand and one columns": (
        arrow({f"c{n}": [1.0] for n in range(1001)}), "too many columns", "1001",
    ),
    "a unit that is no UTF-8": (
        arrow(pa.table([TIMES, pa.array([1.0] * 3)], schema=pa.schema([
            pa.field("time", TIMES.type),
            pa.field("air_c", pa.float64(), metadata={b"unit": b"\xff\xfe"}),
        ]))),
        "column 'air_c'", "cannot be read",
    ),
    "twenty-one million rows of one number": (
        arrow({"air_c": pa.array(np.zeros(21_000_000, dtype=np.int8))}), "the table is too large",
    ),
    "texts that are short in the file and long in memory": (
        arrow({"time": pa.DictionaryArray.from_arrays(pa.array([0] * 900), ["x" * 200_000])}),
        "too large", "written out",
    ),
}  # fmt: skip
# What pandas leaves in the file is not asked for more than the names of its index.
ODD_METADATA = {
    "no JSON": "{",
    "nothing": "",
    "a number": "7",
    "a list": "[]",
    "no index": "{}",
    "index of numbers": '{"index_columns": [1, null, {"kind": "range"}]}',
    "index that is a text": '{"index_columns": "time"}',
    "index that is not there": '{"index_columns": ["gone"]}',
    "columns that are a number": '{"index_columns": [], "columns": 3}',
    "columns of unknown kinds": json.dumps(
        {"index_columns": [], "columns": [{"name": "air_c", "numpy_type": "quaternion"}]}
    ),
    "headers of two levels": json.dumps(
        {"index_columns": [], "column_indexes": [{"name": "a"}, {"name": "b"}], "columns": []}
    ),
    "deep brackets": "[" * 100_000,
}


@pytest.mark.parametrize("case", FIXED)
def test_files_of_a_fixed_format(case, tmp_path):
    content, *pieces = FIXED[case]
    place = written(tmp_path, content)
    refused(lambda: weather()(place), "file", *pieces)


@pytest.mark.parametrize("case", PARQUET)
def test_parquet_that_is_no_table(case, tmp_path):
    content, *pieces = PARQUET[case]
    place = written(tmp_path, content)
    refused(lambda: weather(stamp="start")(place), "file", *pieces)


@pytest.mark.parametrize("case", ODD_METADATA)
def test_odd_metadata_of_pandas_takes_nothing_away(case, tmp_path):
    columns = {"air_c": [20.0, 21.0, 22.0], "time": TIMES}
    place = written(tmp_path, arrow(columns, pandas=ODD_METADATA[case]))
    assert outcome(lambda: weather(stamp="start")(place)) == "answer"


def test_a_date_of_parquet_is_a_date(tmp_path):
    content = arrow({"date": [date(2026, 10, 5), date(2026, 10, 6)], "cover": [0.1, 0.2]})
    assert outcome(lambda: table("canopy cover")(written(tmp_path, content))) == "answer"
