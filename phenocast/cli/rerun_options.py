"""Options of an earlier run, read back from its manifest: what each may be, every fault at once.

A command that `rerun` can repeat has a mapping ``OPTIONS`` of the names in its manifest to a kind
of this module, the roles of the inputs it cannot do without in ``ROLES``, of those it may have had
in ``ROLES_THAT_MAY_BE`` where there are any, and a function
``again(folder, options, inputs)`` that writes the files of the run.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from phenocast.errors import Fault

LARGEST_WHOLE = 2**32
"""Whole numbers of a manifest lie below this."""


@dataclass(frozen=True)
class Kind:
    """A kind of option: ``read`` makes the value of what JSON holds, or raises ValueError."""

    read: Callable[[object], Any]
    allowed: str


def _whole(least: int) -> Kind:
    def read(value: object) -> int:
        if type(value) is not int or not least <= value < LARGEST_WHOLE:
            raise ValueError
        return value

    return Kind(read, f"a whole number, {least} or more")


def _number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise TypeError
    number = float(value)
    if not math.isfinite(number) or number < 0.0:
        raise ValueError
    return number


def _day(value: object) -> date:
    from phenocast.season.kinds import read_day

    if not isinstance(value, str):
        raise TypeError
    return read_day(value)


def _text(value: object) -> str:
    if not isinstance(value, str) or not value:
        raise ValueError
    return value


def _texts(value: object) -> list[str]:
    if not isinstance(value, list) or not value:
        raise ValueError
    return [_text(one) for one in value]


def _flag(value: object) -> bool:
    if not isinstance(value, bool):
        raise TypeError
    return value


def _amounts(value: object) -> dict[str, float]:
    if not isinstance(value, dict):
        raise TypeError
    return {_text(name): _number(amount) for name, amount in value.items()}


COUNT = _whole(1)
SEED = _whole(0)
AMOUNT = Kind(_number, "a number, 0 or more")
AMOUNTS = Kind(_amounts, "names with a number each, 0 or more")
DAY = Kind(_day, "a day, as 2026-11-20")
TEXT = Kind(_text, "a text")
TEXTS = Kind(_texts, "a list of texts")
FLAG = Kind(_flag, "true or false")


def one_of(*allowed: str) -> Kind:
    """Return the kind of a text that is one of a few.

    Examples
    --------
    >>> one_of("metric", "us").read("us"), one_of("metric", "us").allowed
    ('us', 'metric or us')
    """

    def read(value: object) -> str:
        if value not in allowed:
            raise ValueError
        return str(value)

    return Kind(read, " or ".join(allowed))


def or_none(kind: Kind) -> Kind:
    """Return a kind that may also be left open.

    Examples
    --------
    >>> print(or_none(COUNT).read(None))
    None
    """
    return Kind(
        lambda value: None if value is None else kind.read(value), f"{kind.allowed}, or null"
    )


def options_read(
    given: Mapping[str, Any],
    kinds: Mapping[str, Kind],
    where: str,
    called: Sequence[click.Parameter] = (),
) -> tuple[dict[str, Any], list[Fault]]:
    """Return the options of a manifest, and the faults of those that are not what they may be.

    Parameters
    ----------
    given : mapping
        As the manifest holds them.
    kinds : mapping of str to Kind
        What the command takes; other names are left alone.
    where : str
        The manifest, for messages.
    called : sequence of click.Parameter
        Of the command: ranges and choices on its command line hold for the manifest too.

    Examples
    --------
    >>> kinds = {"draws": COUNT, "seed": SEED}
    >>> options, faults = options_read({"draws": 5, "seed": -1}, kinds, "m")
    >>> options, faults[0].where, faults[0].allowed
    ({'draws': 5}, 'm: options.seed', 'a whole number, 0 or more')
    """
    from phenocast.errors import Fault

    options: dict[str, Any] = {}
    faults = []
    limits = {
        one.name: one.type
        for one in called
        if isinstance(one.type, click.IntRange | click.FloatRange | click.Choice)
    }
    for name, kind in kinds.items():
        allowed = kind.allowed
        try:
            options[name] = value = kind.read(given.get(name))
            for one in value if isinstance(value, list) else [value]:
                if name in limits and one is not None:
                    limits[name].convert(one, None, None)
        except click.BadParameter as error:
            allowed = error.message
        except (TypeError, ValueError, OverflowError):
            pass
        else:
            continue
        faults.append(
            Fault("not an option of the command", f"{where}: options.{name}", given.get(name),
                  allowed)
        )  # fmt: skip
    return options, faults
