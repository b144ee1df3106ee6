"""Outputs apart from inputs: looked at before any work, for every command alike.

An input is what is named on the command line and every file that it names in turn: a season its
weather, cultivars, films, prices and tallies, the folder of a fit its records and seasons, a
manifest the files of its run.
"""

import json
import os
import tomllib
from collections.abc import Iterable, Iterator
from itertools import permutations
from pathlib import Path
from typing import Any

import click

from phenocast.cli.options import FilePath, OutPath

LARGEST_DOCUMENT = 2_000_000
"""No season, parameter file or manifest is larger; what is larger names no files. [byte]"""
LONGEST_PATH = 4096


def keep_apart(ctx: click.Context) -> None:
    """Refuse an output that is an input, holds one or lies above one, or lies in another output.

    Parameters
    ----------
    ctx : Context
        Of a command whose options are read: `OutPath` is written, any other `FilePath` is read.

    Raises
    ------
    UsageError
    InputError
        Where the working directory is no longer there.
    """
    from phenocast.errors import Fault, InputError

    try:
        os.getcwd()
    except OSError as error:
        raise InputError(
            Fault("the folder that this was started in is no longer there",
                  do="change to one that is there, and run it again")
        ) from error  # fmt: skip
    inputs: list[Path] = []
    outputs: list[tuple[str, Path]] = []
    for param in ctx.command.params:
        given = ctx.params.get(param.name or "")
        if isinstance(param.type, OutPath) and given is not None:
            outputs.append((param.opts[0], given))
        elif isinstance(param.type, FilePath) and given is not None:
            inputs += given if isinstance(given, tuple) else [given]
    if not outputs:
        return
    taken = _taken(every_file(inputs))
    for option, out in outputs:
        read = taken.get(_identity(out))
        if read is not None:
            raise click.UsageError(
                f"{option} {out} would take the place of {read}, which is read; name another place",
                ctx,
            )
    for (option, out), (other, above) in permutations(outputs, 2):
        if Path(os.path.realpath(out)).is_relative_to(os.path.realpath(above)):
            raise click.UsageError(f"{option} {out} lies in {other} {above}; keep them apart", ctx)


def every_file(given: Iterable[Path]) -> list[Path]:
    """Files that are given, and the files that they name in turn, as far as they are there.

    Parameters
    ----------
    given : iterable of Path
        A folder stands for the season files and the manifest in it.

    Examples
    --------
    >>> from phenocast.parameters import shipped
    >>> season = shipped("demo_weather", "low_quay.toml")
    >>> sorted(one.name for one in every_file([season]))
    ['low_quay.toml', 'low_quay_observed.csv', 'low_quay_outlook.csv', 'tamarind_coast.parquet']
    """
    from phenocast.io.output.folder import MANIFEST_NAME

    waiting = []
    for place in given:
        folder = os.path.isdir(place)
        waiting += [*place.glob("*.toml"), place / MANIFEST_NAME] if folder else [place]
    found: dict[str, Path] = {}
    while waiting:
        place = waiting.pop()
        name = os.path.abspath(place)
        if name not in found and os.path.isfile(place):
            found[name] = place
            waiting += [
                place.parent / text for text in _texts(_document(place)) if len(text) < LONGEST_PATH
            ]
    return list(found.values())


def _document(place: Path) -> Any:
    """What a TOML or JSON file holds; nothing where it is neither."""
    from phenocast.errors import InputError
    from phenocast.io.files import decode

    try:
        if place.stat().st_size > LARGEST_DOCUMENT:
            return None
        text = decode(place.read_bytes(), str(place))
    except (OSError, InputError):  # told by who reads it
        return None
    for parse in (tomllib.loads, json.loads):
        try:
            return parse(text)
        except (ValueError, RecursionError):
            continue
    return None


def _texts(document: Any) -> Iterator[str]:
    """Every text in a document, however deep."""
    waiting = [document]
    while waiting:
        one = waiting.pop()
        if isinstance(one, dict):
            waiting += one.values()
        elif isinstance(one, list):
            waiting += one
        elif isinstance(one, str):
            yield one


def _taken(files: Iterable[Path]) -> dict[tuple[int, int] | None, Path]:
    """Identity of every file and of every folder above it, by its name and through its links."""
    taken: dict[tuple[int, int] | None, Path] = {}
    for one in files:
        for place in (Path(os.path.abspath(one)), Path(os.path.realpath(one))):
            for above in (place, *place.parents):
                taken.setdefault(_identity(above), one)
    taken.pop(None, None)
    return taken


def _identity(place: Path) -> tuple[int, int] | None:
    """What tells one file or folder from all others, whatever its name; None where none is."""
    try:
        found = os.stat(place)
    except (OSError, ValueError):
        return None
    return found.st_dev, found.st_ino
