"""Every public function and class is reached from a command, or is kept for those who import it."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "phenocast"

# Kept although no command calls them: for those who work in Python, and for commands to come.
FOR_RESEARCHERS = {
    "phenocast.calibration.events.EventModel",
    "phenocast.calibration.events.event_table",
    "phenocast.harvest.season.grow",
    "phenocast.io.season_file.season_from_frames",
    "phenocast.io.season_file.read_transplants",
    "phenocast.io.weather.read.read_weather",
    "phenocast.parameters.library.references",
    "phenocast.phenology.chamber.chamber_days",
    "phenocast.simulation.block_season.simulate_block",
    "phenocast.thermal_time.accumulation.chill_hours",
    "phenocast.thermal_time.degree_days.degree_days",
    "phenocast.thermal_time.degree_days.degree_hours",
    "phenocast.thermal_time.responses.yan_hunt",
    "phenocast.thermal_time.responses.yin_beta",
    "phenocast.thermal_time.degree_days.degree_hours_above",
    "phenocast.thermal_time.degree_days.hours_above",
    "phenocast.trials.blocks.analyse_blocks",
    "phenocast.trials.layout.block_plots",
    "phenocast.verification.scores.coverage",
    "phenocast.weather.hourly.constant_weather",
    "phenocast.weather.sun.photoperiod_h",
}


def modules(package: Path) -> dict[str, ast.Module]:
    found = {}
    for path in sorted(package.rglob("*.py")):
        parts = path.relative_to(package.parent).with_suffix("").parts
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        found[name] = ast.parse(path.read_text(encoding="utf-8"))
    return found


def imported(tree: ast.AST, package: str) -> dict[str, str]:
    """Names that a module imports from the package, and the whole name of what each stands for."""
    found = {package: package}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == package:
            found |= {one.asname or one.name: f"{node.module}.{one.name}" for one in node.names}
        elif isinstance(node, ast.Import):
            found |= {one.asname: one.name for one in node.names if one.asname}
    return found


def dotted(node: ast.expr) -> str:
    """``a.b.c`` of such an expression, empty of any other."""
    if isinstance(node, ast.Name):
        return node.id
    if isinstance(node, ast.Attribute) and (owner := dotted(node.value)):
        return f"{owner}.{node.attr}"
    return ""


def unreached(package: Path, kept: set[str]) -> list[str]:
    """Public functions and classes that nothing reaches which runs or is kept."""
    trees = modules(package)
    aliases = {name: imported(tree, package.name) for name, tree in trees.items()}
    defined = {
        f"{name}.{node.name}": node
        for name, tree in trees.items()
        for node in tree.body
        if isinstance(node, ast.FunctionDef | ast.ClassDef)
    }

    def home(name: str) -> str:
        """Where a name that a package hands on is defined."""
        module, _, last = name.rpartition(".")
        while name not in defined and last in aliases.get(module, {}):
            name = aliases[module][last]
            module, _, last = name.rpartition(".")
        return name

    def names(module: str, node: ast.AST) -> Iterator[str]:
        for one in ast.walk(node):
            if isinstance(one, ast.Name | ast.Attribute) and (name := dotted(one)):
                first, _, rest = name.partition(".")
                whole = aliases[module].get(first, f"{module}.{first}")
                yield home(f"{whole}.{rest}" if rest else whole)

    todo = [name for name in defined if name in kept or ".cli.commands." in name]
    for module, tree in trees.items():
        for node in tree.body:
            if not isinstance(node, ast.FunctionDef | ast.ClassDef):
                todo += names(module, node)
    reached: set[str] = set()
    while todo:
        name = todo.pop()
        if name in defined and name not in reached:
            reached.add(name)
            todo += names(name.rpartition(".")[0], defined[name])
    return sorted(
        name for name in defined.keys() - reached if not name.rpartition(".")[2].startswith("_")
    )


def test_nothing_is_unused() -> None:
    assert unreached(PACKAGE, FOR_RESEARCHERS) == []


def test_what_is_kept_for_researchers_is_there_and_reached_by_no_command() -> None:
    assert set(unreached(PACKAGE, set())) >= FOR_RESEARCHERS


def test_an_unused_function_would_be_found(tmp_path: Path) -> None:
    package = tmp_path / "house"
    (package / "cli" / "commands").mkdir(parents=True)
    (package / "cli" / "commands" / "run.py").write_text(
        "def command():\n    from house import rooms as r\n    r.used()\n", encoding="utf-8"
    )
    (package / "__init__.py").write_text("from house.rooms import used, handed_on\n")
    (package / "rooms.py").write_text(
        "def used():\n    deeper()\n\n\ndef deeper():\n    ...\n\n\ndef kept():\n    ...\n\n\n"
        "def handed_on():\n    unused()\n\n\ndef unused():\n    handed_on()\n"
    )
    kept = {"house.rooms.kept"}
    assert unreached(package, kept) == ["house.rooms.handed_on", "house.rooms.unused"]
