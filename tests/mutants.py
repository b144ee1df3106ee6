"""Small changes of the equations, and whether the tests of their layer notice them.

Run by hand, never by CI: ``python -m tests.mutants --mutants 200 --seed 1``. Each mutant changes
one place of one module in a copy of the tree. The hand-worked tests of the layer run first,
uncompiled; where they pass, its published and property tests follow. Frozen figures do not count.
A mutant that runs into the time limit counts as killed. Survivors are printed, and written to
``--out``.

Not changed: what refuses input (``raise``, `Fault`, names with "check" or "require"), text, types,
decorators; modules that hold no equation (`NO_EQUATION`).
"""

from __future__ import annotations

import argparse
import ast
import copy
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PUBLISHED, PROPERTIES, PLANNING = (
    "tests/published/test_",
    "tests/properties/test_",
    "tests/planning/",
)


@dataclass(frozen=True)
class Layer:
    """Tests of a layer beside its hand-worked ones, and whether they are quicker compiled."""

    published: str
    properties: str = ""
    compiled: bool = False

    def tests(self) -> list[str]:
        found = [f"{PUBLISHED}{name}.py" for name in self.published.split()]
        return found + self.properties.split()


LAYERS = {
    "thermal_time": Layer(
        "wang_engel1998 yin1995 yan_hunt1999 degree_day_cases mcmaster_wilhelm1997 "
        "spa_day_lengths forsythe1995",
        f"{PROPERTIES}thermal_time_properties.py",
    ),
    "crown": Layer(
        "brutsaert_1975 campbell_1985 campbell_norman_1998 psychrometric_wet_bulb "
        "steady_film_balance pvlib_faiman conduction_analytic",
        f"{PROPERTIES}crown_limits.py tests/crown/test_frost_water.py",  # rates of a table
        compiled=True,
    ),
    "phenology": Layer(
        "heide1977 initiation_treatments durner1984 nishiyama2002 sonsteby_heide2006 "
        "sonsteby_heide2009_everbearing sonsteby_heide2009_nights kruger2012",
        f"{PROPERTIES}biology.py tests/vector/test_ops.py",
        compiled=True,
    ),
    "harvest": Layer(
        "korona_flush kruger2012 ledesma2008 menzel_smith2011 miura1994 wagstaffe_battey2006",
        f"{PROPERTIES}biology.py",
        compiled=True,
    ),
    "simulation": Layer(
        "common_practice_timing akihime_rootzone",
        "tests/simulation/test_engine.py",  # a block is its plants grown one by one
        compiled=True,
    ),
    "verification": Layer("forecast_scores", compiled=True),  # a library it uses must be
    "planning": Layer(
        "crew_instance birge_louveaux_farmer brode_2018_work_capacity "
        "nws_heat_index niosh_2016_heat overtime_notice tray_weights thermofeel_wbgt",
        " ".join(
            f"{PLANNING}test_{name}.py"
            for name in (
                "picking",
                "crew_rules",
                "crew_plan",
                "crew_heat",
                "heat_weeks",
                "scenarios",
                "choice",
                "price_tilt",
                "prices",
            )
        ),
    ),
    "units": Layer("", f"tests/test_units.py {PROPERTIES}units.py"),
}
NO_EQUATION = {
    # documents, tables and texts
    "document", "digest", "cautions", "stated", "plan",
}  # fmt: skip

FLIPPED = {
    ast.Lt: ast.Gt, ast.Gt: ast.Lt, ast.LtE: ast.GtE, ast.GtE: ast.LtE, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
}  # fmt: skip
SWAPPED = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult}


@dataclass(frozen=True)
class Mutant:
    layer: str
    path: Path
    place: int
    kind: str
    line: int
    before: str
    after: str
    new: ast.AST

    def source(self) -> str:
        """Source of the module with the change."""
        tree = ast.parse((ROOT / self.path).read_text(encoding="utf-8"))
        old = next(node for number, node in enumerate(places(tree)) if number == self.place)
        for parent in ast.walk(tree):
            for name, value in ast.iter_fields(parent):
                if value is old:
                    setattr(parent, name, self.new)
                elif isinstance(value, list) and any(one is old for one in value):
                    value[[one is old for one in value].index(True)] = self.new
        return ast.unparse(ast.fix_missing_locations(tree))

    def __str__(self) -> str:
        return f"{self.path}:{self.line} {self.kind}: {self.before}  ->  {self.after}"


