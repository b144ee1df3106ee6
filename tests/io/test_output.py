"""Output is whole or not there, whatever happens, and nothing that exists is lost."""
# ruff: noqa: PT012 - what is raised inside a folder that is being built is the point here

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from phenocast.errors import InputError
from phenocast.io import (
    OutputFolder,
    check_suffix,
    read_table,
    read_text,
    to_json,
    write_atomic,
    write_table,
)
from phenocast.tables import CANOPY_COVER, CROWN_TEMPERATURES, HARVEST_RECORDS


def tree(folder):
    return sorted(p.relative_to(folder).as_posix() for p in Path(folder).rglob("*"))


def crown_table(n=48):
    rng = np.random.default_rng(1)
    frame = pd.DataFrame({
        "block": ["north field"] * n,
        "time_utc": pd.date_range("2026-10-05", periods=n, freq="h").astype("datetime64[ns]"),
        "air_c": rng.normal(20, 3, n),
    })  # fmt: skip
    for name in ("film_surface_c", "air_above_film_c", "crown_c", "soil_5cm_c", "soil_10cm_c"):
        frame[name] = frame["air_c"] + rng.normal(5, 1, n)
    frame["canopy_cover"] = np.linspace(0.1, 0.2, n)
    frame["filled"] = np.zeros(n, dtype=np.uint8)
    return frame


def test_file_appears_whole(tmp_path):
    write_atomic(tmp_path / "deep" / "er" / "a.txt", "ä\n")
    assert tree(tmp_path) == ["deep", "deep/er", "deep/er/a.txt"]
    assert (tmp_path / "deep/er/a.txt").read_bytes() == "ä\n".encode()


def test_file_that_exists_is_kept_unless_forced(tmp_path):
    place = tmp_path / "a.txt"
    place.write_text("old")
    with pytest.raises(InputError, match=r"exists and is not overwritten.*--force"):
        write_atomic(place, "new")
    assert place.read_text() == "old"
    write_atomic(place, "new", force=True)
    assert place.read_text() == "new"
    assert tree(tmp_path) == ["a.txt"]


@pytest.mark.parametrize("error", [ValueError, KeyboardInterrupt, SystemExit, OSError])
def test_failed_file_leaves_nothing_and_loses_nothing(tmp_path, error):
    place = tmp_path / "a.txt"
    place.write_text("old")

    def half(temporary):
        temporary.write_text("half")
        raise error

    expected = InputError if error is OSError else error
    with pytest.raises(expected):
        write_atomic(place, half, force=True)
    assert place.read_text() == "old"
    with pytest.raises(expected):
        write_atomic(tmp_path / "new" / "b.txt", half)
    assert tree(tmp_path) == ["a.txt"]


@pytest.mark.parametrize("make", [write_atomic, lambda p, c: OutputFolder(p).__enter__()])
def test_place_that_cannot_be_written(tmp_path, make):
    (tmp_path / "file").write_text("x")
    with pytest.raises(InputError) as caught:
        make(tmp_path / "file" / "out.csv", "text")
    assert "part of the path is a file" in str(caught.value)
    assert tree(tmp_path) == ["file"]


def test_no_permission_and_full_disk_are_told_plainly(tmp_path, monkeypatch):
    for number, words in ((13, "no permission to write"), (28, "disk is full"), (30, "read-only")):

        def fail(*_, number=number, **__):
            raise OSError(number, "told by the system")

        with monkeypatch.context() as patch:
            patch.setattr(os, "replace", fail)
            with pytest.raises(InputError, match=words) as caught:
                write_atomic(tmp_path / "a.txt", "x")
        assert caught.value.exit_code == 3
        assert tree(tmp_path) == []


@pytest.mark.parametrize("name", ["a" * 300, "a\0b"])
def test_names_that_no_file_can_have(tmp_path, name):
    for act in (
        lambda: write_atomic(tmp_path / name, "x"),
        lambda: OutputFolder(tmp_path / name).__enter__(),
        lambda: read_text(tmp_path / name),
    ):
        with pytest.raises(InputError):
            act()
    assert tree(tmp_path) == []


