"""Refusals that the functions of this package share."""

import numpy as np
from numpy.typing import ArrayLike

from phenocast._typing import FloatArray
from phenocast.errors import Fault, InputError


def finite(
    values: ArrayLike, where: str, *, dimensions: int, shortest: tuple[int, ...]
) -> FloatArray:
    """Array of finite numbers with so many dimensions, none shorter than stated.

    Raises
    ------
    InputError : another number of dimensions, too few entries, or one that is not finite.

    Examples
    --------
    >>> finite([1, 2], "yields", dimensions=1, shortest=(2,)).tolist()
    [1.0, 2.0]
    """
    array = np.asarray(values, dtype=np.float64)
    if array.ndim != dimensions or any(
        n < least for n, least in zip(array.shape, shortest, strict=False)
    ):
        least = " x ".join(str(n) for n in shortest)
        raise InputError(
            Fault("too few values, or not in this shape", where, list(array.shape), f"{least} up")
        )
    if not np.all(np.isfinite(array)):
        at = tuple(int(i) for i in np.argwhere(~np.isfinite(array))[0])
        raise InputError(
            Fault(
                "a value is missing",
                where=f"{where}{list(at)}",
                value=float(array[at]),
                do="leave out the cultivar or the environment that is not complete",
            )
        )
    return array
