"""Responses of development to temperature, and the photoperiod under lamps and blackout cloth.

Every response to temperature is 0 at and outside its base and its ceiling, 1 at its optimum, never
above 1, and passes NaN through. The mean of a response over the hours of a day is not the response
of the day's mean (Jensen's inequality): apply these to hourly temperatures.

The photoperiod: the plant measures its longest unbroken night. Daylight and lamps light the plant,
blackout cloth takes the daylight away (not the light of lamps hung under it), and a spell of light
shorter than `shortest_break_h` does not interrupt a night. The photoperiod felt is 24 h less the
longest dark spell of the day, taken as a circle of local clock hours.

So lamps that join the day at either end lengthen it by what they add; a night break that is long
enough turns a 9 h day and a 15 h night into a day of 18 h, a long day; cloth from 16 h to 8 h
makes an 8 h day. Light of lamps counts in full whatever its intensity, and lamps that flash on and
off are not modelled: give the whole spell as one.
"""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from phenocast._typing import FloatArray
from phenocast.errors import Fault, refuse
from phenocast.season.model import Lighting
from phenocast.season.site import Site
from phenocast.weather.sun import sun_passages_h


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


Spells = Sequence[tuple[ArrayLike, ArrayLike]]

"""Spells as (start, end) in clock hours, 0 to 24. An end before its start runs past midnight; an
end at its start is the whole day."""


def lit_hours(
    dates: ArrayLike,
    site: Site,
    sun_angle_deg: float,
    lighting: Sequence[Lighting],
    shortest_break_h: float,
) -> FloatArray:
    """Photoperiod that the plant feels on each date at a site, with its lamps and blackouts.

    Parameters
    ----------
    dates : local calendar dates, shape ``[n]``.
    site : the place; its zone gives local standard time.
    sun_angle_deg : depression of the sun's centre at which the plant's day begins and ends. [deg]
    lighting : periods of lamps ("light") or blackout ("dark"), hours in local standard time.
    shortest_break_h : shortest spell of light that breaks a night, 0 or more. [h]

    Returns
    -------
    Photoperiod felt, 0 to 24, shape ``[n]``. [h]

    Raises
    ------
    InputError : as `photoperiod_h` and `felt_photoperiod_h`.

    Examples
    --------
    >>> from datetime import date
    >>> from phenocast.season.model import ClockHours
    >>> site = Site("Low Quay", 29.3, -15.6, 35.0, "Atlantic/Canary")
    >>> cloth = Lighting("dark", date(2026, 8, 1), date(2026, 8, 31), ClockHours(17.0, 8.0))
    >>> lit_hours(["2026-08-31", "2026-09-01"], site, 6.0, [cloth], 1.0).round(2).tolist()
    [9.0, 13.55]
    """
    rise, sunset = sun_passages_h(dates, site.latitude, sun_angle_deg, longitude=site.longitude)
    if not lighting:
        return sunset - rise
    days = np.asarray(dates, dtype="datetime64[D]")
    lamps: list[tuple[FloatArray, FloatArray]] = []
    blackouts: list[tuple[FloatArray, FloatArray]] = []
    for period in lighting:
        in_use = (days >= np.datetime64(period.first_day)) & (
            days <= np.datetime64(period.last_day)
        )
        spell = (
            np.where(in_use, period.hours.start, np.nan),
            np.where(in_use, period.hours.end, np.nan),
        )
        require_choice("kind of lighting", period.kind, ("light", "dark"))
        (lamps if period.kind == "light" else blackouts).append(spell)
    clock = site.standard_offset_h
    return felt_photoperiod_h(
        rise + clock,
        sunset + clock,
        lamps=lamps,
        blackouts=blackouts,
        shortest_break_h=shortest_break_h,
    )


