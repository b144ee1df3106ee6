"""Faults of a season file, from what the schema refuses, with the path of each key."""

from __future__ import annotations

import types
from collections.abc import Mapping, Sequence
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from phenocast.errors import Fault, nearest

_LONGEST_NAME = 60
_WANTED = {
    "float_type": "a number without quotes",
    "int_type": "a whole number without quotes",
    "string_type": "a text in quotes",
    "bool_type": "true or false",
    "float_parsing": "a number",
    "int_parsing": "a whole number",
    "model_type": "a table",
    "dataclass_type": "a table",
    "mapping_type": "a table",
    "dict_type": "a table",
    "list_type": "a list",
    "tuple_type": "a list",
}


def path_of(where: Sequence[int | str], mapping: Any, source_name: str = "") -> str:
    """Path of a key as a reader of the file finds it, blocks named.

    Examples
    --------
    >>> path_of(("block", 1, "film"), {"block": [{}, {"name": "North"}]}, "season.toml")
    'season.toml: block[1] "North".film'
    """
    path = ""
    here = mapping
    for step in where:
        here = _inside(here, step)
        if isinstance(step, int):
            path += f"[{step}]"
            name = here.get("name") if isinstance(here, Mapping) else None
            path += f' "{_short(name)}"' if isinstance(name, str) else ""
        else:
            path += f".{_short(step)}" if path else _short(step)
    return f"{source_name}: {path}" if source_name else path


def _short(name: str) -> str:
    return name if len(name) <= _LONGEST_NAME else f"{name[:_LONGEST_NAME]}..."


def schema_faults(
    error: ValidationError, model: type | None, mapping: Any, source_name: str
) -> list[Fault]:
    """Every fault of a file that its schema refused, in the order of the file's keys.

    Parameters
    ----------
    error : ValidationError
    model : table of the schema, whose keys and ranges are told; None where messages say enough.
    mapping : what was refused.
    source_name : of the file.
    """
    return [
        _fault(detail, model, path_of(detail["loc"], mapping, source_name))
        for detail in error.errors()
    ]


def _fault(detail: ErrorDetails, model: type | None, where: str) -> Fault:
    kind, value, context = detail["type"], detail["input"], detail.get("ctx", {})
    if kind == "season":
        return Fault(context["what"], where, value, context["allowed"], context["do"])
    if kind == "missing":
        return Fault("this key is required", where, do="state it")
    if model is not None and kind in {"extra_forbidden", "unexpected_keyword_argument"}:
        key = str(detail["loc"][-1])
        known = list(_fields(_table_at(model, detail["loc"][:-1])))
        close = nearest(key, known)
        return Fault(
            "unknown key",
            where,
            allowed=", ".join(known),
            do=f"did you mean '{close}'?" if close else "take it out",
        )
    if kind in _WANTED:
        return Fault("the wrong kind of value", where, value, _WANTED[kind])
    if kind == "finite_number":
        return Fault("not a number", where, value, "a finite number")
    if model is not None and kind in {"greater_than", "greater_than_equal", "less_than_equal"}:
        return Fault("out of range", where, value, _range(model, detail["loc"]))
    if kind == "too_short":
        return Fault("at least one is needed", where, value)
    if kind == "literal_error":
        return Fault("not one of the choices", where, value, context["expected"])
    return Fault(detail["msg"][:1].lower() + detail["msg"][1:], where, value)


def _fields(table: Any) -> dict[str, FieldInfo]:
    """Keys of a table of the schema, named as in the file."""
    fields = table.__pydantic_fields__ if table is not None else {}
    return {info.alias or name: info for name, info in fields.items() if name != "cover_file"}


def _range(model: type, where: tuple[int | str, ...]) -> str:
    """Range of a key in words, both ends."""
    rules = _fields(_table_at(model, where[:-1]))[str(where[-1])].metadata
    ends = {end: getattr(rule, end) for rule in rules for end in ("ge", "gt", "le")
            if hasattr(rule, end)}  # fmt: skip
    if "gt" in ends:
        return f"above {ends['gt']:.10g}, at most {ends['le']:.10g}"
    return f"{ends['ge']:.10g} to {ends['le']:.10g}"


def _table_at(model: type, where: tuple[int | str, ...]) -> type | None:
    """Table of the schema that a path leads to."""
    kind: Any = model
    for step in where:
        if get_origin(kind) in (dict, Mapping):  # the step is a name of the user's
            kind = get_args(kind)[1]
            continue
        table = _table_in(kind)
        if isinstance(step, int) or table is None:
            continue
        if step not in (fields := _fields(table)):
            return None
        kind = fields[step].annotation
    return _table_in(kind)


def _table_in(kind: Any) -> type | None:
    """Table inside an annotation such as a list of it, or it or nothing."""
    if isinstance(kind, type) and hasattr(kind, "__pydantic_fields__"):
        return kind
    if get_origin(kind) in (list, tuple, dict, Mapping, Union, types.UnionType, Annotated):
        for inner in get_args(kind):
            found = _table_in(inner)
            if found is not None:
                return found
    return None


def _inside(here: Any, step: int | str) -> Any:
    if isinstance(step, str) and isinstance(here, Mapping):
        return here.get(step)
    if isinstance(step, int) and isinstance(here, list) and step < len(here):
        return here[step]
    # One table may stand for a list of one: its index is not in the file.
    return here if step == 0 else None
