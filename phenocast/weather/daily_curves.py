"""Hours from the daily maximum and minimum of air temperature, by published curves.

Every curve takes the same arguments and returns the same shape, so they are exchanged by name
(`CURVES`). Days lie on the last axis of the input; years, blocks or members on the axes before it.
Before sunrise the night belongs to the evening before, so a series is continuous over midnight.
Requirements fitted with one curve do not transfer to another: six published curves give degree sums
that differ by 13 % for one and the same day. The name of the curve belongs to a parameter set.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from phenocast._typing import FloatArray
from phenocast.errors import Fault, InputError, refuse, unknown_name

SHORTEST_DAY_H = 5.5
LONGEST_DAY_H = 22.0
"""Beyond these lengths the curves lose their maximum or their night: polar days are cut to them."""


@dataclass(frozen=True)
class DayFrame:
    """Days as a curve sees them, arrays that broadcast to ``[..., days, hours]``.

    ``low``, ``high``: extremes of the day; ``next_low``: minimum of the morning after [degC];
    ``noon``, ``length``: solar noon and day length [h]; ``night``: from sunset to next sunrise [h].
    """

    low: FloatArray
    high: FloatArray
    next_low: FloatArray
    noon: FloatArray
    length: FloatArray
    night: FloatArray

    @property
    def sunrise(self) -> FloatArray:
        """Clock of sunrise [h]."""
        return np.asarray(self.noon - self.length / 2.0)

    @property
    def sunset(self) -> FloatArray:
        """Clock of sunset [h]."""
        return np.asarray(self.noon + self.length / 2.0)


@dataclass(frozen=True)
class Curve:
    """A published curve: what it gives by day and by night.

    Parameters
    ----------
    source : str
        Citation, and how much of it was seen.
    day : callable
        Temperature from a frame and the clock [h], from the minimum to sunset.
    night : callable
        Temperature from a frame, the hours since sunset and the temperature at sunset.
    minimum_after_sunrise_h : float
        When the minimum falls, after sunrise [h].
    """

    source: str
    day: Callable[[DayFrame, FloatArray], FloatArray]
    night: Callable[[DayFrame, FloatArray, FloatArray], FloatArray]
    minimum_after_sunrise_h: float = 0.0


def _sine_day(lag_min: float, width: float) -> Callable[..., FloatArray]:
    def day(frame: DayFrame, clock: FloatArray) -> FloatArray:
        since = clock - frame.sunrise - lag_min
        angle = np.pi * since / (frame.length + 2.0 * width)
        return np.asarray(frame.low + (frame.high - frame.low) * np.sin(angle))

    return day


def _parton_logan_night(decay: float, longer: float) -> Callable[..., FloatArray]:
    def night(frame: DayFrame, since: FloatArray, at_sunset: FloatArray) -> FloatArray:
        left = np.exp(-decay * since / (frame.night + longer))
        return np.asarray(frame.next_low + (at_sunset - frame.next_low) * left)

    return night


def _linvill_night(frame: DayFrame, since: FloatArray, at_sunset: FloatArray) -> FloatArray:
    # the logarithm holds from the first hour on; until then the temperature of sunset stays
    fall = np.log(np.maximum(since, 1.0)) / np.log(frame.night)
    return np.asarray(at_sunset - (at_sunset - frame.next_low) * fall)


def _goudriaan_night(frame: DayFrame, since: FloatArray, at_sunset: FloatArray) -> FloatArray:
    end = np.exp(-frame.night / 4.0)
    left = (np.exp(-since / 4.0) - end) / (1.0 - end)
    return np.asarray(frame.next_low + (at_sunset - frame.next_low) * left)


def _cesaraccio_day(frame: DayFrame, clock: FloatArray) -> FloatArray:
    # the maximum falls 4 h before sunset; on days under 8 h, half-way through the day
    fall = np.minimum(4.0, frame.length / 2.0)
    peak = frame.sunset - fall
    at_sunset = frame.high - 0.39 * (frame.high - frame.next_low)
    rising = np.sin(np.pi / 2.0 * (clock - frame.sunrise) / (peak - frame.sunrise))
    falling = np.cos(np.pi / 2.0 * (clock - peak) / fall)
    before = frame.low + (frame.high - frame.low) * rising
    return np.where(clock <= peak, before, at_sunset + (frame.high - at_sunset) * falling)


def _cesaraccio_night(frame: DayFrame, since: FloatArray, at_sunset: FloatArray) -> FloatArray:
    return np.asarray(at_sunset + (frame.next_low - at_sunset) * np.sqrt(since / frame.night))


def _cosine_day(frame: DayFrame, clock: FloatArray) -> FloatArray:
    # the maximum falls two hours after noon: 14 h where the sun stands highest at 12 h
    peak = frame.noon + 2.0
    up = np.cos(np.pi * (clock - frame.sunrise) / (peak - frame.sunrise))
    down = np.cos(np.pi * (clock - peak) / (frame.sunset + frame.night - peak))
    before = (frame.high + frame.low) / 2.0 - (frame.high - frame.low) / 2.0 * up
    after = (frame.high + frame.next_low) / 2.0 + (frame.high - frame.next_low) / 2.0 * down
    return np.where(clock <= peak, before, after)


def _cosine_night(frame: DayFrame, since: FloatArray, at_sunset: FloatArray) -> FloatArray:
    return _cosine_day(frame, frame.sunset + since)


CURVES: dict[str, Curve] = {
    "parton-logan": Curve(
        "Parton and Logan (1981), Agric. Meteorol. 23:205-216; abstract read; coefficients for air "
        "at 1.5 m (1.86, 2.20, -0.17) as quoted in public code; the form with D + 2a",
        _sine_day(-0.17, 1.86),
        _parton_logan_night(2.20, 0.0),
        -0.17,
    ),
    "wann-yen-gold": Curve(
        "Wann, Yen and Gold (1985), Agric. For. Meteorol.: the curve of Parton and Logan with "
        "coefficients of five North Carolina sites (2.59, 2.2, 1.55) as quoted in public code; the "
        "form with D + 2(a - c) and Z + c, which puts the maximum a hours after noon",
        _sine_day(1.55, 2.59 - 1.55),
        _parton_logan_night(2.2, 1.55),
        1.55,
    ),
    "linvill": Curve(
        "Linvill (1990), HortScience 25:14-16; equations read in two public implementations",
        _sine_day(0.0, 2.0),
        _linvill_night,
    ),
    "cesaraccio-tm": Curve(
        "Cesaraccio, Spano, Duce and Snyder (2001), Int. J. Biometeorol. 45:161-169; abstract "
        "read; c = 0.39 as quoted in public code",
        _cesaraccio_day,
        _cesaraccio_night,
    ),
    "goudriaan-van-laar": Curve(
        "Goudriaan and van Laar (1994), Modelling Potential Crop Growth Processes; formula "
        "recalled from memory, time of the maximum and form of the night confirmed in public code",
        _sine_day(0.0, 1.5),
        _goudriaan_night,
    ),
    "cosine": Curve(
        "de Wit et al. (1978), Simulation of assimilation, respiration and transpiration of crops: "
        "cosines between sunrise and 14 h; recalled from memory",
        _cosine_day,
        _cosine_night,
    ),
}
"""The curves by name."""

DEFAULT_CURVE = "parton-logan"
"""The curve with the lowest error on real hourly records (tests/benchmarks/daily_curve_contest)."""


def hours_from_extremes(
    air_min_c: ArrayLike,
    air_max_c: ArrayLike,
    sunrise_h: ArrayLike,
    sunset_h: ArrayLike,
    *,
    curve: str = DEFAULT_CURVE,
    clock_h: ArrayLike | None = None,
) -> FloatArray:
    """Return the air temperature at hours of each day from its extremes.

    Parameters
    ----------
    air_min_c, air_max_c : array [..., days]
        Extremes of consecutive days [degC]; the minimum is that of the morning. NaN gives NaN.
    sunrise_h, sunset_h : array that broadcasts to [..., days]
        Clock of sunrise and sunset [h], in the clock of ``clock_h``. Equal in polar night; 24 h
        apart in polar day.
    curve : str
        A name of `CURVES`.
    clock_h : array [hours], optional
        Hours of the day wanted [h]; the middles of the 24 hours, 0.5 to 23.5, where not given.

    Returns
    -------
    array [..., days, hours]
        degC. The night before the first day is taken as that after it, the morning after the last
        day as that of it.

    Raises
    ------
    InputError
        When the curve is not known, or a minimum lies above its maximum.

    Examples
    --------
    The published check of Cesaraccio's curve, with 12 degC on the next morning, is 17.65367 degC:

    >>> t = hours_from_extremes([10.0, 12.0], [30.0, 30.0], 6.0, 18.0, curve="cesaraccio-tm",
    ...                         clock_h=[8.0, 14.0])
    >>> t[0].round(5)
    array([17.65367, 30.     ])
    """
    refuse((curve not in CURVES, unknown_name("daily curve", curve, CURVES, where="curve")))
    low, high = np.broadcast_arrays(
        np.asarray(air_min_c, dtype=np.float64), np.asarray(air_max_c, dtype=np.float64)
    )
    turned = np.flatnonzero(low > high)
    if len(turned):
        first = np.unravel_index(turned[0], low.shape)
        raise InputError(
            Fault(
                "a daily minimum lies above the maximum",
                where=f"day {', '.join(str(i) for i in first)}",
                value=f"{low[first]} above {high[first]} degC",
                allowed="minimum at most the maximum",
            )
        )
    chosen = CURVES[curve]
    clock = np.asarray(np.arange(24) + 0.5 if clock_h is None else clock_h, dtype=np.float64)
    rise = np.broadcast_to(np.asarray(sunrise_h, dtype=np.float64), low.shape)
    fall = np.broadcast_to(np.asarray(sunset_h, dtype=np.float64), low.shape)
    noon = (rise + fall) / 2.0
    length = np.clip(fall - rise, SHORTEST_DAY_H, LONGEST_DAY_H)
    following = _shifted(noon - length / 2.0, -1) + 24.0
    frame = DayFrame(
        *(
            part[..., np.newaxis]
            for part in (
                low,
                high,
                _shifted(low, -1),
                noon,
                length,
                following - noon - length / 2.0,
            )
        )
    )
    # a frame on the edge has no neighbour of its own and takes its own shape for the night before
    day_before = DayFrame(
        *(
            _shifted(getattr(frame, name), 1, axis=-2)
            for name in ("low", "high", "next_low", "noon", "length", "night")
        )
    )
    if low.shape[-1] > 0:
        day_before.next_low[..., 0, :] = frame.low[..., 0, :]
    begins = frame.sunrise + chosen.minimum_after_sunrise_h
    own = _in_frame(chosen, frame, clock)
    return np.where(clock >= begins, own, _in_frame(chosen, day_before, clock + 24.0))


def _in_frame(curve: Curve, frame: DayFrame, clock: FloatArray) -> FloatArray:
    """Return the temperature at hours counted in the frame's own day, which may run past 24 h."""
    longest = frame.night + max(curve.minimum_after_sunrise_h, 0.0)
    since = np.clip(clock - frame.sunset, 0.0, longest)
    by_night = curve.night(frame, since, curve.day(frame, frame.sunset))
    return np.where(clock <= frame.sunset, curve.day(frame, clock), by_night)


def _shifted(values: FloatArray, by: int, axis: int = -1) -> FloatArray:
    """Return values moved along the days by one, the edge repeated."""
    moved = np.roll(values, by, axis=axis)
    if values.shape[axis] > 0:
        edge = 0 if by > 0 else -1
        place = [slice(None)] * values.ndim
        place[axis] = slice(edge, edge + 1) if edge == 0 else slice(edge, None)
        moved[tuple(place)] = values[tuple(place)]
    return moved
