"""A remembered table is the one that was made, whole, of this code, or made anew."""

from __future__ import annotations

import os
import subprocess
import sys

import numpy as np
import pytest

from phenocast.remembered import folder, remembered


@pytest.fixture(autouse=True)
def own_folder(monkeypatch, tmp_path):
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path))


@pytest.fixture
def source(tmp_path):
    path = tmp_path / "maker.py"
    path.write_text("1")
    return path


def ask(source, value, key=(1.5, "a"), shape=(3,)):
    return remembered(
        "tried", shape, key, made_by=["numpy"], source=str(source),
        make=lambda: np.full(shape, float(value)),
    )


def files():
    return sorted(folder().iterdir())


def test_a_table_is_made_once(source):
    assert ask(source, 1.0).tolist() == [1.0] * 3
    assert ask(source, 2.0).tolist() == [1.0] * 3
    assert [path.suffix for path in files()] == [".npy"]


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


@pytest.mark.parametrize(
    "content", [b"", b"\x93NUMPY", b"not a table", None], ids=["empty", "cut", "odd", "half"]
)
def test_a_damaged_file_is_replaced(source, content):
    ask(source, 1.0)
    (path,) = files()
    path.write_bytes(path.read_bytes()[:-8] if content is None else content)
    assert ask(source, 2.0).tolist() == [2.0] * 3
    assert ask(source, 3.0).tolist() == [2.0] * 3


@pytest.mark.parametrize(
    "wrong",
    [np.zeros(4), np.zeros(3, dtype=np.float32), np.array([0.0, np.nan, 0.0])],
    ids=["shape", "type", "not finite"],
)
def test_a_table_that_cannot_be_is_replaced(source, wrong):
    ask(source, 1.0)
    (path,) = files()
    np.save(path, wrong)
    assert ask(source, 2.0).tolist() == [2.0] * 3


def test_where_nothing_can_be_kept_it_is_made_each_time(source, monkeypatch, tmp_path):
    blocked = tmp_path / "a file"
    blocked.write_text("")
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(blocked))
    assert ask(source, 1.0).tolist() == [1.0] * 3
    assert ask(source, 2.0).tolist() == [2.0] * 3


def test_a_forecast_that_remembers_the_sun_loads_neither_pvlib_nor_scipy_special(tmp_path):
    """The reason why tables are kept; another process, for this one has loaded everything."""
    code = (
        "import sys\n"
        "import numpy as np\n"
        "import phenocast.forecast.run, phenocast.io.clock\n"
        "from phenocast.season.site import Site\n"
        "from phenocast.thermal_time import photoperiod_h\n"
        "from phenocast.weather.solar import clear_sky_w_m2\n"
        "site = Site('Low Quay', 29.3, -15.6, 35.0, 'Atlantic/Canary')\n"
        "noon = np.array(['2026-06-21T13'], dtype='datetime64[h]')\n"
        "print(round(float(clear_sky_w_m2(noon, site)[0]), 3),\n"
        "      round(float(photoperiod_h('2026-06-21', 29.3, 0.0)), 6),\n"
        "      sorted({'pvlib', 'scipy.special'} & set(sys.modules)))\n"
    )
    told = [
        subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=True,
            env={**os.environ, "NUMBA_CACHE_DIR": str(tmp_path)},
        ).stdout
        for _ in range(2)
    ]
    assert told[0].endswith("['pvlib', 'scipy.special']\n")
    assert told[1].endswith("[]\n")
    assert told[0].split("[")[0] == told[1].split("[")[0]
