"""Kinds of value in a season file: plain numbers, days, clock hours, names.

Each refuses what merely could be read, such as "05/10/2026" or a number inside quotes, with a
message that says how to write it.

Faults of a season file, from what the schema refuses, with the path of each key.
"""

import re
import types
from collections.abc import Mapping, Sequence
from datetime import date, datetime, time
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import (
    BeforeValidator,
    ConfigDict,
    Field,
    StrictFloat,
    StrictInt,
    StrictStr,
    ValidationError,
)
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails, PydanticCustomError

from phenocast.errors import Fault, meant
from phenocast.season.site import ClockHours

# What every table of the file keeps to: a key that is not known is a fault. It is built when first
# used, so that a table inside another is built once and not once for each.
OF_TABLES = ConfigDict(extra="forbid", defer_build=True)


_ISO_DAY = re.compile(r"^\d{4}-\d{2}-\d{2}$")

_CLOCK = re.compile(r"^(\d{1,2}):(\d{2})$")


def _refuse(what: str, allowed: str, do: str = "") -> PydanticCustomError:
    """Return an error that carries the parts of a fault."""
    context = {"what": what, "allowed": allowed, "do": do}
    return PydanticCustomError("season", "{what}", context)


def read_day(value: Any) -> date:
    """Return a calendar day.

    Examples
    --------
    >>> read_day("2026-10-05")
    datetime.date(2026, 10, 5)
    """
    if isinstance(value, datetime):
        if value.time() == time(0) and value.tzinfo is None:
            return value.date()
        raise _refuse("a day is wanted, not a time of day", "a date such as 2026-10-05")
    if isinstance(value, date):
        day = value
    elif isinstance(value, str) and _ISO_DAY.match(value):
        try:
            day = date.fromisoformat(value)
        except ValueError:
            raise _refuse("there is no such day", "a date such as 2026-10-05") from None
    else:
        raise _refuse(
            "not a date",
            "year-month-day such as 2026-10-05",
            "day-first and month-first dates are not guessed at",
        )
    if not 1900 <= day.year <= 2100:
        raise _refuse("the year is out of range", "1900 to 2100")
    return day


def read_hour(value: Any) -> float:
    """Return an hour of the day from a number, "22:30" or a TOML time. [h]

    Examples
    --------
    >>> read_hour("22:30"), read_hour(6)
    (22.5, 6.0)
    """
    hour: float | None = None
    if isinstance(value, time):
        hour = value.hour + value.minute / 60.0
    elif isinstance(value, int | float) and not isinstance(value, bool):
        hour = float(value)
    elif isinstance(value, str) and (found := _CLOCK.match(value)) and int(found[2]) < 60:
        hour = int(found[1]) + int(found[2]) / 60.0
    if hour is None or not 0.0 <= hour <= 24.0:
        raise _refuse("not an hour of the day", "0 to 24, or '22:30', local standard time")
    return hour


def read_hours(value: Any) -> ClockHours:
    """Return clock hours from a pair.

    Examples
    --------
    >>> read_hours([10, 16])
    ClockHours(start=10.0, end=16.0)
    """
    if isinstance(value, ClockHours):
        return value
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise _refuse("two hours are wanted", "[from, to], such as [10, 16] or ['22:00', '02:00']")
    start, end = (read_hour(hour) for hour in value)
    if start % 24.0 == end % 24.0 and {start, end} != {0.0, 24.0}:
        raise _refuse("the two hours are the same", "[from, to], [0, 24] for the whole day")
    return ClockHours(start % 24.0, end if end == 24.0 else end % 24.0)


def listed(value: Any) -> Any:
    """Return a single entry as a list of one."""
    return value if isinstance(value, list | tuple) else [value]


def file_table(value: Any) -> Any:
    """Return a bare file name, or several, as the table that a source is."""
    return {"file": value} if isinstance(value, str | list) else value


def kind_table(value: Any) -> Any:
    """Return a bare kind as the table that says no more."""
    return {"kind": value} if isinstance(value, str) else value


def _files(value: Any) -> tuple[str, ...]:
    """Return file names, given one or several."""
    names = tuple(value) if isinstance(value, list | tuple) else (value,)
    if not names or not all(isinstance(name, str) and name.strip() for name in names):
        raise _refuse("not a file name", "a path in quotes, or a list of them")
    return names


def _text(value: Any) -> str:
    """Return a name, refused where blank."""
    if not isinstance(value, str):
        raise _refuse("not a text", "a text in quotes")
    if not value.strip():
        raise _refuse("the text is empty", "a text in quotes")
    return value.strip()


Number = Annotated[StrictFloat, Field(allow_inf_nan=False)]

Whole = StrictInt

Text = Annotated[StrictStr, BeforeValidator(_text)]

Day = Annotated[date, BeforeValidator(read_day)]

Hour = Annotated[float, BeforeValidator(read_hour)]

Hours = Annotated[ClockHours, BeforeValidator(read_hours)]

Files = Annotated[tuple[str, ...], BeforeValidator(_files)]


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
        return Fault(
            "unknown key",
            where,
            allowed=", ".join(known),
            do=meant(key, known, "take it out"),
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
