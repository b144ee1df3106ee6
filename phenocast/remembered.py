"""Tables that are slow to make and never change are kept on disk, beside the compiled kernels.

The sun of a place is the same in every run, and the library that computes it takes longer to load
than the answer to read. A table that cannot be kept or read is made anew: nothing depends on it.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from contextlib import suppress
from hashlib import blake2b
from importlib.metadata import version
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Table = NDArray[np.float64]


def folder() -> Path:
    """Folder of the tables: numba's where the environment names one, or else the package's own."""
    named = os.environ.get("NUMBA_CACHE_DIR")
    return (Path(named) if named else Path(__file__).parent / "__pycache__") / "tables"


def remembered(
    name: str,
    shape: tuple[int, ...],
    key: Sequence[float | str],
    *,
    made_by: Sequence[str],
    source: str,
    make: Callable[[], Table],
) -> Table:
    """Return a table from disk, or make it and keep it.

    Parameters
    ----------
    name : str
        What the table is, as part of a file name.
    shape : tuple of int
        Shape of the table.
    key : sequence of float or str
        Everything that the values depend on.
    made_by : sequence of str
        Installed libraries that make it; another version of one makes the table anew.
    source : str
        File whose code makes it (``__file__``); a changed file makes the table anew.
    make : callable
        Makes the table.

    Returns
    -------
    array of ``shape``, read-only

    Examples
    --------
    >>> import tempfile
    >>> os.environ["NUMBA_CACHE_DIR"] = tempfile.mkdtemp()
    >>> for value in (1.0, 2.0):  # the second is not made: the first is remembered
    ...     print(remembered("example", (2,), ["here"], made_by=["numpy"], source=__file__,
    ...                      make=lambda: np.full(2, value)))
    [1. 1.]
    [1. 1.]
    >>> del os.environ["NUMBA_CACHE_DIR"]
    """
    status = os.stat(source)
    stamp = [*key, *map(version, made_by), status.st_mtime_ns, status.st_size]
    digest = blake2b(repr(stamp).encode(), digest_size=16).hexdigest()
    path = folder() / f"{name}-{digest}.npy"
    table = _read(path, shape)
    if table is None:
        table = np.ascontiguousarray(make(), dtype=np.float64)
        _keep(path, table)
    table.setflags(write=False)
    return table


def _read(path: Path, shape: tuple[int, ...]) -> Table | None:
    """The table of a file; None where there is none, or none that is whole."""
    try:
        table = np.load(path, allow_pickle=False)
    except (OSError, ValueError, EOFError):
        return None
    whole = isinstance(table, np.ndarray) and table.shape == shape and table.dtype == np.float64
    return table if whole and bool(np.isfinite(table).all()) else None


def _keep(path: Path, table: Table) -> None:
    """Write a table whole or not at all, so that no other process reads half of one."""
    part = path.with_name(f"{path.name}.{os.getpid()}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with part.open("wb") as file:
            np.save(file, table, allow_pickle=False)
        part.replace(path)
    except OSError:  # a disk that is full or may not be written to
        with suppress(OSError):
            part.unlink()
