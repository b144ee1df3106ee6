"""A changed kernel is compiled again, also where only a kernel that calls it is cached."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from phenocast.compiled import KERNEL_LAYERS, discard_stale_kernels

ROOT = Path(__file__).resolve().parents[1]
INNER = "from numba import njit\n@njit(cache=True)\ndef inner(x):\n    return x + {}\n"
OUTER = (
    "from numba import njit\nfrom phenology.inner import inner\n"
    "@njit(cache=True)\ndef outer(x):\n    return inner(x)\n"
)


@pytest.fixture
def package(tmp_path):
    (tmp_path / "pyproject.toml").write_text("")
    package = tmp_path / "package"
    for layer in KERNEL_LAYERS:
        (package / layer).mkdir(parents=True)
    (package / "phenology" / "inner.py").write_text(INNER.format(1))
    (package / "simulation" / "outer.py").write_text(OUTER)
    return package


def answer(package):
    environment = {k: v for k, v in os.environ.items() if k != "NUMBA_CACHE_DIR"}
    done = subprocess.run(
        [sys.executable, "-c", "from simulation.outer import outer; print(outer(1))"],
        cwd=package, env=environment | {"PYTHONPATH": str(package)},
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    return int(done.stdout)


def compiled(package):
    return sorted(package.rglob("*.nb[ic]"))


def test_a_change_in_a_called_kernel_is_seen(package):
    discard_stale_kernels(str(package))
    assert answer(package) == 2
    (package / "phenology" / "inner.py").write_text(INNER.format(10))
    # What numba alone does; should it ever answer 11, this module has lost its reason.
    assert answer(package) == 2
    assert discard_stale_kernels(str(package)) > 0
    assert compiled(package) == []
    assert answer(package) == 11


def test_kernels_that_did_not_change_are_kept(package):
    discard_stale_kernels(str(package))
    answer(package)
    kept = compiled(package)
    assert kept
    assert discard_stale_kernels(str(package)) == 0
    assert compiled(package) == kept


def test_a_new_and_a_removed_source_count_as_changes(package):
    discard_stale_kernels(str(package))
    for change in (Path.touch, Path.unlink):
        cache = package / "crown" / "__pycache__"
        cache.mkdir(exist_ok=True)
        (cache / "old.nbi").write_bytes(b"")
        change(package / "crown" / "more.py")
        assert discard_stale_kernels(str(package)) == 1


def test_an_installed_package_is_left_alone(package):
    (package.parent / "pyproject.toml").unlink()
    cache = package / "crown" / "__pycache__"
    cache.mkdir()
    (cache / "old.nbi").write_bytes(b"")
    assert discard_stale_kernels(str(package)) == 0
    assert len(compiled(package)) == 1


def test_every_compiled_kernel_lives_in_a_watched_layer():
    found = {
        path.relative_to(ROOT / "phenocast").parts[0]
        for path in (ROOT / "phenocast").rglob("*.py")
        if "@njit" in path.read_text(encoding="utf-8")
    }
    assert found <= set(KERNEL_LAYERS)
