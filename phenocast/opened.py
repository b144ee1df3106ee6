"""The one way to open a file to read it: a regular file, and of a size that its kind may have.

A pipe or a device has no end of its own and may keep a reader waiting for ever; a file that is
larger than anything of its kind is a slip or an attack, and is refused before it fills the memory.
"""

import io
import os
import stat
from pathlib import Path
from typing import Literal, NamedTuple

from phenocast.errors import Fault, InputError

Kind = Literal["table", "document", "any"]


class Limit(NamedTuple):
    """How large a kind of file may be once it is unpacked, why, and what to do beyond it."""

    megabytes: int
    why: str
    do: str

    def refusal(self, where: str, size: float | None = None, what: str = "file") -> InputError:
        """Error for a file beyond the limit; the size is that found, where it is known. [bytes]"""
        return InputError(
            Fault(
                f"the {what} is too large", where,
                None if size is None else f"{size / 1e6:.0f} MB",
                f"up to {self.megabytes} MB, {self.why}", self.do,
            )
        )  # fmt: skip


LIMITS: dict[Kind, Limit] = {
    "table": Limit(
        100, "which is 20 years of readings every five minutes",
        "check that it is the right file; if it is, give fewer years or columns, or hourly values",
    ),
    "document": Limit(
        32, "which is several times the longest document that a run writes",
        "check that it is the right file",
    ),
    "any": Limit(
        4096, "which takes some ten seconds to compare", "check that it is the right file",
    ),
}  # fmt: skip
"""Sizes of a file once it is unpacked, by kind: weather, records and other tables; texts in TOML
and JSON; and any file, an output too, that is only compared by its hash."""

_KINDS = (
    (stat.S_ISDIR, "a folder, not a file", "name the file inside it"),
    (stat.S_ISFIFO, "a pipe, not a file", "write it to a file first"),
    (stat.S_ISSOCK, "a socket, not a file", "write it to a file first"),
    (stat.S_ISCHR, "a device, not a file", "name a file"),
    (stat.S_ISBLK, "a device, not a file", "name a file"),
)


def open_regular(path: str | os.PathLike[str], kind: Kind = "table") -> io.BufferedReader:
    """Open a file to read its bytes; nothing is waited for.

    Parameters
    ----------
    path : str or path
    kind : "table", "document" or "any"
        Which of `LIMITS` the file is held to.

    Returns
    -------
    binary stream

    Raises
    ------
    InputError
        For a folder, a pipe, a socket or a device, and for a file beyond the limit.
    OSError
        Where the machine will not open it.

    Examples
    --------
    >>> open_regular("/dev/null")
    Traceback (most recent call last):
    phenocast.errors.InputError: /dev/null: it is a device, not a file; name a file
    """
    _check(os.stat(path), path, kind)
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    stream = os.fdopen(os.open(path, flags), "rb")
    try:
        _check(os.fstat(stream.fileno()), path, kind)  # another may lie there by now
    except InputError:
        stream.close()
        raise
    return stream


def _check(status: os.stat_result, path: str | os.PathLike[str], kind: Kind) -> None:
    """Refuse what is no regular file, or too large."""
    for is_kind, what, do in _KINDS:
        if is_kind(status.st_mode):
            raise InputError(Fault(f"it is {what}", str(Path(path)), do=do))
    if status.st_size > LIMITS[kind].megabytes * 1_000_000:
        raise LIMITS[kind].refusal(str(Path(path)), status.st_size)
