"""Mutants of a document's tree: values of another kind, keys that are gone, new or elsewhere."""

from __future__ import annotations

import copy
import json
import random
from collections.abc import Iterator
from datetime import date, datetime, time
from typing import Any

from tests.hostile.mutations import CELLS, DATES, NUMBERS

NAN, INFINITE = float("nan"), float("inf")
PLAIN = (
    True, False, 0, -1, 1, 7, 10**6, 2**31, 2**63 - 1, 0.0, -0.0, 0.5, -1.5, 1e-320, 1e308, -1e308,
    "", [], {}, [[]], [{}], {"": 1}, {"a": {"a": {"a": 1}}}, [1, "a", []], {"file": []},
    {"file": "no/such"}, ["no/such"], *CELLS, *DATES, *NUMBERS[:20],
)  # fmt: skip
"""Values that both TOML and JSON can hold."""

OF_TOML = (
    *PLAIN, 2**63, -(2**70), 10**300, NAN, INFINITE, -INFINITE, date(1, 1, 1), date(9999, 12, 31),
    date(1899, 12, 31), date(2026, 10, 5), datetime(2026, 10, 5, 6), datetime(1, 1, 1), time(0),
    time(23, 59, 59), [date(2026, 10, 5)], {"from": date(2026, 10, 5)},
)  # fmt: skip
OF_JSON = (*PLAIN, None, 2**63, 10**300, NAN, INFINITE, [None], {"path": None})
KEYS = ("", " ", "a", "name", "file", "from", "draws", "like", "value", "0", "\x1b[31m", "é" * 99)


def places(tree: Any) -> list[tuple[Any, Any]]:
    """Every table or list of a tree with each of its keys or indices."""
    found: list[tuple[Any, Any]] = []
    waiting = [tree]
    while waiting:
        here = waiting.pop()
        steps = list(here) if isinstance(here, dict) else range(len(here))
        found += [(here, step) for step in steps]
        waiting += [here[step] for step in steps if isinstance(here[step], dict | list)]
    return found


def _change(tree: Any, rng: random.Random, odd: tuple[Any, ...]) -> str:
    """Change a tree in one place; what was done."""
    if not tree:
        return "nothing is left"
    here, step = rng.choice(places(tree))
    kind = rng.choice(("other", "other", "other", "gone", "new key", "within", "moved", "twice"))
    value = rng.choice(odd)
    if kind == "gone":
        del here[step]
    elif kind == "new key" and isinstance(here, dict):
        here[rng.choice(KEYS)] = copy.deepcopy(value)
    elif kind == "within":
        here[step] = [here[step]] if rng.random() < 0.5 else {"a": here[step]}
    elif kind == "moved":
        there, other = rng.choice(places(tree))
        here[step] = copy.deepcopy(there[other])
    elif kind == "twice" and isinstance(here, list):
        here.append(copy.deepcopy(here[step]))
    else:
        here[step] = copy.deepcopy(value)
    return f"{kind} at {step!r}" + (f": {value!r:.40}" if kind in ("other", "new key") else "")


def grafts(tree: Any, seed: int, count: int, odd: tuple[Any, ...]) -> Iterator[tuple[str, Any]]:
    """Copies of a tree with one to three changes each, with a label that names them."""
    for number in range(count):
        rng = random.Random(seed * 1_000_003 + number)
        mutant = copy.deepcopy(tree)
        names = [_change(mutant, rng, odd) for _ in range(rng.choice((1, 1, 1, 2, 3)))]
        yield f"seed {seed}, graft {number} ({' + '.join(names)})", mutant


def toml_of(tree: dict[str, Any]) -> str:
    """TOML of a tree, a line for each key at its top."""
    return "".join(f"{_text(key)} = {_value(value)}\n" for key, value in tree.items())


def _text(text: str) -> str:
    return json.dumps(text).replace("\x7f", "\\u007f")


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, list):
        return f"[{', '.join(_value(one) for one in value)}]"
    if isinstance(value, dict):
        return f"{{{', '.join(f'{_text(key)} = {_value(one)}' for key, one in value.items())}}}"
    return value.isoformat() if isinstance(value, date | time) else repr(value)
