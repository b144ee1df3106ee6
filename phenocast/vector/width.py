# mypy: disable-error-code="attr-defined"
"""How many lanes go side by side: eight where the compiler takes the vector types, else one."""

from __future__ import annotations

import os

import numpy as np
from numba import config

from phenocast.errors import Fault, InputError

VARIABLE = "PHENOCAST_LANES"


def _compiles() -> bool:
    """Say whether numba compiles the vector types of `phenocast.vector.llvm`, and rightly."""
    try:
        from phenocast.vector.llvm import WIDTH, probe

        if config.DISABLE_JIT:
            return True
        rows = np.arange(2.0 * WIDTH).reshape(1, 2, WIDTH)
        expected = rows.copy()
        expected[0, 0, :4] *= 2.0
        expected[0, 1, 4:] *= 2.0
        probe(rows)
    except Exception:  # whatever a numba that is not known yet may raise
        return False
    return bool(np.array_equal(rows, expected))


def lanes_that_go(asked: str | None) -> int:
    """Return the lanes that are asked for or, where none are, those that compile.

    Raises
    ------
    InputError
        If another number is asked for.

    Examples
    --------
    >>> lanes_that_go("1"), lanes_that_go("8")
    (1, 8)
    """
    if not asked:
        return 8 if _compiles() else 1
    if asked not in ("1", "8"):
        allowed = "1, 8, or unset for what the compiler takes"
        raise InputError(Fault("no such number", where=VARIABLE, value=asked, allowed=allowed))
    return int(asked)


LANES = lanes_that_go(os.environ.get(VARIABLE))
"""Numbers that go side by side through a kernel."""

if LANES == 1:
    # a kernel compiled for eight must never be loaded; child processes come by here themselves
    config.CACHE_DIR = os.path.join(config.CACHE_DIR, "single")
