"""Named files that no reader can take: what each is refused for."""

from __future__ import annotations

import gzip
import json
from datetime import date, time, timedelta
from decimal import Decimal

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from phenocast.errors import NoAnswerError
from tests.hostile.mutations import outcome, refused
from tests.hostile.tables import (
    DATA,
    SOUND,
    block,
    chamber,
    hourly_csv,
    hours,
    members,
    parquet,
    picks,
    plots,
    prices,
    records,
    rows,
    table,
    tallies,
    trial,
    weather,
)

HEAD = "time [UTC, start],air [degC]"


def csv(*lines, head=HEAD):
    return "\n".join([head, *lines, ""]).encode()


def stamps(*texts):
    return csv(*(f"{text},20" for text in texts))


def day(hour=0):
    return f"2026-10-05 {hour:02d}:00"


def good(hour):
    return f"{day(hour)},20"


def changed(name, old, new):
    """A sound file with a text changed once."""
    content = SOUND[name][1]()
    old, new = (one if isinstance(one, bytes) else one.encode() for one in (old, new))
    assert old in content
    return content.replace(old, new, 1)


def with_line(name, number, line):
    """A sound file with a line, counted from 1, replaced."""
    lines = SOUND[name][1]().split(b"\n")
    lines[number - 1] = line.encode()
    return b"\n".join(lines)


def with_cell(name, row, column, text, mark=","):
    """A sound file with a cell replaced, row from 1 and column from 0."""
    lines = SOUND[name][1]().decode().split("\n")
    cells = lines[row - 1].split(mark) if mark else lines[row - 1].split()
    cells[column] = text
    lines[row - 1] = (mark or " ").join(cells)
    return "\n".join(lines).encode()


def arrow(columns, **metadata):
    written = pa.table(columns)
    if metadata:
        written = written.replace_schema_metadata(
            {key.encode(): value.encode() for key, value in metadata.items()}
        )
    stream = pa.BufferOutputStream()
    pq.write_table(written, stream)
    return stream.getvalue().to_pybytes()


def bad_utf8(*, name=False):
    """A Parquet file with bytes that are no UTF-8 in a cell, or in the name of a column."""
    content = arrow({"time": hours(3)["time"], "air_c": [1.0, 2.0, 3.0], "zzzzzz": ["qqqqqq"] * 3})
    old = b"zzzzzz" if name else b"qqqqqq"
    return content.replace(old, b"\xff\xfe\xfd\xff\xfe\xfd")


TIMES = pa.array(pd.date_range("2026-10-05", periods=3, freq="h", tz="UTC"))

