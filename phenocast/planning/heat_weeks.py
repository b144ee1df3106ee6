"""Heat of each week at the site: hours above limits, what they leave of the work, and starts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from phenocast.errors import Fault, NoAnswerError
from phenocast.harvest.weeks import iso_week
from phenocast.parameters import labour
from phenocast.planning.heat import (
    direct_share,
    exposure_limit_c,
    heat_index_f,
    wbgt_c,
    work_share_range,
)
from phenocast.season import ClockHours
from phenocast.weather import HourlyWeather
from phenocast.weather.humidity import air_pressure, saturation_vapour_pressure
from phenocast.weather.local_time import local_day_and_clock, standard_offset_h
from phenocast.weather.solar import sun_elevation_deg

Array = NDArray[np.float64]
Pair = tuple[float, float]

EARLIEST, LATEST = 4, 10
"""Clock hours between which other starts of the working day are tried [h]."""


@dataclass(frozen=True)
class Start:
    """A start of the working day [h] and the P50 hours of the week above the limits from it on.

    ``dark_h`` of a working day lie before sunrise or after sunset.
    """

    clock_h: float
    above_acclimatised_h: float
    above_new_h: float
    dark_h: float


@dataclass(frozen=True)
class HeatWeek:
    """Heat in the working hours of one week; pairs are P50 and P90 over the possible seasons.

    Parameters
    ----------
    week : str
    highest_wbgt_c, highest_heat_index_c : pair
        Of the week's working hours [degC].
    above_acclimatised_h, above_new_h : pair
        Hours above the NIOSH limits for acclimatised people and for others [h].
    work_share, work_share_new : (low, high)
        Share of the working hours that published curves leave, from the most to the least cautious
        curve, in the median season.
    starts : tuple of Start
        The same working day from other hours on, only where hours are above a limit.
    shares, shares_new : tuple of float
        Share that the most cautious curve leaves in each possible season.
    """

    week: str
    highest_wbgt_c: Pair
    highest_heat_index_c: Pair
    above_acclimatised_h: Pair
    above_new_h: Pair
    work_share: Pair
    work_share_new: Pair
    starts: tuple[Start, ...]
    shares: tuple[float, ...]
    shares_new: tuple[float, ...]

    def better_start(self) -> Start | None:
        """Return the start with the fewest hours above the limits; None where none is better."""
        if not self.starts:
            return None
        now, *others = self.starts
        best = min(others, key=lambda s: (s.above_new_h, s.above_acclimatised_h, s.clock_h))
        return None if now.above_new_h - best.above_new_h < 0.5 else best

    def suggestion(self) -> str:
        """Return in words what an earlier or later start would do; empty where nothing helps.

        Hours are said to be above the limit or not; none is called anything better.
        """
        best = self.better_start()
        if best is None:
            return ""
        now = self.starts[0]
        text = (
            f"start at {_clock(best.clock_h)} instead of {_clock(now.clock_h)}: "
            f"{best.above_new_h:.0f} instead of {now.above_new_h:.0f} hours above the limit for a "
            f"new crew, {best.above_acclimatised_h:.0f} instead of "
            f"{now.above_acclimatised_h:.0f} for an acclimatised one"
        )
        return text + (f"; {best.dark_h:.1f} h a day in the dark" if best.dark_h >= 0.5 else "")


def _clock(hour: float) -> str:
    return f"{int(hour):02d}:{round(hour % 1 * 60):02d}"


def site_wbgt_c(weather: HourlyWeather) -> tuple[Array, Array, Array]:
    """Return the hourly WBGT, heat index [degC] and elevation of the sun [deg] of a site, ``[n]``.

    The sun is that of the middle of the hour.

    Raises
    ------
    NoAnswerError
        Where the energy balance of the globe or the wet bulb does not converge.
    HeatLibraryMissingError
        Where thermofeel is not installed.
    """
    site = weather.site
    middle: NDArray[np.datetime64] = weather.time_utc.astype("datetime64[m]")
    middle = middle + np.timedelta64(30, "m")
    elevation = sun_elevation_deg(middle, site)
    cosine = np.sin(np.radians(elevation))
    humidity = 100.0 * weather.vapour_pressure_kpa / saturation_vapour_pressure(weather.air_c)
    humidity = np.clip(humidity, 1.0, 100.0)
    solar = np.maximum(weather.solar_w_m2, 0.0)
    pressure = 10.0 * float(air_pressure(site.elevation_m))
    found = wbgt_c(
        weather.air_c, humidity, weather.wind_m_s, solar, direct_share(solar, cosine), cosine,
        pressure,
    )  # fmt: skip
    if not np.all(np.isfinite(found)):
        raise NoAnswerError(
            Fault("the wet-bulb globe temperature does not converge",
                  value=f"{int((~np.isfinite(found)).sum())} of {len(found)} hours",
                  do="look for impossible weather in those hours")
        )  # fmt: skip
    index = (heat_index_f(weather.air_c * 1.8 + 32.0, humidity) - 32.0) / 1.8
    return found, index, elevation


def heat_weeks(
    futures: Sequence[HourlyWeather],
    weeks: Sequence[str],
    hours: ClockHours,
    days_a_week: int = 6,
    *,
    work_w: float | None = None,
) -> list[HeatWeek]:
    """Return the heat of each week over possible seasons.

    Parameters
    ----------
    futures : sequence of HourlyWeather
        Possible seasons, all of the same hours and site.
    weeks : sequence of str
        ISO weeks wanted; weeks that no hour falls in are left out.
    hours : ClockHours
        Working hours, local standard time [h].
    days_a_week : int
        Working days; hours are counted on all seven days and scaled.
    work_w : float, optional
        Metabolic rate [W]; moderate work where not given.

    Raises
    ------
    NoAnswerError
        Where no hour of the weather falls in the weeks.

    Examples
    --------
    >>> from phenocast.season import Site
    >>> from phenocast.weather.hourly import constant_weather
    >>> site = Site("Low Quay", 29.3, -15.6, 35.0, "Atlantic/Canary")
    >>> hot = constant_weather(site, 168, 38.0, start="2027-01-04", vapour_pressure_kpa=4.0)
    >>> [week] = heat_weeks([hot], ["2027-W01"], ClockHours(6.0, 14.0))
    >>> week.above_acclimatised_h[0], week.work_share[0] < week.work_share[1]
    (48.0, True)
    """
    numbers = labour()["heat"]
    rate = numbers.value("work_rate") if work_w is None else work_w
    rest = numbers.value("rest_rate")
    limits = [float(exposure_limit_c(rate, acclimatised=known)) for known in (True, False)]
    offset = standard_offset_h(futures[0].site.time_zone, int(str(futures[0].time_utc[0])[:4]))
    days, clock = local_day_and_clock(futures[0].time_utc, offset)
    labels = {day: iso_week(date.fromisoformat(str(day))) for day in np.unique(days)}
    of_day = np.array([labels[day] for day in days])
    within = np.isin(of_day, list(weeks))
    if not within.any():
        raise NoAnswerError(Fault("the weather has no hour in the weeks of the plan",
                                  value=f"{weeks[0]} to {weeks[-1]}"))  # fmt: skip
    first, stop = int(np.argmax(within)), len(within) - int(np.argmax(within[::-1]))
    triples = [site_wbgt_c(one.slice(first, stop)) for one in futures]
    wbgt = np.stack([triple[0] for triple in triples])
    index = np.stack([triple[1] for triple in triples])
    elevation = triples[0][2]
    of_day, clock = of_day[first:stop], clock[first:stop]
    result = []
    for week in weeks:
        mine = of_day == week
        if not mine.any():
            continue
        # A week at the edge of the weather holds fewer days: counts are for a whole week.
        scale = days_a_week / (mine.sum() / 24.0)
        shift = mine & _in_hours(clock, hours)
        above = [(wbgt[:, shift] > limit).sum(axis=1) * scale for limit in limits]
        ranges = [
            [
                end.mean(axis=1)
                for end in work_share_range(wbgt[:, shift], rate, rest, acclimatised=known)
            ]
            for known in (True, False)
        ]
        shares = [(float(np.median(low)), float(np.median(high))) for low, high in ranges]
        starts: tuple[Start, ...] = ()
        if float(np.quantile(above[1], 0.9)) >= 0.5:
            starts = _starts(wbgt, mine, clock, elevation, hours, limits, scale)
        result.append(
            HeatWeek(
                week, _pair(wbgt[:, shift].max(axis=1)), _pair(index[:, shift].max(axis=1)),
                _pair(above[0]), _pair(above[1]), shares[0], shares[1], starts,
                tuple(ranges[0][0].tolist()), tuple(ranges[1][0].tolist()),
            )
        )  # fmt: skip
    return result


def _starts(
    wbgt: Array, mine: NDArray[np.bool_], clock: Array, elevation: Array, hours: ClockHours,
    limits: Sequence[float], scale: float,
) -> tuple[Start, ...]:  # fmt: skip
    tried = [hours.start, *(float(h) for h in range(EARLIEST, LATEST + 1) if h != hours.start)]
    days = mine.sum() / 24.0
    starts = []
    for clock_h in tried:
        shift = mine & _in_hours(clock, ClockHours(clock_h, (clock_h + hours.length_h) % 24.0))
        above = [float(np.median((wbgt[:, shift] > limit).sum(axis=1))) * scale for limit in limits]
        dark = float((elevation[shift] < 0.0).sum() / days)
        starts.append(Start(clock_h, above[0], above[1], dark))
    return tuple(starts)


def _in_hours(clock: Array, hours: ClockHours) -> NDArray[np.bool_]:
    return np.asarray((clock - hours.start) % 24.0 < hours.length_h)


def _pair(values: Array) -> Pair:
    p50, p90 = np.quantile(values, [0.5, 0.9])
    return float(p50), float(p90)


def available_share(
    heat: Sequence[HeatWeek], weeks: Sequence[str], new_until: int = 0
) -> tuple[Array, Array]:
    """Return the least and greatest share of hours that heat leaves in each week, ``[weeks]``.

    Parameters
    ----------
    heat : sequence of HeatWeek
    weeks : sequence of str
        Weeks without heat figures have a share of 1.
    new_until : int
        So many first weeks count with a crew that is not acclimatised.

    Examples
    --------
    >>> available_share([], ["2027-W01"])
    (array([1.]), array([1.]))
    """
    by_week = {row.week: row for row in heat}
    low, high = np.ones(len(weeks)), np.ones(len(weeks))
    for number, week in enumerate(weeks):
        if week in by_week:
            row = by_week[week]
            low[number], high[number] = row.work_share_new if number < new_until else row.work_share
    return low, high


def season_shares(
    heat: Sequence[HeatWeek], weeks: Sequence[str], seasons: int, new_until: int = 0
) -> Array:
    """Return the share of hours that the most cautious curve leaves, ``[seasons, weeks]``.

    A hot season has fewer hours for the fruit that it brings early, so the two belong together.

    Parameters
    ----------
    heat : sequence of HeatWeek
    weeks : sequence of str
        Weeks without heat figures have a share of 1.
    seasons : int
        Possible seasons, as the heat was reckoned over.
    new_until : int
        So many first weeks count with a crew that is not acclimatised.

    Examples
    --------
    >>> season_shares([], ["2027-W01"], 2).tolist()
    [[1.0], [1.0]]
    """
    by_week = {row.week: row for row in heat}
    shares = np.ones((seasons, len(weeks)))
    for number, week in enumerate(weeks):
        if week in by_week:
            row = by_week[week]
            shares[:, number] = row.shares_new if number < new_until else row.shares
    return shares
