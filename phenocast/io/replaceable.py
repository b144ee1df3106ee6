"""What an earlier run wrote and nobody has changed since: the only thing that a run may replace."""

from __future__ import annotations

import os
from pathlib import Path, PurePosixPath

from phenocast.errors import Fault, InputError
from phenocast.io.atomic import MANIFEST_NAME
from phenocast.io.files import PARQUET_MAGIC, refused, sha256_of

MARK = b"phenocast"
PARQUET_KEY = b"generator"
"""Key of a Parquet file's own remarks that holds the mark."""
PAGE_MARK = b'<meta name="generator" content="' + MARK
_LOOKED_AT = 4096
_SHOWN = 20


def is_ours(path: str | os.PathLike[str]) -> bool:
    """Whether a file is one that phenocast wrote by itself, so that nothing of anybody is lost.

    A page and a Parquet table say so. A CSV table has exactly the columns of a table that commands
    write, for a remark in it would break its readers. A template is one as long as nobody has
    filled it in. An empty file holds nothing.

    Parameters
    ----------
    path : str or path

    Raises
    ------
    InputError
        Where it cannot be read.

    Examples
    --------
    >>> from phenocast.parameters.library import shipped
    >>> is_ours(shipped("demo_weather", "low_quay.toml"))
    False
    """
    place = Path(path)
    if not place.is_file():
        return False
    try:
        with place.open("rb") as stream:
            head = stream.read(_LOOKED_AT)
    except OSError as error:
        raise refused(error, place) from error
    if PAGE_MARK in head or not head:
        return True
    if head.startswith(PARQUET_MAGIC):
        return _parquet_says_so(place)
    from phenocast.io.templates import TEMPLATE_NAMES, template
    from phenocast.tables import CROWN_TEMPERATURES, RANK_COLUMNS

    if head.partition(b"\n")[0].decode(errors="replace").split(",") in (
        list(CROWN_TEMPERATURES.names), list(RANK_COLUMNS)
    ):  # fmt: skip
        return True
    texts = [template(name).encode() for name in TEMPLATE_NAMES]
    return any(text[:_LOOKED_AT] == head and text == place.read_bytes() for text in texts)


def _parquet_says_so(place: Path) -> bool:
    import pyarrow.parquet as pq

    try:
        return (pq.read_schema(place).metadata or {}).get(PARQUET_KEY) == MARK
    except (OSError, ValueError):  # damaged, so nobody knows what it was
        return False


def refuse_foreign(folder: Path, shown: str) -> None:
    """Refuse to replace a folder that holds more than its manifest lists, or anything changed.

    Parameters
    ----------
    folder : Path
        Holds a manifest.
    shown : str
        Its name in messages.

    Raises
    ------
    InputError
        Naming what is in the way; also where the manifest cannot be read or is of another version.
    """
    from phenocast.io.manifest import read_manifest

    try:
        stated = {one.path: one.sha256 for one in read_manifest(folder).outputs}
    except InputError as error:
        raise InputError(
            Fault(f"the folder is not replaced even with --force: {error}", shown,
                  do="choose another folder")
        ) from error  # fmt: skip
    above = {str(parent) for path in stated for parent in PurePosixPath(path).parents}
    foreign: list[str] = []
    for place, folders, files in os.walk(folder):
        for name in sorted([*folders, *files]):
            path = Path(place, name)
            told = path.relative_to(folder).as_posix()
            if name in folders and told in above and not path.is_symlink():
                continue
            if name in folders:
                foreign.append(f"{told}/")
                folders.remove(name)
            elif told == MANIFEST_NAME and not path.is_symlink():
                continue
            elif told not in stated:
                foreign.append(told)
            elif path.is_symlink() or not path.is_file() or sha256_of(path) != stated[told]:
                foreign.append(f"{told} (changed since)")
    if foreign:
        more = f" and {len(foreign) - _SHOWN} more" if len(foreign) > _SHOWN else ""
        raise InputError(
            Fault(
                "the folder is not replaced even with --force, for it holds what the run that "
                f"wrote it did not leave there like this: {', '.join(foreign[:_SHOWN])}{more}",
                shown,
                do="move that elsewhere, or choose another folder",
            )
        )
