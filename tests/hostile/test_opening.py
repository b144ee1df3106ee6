"""What is opened at all: regular files of bounded size, unpacked in pieces."""

from __future__ import annotations

import gzip
import os
import socket
import subprocess
import sys
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from click.testing import CliRunner

from phenocast import opened
from phenocast.cli.group import cli
from phenocast.errors import InputError
from phenocast.io import files, read_season, read_text, read_weather, sha256_of
from phenocast.io.raw_table import read_raw_table
from tests.hostile.mutations import refused
from tests.hostile.tables import chamber, members, prices, records, tallies, trial, weather

MOST_MB = 500


def folder(place):
    place.mkdir()


def pipe(place):
    os.mkfifo(place)


def listening(place):
    # the name of a socket is short, whatever the folder of the test
    here = os.open(place.parent, os.O_RDONLY)
    with socket.socket(socket.AF_UNIX) as one:
        one.bind(f"/proc/self/fd/{here}/{place.name}")
    os.close(here)


def device(place):
    place.symlink_to("/dev/zero")


def terminal(place):
    place.symlink_to("/dev/tty")


def broken_link(place):
    place.symlink_to("gone")


def link_to_itself(place):
    place.symlink_to(place.name)


THINGS = {
    "a folder": (folder, "a folder"),
    "a pipe": (pipe, "a pipe"),
    "a socket": (listening, "a socket"),
    "a device without end": (device, "a device"),
    "a terminal": (terminal, "a device"),
    "a broken link": (broken_link, "no such file"),
    "a link to itself": (link_to_itself, "cannot read it"),
}
READERS = {
    "weather": weather(),
    "ensemble": members,
    "table": read_raw_table,
    "text": read_text,
    "hash": sha256_of,
    "season": read_season,
    "picks": records,
    "trial": trial,
    "chamber": chamber,
    "prices": prices,
    "tallies": tallies,
}


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("thing", THINGS)
def test_what_is_no_file_is_refused_at_once(thing, reader, tmp_path):
    make, told = THINGS[thing]
    make(tmp_path / "input")
    refused(lambda: READERS[reader](tmp_path / "input"), "input", told)


def test_a_pipe_ends_no_command_with_our_fault(tmp_path):
    os.mkfifo(tmp_path / "weather.csv")
    done = CliRunner().invoke(cli, ["check", str(tmp_path / "weather.csv")])
    assert done.exit_code == 3
    assert "a pipe, not a file" in " ".join(done.stderr.split())


@pytest.mark.parametrize("kind", opened.LIMITS)
def test_a_file_beyond_its_limit_is_refused_before_it_is_read(kind, tmp_path):
    place = tmp_path / "huge"
    with place.open("wb") as stream:
        stream.truncate(opened.LIMITS[kind].megabytes * 1_000_000 + 1)
    with pytest.raises(InputError) as error:
        opened.open_regular(place, kind)
    told = str(error.value)
    assert "the file is too large" in told
    assert f"up to {opened.LIMITS[kind].megabytes} MB" in told
    assert opened.LIMITS[kind].why in told
    assert opened.LIMITS[kind].do in told


@pytest.mark.parametrize(
    ("kind", "read"), [("table", read_raw_table), ("document", read_text), ("any", sha256_of)]
)
def test_each_reader_holds_its_limit(kind, read, tmp_path):
    place = tmp_path / "huge"
    with place.open("wb") as stream:
        stream.truncate(opened.LIMITS[kind].megabytes * 1_000_000 + 1)
    refused(lambda: read(place), "huge", "the file is too large")


def test_a_file_that_grows_is_held_to_the_limit_too(tmp_path, monkeypatch):
    monkeypatch.setitem(opened.LIMITS, "table", opened.LIMITS["table"]._replace(megabytes=0))
    monkeypatch.setattr(opened, "_check", lambda *_: None)
    place = tmp_path / "a.csv"
    place.write_text("time,air\n")
    refused(lambda: files.read_bytes(place), "too large")


def test_running_out_of_memory_tells_the_file_and_says_nothing_of_draws(tmp_path, monkeypatch):
    def full(*_):
        raise MemoryError

    place = tmp_path / "weather.csv"
    place.write_text("time [UTC],air [degC]\n2026-10-05 01:00,20\n")
    monkeypatch.setattr("phenocast.io.raw_table.parse_delimited", full)
    with pytest.raises(InputError) as error:
        read_weather(place)
    assert "weather.csv: there is not enough memory to read it" in str(error.value)
    assert "draws" not in str(error.value)


def test_a_fault_of_ours_outside_a_reader_is_no_refusal(tmp_path, monkeypatch):
    def fault(*_, **__):
        raise ZeroDivisionError

    monkeypatch.setattr("phenocast.cli.running.load", fault)
    done = CliRunner().invoke(cli, ["crown", "season.toml", "--out", str(tmp_path / "crown.csv")])
    assert done.exit_code == 1
    assert "a fault of phenocast" in " ".join(done.stderr.split())


def gzip_bomb(place):
    """3 GB of a sound line, as thirty members of 100 MB, in 23 MB."""
    line = b"2026-10-05 01:00,20,some words that are said again and again and again\n"
    member = gzip.compress(line * (100_000_000 // len(line)), compresslevel=1)
    place.write_bytes(gzip.compress(b"time [UTC],air [degC],note\n") + member * 30)


def dictionary_bomb(place):
    """3 GB of text in 3000 cells that all name one text."""
    cells = pa.DictionaryArray.from_arrays(pa.array(np.zeros(3000, dtype=np.int32)), ["x" * 10**6])
    pq.write_table(pa.table({"time": cells}), place)


def run_bomb(place):
    """3 GB of one number: 376 million rows, each group of which is a run."""
    rows = pa.table({"time": pa.array(np.zeros(4_000_000))})
    with pq.ParquetWriter(place, rows.schema) as writer:
        for _ in range(94):
            writer.write_table(rows)


def plain_bomb(place):
    """3 GB that a packer makes small, and no dictionary is told of."""
    rows = pa.table({"time": pa.array(["x" * 10**6] * 100)})
    with pq.ParquetWriter(place, rows.schema, use_dictionary=False, compression="zstd") as writer:
        for _ in range(30):
            writer.write_table(rows)


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="the peak is read from /proc")
@pytest.mark.parametrize(
    "bomb",
    [
        gzip_bomb,
        dictionary_bomb,
        pytest.param(run_bomb, marks=pytest.mark.slow),
        pytest.param(plain_bomb, marks=pytest.mark.slow),
    ],
)
def test_three_gigabytes_in_a_small_file_stay_under_500_megabytes(bomb, tmp_path):
    place = tmp_path / "bomb"
    bomb(place)
    assert place.stat().st_size < 30_000_000
    done = subprocess.run(
        [sys.executable, "-c", CHILD, str(place)],
        capture_output=True, text=True, timeout=300, check=False,
    )  # fmt: skip
    exit_code, peak_kb = map(int, done.stdout.split())
    assert exit_code == 3, done.stderr
    assert "too large" in " ".join(done.stderr.split())
    assert peak_kb < MOST_MB * 1000


CHILD = """
import re, sys
from phenocast.cli.console import report
from phenocast.io import read_weather
try:
    read_weather(sys.argv[1])
    code = 0
except BaseException as error:
    code = report(error)
print(code, re.search(r"VmHWM:\\s+(\\d+)", open("/proc/self/status").read())[1])
"""