TEXT = {
    "nothing but line ends": (b"\n" * 2000, "the file is empty"),
    "one byte": (b"x", "no columns are found"),
    "zero bytes": (bytes(4000), "not readable text"),
    "a NUL in a cell": (csv(good(0), f"{day(1)},2\x000"), "not readable text"),
    "half a pair of UTF-16": (b"\xff\xfe" + b"\x00\xd8" * 50, "not readable text"),
    "UTF-32 out of range": (b"\xff\xfe\x00\x00" + b"\xff\xff\xff\xff" * 9, "not readable text"),
    "a bzip2 archive": (b"BZh91AY&SY" + b"x" * 90, "a bzip2 archive", "unpack it"),
    "an xz archive": (b"\xfd7zXZ\x00" + b"x" * 90, "an xz archive", "unpack it"),
    "a zstd archive": (b"(\xb5/\xfd" + b"x" * 90, "a zstd archive", "unpack it"),
    "a zip archive": (b"PK\x03\x04" + b"x" * 90, "a spreadsheet or a zip archive"),
    "a web page": (b"<!DOCTYPE html><p>not found, sorry", "a web page"),
    "JSON": (b'{"time": ["2026-10-05"], "air": [20]}', "a JSON document"),
    "gzip inside gzip": (gzip.compress(gzip.compress(hourly_csv())), "not readable text"),
    "gzip of nothing": (gzip.compress(b""), "the file is empty"),
    "gzip of three bytes": (b"\x1f\x8b\x08", "the gzip file is damaged or cut off"),
    "gzip with a wrong sum": (
        gzip.compress(hourly_csv())[:-8] + b"\x00" * 8,
        "the gzip file is damaged",
    ),
    "gzip with a broken middle": (
        gzip.compress(hourly_csv())[:40] + b"\xff" * 40 + gzip.compress(hourly_csv())[80:],
        "the gzip file is damaged",
    ),
    "gzip with another method": (b"\x1f\x8b\x07" + b"\x00" * 30, "the gzip file is damaged"),
    "gzip followed by rubbish": (gzip.compress(hourly_csv()) + b"rubbish", "the gzip file is dama"),
    "brackets without end": (b"[" * 50_000, "no columns are found"),
    "a line without end": (csv("x" * 200_000), "the line is too long", "row 2"),
    "more columns than any table": (b"a,b" * 3000, "too many columns"),
    "a cell of a hundred thousand characters in quotes": (
        csv(*[good(h) for h in range(9)], f'"{"x" * 99_990}",2'),
        "row 11",
    ),
    "headers that are numbers": (csv(good(1), head="1,2"), "no line of headers"),
    "headers that are blanks": (csv(good(1), head=" , "), "header"),
    "several columns without a header": (csv("1,2,3,4", head="time,,,air"), "have no header"),
    "the same header twice": (csv("1,2,3", head="time,air,air"), "the header comes twice"),
    "a header and no rows": (csv(), "a header but no rows"),
    "a row of more cells": (csv(good(0), f"{day(1)},20,1,2"), "row 3", "more or fewer cells"),
    "a delimiter five thousand times": (csv(good(0), good(1) + "," * 5000), "row 3"),
}
STAMPS = {
    "year 0": (stamps("0000-01-01 00:00"), "the year is out of range", "row 2"),
    "year 1": (stamps("0001-01-01 00:00"), "the year is out of range"),
    "year 9999": (stamps("9999-12-31 23:00"), "the year is out of range", "1900 to 2100"),
    "year 10000": (stamps("10000-01-01 00:00"), "row 2"),
    "year 2262": (stamps("2262-04-12 00:00"), "the year is out of range"),
    "the last midnight of 2100 written as 24:00": (stamps("2101-01-01 24:00"), "out of range"),
    "30 February": (stamps(day(), "2026-02-30 01:00"), "row 3", "no such day or time"),
    "month 13": (stamps(day(), "2026-13-01 01:00"), "row 3", "no such day or time"),
    "hour 25": (stamps(day(), "2026-10-05 25:00"), "row 3", "no such day or time"),
    "minute 60": (stamps(day(), "2026-10-05 13:60"), "row 3", "no such day or time"),
    "an offset of 99 hours": (stamps("2026-10-05T13:00+99:99"), "row 2"),
    "a minus before the year": (stamps("-2026-10-05 01:00"), "not a date and time"),
    "an ISO week": (stamps("2026-W41-1"), "not a date and time"),
    "an empty stamp": (stamps(day(), ""), "row 3", "not a date and time"),
    "ten thousand characters": (stamps("2" * 10_000), "not a date and time", "..."),
    "a line break of another script": (stamps(day(), "2026-10-05\u202801:00"), "row"),
    "only the hour": (stamps("13:00"), "not a date and time"),
    "seconds since 1970": (stamps("1791158400"), "not a date and time"),
    "day first and month first": (stamps("13/10/2026 1:00", "10/13/2026 2:00"), "day first"),
    "either day or month first": (stamps("03/10/2026 1:00"), "day first or month first"),
    "dates in three ways": (stamps("2026-10-05 1:00", "5/10/2026 2:00"), "several ways"),
    "some with an offset": (stamps(day(), "2026-10-05 01:00Z"), "offset from UTC"),
    "the same stamp in every row": (stamps(*[day()] * 30), "the stamp comes twice", "29 rows"),
    "backwards": (stamps(day(3), day(2), day(1)), "run backwards"),
    "one row in three days": (stamps("2026-10-05 00:00", "2026-10-08 00:00"), "neither daily nor"),
    "a zone that does not exist": (
        csv(good(0), head="time [Europe/Nowhere],air [degC]"),
        "unknown time zone",
        "Europe/Nowhere",
    ),
}
FORMATS = {
    "a directive twice": "%Y-%Y",
    "a directive twice, apart": "%d/%m/%Y %d",
    "a lone percent": "%",
    "a percent at the end": "%Y-%m-%d %",
    "an unknown directive": "%Q",
    "a bracket": "(%Y",
    "a NUL": "%Y\x00",
    "nothing": "",
    "a year alone, three times": "%Y %Y %Y",
    "ISO week without its year": "%V",
    "ISO year without its week": "%G",
    "a day of the week alone": "%A",
    "ten thousand characters": "%Y" + "x" * 10_000,
}
VALUES = {
    "a word": (csv(good(0), f"{day(1)},hot"), "row 3", "not a number"),
    "infinity": (csv(good(0), f"{day(1)},inf"), "row 3", "not a number"),
    "1e400": (csv(good(0), f"{day(1)},1e400"), "row 3", "not a number"),
    "1e308": (csv(good(0), f"{day(1)},1e308"), "row 3", "no quantity is so large"),
    "five thousand digits": (csv(good(0), f"{day(1)},{'9' * 5000}"), "row 3", "not a number"),
    "hexadecimal": (csv(good(0), f"{day(1)},0x10"), "row 3", "not a number"),
    "a half as a sign": (csv(good(0), f"{day(1)},½"), "row 3", "not a number"),
    "a formula": (csv(good(0), f"{day(1)},=1+1"), "row 3", "not a number"),
    "a terminal's escape": (csv(good(0), f"{day(1)},\x1b[31m20"), "row 3", "not a number"),
    "99 degC": (csv(good(0), f"{day(1)},99"), "row 3", "an impossible air temperature"),
    "below absolute zero": (csv(good(0), f"{day(1)},-400"), "an impossible air temperature"),
    "nothing but missing": (csv(f"{day()},", f"{day(1)},NaN"), "no value at all"),
    "nothing but codes": (csv(f"{day()},-9999", f"{day(1)},-9999"), "no value at all"),
    "no unit": (csv(good(0), head="time [UTC],air"), "the unit is not stated"),
    "a unit of another kind": (csv(good(0), head="time [UTC],air [mph]"), "is not a unit of air"),
    "a unit that does not exist": (csv(good(0), head="time [UTC],air [degX]"), "degX"),
    "no air": (csv(good(0), head="time [UTC],wind [m s-1]"), "no air temperature is found"),
    "the minimum above the maximum": (
        csv("2026-10-05,10,20", "2026-10-06,9,19", head="date,air max [degC],air min [degC]"),
        "minimum of air temperature is above",
        "row 2",
    ),
    "days without a minimum": (
        csv("2026-10-05,10", "2026-10-06,11", head="date,air max [degC]"),
        "both the maximum and the minimum",
    ),
    "an ensemble as one series": (SOUND["ensemble"][1](), "column 'member'"),
}
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
PICKS = {
    "an unknown block": (records, picks().replace(block().encode(), b"Nowhere"), "unknown block"),
    "a missing block": (records, picks().replace(block().encode() + b",", b",", 1), "missing"),
    "a year of 9999": (records, picks().replace(b"2026-12-01", b"9999-12-31"), "out of range"),
    "no such day": (records, picks().replace(b"2026-12-01", b"2026-12-32"), "no such day"),
    "a pick of 1e308 kg": (records, picks().replace(b",A,1,", b",A,1e308,"), "so large"),
    "a pick below zero": (records, picks().replace(b",A,1,", b",A,-1,"), "out of range"),
    "a pick of 99 million kg": (
        records, picks().replace(b",A,1,", b",A,99999999,"), "out of range",
    ),
    "plots without a unit": (records, picks().replace(b" [kg]", b""), "has no unit"),
    "a unit of area": (records, picks().replace(b"[kg]", b"[ha]"), "column 'marketable [ha]'"),
    "an unknown event": (records, picks().replace(b",20,\n", b",20,party\n", 1), "unknown event"),
    "an unknown column": (
        records, picks().replace(b"fruit_mass_g", b"fruit_mas"), "unknown column",
    ),
    "no date": (records, picks().replace(b",date,", b",dat,"), "a column is missing"),
    "no such season": (
        records, picks().replace(b",plot,", b",season,"), "no season file of this name",
    ),
    "weather for records": (records, hourly_csv(), "a column is missing"),
    "a file of nothing": (records, b" ", "the file is empty"),
}  # fmt: skip
OTHER = {
    "trial: no such factor": (trial, plots().replace(b"replicate", b"rep"), "no such column"),
    "trial: a factor without a name": (
        trial, plots().replace(b"Marl", b"", 1), "a name is missing",
    ),
    "trial: a yield that is a word": (trial, plots().replace(b",400", b",lots"), "not a number"),
    "trial: a yield of 1e308": (trial, plots().replace(b",400", b",1e308"), "so large"),
    "trial: no yield at all": (
        trial, rows("replicate,film,cultivar,yield", lambda i: f"{i},black,Marl,", 4), "no value",
    ),
    "trial: planted in year 9999": (
        trial, plots().replace(b"2026-09-28", b"9999-09-28"), "out of range",
    ),
    "trial: two treatments in a plot": (
        trial, plots().replace(b"Basalt", b"Marl", 1).replace(b",1,", b",0,"), "more than one",
    ),
    "chamber: an unknown cultivar": (
        chamber, SOUND["chamber"][1]().replace(b"Marl", b"Marlx"), "unknown cultivar",
    ),
    "chamber: half a plant": (
        chamber, SOUND["chamber"][1]().replace(b",12,3,", b",12,3.5,"), "not a whole number",
    ),
    "chamber: more than there were": (
        chamber, SOUND["chamber"][1]().replace(b",12,3,", b",12,13,"), "more flowered",
    ),
    "chamber: number and percentage": (
        chamber, SOUND["chamber"][1]().replace(b",12,3,", b",12,3,25"), "not one of a number",
    ),
    "chamber: a day of 30 hours": (
        chamber, SOUND["chamber"][1]().replace(b",10,21", b",30,21", 1), "out of range",
    ),
    "chamber: -1 plants": (
        chamber, SOUND["chamber"][1]().replace(b",21,12,", b",21,-1,", 1), "out of range",
    ),
    "cover: 4000 %": (
        table("canopy cover"), b"date,cover [%]\n2026-10-05,4000\n", "out of range", "row",
    ),
    "cover: a week for a day": (
        table("canopy cover"), b"date,cover [%]\n2026-W41,40\n", "not a date and time",
    ),
    "sensors: no time": (
        table("sensor readings"), b"block,crown_c\nEast,20\n", "a column is missing", "time_utc",
    ),
    "sensors: year 1": (
        table("sensor readings"), b"block,time_utc,crown_c\nEast,0001-01-01T00:00Z,20\n",
        "the year is out of range",
    ),
    "sensors: 500 degC": (
        table("sensor readings"), b"block,time_utc,crown_c\nEast,2026-10-05T00:00Z,500\n",
        "out of range",
    ),
    "prices: week 54": (
        prices, changed("prices", "2027-W03", "2027-W54"), "not an ISO week",
    ),
    "prices: week 53 of a year of 52": (
        prices, rows("week,price_per_kg", lambda i: f"20{25 + i}-W53,3", 2), "week",
    ),
    "prices: year 0": (prices, b"week,price_per_kg\n0000-W01,3\n", "week"),
    "prices: a week twice": (prices, changed("prices", "2027-W03", "2027-W02"), "W02"),
    "prices: a week left out": (prices, changed("prices", "2027-W03,3.2,2,6,EUR\n", ""), "W03"),
    "prices: nothing for a kg": (prices, changed("prices", ",3.2,", ",0,"), "price"),
    "prices: 1e308": (prices, changed("prices", ",3.2,", ",1e308,"), "so large"),
    "prices: low above high": (prices, changed("prices", ",2,6,", ",6,2,"), "do not enclose"),
    "prices: two currencies": (prices, changed("prices", "EUR", "USD"), "more than one currency"),
    "prices: no prices": (prices, b"week\n", "no columns are found"),
    "tallies: an unknown block": (
        tallies, SOUND["tallies"][1]().replace(block().encode(), b"Nowhere"), "unknown block",
    ),
    "tallies: no trays": (tallies, changed("tallies", ",100,", ",0,"), "not above zero"),
    "tallies: hours below zero": (tallies, changed("tallies", ",100,40,", ",100,-40,"), "range"),
    "tallies: a tenth of a picker": (tallies, changed("tallies", ",8\n", ",0.1\n"), "whole number"),
    "members: other spans": (
        members, changed("ensemble", "2,2026-10-05 11:00,26\n", ""), "cover different spans",
    ),
    "members: one a row, a thousand and more": (
        members, rows("member,time,air [degC]", lambda i: f"{i},2026-10-05 00:00,20", 1500),
        "too many members",
    ),
}  # fmt: skip


