"""Output is whole or not there, whatever happens, and nothing that exists is lost."""
# ruff: noqa: PT012 - what is raised inside a folder that is being built is the point here

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from phenocast.errors import InputError
from phenocast.io import (
    TEMPLATE_NAMES,
    OutputFolder,
    read_text,
    template,
    write_atomic,
    write_manifest,
    write_table,
)
from phenocast.io.output.fit_folder import checkpoint
from phenocast.tables import CROWN_TEMPERATURES

PAGE = '<!doctype html>\n<meta name="generator" content="phenocast 0.1.0">\n'


def tree(folder):
    return sorted(p.relative_to(folder).as_posix() for p in Path(folder).rglob("*"))


def earlier_run(run, **files):
    """Write a folder of results with its manifest."""
    with OutputFolder(run) as folder:
        for name, text in files.items():
            folder.write(name, text)
        write_manifest(folder, "trial", options={})


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
    place = tmp_path / "a.html"
    place.write_text(PAGE)
    with pytest.raises(InputError, match=r"exists and is not overwritten.*--force"):
        write_atomic(place, "new")
    assert place.read_text() == PAGE
    write_atomic(place, "new", force=True)
    assert place.read_text() == "new"
    assert tree(tmp_path) == ["a.html"]


def test_file_of_somebody_else_is_kept_even_where_forced(tmp_path):
    place = tmp_path / "a.txt"
    for text in ("mine", "<!doctype html>\n<title>mine</title>", "block,time_utc,air_c\n", "PAR1"):
        place.write_text(text)
        with pytest.raises(InputError, match="no mark of phenocast"):
            write_atomic(place, "new", force=True)
        assert place.read_text() == text


def test_what_a_run_writes_is_known_again_until_it_is_changed(tmp_path):
    for suffix in (".csv", ".parquet"):
        place = write_table(crown_table(), tmp_path / f"a{suffix}", contract=CROWN_TEMPERATURES)
        before = place.read_bytes()
        write_table(crown_table(5), place, contract=CROWN_TEMPERATURES, force=True)
        assert place.read_bytes() != before
    pd.DataFrame({"mine": [1]}).to_parquet(tmp_path / "mine.parquet")
    with pytest.raises(InputError, match="no mark"):
        write_table(crown_table(), tmp_path / "mine.parquet", force=True)
    for name in TEMPLATE_NAMES:
        place = write_atomic(tmp_path / name, template(name))
        write_atomic(place, template(name), force=True)
        place.write_text(place.read_text() + "filled in\n")
        with pytest.raises(InputError, match="no mark"):
            write_atomic(place, template(name), force=True)
    (tmp_path / "empty").touch()
    write_atomic(tmp_path / "empty", "new", force=True)


def test_a_link_stays_a_link_and_what_it_leads_to_is_replaced(tmp_path):
    (tmp_path / "page.html").write_text(PAGE)
    (tmp_path / "link").symlink_to(tmp_path / "page.html")
    write_atomic(tmp_path / "link", "new", force=True)
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "page.html").read_text() == "new"


@pytest.mark.parametrize("error", [ValueError, KeyboardInterrupt, SystemExit, OSError])
def test_failed_file_leaves_nothing_and_loses_nothing(tmp_path, error):
    place = tmp_path / "a.txt"
    place.write_text(PAGE)

    def half(temporary):
        temporary.write_text("half")
        raise error

    expected = InputError if error is OSError else error
    with pytest.raises(expected):
        write_atomic(place, half, force=True)
    assert place.read_text() == PAGE
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
    earlier_run(run, old="old", **{"pages/a.html": "<p>"})
    with OutputFolder(run, force=True) as folder:
        folder.write("new.txt", "new")
        write_manifest(folder, "trial", options={})
    assert tree(tmp_path) == ["run", "run/manifest.json", "run/new.txt"]


def to_a_note(run):
    (run / "note.txt").write_text("mine")
    return "note.txt"


def to_a_change(run):
    (run / "old").write_text("old, and what I thought of it")
    return r"old \(changed since\)"


def to_a_folder(run):
    (run / "photos").mkdir()
    return "photos/"


def to_a_file_below(run):
    (run / "pages" / "b.html").write_text("mine")
    return "pages/b.html"


