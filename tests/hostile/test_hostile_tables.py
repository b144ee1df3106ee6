"""Named files that no reader can take: what each is refused for."""

from __future__ import annotations

import gzip

import pytest

from phenocast.errors import NoAnswerError
from tests.hostile.mutations import refused
from tests.hostile.tables import (
    SOUND,
    block,
    chamber,
    changed,
    hourly_csv,
    members,
    picks,
    plots,
    prices,
    records,
    rows,
    table,
    tallies,
    trial,
    weather,
    written,
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


@pytest.mark.parametrize("case", TEXT)
def test_bytes_that_are_no_table(case, tmp_path):
    content, *pieces = TEXT[case]
    place = written(tmp_path, content)
    refused(lambda: weather(stamp="start")(place), "file", *pieces)


@pytest.mark.parametrize("case", STAMPS)
def test_stamps_that_cannot_be(case, tmp_path):
    content, *pieces = STAMPS[case]
    place = written(tmp_path, content)
    refused(lambda: weather()(place), "file", *pieces)


@pytest.mark.parametrize("case", FORMATS)
def test_formats_of_stamps_that_cannot_be(case, tmp_path):
    place = written(tmp_path, stamps(day(0), day(1)))
    refused(lambda: weather(time_format=FORMATS[case], time_zone="UTC")(place), "file, ")


@pytest.mark.parametrize("case", VALUES)
def test_values_that_cannot_be(case, tmp_path):
    content, *pieces = VALUES[case]
    place = written(tmp_path, content)
    refused(lambda: weather(stamp="start")(place), "file", *pieces)


@pytest.mark.parametrize("case", [*PICKS, *OTHER])
def test_other_tables(case, tmp_path):
    read, content, *pieces = (PICKS | OTHER)[case]
    place = written(tmp_path, content)
    refused(lambda: read(place), "file", *pieces)


def test_tallies_that_give_no_line_have_no_answer(tmp_path):
    place = written(tmp_path, b"\n".join(SOUND["tallies"][1]().splitlines()[:4]))
    refused(lambda: tallies(place), "too few picks", as_=NoAnswerError)
