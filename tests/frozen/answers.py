"""The figures of every command's answer as numbers under names of their own.

A document is taken apart into columns: every number, yes or no, and ISO date below the same chain
of keys, places of lists left out, in the order in which the document has them. ``NAMES`` turns a
key of today into the one under which it was frozen; so a key may be renamed, and a new one may
come, without a figure being made anew. Tables give the mean, least and most of each column.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping
from datetime import date
from io import StringIO
from pathlib import Path
from typing import Any

import pandas as pd

from tests.answers import answer

PLACE = Path(__file__).with_name("answers.json")
DOCUMENTS = {
    "forecast": ("campo", "forecast.json"),
    "compare": ("compare", "compare.json"),
    "labour": ("labour", "labour.json"),
    "fit": ("fit", "fit.json"),
    "sensors": ("film", "sensors.json"),
    "rank": ("rank", "rank.json"),
    "hindcast": ("hindcast", "hindcast.json"),
    "trial": ("trial", "trial.json"),
}
TABLES = {
    "demo crown": ("phenocast-demo", "crown.csv", "block"),
    "fit draws": ("fit", "draws.parquet", "cultivar"),
    "fit start": ("fit", "transplant_draws.parquet", "transplant"),
    "rank table": ("rank", "rank.csv", "cultivar"),
}
NAMES: dict[str, str] = {
    "weather_traces": "futures", "selection": "ladder", "cultivars.parameters": "numbers",
    "blocks.parameters": "numbers", "blocks.numbers.prior": "before",
    "blocks.numbers.prior_sd": "before_sd", "rmse_prior": "rmse_before",
    "rmse_fitted": "rmse_after", "bias_prior": "bias_before", "bias_fitted": "bias_after",
}  # fmt: skip
"""Key of today, or its frozen chain and it: key under which it was frozen."""
NOT_FIGURES = {"schema_version", "engine_version", "seed"}
_DATE = re.compile(r"\d{4}-\d\d-\d\d")

Column = list[float | None]


def _columns(value: Any, name: str, made: dict[str, Column]) -> None:
    if isinstance(value, Mapping):
        for key, held in value.items():
            if key not in NOT_FIGURES:
                frozen = NAMES.get(f"{name}.{key}", NAMES.get(key, key))
                _columns(held, f"{name}.{frozen}" if name else frozen, made)
    elif isinstance(value, list):
        for held in value:
            _columns(held, name, made)
    elif isinstance(value, str):
        if _DATE.fullmatch(value):
            made[name].append(float(date.fromisoformat(value).toordinal()))
    else:
        made[name].append(None if value is None else float(value))


def columns_of(document: Mapping[str, Any]) -> dict[str, Column]:
    """Figures of a document below each chain of keys."""
    made: dict[str, Column] = defaultdict(list)
    _columns(document, "", made)
    return dict(made)


def table_columns(table: pd.DataFrame, by: str) -> dict[str, Column]:
    """Mean, least and most of each column of numbers, for each name of the column ``by``."""
    made = {}
    for name, rows in table.groupby(by, sort=True):
        for column in rows.select_dtypes("number"):
            held = rows[column].dropna()
            frozen = NAMES.get(column, column)
            if column != "draw" and len(held):
                made[f"{name}.{frozen}"] = [
                    float(held.mean()),
                    float(held.min()),
                    float(held.max()),
                ]
    return made


def figures() -> dict[str, dict[str, Column]]:
    """Figures of all answers, by document and table."""
    made = {name: columns_of(answer(run).document(file)) for name, (run, file) in DOCUMENTS.items()}
    for name, (run, file, by) in TABLES.items():
        path = answer(run).folder / file
        if path.suffix == ".parquet":
            table = pd.read_parquet(path)
        else:
            table = pd.read_csv(StringIO(path.read_text(encoding="utf-8")))
        made[name] = table_columns(table, by)
    return made


def moves(old: Mapping[str, Any], new: Mapping[str, Any]) -> dict[str, float]:
    """Largest relative move of each column that moved; infinite where one is gone or longer."""
    found = {}
    for name, was in old.items():
        now = new.get(name)
        if now is None or len(now) != len(was):
            found[name] = float("inf")
            continue
        pairs = list(zip(was, now, strict=True))
        if any((a is None) != (b is None) for a, b in pairs):
            found[name] = float("inf")
            continue
        apart = [abs(a - b) / max(abs(a), abs(b)) for a, b in pairs if a != b]
        if apart and max(apart) > 1e-9:
            found[name] = max(apart)
    return found
