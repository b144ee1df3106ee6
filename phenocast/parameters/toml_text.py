"""Parameter sets as the text of a parameter file, in the form that the readers take."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Sequence

from phenocast.errors import Fault, InputError
from phenocast.parameters.sets import ParameterSet

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")


def parameter_toml(kind: str, sets: Sequence[ParameterSet], remarks: Sequence[str] = ()) -> str:
    r"""Text of a parameter file: labels and birth certificates of some sets of one kind.

    Parameters
    ----------
    kind : str
        "film", "cultivar", "soil": the first part of each table's name.
    sets : sequence of ParameterSet
    remarks : sequence of str
        Lines that stand as comments at the head.

    Returns
    -------
    str
        TOML. What it says is read back exactly.

    Raises
    ------
    InputError
        When a number is not finite, for which a certificate has no place.

    Examples
    --------
    >>> print(parameter_toml("film", [ParameterSet("south", {}, {"description": "my film"})]))
    [film.south]
    description = "my film"
    <BLANKLINE>
    """
    lines = [f"# {line}" for remark in remarks for line in remark.splitlines()]
    for one in sets:
        if lines:
            lines.append("")
        lines.append(f"[{kind}.{_key(one.name)}]")
        lines += [f"{_key(label)} = {_value(text, label)}" for label, text in one.labels.items()]
        for name, parameter in one.parameters.items():
            where = f"{kind}.{one.name}.{name}"
            entries = ", ".join(
                f"{key} = {_value(value, where)}" for key, value in parameter.to_dict().items()
            )
            lines.append(f"{_key(name)} = {{ {entries} }}")
    return "\n".join(lines) + "\n"


def _key(name: str) -> str:
    return name if _BARE_KEY.fullmatch(name) else _quoted(name)


def _quoted(text: str) -> str:
    # JSON escapes what TOML wants escaped, but for one control character.
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _value(value: object, where: str) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, int | float) and math.isfinite(value):
        return repr(float(value))
    raise InputError(Fault("a number of a certificate is not finite", where=where, value=value))
