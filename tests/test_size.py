"""The package does not grow unnoticed.

Statements of the package without docstrings, counted with ``ast``. The figure changes only with a
line in CHANGELOG.md that says what was bought, or what went.
"""

from __future__ import annotations

import ast
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
STATEMENTS = 23_899


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