def test_folder_for_a_file(tmp_path):
    with pytest.raises(InputError, match="it is a folder"):
        write_atomic(tmp_path, "x", force=True)


def test_folder_appears_whole_and_only_at_the_end(tmp_path):
    with OutputFolder(tmp_path / "deep" / "run") as folder:
        folder.write("pages/a.html", "<p>")
        assert not (tmp_path / "deep" / "run").exists()
        assert folder.target == tmp_path / "deep" / "run"
    assert tree(tmp_path) == ["deep", "deep/run", "deep/run/pages", "deep/run/pages/a.html"]


@pytest.mark.parametrize("error", [ValueError, KeyboardInterrupt, SystemExit])
def test_failed_folder_leaves_nothing(tmp_path, error):
    with pytest.raises(error), OutputFolder(tmp_path / "deep" / "run") as folder:
        folder.write("a.txt", "half")
        raise error
    assert tree(tmp_path) == []


def test_folder_that_exists_is_kept(tmp_path):
    run = tmp_path / "run"
    run.mkdir()
    (run / "thesis.doc").write_text("years of work")
    with pytest.raises(InputError, match="exists and is not overwritten"):
        OutputFolder(run)
    with pytest.raises(InputError, match=r"no manifest\.json.*not replaced even with --force"):
        OutputFolder(run, force=True)
    assert (run / "thesis.doc").read_text() == "years of work"
    with pytest.raises(InputError, match="the output folder is a file"):
        OutputFolder(run / "thesis.doc")


def test_empty_folder_is_taken_and_an_earlier_run_is_replaced_on_request(tmp_path):
    run = tmp_path / "run"
    run.mkdir()
    with OutputFolder(run) as folder:
        folder.write("manifest.json", "{}")
        folder.write("old.txt", "old")
    with OutputFolder(run, force=True) as folder:
        folder.write("manifest.json", "{}")
        folder.write("new.txt", "new")
    assert tree(tmp_path) == ["run", "run/manifest.json", "run/new.txt"]


def test_earlier_run_survives_a_failed_replacement(tmp_path, monkeypatch):
    run = tmp_path / "run"
    with OutputFolder(run) as folder:
        folder.write("manifest.json", "old")
    with pytest.raises(ValueError, match="broken"), OutputFolder(run, force=True) as folder:
        folder.write("manifest.json", "new")
        raise ValueError("broken")
    real = os.rename

    def fail_second(source, target):
        if Path(source).name.endswith(".part"):
            raise OSError(28, "no space left")
        real(source, target)

    monkeypatch.setattr(os, "rename", fail_second)
    with pytest.raises(InputError, match="disk is full"), OutputFolder(run, force=True) as folder:
        folder.write("manifest.json", "new")
    assert (run / "manifest.json").read_text() == "old"
    assert tree(tmp_path) == ["run", "run/manifest.json"]


def test_somebody_who_fills_the_place_meanwhile_loses_nothing(tmp_path):
    with pytest.raises(InputError, match="exists"), OutputFolder(tmp_path / "run") as folder:
        folder.write("a.txt", "ours")
        (tmp_path / "run").mkdir()
        (tmp_path / "run" / "theirs.txt").write_text("theirs")
    assert tree(tmp_path) == ["run", "run/theirs.txt"]


def test_interruption_of_a_real_process_leaves_nothing(tmp_path):
    code = (
        "import sys, time\n"
        "from phenocast.io import OutputFolder\n"
        f"with OutputFolder({str(tmp_path / 'run')!r}) as folder:\n"
        "    folder.write('a.txt', 'half')\n"
        "    print('ready', flush=True)\n"
        "    time.sleep(60)\n"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    )
    assert process.stdout is not None
    assert process.stdout.readline().strip() == b"ready"
    assert tree(tmp_path) != []
    process.send_signal(signal.SIGINT)
    process.wait(timeout=30)
    process.stdout.close()
    time.sleep(0.1)
    assert tree(tmp_path) == []


# ---- tables -------------------------------------------------------------------------------------


