"""Compiled kernels on disk are thrown away when any kernel's source in a checkout has changed.

numba keeps compiled code beside the source and looks only at the file a function is written in.
A kernel that calls one from another file would go on running the old one after an edit or a pull.
Here the sources of all kernels are watched together, by size and time of change as numba does.
An installed wheel does not change under its cache and is left alone, and so is a cache that
``NUMBA_CACHE_DIR`` keeps somewhere else.
"""

from __future__ import annotations

import os

KERNEL_LAYERS = ("crown", "phenology", "harvest", "simulation", "calibration")
_CACHE = "__pycache__"
_STAMP = "kernel-sources.stamp"


def _state(package: str) -> str:
    parts = []
    for layer in KERNEL_LAYERS:
        with os.scandir(os.path.join(package, layer)) as entries:
            for entry in entries:
                if entry.name.endswith(".py"):
                    status = entry.stat()
                    parts.append(f"{layer}/{entry.name} {status.st_mtime_ns} {status.st_size}")
    return "\n".join(sorted(parts))


def discard_stale_kernels(package: str) -> int:
    """Delete the compiled kernels of a checkout if a kernel's source is not as it was.

    Parameters
    ----------
    package : str
        Folder of the package.

    Returns
    -------
    int
        Number of files deleted; 0 where the package is not a checkout that can be written to.

    Raises
    ------
    OSError
        When a compiled kernel that may be old cannot be deleted.

    Examples
    --------
    >>> import tempfile
    >>> discard_stale_kernels(tempfile.mkdtemp())  # not a checkout
    0
    """
    if not os.path.exists(os.path.join(os.path.dirname(package), "pyproject.toml")):
        return 0
    if not os.access(package, os.W_OK):
        # numba cannot write beside these sources either.
        return 0
    state = _state(package)
    stamp = os.path.join(package, _CACHE, _STAMP)
    try:
        with open(stamp, encoding="utf-8") as seen:
            if seen.read() == state:
                return 0
    except FileNotFoundError:
        pass
    return _discard(package, stamp, state)


def _discard(package: str, stamp: str, state: str) -> int:
    # Imported here because nothing else that `phenocast --help` does needs them.
    from contextlib import suppress
    from pathlib import Path

    deleted = 0
    for layer in KERNEL_LAYERS:
        for path in Path(package, layer, _CACHE).glob("*.nb[ic]"):
            # Another process may be doing the same.
            with suppress(FileNotFoundError):
                path.unlink()
                deleted += 1
    os.makedirs(os.path.dirname(stamp), exist_ok=True)
    written = Path(f"{stamp}.{os.getpid()}")
    written.write_text(state, encoding="utf-8")
    written.replace(stamp)
    return deleted
