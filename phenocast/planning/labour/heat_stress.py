"""Heat stress of people who pick: heat index and wet-bulb globe temperature, hour by hour.

A planning aid, not a safety programme: see `CAUTIONS`, which every labour output prints. Hours are
counted above limits and never praised below them; work is given as a range of published curves,
which differ widely.
"""

import numpy as np
from numpy.typing import ArrayLike

from phenocast._typing import FloatArray

CAUTIONS = (
    (
        "Heat figures are a planning aid, not a safety programme: local codes, licensed safety "
        "staff and measurement on site come first."
    ),
    (
        "Forecast heat can be wrong by a whole class of heat: in full sun, in rain gear or with a "
        "new crew take the next class up. Full sun adds up to 15 degF (8 degC) to the heat index."
    ),
    (
        "New or returning workers count as not acclimatised for the first one to two weeks, and "
        "raise their exposure day by day. So does everyone in the first hot days after cool ones, "
        "which the plan does not know of."
    ),
    (
        "The limits are for one-hour means at moderate work (about 300 W); estimates of the work "
        "rate err by up to 30 %, and published limits for the same work differ by more than 1 degC."
    ),
    "Hours in sheds, tunnels and row covers are not those of the open field: measure there.",
    (
        "Rest, shade and water stay in the working day whatever the hours: local rules say how "
        "much rest, at which heat, and when and how long people may work at all."
    ),
)

SOLAR_CONSTANT = 1367.0  # W m-2, as in the WBGT model's own code


def heat_index_f(air_f: ArrayLike, humidity_pct: ArrayLike) -> FloatArray:
    """Return the heat index of the US National Weather Service [degF], all arrays of one shape.

    The simple form is averaged with the air temperature; from 80 degF on, Rothfusz's regression
    (SR 90-23) with the Weather Service's two adjustments takes its place. Fit error 1.3 degF; above
    about 120 degF it is outside its range. It holds for shade and light wind.

    Parameters
    ----------
    air_f : array
        [degF]
    humidity_pct : array
        [%]

    Examples
    --------
    >>> heat_index_f([70.0, 90.0], [50.0, 50.0]).round(1)
    array([69.5, 94.6])
    """
    t, r = np.broadcast_arrays(
        np.asarray(air_f, dtype=np.float64), np.asarray(humidity_pct, dtype=np.float64)
    )
    simple = 0.5 * (0.5 * (t + 61.0 + 1.2 * (t - 68.0) + 0.094 * r) + t)
    full = heat_index_regression_f(t, r)
    with np.errstate(invalid="ignore"):
        dry = (13.0 - r) / 4.0 * np.sqrt(np.maximum(17.0 - np.abs(t - 95.0), 0.0) / 17.0)
    full = np.where((r < 13.0) & (t >= 80.0) & (t <= 112.0), full - dry, full)
    moist = (r - 85.0) / 10.0 * (87.0 - t) / 5.0
    full = np.where((r > 85.0) & (t >= 80.0) & (t <= 87.0), full + moist, full)
    return np.where(simple >= 80.0, full, simple)


def heat_index_regression_f(t: ArrayLike, r: ArrayLike) -> FloatArray:
    """Return Rothfusz's regression alone [degF], from air [degF] and relative humidity [%].

    Examples
    --------
    >>> heat_index_regression_f(100.0, 40.0).round(2)
    np.float64(109.26)
    """
    t, r = np.asarray(t, dtype=np.float64), np.asarray(r, dtype=np.float64)
    return np.asarray(
        -42.379 + 2.04901523 * t + 10.14333127 * r - 0.22475541 * t * r - 0.00683783 * t**2
        - 0.05481717 * r**2 + 0.00122874 * t**2 * r + 0.00085282 * t * r**2
        - 0.00000199 * t**2 * r**2
    )  # fmt: skip


def direct_share(
    solar_w_m2: ArrayLike, cos_zenith: ArrayLike, distance_au: ArrayLike = 1.0
) -> FloatArray:
    """Return the share of direct sunlight, from how clear the sky is (Liljegren et al. 2008).

    exp(3 - 1.34 S - 1.65 / S) with S the solar radiation over that outside the atmosphere, at most
    0.85; at most 0.9; 0 with the sun below 0.5 deg. Recalled, and as in open code of the model.

    Examples
    --------
    >>> direct_share([0.0, 400.0, 950.0], [0.5, 0.9, 0.9]).round(2)
    array([0.  , 0.08, 0.84])
    """
    cosine = np.asarray(cos_zenith, dtype=np.float64)
    outside = SOLAR_CONSTANT * np.maximum(cosine, 0.0) / np.asarray(distance_au) ** 2
    up = cosine > np.cos(np.radians(89.5))
    clear = np.minimum(np.asarray(solar_w_m2) / np.where(up, outside, 1.0), 0.85)
    lit = up & (clear > 0.0)
    part = np.where(lit, clear, 0.5)
    share = np.exp(3.0 - 1.34 * part - 1.65 / part)
    return np.where(lit, np.clip(share, 0.0, 0.9), 0.0)