def felt_photoperiod_h(
    rise_h: ArrayLike,
    set_h: ArrayLike,
    *,
    lamps: Spells = (),
    blackouts: Spells = (),
    shortest_break_h: float,
) -> FloatArray:
    """Photoperiod that the plant feels under lamps and blackout cloth.

    Parameters
    ----------
    rise_h, set_h : beginning and end of the natural day at the sun angle of the plant, local clock
        hours, shape ``[n]``; 24 h or more apart is a day without end, equal a day without sun. [h]
    lamps, blackouts : spells, each a pair of clock hours that broadcasts to ``[n]``; NaN on the
        days on which it is not in use. [h]
    shortest_break_h : shortest spell of light that breaks a night, 0 or more. [h]

    Returns
    -------
    Photoperiod felt, 0 to 24, shape ``[n]``; NaN where the natural day is. [h]

    Raises
    ------
    InputError : clock hours outside 0 to 24, a negative shortest break.

    Examples
    --------
    >>> felt = felt_photoperiod_h(7.5, 16.5, lamps=[(22.5, 1.5)], shortest_break_h=1.0)
    >>> float(felt)
    18.0
    >>> float(felt_photoperiod_h(5.0, 20.0, blackouts=[(16.0, 8.0)], shortest_break_h=1.0))
    8.0
    """
    refuse(
        (
            not shortest_break_h >= 0.0,
            Fault(
                what="negative length of a night break",
                where="shortest_break_h",
                value=shortest_break_h,
                allowed="0 or more [h]",
            ),
        )
    )
    _check_spells("lamps", lamps)
    _check_spells("blackouts", blackouts)
    edges = [floats(rise_h), floats(set_h)]
    edges += [floats(edge) for spell in (*lamps, *blackouts) for edge in spell]
    columns = np.broadcast_arrays(*edges)
    shape = columns[0].shape
    rows = np.stack([column.ravel() for column in columns], axis=-1)
    felt = [_felt_in_one_day(row, len(lamps), shortest_break_h) for row in rows]
    return np.asarray(felt, dtype=np.float64).reshape(shape)


def _felt_in_one_day(row: FloatArray, n_lamps: int, shortest_break_h: float) -> float:
    """Photoperiod felt on one day: `row` is natural day, lamps, blackouts as pairs of hours."""
    (rise, sunset), *others = row.reshape(-1, 2).tolist()
    natural_h = min(sunset - rise, 24.0)
    lamps = [_on_circle(*spell) for spell in others[:n_lamps] if not np.isnan(spell).any()]
    covers = [_on_circle(*spell) for spell in others[n_lamps:] if not np.isnan(spell).any()]
    if np.isnan(natural_h) or not (lamps or covers):
        return float(natural_h)
    natural = (rise % 24.0, natural_h)
    edges = {
        edge % 24.0
        for start, length in (natural, *lamps, *covers)
        for edge in (start, start + length)
    }
    cuts = sorted({0.0, 24.0, *edges})
    spells: list[tuple[bool, float]] = []
    for start, end in pairwise(cuts):
        middle = (start + end) / 2.0
        daylight = _holds(natural, middle) and not any(_holds(cover, middle) for cover in covers)
        lit = daylight or any(_holds(lamp, middle) for lamp in lamps)
        spells.append((lit, end - start))
    spells = _joined(spells)
    spells = _joined([(lit and length >= shortest_break_h, length) for lit, length in spells])
    longest_night = max((length for lit, length in spells if not lit), default=0.0)
    return max(24.0 - longest_night, 0.0)  # the pieces of a night may add up to a trace over 24


def _on_circle(start: float, end: float) -> tuple[float, float]:
    """Start and length [h] of a spell of clock hours."""
    return start % 24.0, (end - start) % 24.0 or 24.0


def _holds(spell: tuple[float, float], hour: float) -> bool:
    start, length = spell
    return (hour - start) % 24.0 < length


def _joined(spells: list[tuple[bool, float]]) -> list[tuple[bool, float]]:
    """Join neighbouring spells that are alike, those on either side of midnight too."""
    joined: list[tuple[bool, float]] = []
    for lit, length in spells:
        if joined and joined[-1][0] == lit:
            joined[-1] = (lit, joined[-1][1] + length)
        else:
            joined.append((lit, length))
    if len(joined) > 1 and joined[0][0] == joined[-1][0]:
        joined = [*joined[1:-1], (joined[0][0], joined[0][1] + joined[-1][1])]
    return joined


def _check_spells(name: str, spells: Spells) -> None:
    for number, (start, end) in enumerate(spells):
        first, last = np.broadcast_arrays(floats(start), floats(end))
        outside = (first < 0.0) | (first > 24.0) | (last < 0.0) | (last > 24.0)
        refuse(
            (
                bool(np.any(outside)),
                Fault(
                    what="clock hours outside the day",
                    where=f"{name}[{number}]",
                    value=(first.tolist(), last.tolist()),
                    allowed="0 to 24",
                    do="an end before its start runs past midnight",
                ),
            )
        )
