"""What is kept between runs is that of these sources, whole, and never in the package itself."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

import phenocast
from phenocast.cache import KERNEL_LAYERS, cached_table, folder, keep_kernels, kernel_folder

ROOT = Path(__file__).resolve().parents[1]
INNER = "from numba import njit\n@njit(cache=True)\ndef inner(x):\n    return x + {}\n"
OUTER = (
    "from numba import njit\nfrom phenology.inner import inner\n"
    "@njit(cache=True)\ndef outer(x):\n    return inner(x)\n"
)


@pytest.fixture(autouse=True)
def own_folder(monkeypatch, tmp_path):
    monkeypatch.setenv("PHENOCAST_CACHE_DIR", str(tmp_path / "cache"))
    monkeypatch.delenv("NUMBA_CACHE_DIR")
    yield
    keep_kernels(os.path.dirname(phenocast.__file__))


@pytest.fixture
def package(tmp_path):
    package = tmp_path / "package"
    for layer in KERNEL_LAYERS:
        (package / layer).mkdir(parents=True)
    (package / "phenology" / "inner.py").write_text(INNER.format(1))
    (package / "simulation" / "outer.py").write_text(OUTER)
    return package


def answer(package):
    done = subprocess.run(
        [sys.executable, "-c", "from simulation.outer import outer; print(outer(1))"],
        cwd=package, env=os.environ | {"PYTHONPATH": str(package)},
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    return int(done.stdout)


def compiled(package):
    return sorted(kernel_folder(str(package)).rglob("*.nb[ic]"))


def test_a_change_in_a_called_kernel_is_seen(package):
    assert keep_kernels(str(package))
    assert answer(package) == 2
    assert compiled(package)
    (package / "phenology" / "inner.py").write_text(INNER.format(10))
    # What numba alone does; should it ever answer 11, this module has lost its reason.
    assert answer(package) == 2
    keep_kernels(str(package))
    assert compiled(package) == []
    assert answer(package) == 11
    assert not list(package.rglob("*.nb[ic]"))


def test_kernels_of_sources_that_are_gone_are_removed_after_a_month(package):
    keep_kernels(str(package))
    first, second = kernel_folder(str(package)), package / "crown" / "more.py"
    second.touch()
    keep_kernels(str(package))
    assert first.is_dir()
    old = time.time() - 31 * 86400
    os.utime(first, (old, old))
    second.unlink()
    (package / "crown" / "other.py").touch()
    keep_kernels(str(package))
    assert not first.exists()
    assert kernel_folder(str(package)).is_dir()


def test_a_folder_that_the_user_names_for_numba_is_left_to_the_user(package, monkeypatch, tmp_path):
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path / "mine"))
    assert keep_kernels(str(package))
    assert os.environ["NUMBA_CACHE_DIR"] == str(tmp_path / "mine")


def test_every_compiled_kernel_lives_in_a_watched_layer():
    found = {
        path.relative_to(ROOT / "phenocast").parts[0]
        for path in (ROOT / "phenocast").rglob("*.py")
        if "@njit" in path.read_text(encoding="utf-8")
    }
    assert found <= set(KERNEL_LAYERS)


def test_where_no_cache_can_be_written_kernels_are_compiled_in_a_folder_that_goes_again(tmp_path):
    """A home that is a file cannot be written by root either."""
    (tmp_path / "blocked").write_text("")
    code = (
        "import os, phenocast\n"
        "from phenocast.cli.running import patient_note\n"
        "import phenocast.cli.running as running\n"
        "running.PATIENCE_S = 0.0\n"
        "place = os.environ['NUMBA_CACHE_DIR']\n"
        "with patient_note():\n    import time; time.sleep(0.5)\n"
        "print(phenocast.KERNELS_KEPT, os.path.isdir(place), place)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True,
        env={**os.environ, "PHENOCAST_CACHE_DIR": str(tmp_path / "blocked" / "cache")},
    )  # fmt: skip
    kept, there, place = done.stdout.split(maxsplit=2)
    assert (kept, there) == ("False", "True")
    assert not os.path.exists(place.strip())
    assert done.stderr.count("name another folder by PHENOCAST_CACHE_DIR") == 1


@pytest.fixture
def source(tmp_path):
    path = tmp_path / "maker.py"
    path.write_text("1")
    return path


def ask(source, value, key=(1.5, "a"), shape=(3,)):
    return cached_table(
        "tried",
        shape,
        key,
        made_by=["numpy"],
        source=str(source),
        make=lambda: np.full(shape, float(value)),
    )


def files():
    return sorted((folder() / "tables").iterdir())


def test_a_table_is_made_once(source):
    assert ask(source, 1.0).tolist() == [1.0] * 3
    assert ask(source, 2.0).tolist() == [1.0] * 3
    assert [path.suffix for path in files()] == [".table"]


def test_what_is_returned_cannot_be_changed(source):
    for _ in range(2):
        with pytest.raises(ValueError, match="read-only"):
            ask(source, 1.0)[0] = 5.0


def test_another_key_is_another_table(source):
    ask(source, 1.0)
    assert ask(source, 2.0, key=(1.5, "b")).tolist() == [2.0] * 3


def test_changed_code_makes_it_anew(source):
    ask(source, 1.0)
    source.write_text("22")
    assert ask(source, 2.0).tolist() == [2.0] * 3


DAMAGE = {
    "empty": lambda content: b"",
    "cut": lambda content: content[:-8],
    "longer": lambda content: content + b"\0" * 8,
    "another table": lambda content: content[:-1] + b"\x40",
    "one bit": lambda content: content[:20] + bytes([content[20] ^ 1]) + content[21:],
    "checksum": lambda content: b"\0" * 16 + content[16:],
}


@pytest.mark.parametrize("damage", DAMAGE.values(), ids=DAMAGE)
def test_a_damaged_table_is_made_anew(source, damage):
    ask(source, 1.0)
    (path,) = files()
    path.write_bytes(damage(path.read_bytes()))
    assert ask(source, 2.0).tolist() == [2.0] * 3
    assert ask(source, 3.0).tolist() == [2.0] * 3


@pytest.mark.parametrize("other", ["pipe", "folder"])
def test_what_is_no_file_is_not_waited_for(source, other):
    ask(source, 1.0)
    (path,) = files()
    path.unlink()
    os.mkfifo(path) if other == "pipe" else path.mkdir()
    assert ask(source, 2.0).tolist() == [2.0] * 3
    shutil.rmtree(path, ignore_errors=True)


def test_where_nothing_can_be_kept_it_is_made_each_time(source, monkeypatch, tmp_path):
    blocked = tmp_path / "a file"
    blocked.write_text("")
    monkeypatch.setenv("PHENOCAST_CACHE_DIR", str(blocked))
    assert ask(source, 1.0).tolist() == [1.0] * 3
    assert ask(source, 2.0).tolist() == [2.0] * 3


def test_a_forecast_that_has_kept_the_sun_loads_neither_pvlib_nor_scipy_special(tmp_path):
    """The reason why tables are kept; another process, for this one has loaded everything."""
    code = (
        "import sys\n"
        "import numpy as np\n"
        "import phenocast.forecast.run, phenocast.io.weather.clock\n"
        "from phenocast.season.site import Site\n"
        "from phenocast.thermal_time import photoperiod_h\n"
        "from phenocast.weather.sun import clear_sky_w_m2\n"
        "site = Site('Low Quay', 29.3, -15.6, 35.0, 'Atlantic/Canary')\n"
        "noon = np.array(['2026-06-21T13'], dtype='datetime64[h]')\n"
        "print(round(float(clear_sky_w_m2(noon, site)[0]), 3),\n"
        "      round(float(photoperiod_h('2026-06-21', 29.3, 0.0)), 6),\n"
        "      sorted({'pvlib', 'scipy.special'} & set(sys.modules)))\n"
    )
    told = [
        subprocess.run(
            [sys.executable, "-c", code],
            capture_output=True,
            text=True,
            check=True,
            env={**os.environ, "PHENOCAST_CACHE_DIR": str(tmp_path)},
        ).stdout
        for _ in range(2)
    ]
    assert told[0].endswith("['pvlib', 'scipy.special']\n")
    assert told[1].endswith("[]\n")
    assert told[0].split("[")[0] == told[1].split("[")[0]