def wbgt_c(
    air_c: ArrayLike,
    humidity_pct: ArrayLike,
    wind_2m_m_s: ArrayLike,
    solar_w_m2: ArrayLike,
    direct: ArrayLike,
    cos_zenith: ArrayLike,
    pressure_hpa: ArrayLike = 1013.25,
) -> FloatArray:
    """Return the outdoor wet-bulb globe temperature of Liljegren et al. (2008) [degC].

    Parameters
    ----------
    air_c, humidity_pct, wind_2m_m_s, solar_w_m2 : arrays
        Air [degC], relative humidity [%], wind at 2 m [m s-1], solar radiation [W m-2].
    direct : array
        Share of direct sunlight; see `direct_share`.
    cos_zenith : array
        Cosine of the sun's zenith angle.
    pressure_hpa : array
        [hPa]

    Returns
    -------
    array
        NaN where the energy balances do not converge.

    Examples
    --------
    >>> wbgt_c([30.0], [50.0], [1.5], [800.0], [0.75], [0.9]).round(0)
    array([29.])
    """
    from thermofeel import liljegren  # slow to load

    arrays = np.broadcast_arrays(
        *(np.asarray(v, dtype=np.float64) for v in
          (air_c, humidity_pct, pressure_hpa, wind_2m_m_s, solar_w_m2, direct, cos_zenith))
    )  # fmt: skip
    air, humidity, pressure, wind, solar, beam, cosine = arrays
    found = liljegren.wbgt(
        air + 273.15, np.clip(humidity, 1.0, 100.0), pressure, np.maximum(wind, 0.13), solar, beam,
        cosine,
    )  # fmt: skip
    return np.asarray(found - 273.15)


def exposure_limit_c(work_w: ArrayLike, *, acclimatised: bool) -> FloatArray:
    """Return the NIOSH limit of the one-hour mean WBGT [degC] (publication 2016-106, section 8.1).

    REL = 56.7 - 11.5 log10 M for acclimatised people, RAL = 59.9 - 14.1 log10 M for others.

    Parameters
    ----------
    work_w : array
        Metabolic rate [W]; light 180, moderate 300, heavy 415, very heavy 520.
    acclimatised : bool

    Examples
    --------
    >>> exposure_limit_c(300.0, acclimatised=True).round(2)
    np.float64(28.21)
    """
    rate = np.log10(np.asarray(work_w, dtype=np.float64))
    return np.asarray(56.7 - 11.5 * rate if acclimatised else 59.9 - 14.1 * rate)


def work_share_curves(
    wbgt: ArrayLike, work_w: float = 300.0, rest_w: float = 117.0, *, acclimatised: bool = True
) -> dict[str, FloatArray]:
    """Return the share of each hour that published curves leave for moderate work.

    Parameters
    ----------
    wbgt : array
        [degC]
    work_w, rest_w : float
        Metabolic rate at work and at rest [W].
    acclimatised : bool
        For the curves that tell people apart (the two of NIOSH).

    Returns
    -------
    dict of str to array
        "limits" (NIOSH limit, straight line from rest to work), "time-weighted" (the same limit on
        the time-weighted metabolic rate), "iso" (ISO 7243 limit 34.9 - M / 46), "dunne"
        (Dunne et al. 2013, moderate), "hothaps" (Kjellstrom et al. 2018, moderate). As given by
        Broede et al. (2018), save the second.

    Examples
    --------
    >>> {name: float(v.round(3)) for name, v in work_share_curves(30.0).items()}
    {'limits': 0.62, 'time-weighted': 0.507, 'iso': 0.592, 'dunne': 0.538, 'hothaps': 0.856}
    """
    heat = np.asarray(wbgt, dtype=np.float64)
    top = exposure_limit_c(rest_w, acclimatised=acclimatised)
    bottom = exposure_limit_c(work_w, acclimatised=acclimatised)
    a, b = (56.7, 11.5) if acclimatised else (59.9, 14.1)
    with np.errstate(over="ignore"):
        mean_rate = 10.0 ** ((a - heat) / b)
    curves = {
        "limits": (top - heat) / (top - bottom),
        "time-weighted": (mean_rate - rest_w) / (work_w - rest_w),
        "iso": ((34.9 - heat) * 46.0 - rest_w) / (work_w - rest_w),
        "dunne": 2.0 * (1.0 - 0.25 * np.maximum(heat - 25.0, 0.0) ** (2.0 / 3.0)),
        "hothaps": 0.1 + 0.9 / (1.0 + (np.maximum(heat, 0.0) / 32.93) ** 17.81),
    }
    return {name: np.clip(share, 0.0, 1.0) for name, share in curves.items()}


def work_share_range(
    wbgt: ArrayLike, work_w: float = 300.0, rest_w: float = 117.0, *, acclimatised: bool = True
) -> tuple[FloatArray, FloatArray]:
    """Return the least and the greatest share of the curves: always a range, never one number.

    Examples
    --------
    >>> low, high = work_share_range(30.0)
    >>> round(float(low), 2), round(float(high), 2)
    (0.51, 0.86)
    """
    shares = np.stack(
        list(work_share_curves(wbgt, work_w, rest_w, acclimatised=acclimatised).values())
    )
    return shares.min(axis=0), shares.max(axis=0)
