"""Heat of each week at the site, hour by hour of the local clock, and of the hours people work."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from phenocast._typing import FloatArray
from phenocast.errors import Fault, NoAnswerError
from phenocast.harvest.weeks import iso_week
from phenocast.parameters import labour
from phenocast.planning.labour.heat_stress import (
    direct_share,
    exposure_limit_c,
    heat_index_f,
    wbgt_c,
    work_share_range,
)
from phenocast.season.site import standard_offset_h
from phenocast.weather import HourlyWeather
from phenocast.weather.hourly import civil_clock, local_day_and_clock
from phenocast.weather.humidity import air_pressure, saturation_vapour_pressure
from phenocast.weather.sun import sun_elevation_deg


@dataclass(frozen=True)
class WorkDay:
    """A working day by the clock that people go by, summer time included.

    Parameters
    ----------
    start : float
        Hour at which work starts [h].
    contract_h : float
        Hours of a week by contract; hours beyond it follow at the end of the day [h].
    breaks_h : float
        Breaks of a day. They stay in the hours: where they fall is not known [h].
    days : int
        Working days of a week.
    earliest, latest : float or None
        Hours between which other starts are suggested; daylight where both are None [h].

    Examples
    --------
    >>> WorkDay(6.0, 40.0, 0.5, 5).span_h(45.0)
    9.5
    """

    start: float
    contract_h: float
    breaks_h: float
    days: int
    earliest: float | None = None
    latest: float | None = None

    def span_h(self, week_h: float) -> float:
        """Return the length of a day, breaks included, of a week with so many hours of work [h]."""
        return min(week_h / self.days + self.breaks_h, 24.0)


@dataclass(frozen=True)
class Start:
    """A start of the working day [h] and the P50 hours of the week above the limits from it on.

    ``dark_h`` of a working day lie in hours that are not light throughout.
    """

    clock_h: float
    above_acclimatised_h: float
    above_new_h: float
    dark_h: float


@dataclass(frozen=True)
class WeekHeat:
    """Heat of one week, hour by hour; a span of hours has a start on the clock and a length [h].

    Parameters
    ----------
    week : str
    clock_h : array [hours]
        Local clock at the start of each hour [h].
    light : array [hours] of bool
        Whether the sun is up from start to end of the hour.
    wbgt_c, index_c : arrays [seasons, hours]
        WBGT and heat index [degC].
    work_w, rest_w : float
        Metabolic rates [W].
    """

    week: str
    clock_h: FloatArray
    light: NDArray[np.bool_]
    wbgt_c: FloatArray
    index_c: FloatArray
    work_w: float
    rest_w: float

    def _inside(self, start: float, length: float) -> FloatArray:
        """Return the part of each hour that lies in the span, ``[hours]``."""
        since = (self.clock_h - start) % 24.0
        return np.clip(length - since, 0.0, 1.0) + np.minimum(np.maximum(since - 23.0, 0.0), length)

    def above_h(self, start: float, length: float, days: int, *, acclimatised: bool) -> FloatArray:
        """Return the hours of a working week above the NIOSH limit, ``[seasons]``.

        They are counted on all days of the week and scaled to the working days.
        """
        limit = exposure_limit_c(self.work_w, acclimatised=acclimatised)
        hours = (self.wbgt_c > limit) @ self._inside(start, length)
        return np.asarray(hours * days * 24.0 / len(self.clock_h))

    def share(
        self, start: float, length: float, *, acclimatised: bool
    ) -> tuple[FloatArray, FloatArray]:
        """Return the share of the span that the most and the least cautious curve leave for work.

        Both are ``[seasons]``.
        """
        inside = self._inside(start, length)
        worked = inside > 0.0
        low, high = work_share_range(
            self.wbgt_c[:, worked], self.work_w, self.rest_w, acclimatised=acclimatised
        )
        weights = inside[worked] / inside.sum()
        return np.asarray(low @ weights), np.asarray(high @ weights)

    def highest(self, start: float, length: float) -> tuple[FloatArray, FloatArray]:
        """Return the highest WBGT and heat index of the span, ``[seasons]`` each [degC]."""
        worked = self._inside(start, length) > 0.0
        return self.wbgt_c[:, worked].max(axis=1), self.index_c[:, worked].max(axis=1)

    def dark_h(self, start: float, length: float) -> float:
        """Return the hours of one day of the span that are not light throughout [h]."""
        return float(self._inside(start, length)[~self.light].sum() * 24.0 / len(self.clock_h))

    def starts(self, day: WorkDay, week_h: float) -> tuple[Start, ...]:
        """Return the working day from its start and from others that may be suggested.

        Others are whole and half hours, and lie with the whole day between `WorkDay.earliest` and
        `WorkDay.latest`, or in daylight where neither is stated.
        """
        span = day.span_h(week_h)
        first, last = day.earliest, day.latest
        begin, end = first or 0.0, (24.0 if last is None else last) - span
        others = [
            half / 2.0
            for half in range(int(np.ceil(2.0 * begin)), int(np.floor(2.0 * end)) + 1)
            if half / 2.0 != day.start
        ]
        if first is None and last is None:
            others = [start for start in others if self.dark_h(start, span) == 0.0]
        return tuple(self._start(start, span, day.days) for start in (day.start, *others))

    def _start(self, start: float, span: float, days: int) -> Start:
        used, new = (
            float(np.median(self.above_h(start, span, days, acclimatised=known)))
            for known in (True, False)
        )
        return Start(start, used, new, self.dark_h(start, span))


def better_start(starts: Sequence[Start]) -> Start | None:
    """Return the start with the fewest hours above the limits; None where none has fewer.

    The first of ``starts`` is the one that holds.

    Examples
    --------
    >>> better_start([Start(8.0, 2.0, 9.0, 0.0), Start(7.0, 0.0, 4.0, 0.0)]).clock_h
    7.0
    >>> better_start([Start(8.0, 0.0, 0.4, 0.0), Start(7.0, 0.0, 0.0, 0.0)]) is None
    True
    """
    now, *others = starts
    best = min(others, key=lambda s: (s.above_new_h, s.above_acclimatised_h, s.clock_h),
               default=now)  # fmt: skip
    return None if now.above_new_h - best.above_new_h < 0.5 else best


def site_wbgt_c(weather: HourlyWeather) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return the hourly WBGT, heat index [degC] and elevation of the sun [deg] of a site, ``[n]``.

    The sun is that of the middle of the hour.

    Raises
    ------
    NoAnswerError
        Where the energy balance of the globe or the wet bulb does not converge.
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


def heat_weeks(traces: Sequence[HourlyWeather], weeks: Sequence[str]) -> list[WeekHeat]:
    """Return the heat of each week over possible seasons.

    Parameters
    ----------
    traces : sequence of HourlyWeather
        Possible seasons, all of the same hours and site.
    weeks : sequence of str
        ISO weeks wanted; weeks of less than a day of hours are left out.

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
    >>> [week] = heat_weeks([hot], ["2027-W01"])
    >>> week.above_h(6.0, 8.5, 6, acclimatised=True)
    array([51.])
    """
    numbers = labour()["heat"]
    time, zone = traces[0].time_utc, traces[0].site.time_zone
    days, _ = local_day_and_clock(time, standard_offset_h(zone, int(str(time[0])[:4])))
    labels = {day: iso_week(date.fromisoformat(str(day))) for day in np.unique(days)}
    of_day = np.array([labels[day] for day in days])
    within = np.isin(of_day, list(weeks))
    if not within.any():
        raise NoAnswerError(Fault("the weather has no hour in the weeks of the plan",
                                  value=f"{weeks[0]} to {weeks[-1]}"))  # fmt: skip
    first, stop = int(np.argmax(within)), len(within) - int(np.argmax(within[::-1]))
    triples = [site_wbgt_c(one.slice(first, stop)) for one in traces]
    wbgt = np.stack([triple[0] for triple in triples])
    index = np.stack([triple[1] for triple in triples])
    # Of the middles of two hours the mean is the sun between them, as near as matters here.
    middle = np.pad(triples[0][2], 1, mode="edge")
    between = (middle[1:] + middle[:-1]) / 2.0
    light = (between[1:] > 0.0) & (between[:-1] > 0.0)
    of_day, clock = of_day[first:stop], civil_clock(time[first:stop], zone)
    return [
        WeekHeat(
            week, clock[mine], light[mine], wbgt[:, mine], index[:, mine],
            numbers.value("work_rate"), numbers.value("rest_rate"),
        )
        for week in weeks
        if (mine := of_day == week).sum() >= 24
    ]  # fmt: skip
