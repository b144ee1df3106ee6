"""The package does not grow unnoticed.

Statements of the package without docstrings, counted with ``ast``, and its commands. Figure and
list change only with a line in CHANGELOG.md that says what was bought, or what went.
"""

from __future__ import annotations

import ast
from pathlib import Path

from phenocast.cli import group

ROOT = Path(__file__).resolve().parent.parent
STATEMENTS = 20_993
COMMANDS = {
    "demo", "check", "template", "crown", "forecast", "compare", "labour", "trial", "fit", "rank",
    "hindcast", "rerun", "guide",
}  # fmt: skip


def statements(source: str) -> int:
    """Statements of a module; a text that stands alone counts as documentation."""
    return sum(
        isinstance(node, ast.stmt)
        and not (
            isinstance(node, ast.Expr)
            and isinstance(node.value, ast.Constant)
            and isinstance(node.value.value, str)
        )
        for node in ast.walk(ast.parse(source))
    )


def test_statements_are_counted_without_docstrings() -> None:
    assert statements('"""What it is."""\nx = 1\ndef f():\n    """Same."""\n    return x\n') == 3


def test_the_package_has_the_stated_size() -> None:
    found = sum(
        statements(path.read_text(encoding="utf-8")) for path in (ROOT / "phenocast").rglob("*.py")
    )
    assert found == STATEMENTS, "state the new figure, and in CHANGELOG.md what changed it"


def test_the_commands_are_those_stated() -> None:
    assert set(group.COMMANDS) == COMMANDS