@pytest.mark.parametrize("suffix", [".csv", ".parquet", ".CSV"])
def test_table_round_trip_under_its_contract(tmp_path, suffix):
    frame = crown_table()
    place = write_table(frame, tmp_path / f"crown{suffix}", contract=CROWN_TEMPERATURES)
    back = read_table(place, CROWN_TEMPERATURES)
    assert back["time_utc"].tolist() == frame["time_utc"].tolist()
    assert back["block"].tolist() == frame["block"].tolist()
    for name in ("air_c", "crown_c", "canopy_cover"):
        np.testing.assert_allclose(back[name], frame[name], rtol=1e-6)


@pytest.mark.parametrize("suffix", [".csv", ".parquet"])
def test_the_same_table_gives_the_same_bytes(tmp_path, suffix):
    contents = [
        write_table(crown_table(), tmp_path / f"{n}{suffix}", contract=CROWN_TEMPERATURES)
        .read_bytes()
        for n in "ab"
    ]  # fmt: skip
    assert contents[0] == contents[1]


def test_parquet_carries_units_and_utc(tmp_path):
    import pyarrow.parquet as pq

    place = write_table(crown_table(), tmp_path / "a.parquet", contract=CROWN_TEMPERATURES)
    schema = pq.read_schema(place)
    assert schema.field("crown_c").metadata == {b"unit": b"degC"}
    assert schema.field("time_utc").type.tz == "UTC"


def test_other_endings_are_refused_before_any_work(tmp_path):
    for name in ("crown.xlsx", "crown"):
        with pytest.raises(InputError, match=r"\.csv, \.parquet"):
            check_suffix(tmp_path / name)


def test_table_that_breaks_its_contract_is_not_written(tmp_path):
    frame = crown_table().assign(crown_c=150.0)
    with pytest.raises(InputError, match="crown_c"):
        write_table(frame, tmp_path / "a.csv", contract=CROWN_TEMPERATURES)
    assert tree(tmp_path) == []


def test_records_in_other_units_and_their_faults(tmp_path):
    place = tmp_path / "records.csv"
    place.write_text(
        "# comment\nblock;date;marketable_g_per_plant [qx plant-1];fruits_per_plant\n"
        "north;2026-12-14;1,5;2\n"
    )
    with pytest.raises(InputError, match="unknown unit"):
        read_table(place, HARVEST_RECORDS)
    place.write_text(place.read_text().replace("qx plant-1", "lb plant-1").replace("1,5", "0,01"))
    frame = read_table(place, HARVEST_RECORDS)
    assert frame["marketable_g_per_plant"].iloc[0] == pytest.approx(4.5359237)
    assert frame["row"].iloc[0] == 3
    place.write_text("block,date,marketable_g_per_plant\nnorth,2026-12-14,4\n,2026-12-15,-3\n")
    with pytest.raises(InputError) as caught:
        read_table(place, HARVEST_RECORDS)
    assert "records.csv, row 3, column block: a value is missing" in str(caught.value)
    assert "row 3, column marketable_g_per_plant: out of range" in str(caught.value)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("date,covr\n2026-10-05,0.1\n", ["a column is missing", "cover", "did you mean 'cover'"]),
        ("date,cover\n05/10/2026,0.1\n", ["day first or month first"]),
        ("date,cover\n2026-10-05,much\n", ["row 2", "not a number"]),
        ("date,cover\n2026-10-05,40\n", ["row 2", "out of range", "0 to 1"]),
    ],
)
def test_bad_tables_are_refused_plainly(tmp_path, text, words):
    place = tmp_path / "cover.csv"
    place.write_text(text)
    with pytest.raises(InputError) as caught:
        read_table(place, CANOPY_COVER)
    for word in words:
        assert word in str(caught.value)


def test_json_is_the_same_for_the_same_values():
    one = to_json({"b": np.float32(0.1), "a": [np.int64(3), float("nan")], "d": pd.Timestamp(0)})
    two = to_json({"d": pd.Timestamp(0), "a": [3, None], "b": 0.10000000149011612})
    assert one == two
    assert one.endswith("}\n")
    assert to_json({"x": -0.0}) == to_json({"x": 0.0})
    with pytest.raises(TypeError):
        to_json({"x": object()})