def _file(folder, content):
    place = folder / "file"
    place.write_bytes(content)
    return place


@pytest.mark.parametrize("case", TEXT)
def test_bytes_that_are_no_table(case, tmp_path):
    content, *pieces = TEXT[case]
    place = _file(tmp_path, content)
    refused(lambda: weather(stamp="start")(place), "file", *pieces)


@pytest.mark.parametrize("case", STAMPS)
def test_stamps_that_cannot_be(case, tmp_path):
    content, *pieces = STAMPS[case]
    place = _file(tmp_path, content)
    refused(lambda: weather()(place), "file", *pieces)


@pytest.mark.parametrize("case", FORMATS)
def test_formats_of_stamps_that_cannot_be(case, tmp_path):
    place = _file(tmp_path, stamps(day(0), day(1)))
    refused(lambda: weather(time_format=FORMATS[case], time_zone="UTC")(place), "file, ")


@pytest.mark.parametrize("case", VALUES)
def test_values_that_cannot_be(case, tmp_path):
    content, *pieces = VALUES[case]
    place = _file(tmp_path, content)
    refused(lambda: weather(stamp="start")(place), "file", *pieces)


@pytest.mark.parametrize("case", FIXED)
def test_files_of_a_fixed_format(case, tmp_path):
    content, *pieces = FIXED[case]
    place = _file(tmp_path, content)
    refused(lambda: weather()(place), "file", *pieces)


