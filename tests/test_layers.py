"""The layers of the chain hold: nothing imports from a layer above its own."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
HEAVY = ("numpy", "pandas", "scipy", "numba", "pvlib", "matplotlib", "sklearn", "pydantic")


def test_layer_contract_is_kept() -> None:
    from importlinter.application.use_cases import lint_imports
    from importlinter.cli import EXIT_STATUS_SUCCESS

    assert EXIT_STATUS_SUCCESS == 0
    assert lint_imports(config_filename=str(ROOT / "pyproject.toml"), cache_dir=None)


def test_layer_contract_names_every_package() -> None:
    import tomllib

    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    (contract,) = settings["tool"]["importlinter"]["contracts"]
    named = {
        name.strip() for row in contract["layers"] for name in row.replace(":", "|").split("|")
    }
    found = {path.stem for path in (ROOT / "phenocast").glob("*.py")} - {"__init__"}
    found |= {path.parent.name for path in (ROOT / "phenocast").glob("*/__init__.py")}
    assert contract["exhaustive"] is True
    assert named == found


def test_importing_the_package_loads_nothing_heavy() -> None:
    code = (
        "import sys, phenocast, phenocast.errors; "
        f"print([name for name in {HEAVY!r} if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT
    )
    assert done.stdout.strip() == "[]"


def test_every_layer_is_reached_from_the_package_by_name() -> None:
    import phenocast

    assert phenocast.units.convert(0.0, "degC", "degF") == 32.0
    assert "weather" in dir(phenocast)
    assert not hasattr(phenocast, "no_such_layer")


def test_no_module_is_longer_than_500_lines() -> None:
    lengths = {
        str(path.relative_to(ROOT)): len(path.read_text(encoding="utf-8").splitlines())
        for path in (ROOT / "phenocast").rglob("*.py")
    }
    assert {name: n for name, n in lengths.items() if n > 500} == {}


def test_the_model_never_opens_files_or_reads_a_clock() -> None:
    import ast

    pure = ("weather", "crown", "thermal_time", "phenology", "harvest", "simulation", "forecast",
            "calibration", "trials", "planning", "verification")  # fmt: skip
    banned_names = {"open", "print", "input"}
    banned_calls = {
        ("datetime", "now"), ("datetime", "utcnow"), ("date", "today"), ("time", "time"),
        ("np", "loadtxt"), ("pd", "read_csv"), ("pd", "read_parquet"),
    }  # fmt: skip
    found = []
    for layer in pure:
        for path in (ROOT / "phenocast" / layer).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if not isinstance(node, ast.Call):
                    continue
                called = node.func
                if isinstance(called, ast.Name) and called.id in banned_names:
                    found.append((path.name, node.lineno, called.id))
                if isinstance(called, ast.Attribute):
                    value = called.value
                    owner = (
                        value.attr if isinstance(value, ast.Attribute) else getattr(value, "id", "")
                    )
                    seeded = called.attr in {"default_rng", "Generator", "SeedSequence", "PCG64"}
                    if (owner, called.attr) in banned_calls or (owner == "random" and not seeded):
                        found.append((path.name, node.lineno, f"{owner}.{called.attr}"))
    assert found == []