def refuses(node: ast.AST) -> bool:
    """Say whether a node only refuses input, or is no arithmetic at all."""
    if isinstance(node, ast.Tuple) and "Fault(" in ast.unparse(node):
        return True  # a rule: what is broken, and its fault
    if isinstance(node, ast.Raise | ast.Assert | ast.JoinedStr | ast.Import | ast.ImportFrom):
        return True
    if isinstance(node, ast.Call):
        name = ast.unparse(node.func)
        return "Fault" in name or "require" in name or name in {"ask", "faults.append", "range"}
    if isinstance(node, ast.FunctionDef):
        return "check" in node.name or "require" in node.name
    if isinstance(node, ast.If):
        return all(isinstance(one, ast.Raise) for one in node.body) or "Fault" in ast.unparse(node)
    return False


def places(node: ast.AST) -> Iterator[ast.AST]:
    """Nodes that may be changed, in order."""
    if refuses(node):
        return
    yield node
    for name, value in ast.iter_fields(node):
        if name in {"decorator_list", "annotation", "returns", "type_params"}:
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST):
                yield from places(child)


def is_number(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and type(node.value) in (int, float)


def changes(node: ast.AST, row_names: list[str]) -> Iterator[tuple[str, ast.AST]]:
    """Every change of one node, as its kind and the node in its place."""
    if isinstance(node, ast.Compare) and type(node.ops[0]) in FLIPPED:
        new = copy.deepcopy(node)
        new.ops[0] = FLIPPED[type(node.ops[0])]()
        yield "comparison", new
    if isinstance(node, ast.BinOp) and type(node.op) in SWAPPED:
        new = copy.deepcopy(node)
        new.op = SWAPPED[type(node.op)]()
        yield "operator", new
        if isinstance(node.op, ast.Mult):
            yield "factor", node.left
            yield "factor", node.right
        elif isinstance(node.op, ast.Div):
            yield "factor", node.left
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Pow):
        yield "factor", node.left
    if is_number(node):
        value = node.value
        other = value + 1 if isinstance(value, int) else value * 1.1 if value else 1.0
        yield "constant", ast.Constant(other)
    if isinstance(node, ast.If | ast.IfExp | ast.While):
        new = copy.deepcopy(node)
        new.test = ast.UnaryOp(ast.Not(), new.test)
        yield "condition", new
    if isinstance(node, ast.Subscript):
        parts = node.slice.elts if isinstance(node.slice, ast.Tuple) else [node.slice]
        for number, part in enumerate(parts):
            if not (isinstance(part, ast.Name) and part.id in row_names and len(row_names) > 1):
                continue
            new = copy.deepcopy(node)
            inner = new.slice.elts[number] if isinstance(new.slice, ast.Tuple) else new.slice
            inner.id = row_names[(row_names.index(part.id) + 1) % len(row_names)]
            yield "index", new


def mutants_of(layer: str, path: Path) -> list[Mutant]:
    """All mutants of a module."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    row_names = sorted(
        {
            name.id
            for node in ast.walk(tree)
            if isinstance(node, ast.Subscript)
            for name in ast.walk(node.slice)
            if isinstance(name, ast.Name) and name.id.isupper()
        }
    )
    found = []
    for place, node in enumerate(places(tree)):
        for kind, new in changes(node, row_names):
            found.append(
                Mutant(
                    layer, path.relative_to(ROOT), place, kind, node.lineno,
                    short(node), short(new), new,
                )
            )  # fmt: skip
    return found


def short(node: ast.AST) -> str:
    """First line of a node's source; of a branch or a loop its condition alone."""
    return ast.unparse(node.test if isinstance(node, ast.If | ast.While) else node)[:120]


def modules(layer: str) -> list[Path]:
    single = ROOT / "phenocast" / f"{layer}.py"
    found = [single] if single.exists() else sorted((ROOT / "phenocast" / layer).rglob("*.py"))
    return [path for path in found if path.stem not in {"__init__", *NO_EQUATION}]