def to_a_link(run):
    (run / "old").unlink()
    (run / "old").symlink_to(run / "pages" / "a.html")
    return r"old \(changed since\)"


def to_a_damaged_manifest(run):
    text = (run / "manifest.json").read_text()
    (run / "manifest.json").write_text(text[: len(text) // 2])
    return "cannot be read as JSON"


def to_an_older_manifest(run):
    text = (run / "manifest.json").read_text()
    (run / "manifest.json").write_text(text.replace('"schema_version": 1', '"schema_version": 0'))
    return "another version"


@pytest.mark.parametrize("change", [
    to_a_note, to_a_change, to_a_folder, to_a_file_below, to_a_link, to_a_damaged_manifest,
    to_an_older_manifest,
])  # fmt: skip
def test_a_folder_with_anything_of_the_user_is_not_replaced(tmp_path, change):
    run = tmp_path / "run"
    earlier_run(run, old="old", **{"pages/a.html": "<p>"})
    words = change(run)
    before = {name: (run / name).read_bytes() for name in tree(run) if (run / name).is_file()}
    with pytest.raises(InputError, match=f"not replaced even with --force.*{words}"):
        OutputFolder(run, force=True)
    assert {name: (run / name).read_bytes() for name in before} == before


def test_what_is_in_the_way_is_listed_up_to_twenty(tmp_path):
    run = tmp_path / "run"
    earlier_run(run)
    for number in range(33):
        (run / f"note {number:02}").touch()
    with pytest.raises(InputError, match="note 19 and 13 more") as caught:
        OutputFolder(run, force=True)
    assert "note 20" not in str(caught.value)


def test_a_note_that_comes_while_the_work_goes_on_is_kept(tmp_path):
    run = tmp_path / "run"
    earlier_run(run, old="old")
    with pytest.raises(InputError, match="late"), OutputFolder(run, force=True):
        (run / "late").write_text("mine")
    assert tree(tmp_path) == ["run", "run/late", "run/manifest.json", "run/old"]


# ---- what killed runs leave ---------------------------------------------------------------------


@pytest.fixture
def gone():
    """Give the number of a process that has ended."""
    process = subprocess.Popen([sys.executable, "-c", ""])
    process.wait()
    return process.pid


def test_left_overs_of_processes_that_are_gone_are_removed(tmp_path, gone):
    from phenocast.io.output.folder import _beside

    host = _beside(tmp_path / "run", "part").name.split("-", 1)[1].removesuffix(".part")
    kept = [f".run.{os.getppid()}.part", f".run.{gone}-another{host}.part", ".run.notes.part",
            f".running.{gone}.part"]  # fmt: skip
    left = [f".run.{gone}.part", f".run.{gone}-{host}.part", f".run.{os.getpid()}.part"]
    for name in (*kept, *left):
        (tmp_path / name).mkdir()
        (tmp_path / name / "a.txt").write_text("half")
    with OutputFolder(tmp_path / "run") as folder:
        folder.write("b.txt", "whole")
    assert sorted(one.name for one in tmp_path.iterdir()) == sorted([*kept, "run"])
    assert tree(tmp_path / "run") == ["b.txt"]
    (tmp_path / f".run.{gone}.old").mkdir()
    (tmp_path / f".page.{gone}.part").write_text("half")
    write_atomic(tmp_path / "page", "whole")
    with pytest.raises(InputError, match="not overwritten"):
        OutputFolder(tmp_path / "run")
    assert sorted(one.name for one in tmp_path.iterdir()) == sorted([*kept, "page", "run"])


def test_a_result_that_was_set_aside_is_put_back(tmp_path, gone):
    run = tmp_path / "run"
    earlier_run(run, old="old")
    before = (run / "manifest.json").read_bytes()
    run.rename(tmp_path / f".run.{gone}.old")
    with pytest.raises(InputError, match="not overwritten"):
        OutputFolder(run)
    assert tree(tmp_path) == ["run", "run/manifest.json", "run/old"]
    assert (run / "manifest.json").read_bytes() == before


def test_a_killed_run_leaves_nothing_once_there_is_another(tmp_path):
    code = (
        "import os, signal\n"
        "from phenocast.io import OutputFolder\n"
        f"with OutputFolder({str(tmp_path / 'run')!r}) as folder:\n"
        "    folder.write('a.txt', 'half')\n"
        "    os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    subprocess.run([sys.executable, "-c", code], check=False)
    assert any(name.endswith(".part") for name in tree(tmp_path))
    with OutputFolder(tmp_path / "run") as folder:
        folder.write("a.txt", "whole")
    assert tree(tmp_path) == ["run", "run/a.txt"]


# ---- checkpoints and full disks -----------------------------------------------------------------


def steps_taken(tmp_path, names):
    """Run the steps of a fit; return those that were taken over from its checkpoint."""
    with checkpoint(tmp_path / "fit", [], {}) as steps:
        taken = sorted(steps.found)
        for name in names:
            steps.step(name, lambda name=name: {"of": name})
        raise InterruptedError(",".join(taken))


def interrupted(tmp_path, *names):
    with pytest.raises(InterruptedError) as caught:
        steps_taken(tmp_path, names)
    return [name for name in str(caught.value).split(",") if name]


@pytest.mark.parametrize("damage", [
    lambda content: content[:-9],
    lambda content: content[:-1],
    lambda content: content + b"\x00\xff",
    lambda content: content[:-9] + b"7" + content[-8:],
], ids=["torn", "no end", "trash", "another number"])  # fmt: skip
def test_a_damaged_line_is_cut_off_and_later_steps_are_kept(tmp_path, damage):
    mark = tmp_path / ".fit.checkpoint.jsonl"
    assert interrupted(tmp_path, "a", "b") == []
    whole = mark.read_bytes()
    mark.write_bytes(damage(whole))
    first = interrupted(tmp_path, "a", "b", "c", "d")
    assert first in (["a"], ["a", "b"])
    assert interrupted(tmp_path) == ["a", "b", "c", "d"]
    assert mark.read_bytes().startswith(whole)


def test_the_checkpoint_of_another_fit_is_put_away(tmp_path):
    interrupted(tmp_path, "a")
    with checkpoint(tmp_path / "fit", [], {"robust": True}) as steps:
        assert steps.found == {}
    assert tree(tmp_path) == []


@contextmanager
def small_files():
    """No file may grow beyond some bytes, as on a disk that is full.

    The limit holds for what pytest itself writes too, so it stands around the writing alone.
    """
    resource = pytest.importorskip("resource")
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (300, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def test_a_checkpoint_that_the_disk_has_no_room_for_is_named(tmp_path):
    told = r"\.fit\.checkpoint\.jsonl: a limit on the use"
    with pytest.raises(InputError, match=told), small_files():
        interrupted(tmp_path, "a", "b", "c", "d")


def test_results_that_the_disk_has_no_room_for_are_named_as_the_user_knows_them(tmp_path):
    run = tmp_path / "run"
    for name in ("draws.parquet", "draws.csv"):
        with (
            pytest.raises(InputError, match=f"{run}/{name}: a limit on the use of the disk"),
            small_files(),
            OutputFolder(run) as folder,
        ):
            write_table(crown_table(), folder.path / name)
        assert tree(tmp_path) == []


def test_earlier_run_survives_a_failed_replacement(tmp_path, monkeypatch):
    run = tmp_path / "run"
    earlier_run(run)
    before = (run / "manifest.json").read_bytes()
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
    assert (run / "manifest.json").read_bytes() == before
    assert tree(tmp_path) == ["run", "run/manifest.json"]


def test_somebody_who_fills_the_place_meanwhile_loses_nothing(tmp_path):
    with pytest.raises(InputError, match="exists"), OutputFolder(tmp_path / "run") as folder:
        folder.write("a.txt", "ours")
        (tmp_path / "run").mkdir()
        (tmp_path / "run" / "theirs.txt").write_text("theirs")
    assert tree(tmp_path) == ["run", "run/theirs.txt"]


def test_interruption_of_a_real_process_leaves_nothing(tmp_path):
    code = (
        "import signal, sys, time\n"
        # a shell that put the tests into the background has them ignore it
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
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
    process.wait(timeout=600)
    process.stdout.close()
    time.sleep(0.1)
    assert tree(tmp_path) == []


# ---- tables -------------------------------------------------------------------------------------
