"""What is kept on disk between runs: compiled kernels and tables that are slow to make.

Both go to the user's cache folder, or to the folder that ``PHENOCAST_CACHE_DIR`` names; nothing is
ever written into the installed package. Nothing depends on them: what cannot be kept or read, or is
damaged, is made anew.

numba looks only at the file that a kernel is written in: after an edit or an upgrade a kernel that
calls one from another file would go on running the old one. The folder of compiled kernels is
therefore named by all sources of kernels together, by size and time of change.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from hashlib import blake2b
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Table = NDArray[np.float64]

VARIABLE = "PHENOCAST_CACHE_DIR"
KERNEL_LAYERS = ("vector", "crown", "phenology", "harvest", "simulation", "calibration")
_OLD_D = 30.0  # kernels of sources that are gone are removed after so many days
_CHECKSUM = 16  # bytes


def folder() -> Path:
    """Folder of everything that is kept."""
    if named := os.environ.get(VARIABLE):
        return Path(named)
    from platformdirs import user_cache_path

    return user_cache_path("phenocast", appauthor=False)


def _digest(stated: object) -> str:
    return blake2b(repr(stated).encode(), digest_size=_CHECKSUM).hexdigest()


def kernel_folder(package: str) -> Path:
    """Folder of the compiled kernels of a package as its sources are now.

    Parameters
    ----------
    package : str
        Folder of the package.
    """
    parts = []
    for layer in KERNEL_LAYERS:
        with os.scandir(os.path.join(package, layer)) as entries:
            for entry in entries:
                if entry.name.endswith(".py"):
                    status = entry.stat()
                    parts.append((layer, entry.name, status.st_mtime_ns, status.st_size))
    return folder() / "kernels" / _digest(package) / _digest(sorted(parts))


def keep_kernels(package: str) -> bool:
    """Tell numba where compiled kernels lie, before any is loaded.

    A user who has set ``NUMBA_CACHE_DIR`` keeps it, and empties that folder after an upgrade.

    Parameters
    ----------
    package : str
        Folder of the package.

    Returns
    -------
    bool
        False where the folder cannot be written: kernels then go to a temporary folder that is
        removed when the process ends, and are compiled in every run.
    """
    named = os.environ.get("NUMBA_CACHE_DIR")
    # a parent process may have set it for other sources
    if named and not Path(named).is_relative_to(folder() / "kernels"):
        return True
    place, kept = kernel_folder(package), True
    try:
        if not place.is_dir():
            place.mkdir(parents=True)
            _remove_old(place)
        _try_to_write(place)
    except OSError:
        place, kept = _temporary(), False
    os.environ["NUMBA_CACHE_DIR"] = str(place)
    if "numba" in sys.modules:
        sys.modules["numba"].config.CACHE_DIR = str(place)
    return kept


def _try_to_write(place: Path) -> None:
    import tempfile

    tempfile.TemporaryFile(dir=place).close()


def _temporary() -> Path:
    import atexit
    import shutil
    import tempfile

    place = Path(tempfile.mkdtemp(prefix="phenocast-kernels-"))
    atexit.register(shutil.rmtree, place, ignore_errors=True)
    return place


def _remove_old(place: Path) -> None:
    """Remove kernels of earlier sources of the same package."""
    import shutil
    import time

    for other in place.parent.iterdir():
        if time.time() - other.stat().st_mtime > _OLD_D * 86400.0:
            shutil.rmtree(other, ignore_errors=True)


def cached_table(
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
    >>> import numpy as np
    >>> os.environ["PHENOCAST_CACHE_DIR"] = tempfile.mkdtemp()
    >>> for value in (1.0, 2.0):  # the second is not made: the first is kept
    ...     print(cached_table("example", (2,), ["here"], made_by=["numpy"], source=__file__,
    ...                        make=lambda: np.full(2, value)))
    [1. 1.]
    [1. 1.]
    >>> del os.environ["PHENOCAST_CACHE_DIR"]
    """
    import numpy as np

    status = os.stat(source)
    stamp = [*key, *map(version, made_by), status.st_mtime_ns, status.st_size]
    path = folder() / "tables" / f"{name}-{_digest(stamp)}.table"
    table = _read(path, shape)
    if table is None:
        table = np.ascontiguousarray(make(), dtype=np.float64)
        _keep(path, table)
    table.setflags(write=False)
    return table


def _checksum(content: bytes) -> bytes:
    return blake2b(content, digest_size=_CHECKSUM).digest()


def _read(path: Path, shape: tuple[int, ...]) -> Table | None:
    """The table of a file; None where there is none, or none that is whole."""
    import numpy as np

    from phenocast.errors import InputError
    from phenocast.opened import open_regular

    size = _CHECKSUM + 8 * int(np.prod(shape))
    try:
        with open_regular(path) as stream:
            content = stream.read(size + 1)
    except (OSError, InputError):
        return None
    values = content[_CHECKSUM:]
    if len(content) != size or content[:_CHECKSUM] != _checksum(values):
        return None
    return np.frombuffer(values).reshape(shape).copy()


def _keep(path: Path, table: Table) -> None:
    """Write a table whole or not at all, so that no other process reads half of one."""
    part = path.with_name(f"{path.name}.{os.getpid()}.part")
    content = table.tobytes()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        part.write_bytes(_checksum(content) + content)
        part.replace(path)
    except OSError:  # a disk that is full or may not be written to
        with suppress(OSError):
            part.unlink()
