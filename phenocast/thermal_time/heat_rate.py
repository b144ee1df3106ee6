"""Rate of heat accumulation above a base temperature, with the published upper cut-offs.

none
    The rate rises without end.
horizontal
    The rate keeps its value above the upper threshold.
intermediate
    Above the upper threshold the rate falls at the slope at which it rose, to 0 and no further.
vertical
    No development while the temperature is above the upper threshold.
"""

from __future__ import annotations

from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike

from phenocast._typing import FloatArray
from phenocast.errors import Fault, InputError
from phenocast.thermal_time._checks import floats, require_choice, require_rising

Cutoff = Literal["none", "horizontal", "intermediate", "vertical"]
CUTOFFS: tuple[str, ...] = get_args(Cutoff)


def heat_rate(
    t: ArrayLike, base: ArrayLike, upper: ArrayLike | None = None, cutoff: Cutoff = "none"
) -> FloatArray:
    """Degrees above the base that count at a temperature.

    Parameters
    ----------
    t : temperature, any shape. [degC]
    base : lower threshold. [degC]
    upper : upper threshold; needed by every cut-off but "none". [degC]
    cutoff : "none", "horizontal", "intermediate" or "vertical".

    Returns
    -------
    Rate, never negative, broadcast shape; NaN where `t` is NaN. [degC]

    Raises
    ------
    InputError : an unknown cut-off, an upper threshold missing, unused or not above the base.

    Notes
    -----
    Definitions of the University of California extension glossary of degree-day terms, read in
    transcription. A temperature of exactly `upper` still develops under the vertical cut-off.

    Examples
    --------
    >>> [float(heat_rate(35.0, 10.0, 30.0, c)) for c in ("horizontal", "intermediate", "vertical")]
    [20.0, 15.0, 0.0]
    """
    upper = check_thresholds(base, upper, cutoff)
    t, base = floats(t), floats(base)
    rate = np.maximum(t - base, 0.0)
    if upper is None:
        return rate
    if cutoff == "horizontal":
        return np.minimum(rate, upper - base)
    if cutoff == "intermediate":
        return np.maximum(np.minimum(rate, 2.0 * upper - base - t), 0.0)
    return np.where(t > upper, 0.0, rate)


def check_thresholds(base: ArrayLike, upper: ArrayLike | None, cutoff: str) -> FloatArray | None:
    """Upper threshold as an array, or None under the cut-off "none"; refuses what does not fit.

    Raises
    ------
    InputError : as `heat_rate`.

    Examples
    --------
    >>> check_thresholds(10.0, None, "none") is None
    True
    """
    require_choice("cutoff", cutoff, CUTOFFS)
    if cutoff == "none":
        if upper is not None:
            raise InputError(
                Fault(
                    what="an upper threshold was given, but the cut-off 'none' does not use it",
                    where="upper",
                    value=floats(upper).tolist(),
                    do="name the cut-off (horizontal, intermediate, vertical) or leave upper out",
                )
            )
        return None
    if upper is None:
        raise InputError(
            Fault(
                what=f"the {cutoff} cut-off needs an upper threshold",
                where="upper",
                allowed="a temperature above the base [degC]",
                do="give upper, or use the cut-off 'none'",
            )
        )
    require_rising(("base", "upper"), (base, upper), "degree-days")
    return floats(upper)
