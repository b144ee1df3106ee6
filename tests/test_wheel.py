"""An installed wheel finds the shipped numbers and weather inside itself."""

from __future__ import annotations

import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="module")
def unpacked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Unpack the wheel, built without a network, as an installer would."""
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)],
        cwd=ROOT, check=True, capture_output=True,
    )  # fmt: skip
    (wheel,) = folder.glob("*.whl")
    with zipfile.ZipFile(wheel) as packed:
        packed.extractall(folder / "site")
    return folder / "site"


def test_the_wheel_carries_every_shipped_file(unpacked: Path) -> None:
    for home in ("calibration", "demo_weather"):
        tracked = subprocess.run(
            ["git", "ls-files", home], cwd=ROOT, capture_output=True, text=True, check=False
        ).stdout.split("\n")
        wanted = [name for name in tracked if name and (ROOT / name).exists()]
        wanted = wanted or [str(p.relative_to(ROOT)) for p in (ROOT / home).glob("*.*")]
        absent = [name for name in wanted if not (unpacked / "phenocast/_data" / name).exists()]
        assert absent == []
        assert len(wanted) > 3
    assert (unpacked / "phenocast" / "py.typed").exists()
    for part in ("strings/en.toml", "strings/es.toml", "frame/page.html", "frame/style.css"):
        assert (unpacked / "phenocast" / "report" / part).exists()
    for guide in ("users.md", "python.md", "methods.md", "tables.md"):
        shipped = (unpacked / "phenocast" / "guides" / guide).read_bytes()
        assert shipped == (ROOT / "phenocast" / "guides" / guide).read_bytes()
    schemas = ROOT / "phenocast" / "schemas"
    assert sorted(one.name for one in (unpacked / "phenocast" / "schemas").iterdir()) == sorted(
        one.name for one in schemas.iterdir()
    )
    assert not (unpacked / "tests").exists()


def test_a_film_is_found_from_the_unpacked_wheel(unpacked: Path, tmp_path: Path) -> None:
    code = (
        "from phenocast.parameters import films, shipped; import phenocast; "
        "print(phenocast.__file__); print(shipped('calibration', 'films.toml')); "
        "print(films()['black'].value('solar_reflectance'))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=tmp_path,
        env={"PYTHONPATH": str(unpacked), "PATH": ""},
    )  # fmt: skip
    package, file, value = done.stdout.split("\n")[:3]
    assert Path(package).is_relative_to(unpacked)
    assert Path(file).is_relative_to(unpacked)
    assert 0.0 < float(value) < 0.2