@pytest.mark.parametrize("case", PARQUET)
def test_parquet_that_is_no_table(case, tmp_path):
    content, *pieces = PARQUET[case]
    place = _file(tmp_path, content)
    refused(lambda: weather(stamp="start")(place), "file", *pieces)


@pytest.mark.parametrize("case", ODD_METADATA)
def test_odd_metadata_of_pandas_takes_nothing_away(case, tmp_path):
    columns = {"air_c": [20.0, 21.0, 22.0], "time": TIMES}
    place = _file(tmp_path, arrow(columns, pandas=ODD_METADATA[case]))
    assert outcome(lambda: weather(stamp="start")(place)) == "answer"


@pytest.mark.parametrize("case", [*PICKS, *OTHER])
def test_other_tables(case, tmp_path):
    read, content, *pieces = (PICKS | OTHER)[case]
    place = _file(tmp_path, content)
    refused(lambda: read(place), "file", *pieces)


def test_tallies_that_give_no_line_have_no_answer(tmp_path):
    place = _file(tmp_path, b"\n".join(SOUND["tallies"][1]().splitlines()[:4]))
    refused(lambda: tallies(place), "too few picks", as_=NoAnswerError)


def test_a_date_of_parquet_is_a_date(tmp_path):
    content = arrow({"date": [date(2026, 10, 5), date(2026, 10, 6)], "cover": [0.1, 0.2]})
    assert outcome(lambda: table("canopy cover")(_file(tmp_path, content))) == "answer"