def run(tree: Path, tests: list[str], limit_s: float, *, compiled: bool) -> bool | None:
    """Say whether tests pass in a tree; None where they ran into the limit."""
    environment = {**os.environ, "PYTHONPATH": str(tree), "CI": "1"}  # no deadlines, one seed
    environment.pop("NUMBA_DISABLE_JIT", None)
    if not compiled:
        environment["NUMBA_DISABLE_JIT"] = "1"
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", *tests]
    child = subprocess.Popen(
        command, cwd=tree, env=environment, start_new_session=True, stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        return child.wait(limit_s) == 0
    except subprocess.TimeoutExpired:
        os.killpg(child.pid, signal.SIGKILL)
        child.wait()
        return None


def stages(layer: str) -> list[tuple[list[str], bool]]:
    """Tests of a layer in the order in which they are tried, and whether compiled."""
    more = LAYERS[layer]
    by_hand = sorted((ROOT / "tests/hand_worked").glob(f"test_{layer}*_by_hand.py"))
    return [
        ([str(one.relative_to(ROOT)) for one in by_hand], False),
        (more.tests(), more.compiled),
    ]


def killed_by(mutant: Mutant, tree: Path, limits: dict[str, list[float]]) -> str:
    """Stage that notices a mutant, "" where none does."""
    target = tree / mutant.path
    whole = target.read_text(encoding="utf-8")
    target.write_text(mutant.source(), encoding="utf-8")
    try:
        for number, (tests, compiled) in enumerate(stages(mutant.layer)):
            passed = run(tree, tests, limits[mutant.layer][number], compiled=compiled)
            if passed is None:
                return "time limit"
            if not passed:
                return "hand-worked" if number == 0 else "published or property"
    finally:
        target.write_text(whole, encoding="utf-8")
    return ""


def copied(into: Path) -> Path:
    tree = into / "tree"
    skipped = shutil.ignore_patterns(".*", "node_modules")
    shutil.copytree(ROOT, tree, ignore=skipped)
    return tree


def main() -> int:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--mutants", type=int, default=200, help="how many, shared evenly by layers")
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--layer", action="append", choices=LAYERS, help="one or more; all if none")
    asked.add_argument("--out", type=Path, help="file for the survivors")
    asked.add_argument("--list", action="store_true", help="name the mutants and run nothing")
    options = asked.parse_args()
    chosen: list[Mutant] = []
    layers = options.layer or list(LAYERS)
    for number, layer in enumerate(layers):
        all_of = [one for path in modules(layer) for one in mutants_of(layer, path)]
        share = (number + 1) * options.mutants // len(layers) - number * options.mutants // len(
            layers
        )
        # text seeds a generator the same way on every machine
        chosen += random.Random(f"{options.seed} {layer}").sample(all_of, min(share, len(all_of)))
        print(f"{layer}: {min(share, len(all_of))} of {len(all_of)} possible mutants")
    if options.list:
        print(*chosen, sep="\n")
        return 0
    with tempfile.TemporaryDirectory() as into:
        tree = copied(Path(into))
        limits: dict[str, list[float]] = {}
        for layer in layers:
            limits[layer] = []
            for tests, compiled in stages(layer):
                start = time.monotonic()
                if run(tree, tests, 3600.0, compiled=compiled) is not True:
                    print(f"{layer}: the tests fail without any change: {' '.join(tests)}")
                    return 1
                took = time.monotonic() - start
                # a changed kernel is compiled anew, and the machine may be busy
                limits[layer].append(60.0 + 8.0 * took)
                print(
                    f"{layer}: {took:.0f} s, {'compiled' if compiled else 'uncompiled'}", flush=True
                )
        survivors: list[Mutant] = []
        counts: dict[str, int] = {}
        for mutant in chosen:
            by = killed_by(mutant, tree, limits)
            counts[by] = counts.get(by, 0) + 1
            survivors += [mutant] if not by else []
            print(f"{'killed by ' + by if by else 'SURVIVED':33} {mutant}", flush=True)
    lines = [str(one) for one in survivors]
    print(f"{len(chosen) - len(survivors)} of {len(chosen)} killed: {counts}")
    if options.out:
        options.out.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
