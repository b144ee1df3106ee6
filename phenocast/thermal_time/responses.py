"""Temperature responses of development: from a temperature to a rate relative to the optimum.

Every response is 0 at and outside its base and its ceiling, 1 at its optimum, never above 1, and
passes NaN through. The mean of a response over the hours of a day is not the response of the day's
mean (Jensen's inequality): apply these to hourly temperatures.

Refusals that the thermal-time functions share.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from phenocast._typing import FloatArray
from phenocast.errors import Fault, refuse


def wang_engel(t: ArrayLike, base: ArrayLike, optimum: ArrayLike, ceiling: ArrayLike) -> FloatArray:
    """Smooth asymmetric response with three cardinal temperatures.

    Parameters
    ----------
    t : temperature, any shape. [degC]
    base, optimum, ceiling : cardinal temperatures, broadcast against `t`. [degC]

    Returns
    -------
    Response from 0 to 1, broadcast shape. [1]

    Raises
    ------
    InputError : unless base < optimum < ceiling everywhere.

    Notes
    -----
    Wang and Engel (1998), Agric. Syst. 58:1-24: ``x (2 - x)`` with ``x = ((t - base) / (optimum -
    base))**a`` and ``a = ln 2 / ln((ceiling - base) / (optimum - base))``. An optimum below the
    middle of the range gives ``a < 1`` and a vertical start at the base; it is allowed.

    Examples
    --------
    >>> wang_engel([0.0, 10.0, 24.0, 30.0, 35.0], 0.0, 24.0, 35.0).round(4).tolist()
    [0.0, 0.3603, 1.0, 0.7432, 0.0]
    """
    require_rising(("base", "optimum", "ceiling"), (base, optimum, ceiling), "Wang-Engel response")
    t, base, optimum, ceiling = floats(t), floats(base), floats(optimum), floats(ceiling)
    span = optimum - base
    exponent = np.log(2.0) / np.log((ceiling - base) / span)
    inside = np.clip(t, base, ceiling)  # keeps the power real; NaN stays NaN
    x = ((inside - base) / span) ** exponent
    return _bounded(x * (2.0 - x), t, base, ceiling)


def yin_beta(
    t: ArrayLike,
    base: ArrayLike,
    optimum: ArrayLike,
    ceiling: ArrayLike,
    shape: ArrayLike = 1.0,
) -> FloatArray:
    """Beta response with three cardinal temperatures and a shape.

    Parameters
    ----------
    t : temperature, any shape. [degC]
    base, optimum, ceiling : cardinal temperatures, broadcast against `t`. [degC]
    shape : power of the whole curve, more than 0; higher is narrower. [1]

    Returns
    -------
    Response from 0 to 1, broadcast shape. [1]

    Raises
    ------
    InputError : unless base < optimum < ceiling everywhere and shape is above 0.

    Notes
    -----
    Yin, Kropff, McLaren and Visperas (1995), Agric. For. Meteorol. 77:1-16, normalised to 1 at the
    optimum: ``(((t - base)/(optimum - base)) ((ceiling - t)/(ceiling - optimum))**((ceiling -
    optimum)/(optimum - base)))**shape``.

    Examples
    --------
    >>> yin_beta([5.0, 10.0, 20.0, 30.0], 5.0, 20.0, 35.0).round(4).tolist()
    [0.0, 0.5556, 1.0, 0.5556]
    """
    require_rising(("base", "optimum", "ceiling"), (base, optimum, ceiling), "beta response")
    power = require_positive("shape", shape)
    t, base, optimum, ceiling = floats(t), floats(base), floats(optimum), floats(ceiling)
    inside = np.clip(t, base, ceiling)
    rise = (inside - base) / (optimum - base)
    fall = (ceiling - inside) / (ceiling - optimum)
    curve = (rise * fall ** ((ceiling - optimum) / (optimum - base))) ** power
    return _bounded(curve, t, base, ceiling)


def yan_hunt(t: ArrayLike, optimum: ArrayLike, ceiling: ArrayLike) -> FloatArray:
    """Beta response whose base is 0 degC, with two cardinal temperatures.

    Parameters
    ----------
    t : temperature, any shape. [degC]
    optimum, ceiling : cardinal temperatures, broadcast against `t`. [degC]

    Returns
    -------
    Response from 0 to 1, broadcast shape; 0 at and below 0 degC. [1]

    Raises
    ------
    InputError : unless 0 < optimum < ceiling everywhere.

    Notes
    -----
    Yan and Hunt (1999), Ann. Bot. 84:607-614: ``((ceiling - t)/(ceiling - optimum))
    (t/optimum)**(optimum/(ceiling - optimum))``.

    Examples
    --------
    >>> yan_hunt([0.0, 10.0, 24.0, 30.0], 24.0, 35.0).round(4).tolist()
    [0.0, 0.3365, 1.0, 0.7396]
    """
    require_rising(("0 degC", "optimum", "ceiling"), (0.0, optimum, ceiling), "Yan-Hunt response")
    t, optimum, ceiling = floats(t), floats(optimum), floats(ceiling)
    inside = np.clip(t, 0.0, ceiling)
    fall = (ceiling - inside) / (ceiling - optimum)
    curve = fall * (inside / optimum) ** (optimum / (ceiling - optimum))
    return _bounded(curve, t, 0.0, ceiling)


def trapezoid(
    t: ArrayLike,
    base: ArrayLike,
    optimum_low: ArrayLike,
    optimum_high: ArrayLike,
    ceiling: ArrayLike,
) -> FloatArray:
    """Broken-line response: rises from base, flat at 1 between two optima, falls to the ceiling.

    Parameters
    ----------
    t : temperature, any shape. [degC]
    base, optimum_low, optimum_high, ceiling : cardinal temperatures, broadcast against `t`; the two
        optima may be equal (a triangle). [degC]

    Returns
    -------
    Response from 0 to 1, broadcast shape. [1]

    Raises
    ------
    InputError : unless base < optimum_low <= optimum_high < ceiling everywhere.

    Examples
    --------
    >>> trapezoid([3.0, 13.5, 27.0, 34.0, 38.0], 3.0, 24.0, 30.0, 38.0).tolist()
    [0.0, 0.5, 1.0, 0.5, 0.0]
    """
    require_rising(("base", "optimum_low"), (base, optimum_low), "trapezoid")
    require_rising(("optimum_high", "ceiling"), (optimum_high, ceiling), "trapezoid")
    t, base, low = floats(t), floats(base), floats(optimum_low)
    high, ceiling = floats(optimum_high), floats(ceiling)
    if not bool(np.all(low <= high)):
        require_rising(("optimum_low", "optimum_high"), (low, high), "trapezoid")
    curve = np.minimum((t - base) / (low - base), (ceiling - t) / (ceiling - high))
    return _bounded(curve, t, base, ceiling)


def _bounded(curve: FloatArray, t: FloatArray, base: ArrayLike, ceiling: ArrayLike) -> FloatArray:
    """Rounding kept inside 0 to 1, and exactly 0 at and outside the ends; NaN stays."""
    curve = np.clip(curve, 0.0, 1.0)
    outside = (t <= np.asarray(base)) | (t >= np.asarray(ceiling))
    return np.where(outside, 0.0, curve)


def floats(values: ArrayLike) -> FloatArray:
    """Values as a float64 array (a view where they are one already)."""
    return np.asarray(values, dtype=np.float64)


def require_rising(names: Sequence[str], values: Sequence[ArrayLike], what: str) -> None:
    """Refuse cardinal temperatures that do not rise; equal neighbours and NaN are refused too."""
    arrays = [floats(value) for value in values]
    for low_name, high_name, low, high in zip(
        names[:-1], names[1:], arrays[:-1], arrays[1:], strict=True
    ):
        refuse(
            (
                not bool(np.all(low < high)),
                Fault(
                    what=f"{what}: {low_name} is not below {high_name}",
                    where=low_name,
                    value=(low.tolist(), high.tolist()),
                    allowed=" < ".join(names) + " [degC]",
                    do="give the temperatures in rising order",
                ),
            )
        )


def require_choice(name: str, value: str, known: Sequence[str]) -> None:
    """Refuse a word that is not one of the known ones."""
    refuse(
        (
            value not in known,
            Fault(
                what=f"unknown {name}",
                where=name,
                value=value,
                allowed=", ".join(known),
                do="use one of the names listed",
            ),
        )
    )


def require_positive(name: str, value: ArrayLike) -> FloatArray:
    """Values as floats, refused unless every one is above 0."""
    array = floats(value)
    refuse(
        (
            not bool(np.all(array > 0.0)),
            Fault(
                what=f"{name} is not above 0",
                where=name,
                value=array.tolist(),
                allowed="> 0",
                do="give a positive number",
            ),
        )
    )
    return array
