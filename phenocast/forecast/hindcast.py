"""Forecasts of past block-seasons as they would have been made, with what was known then.

The forecast of a block is made as of its planting, or some days later: observed weather up to the
day before, and past years that had ended by then. What came later is never read.

The plain rule beside a hindcast is a sum of air warmth, with no film and no upper limit: the sum
that the cultivar needed from planting to first pick in the other seasons is looked for in the
weather that could follow.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import Any, Literal

import numpy as np
import pandas as pd

from phenocast._typing import FloatArray
from phenocast.errors import Fault, InputError, NoAnswerError
from phenocast.forecast.frost import season_frost, season_notes
from phenocast.forecast.picked import PickedBlock
from phenocast.forecast.run import run_forecast
from phenocast.phenology.work import FIRST_PICK
from phenocast.season import Block, Season
from phenocast.simulation.bed import spin_up_start
from phenocast.simulation.setup import BlockSetup
from phenocast.thermal_time import prefix_sums, value_at
from phenocast.thermal_time.accumulation import crossing_time
from phenocast.weather import HourlyWeather, SeasonWeather
from phenocast.weather.hourly import local_midnight_utc


def air_sums(
    weather: HourlyWeather, planting: date, zone: str, n_days: int, base_c: float
) -> FloatArray:
    """Sums of air warmth above a base from planting on.

    Parameters
    ----------
    weather : HourlyWeather
    planting : first local day.
    zone : IANA name of the site's zone.
    n_days : days wanted; what the weather does not hold is NaN.
    base_c : temperature below which no hour counts. [degC]

    Returns
    -------
    array ``[n_days + 1]``, by day since planting. [degC d]

    Examples
    --------
    >>> from phenocast.season import Site
    >>> from phenocast.weather.hourly import constant_weather
    >>> site = Site("Low Quay", 29.3, -15.6, 35.0, "Atlantic/Canary")
    >>> air = constant_weather(site, 72, 15.0, start="2026-01-01")
    >>> air_sums(air, date(2026, 1, 1), "Atlantic/Canary", 4, 3.0).tolist()
    [0.0, 12.0, 24.0, 36.0, nan]
    """
    start = local_midnight_utc(planting, zone)
    first = int((start - weather.time_utc[0].astype("datetime64[h]")).astype(int))
    found = np.full(n_days + 1, np.nan)
    if first < 0:
        return found
    days = max(0, min(n_days, (len(weather) - first) // 24))
    air = weather.air_c[first : first + 24 * days].reshape(days, 24)
    found[: days + 1] = prefix_sums(np.maximum(air - base_c, 0.0).mean(axis=1))
    return found


def sum_at(sums: FloatArray, day: float) -> float:
    """Sum at a time since planting, NaN where it is not known. [degC d]

    Examples
    --------
    >>> sum_at(np.array([0.0, 12.0, np.nan]), 0.5), sum_at(np.array([0.0, np.nan]), 0.5)
    (6.0, nan)
    """
    known = sums[np.isfinite(sums)]
    if known.size < 2 or not np.isfinite(day):
        return float("nan")
    return float(value_at(known, day))


def days_to(sums: FloatArray, requirement: float) -> FloatArray:
    """Time at which each course of weather reaches a sum; infinite where it does not. [d]

    Parameters
    ----------
    sums : array ``[trace, day + 1]``. [degC d]
    requirement : sum to reach, 0 or more. [degC d]

    Returns
    -------
    array ``[trace]``

    Examples
    --------
    >>> days_to(np.array([[0.0, 12.0, 24.0], [0.0, 4.0, 8.0]]), 12.0).tolist()
    [1.0, inf]
    """
    found = np.array([float(crossing_time(one[np.isfinite(one)], requirement)) for one in sums])
    return np.where(np.isfinite(found), found, np.inf)


PastYears = Literal["earlier", "others"]
Progress = Callable[[int, int, str], None]


@dataclass(frozen=True)
class PastBlock:
    """One block of a past season, its weather and its picks.

    Parameters
    ----------
    label : str
        Name of the season, as records name it.
    season : Season
    block : Block
    weather : SeasonWeather
    picked : PickedBlock
    others : DataFrame, optional
        Past seasons that a fit left (`phenocast.tables.PAST_SEASONS`); its own is never used.
    """

    label: str
    season: Season
    block: Block
    weather: SeasonWeather
    picked: PickedBlock
    others: pd.DataFrame | None = None


@dataclass(frozen=True)
class Hindcast:
    """Forecast of a past block-season, and what was picked.

    Parameters
    ----------
    past : PastBlock
    issue_date : date
        Last day whose weather was used.
    lead : int
        Days from planting to the day on which the forecast is made. [d]
    first_pick : array ``[member]``
        Days since planting, infinite where a member never reaches it. [d]
    weeks : tuple of str
        ISO weeks with a visit.
    taken : array ``[week]``
        Fruit picked in each. [g per plant]
    weekly : array ``[member, week]``
        Fruit that the same visits would have taken of each member. [g per plant]
    n_days : int
        Days that were followed.
    past_years : tuple of str
        Years that stood for what was not known.
    warnings : tuple of str
    frost : mapping
        Protection, share of the season's fruit lost to frost, and the season's fruit without and
        with protection, `phenocast.forecast.frost.season_frost`.
    air_sums : array ``[trace, day + 1]``
        Air warmth from planting on, for the plain rule beside the forecast. [degC d]
    own_sum : float
        Air warmth that the season truly had by its first pick; NaN where it is not known. Only
        hindcasts of other seasons use it. [degC d]
    """

    past: PastBlock
    issue_date: date
    lead: int
    first_pick: FloatArray
    weeks: tuple[str, ...]
    taken: FloatArray
    weekly: FloatArray
    n_days: int
    past_years: tuple[str, ...]
    warnings: tuple[str, ...]
    frost: Mapping[str, Any] = field(default_factory=dict)
    air_sums: FloatArray = field(default_factory=lambda: np.empty((0, 1)))
    own_sum: float = float("nan")


def hindcast_block(
    past: PastBlock,
    *,
    lead: int = 0,
    draws: int = 200,
    seed: int = 0,
    past_years: PastYears = "earlier",
) -> Hindcast:
    """Forecast one past block as of some days after its planting.

    Parameters
    ----------
    past : PastBlock
    lead : int
        Days after planting, 0 or more: the weather of the days before is known. [d]
    draws, seed : of what is not known about plants and films.
    past_years : "earlier" or "others"
        Years that stand for the weather to come: those that had ended by then, or all but the
        season's own. The second is for short records; no grower had those years at the time.

    Returns
    -------
    Hindcast

    Raises
    ------
    NoAnswerError
        No past year is left, so that no forecast could have been made.
    """
    issue = past.block.planting_date + timedelta(days=lead - 1)
    block = replace(past.block, canopy=tuple(one for one in past.block.canopy if one.day <= issue))
    season = replace(past.season, blocks=(block,))
    known, told = known_then(past.weather, season, issue, past_years)
    where = f"{past.label}: {block.name}"
    try:
        made = run_forecast(
            season,
            known,
            issue_date=issue,
            draws=draws,
            seed=seed,
            state_at={block.name: past.picked.visits.tolist()},
            past=None if past.others is None else past.others[past.others["season"] != past.label],
        )
    except NoAnswerError as error:
        raise NoAnswerError(
            Fault(
                "no past year had ended when the forecast would have been made",
                where,
                issue.isoformat(),
                do="give a longer history, or let all other years stand in (--past-years others)",
            )
        ) from error
    made_block = made.blocks[0]
    traces = made.traces.traces
    kept = [True] * len(traces)
    if past_years == "others":
        own = _own_year(made.traces.observed_until, made_block.setup)
        kept = [not _of_year(trace.label, own) for trace in traces]
    if not any(kept):
        raise NoAnswerError(Fault("the only past year is the season itself", where))
    # what ripens after the season's end is not picked
    so_far = np.minimum(made_block.states.marketable_g, made_block.season_g[..., None])[kept]
    so_far = so_far.reshape(-1, so_far.shape[-1])
    weeks, weekly = past.picked.by_week(past.picked.as_picked(so_far))
    zone, base = past.season.site.time_zone, made_block.setup.cultivar.value("development_base")
    used = [trace for trace, stays in zip(traces, kept, strict=True) if stays]
    n_days = made_block.setup.n_days
    truth = past.weather.observed
    own_sum = float("nan")
    if truth is not None:
        own_sum = sum_at(
            air_sums(truth, block.planting_date, zone, n_days, base), past.picked.middle
        )
    frost = season_frost(block, made_block.season_g[kept], made_block.spared_g[kept])
    return Hindcast(
        past=past,
        issue_date=issue,
        lead=lead,
        first_pick=np.asarray(made_block.dates[kept][..., FIRST_PICK]).ravel(),
        weeks=weeks,
        taken=past.picked.by_week(past.picked.taken)[1],
        weekly=weekly,
        n_days=n_days,
        past_years=tuple(trace.label for trace in used),
        warnings=(*told, *made.traces.warnings, *season_notes(frost)),
        frost=frost,
        air_sums=np.stack([air_sums(trace.weather, block.planting_date, zone, n_days, base)
                           for trace in used]),
        own_sum=own_sum,
    )  # fmt: skip


def known_then(
    weather: SeasonWeather, season: Season, issue: date, past_years: PastYears
) -> tuple[SeasonWeather, tuple[str, ...]]:
    """Weather that was known on a day, and what was left out of it.

    Parameters
    ----------
    weather : of the season, as its file names it now.
    season : Season
    issue : last day that is known.
    past_years : "earlier" keeps the years up to that day, "others" all of them. Where the season
        names no past years, those before it in the observed weather are taken.

    Returns
    -------
    SeasonWeather, tuple of str
    """
    told = []
    observed = weather.observed
    # a file of past weather often holds the years before the season as well
    history = observed if weather.history is None else weather.history
    if history is not None and history.typical_year:
        told.append(
            "a typical year stands for the weather to come; it may be made of later years, this "
            "season among them"
        )
    elif history is not None and past_years == "earlier":
        history = _until(history, local_midnight_utc(issue + timedelta(days=1),
                                                     season.site.time_zone))  # fmt: skip
    if weather.outlook:
        told.append("the outlook of the season file is left out: it is not known when it was made")
    if observed is not None:
        observed = _until(observed, local_midnight_utc(issue + timedelta(days=1),
                                                       season.site.time_zone))  # fmt: skip
    return SeasonWeather(observed, history, {}, weather.nursery), tuple(told)


def _until(weather: HourlyWeather, stop: np.datetime64) -> HourlyWeather | None:
    hours = int((stop - weather.time_utc[0].astype("datetime64[h]")).astype(int))
    return weather.slice(0, min(hours, len(weather))) if hours > 0 else None


def _own_year(observed_until: date | None, setup: BlockSetup) -> int:
    """Year in which the past years take over: the season itself is the trace of that year."""
    begun = spin_up_start(setup) if observed_until is None else observed_until + timedelta(days=1)
    return begun.year


def _of_year(label: str, year: int) -> bool:
    """Whether a trace is made of the trace that begins in a year, such as ``2019/20``."""
    return any(part.strip()[:4] == str(year) for part in label.split(","))


def hindcast_blocks(
    pasts: Sequence[PastBlock],
    *,
    leads: Sequence[int] = (0,),
    draws: int = 200,
    seed: int = 0,
    past_years: PastYears = "earlier",
    progress: Progress | None = None,
) -> tuple[list[Hindcast], list[tuple[PastBlock, int, str]]]:
    """Forecast every past block as of each lead.

    Parameters
    ----------
    pasts : past block-seasons.
    leads : days after planting. [d]
    draws, seed, past_years : as for `hindcast_block`.
    progress : callable, optional
        Called with what is done, what there is to do and what is being done.

    Returns
    -------
    list of Hindcast, and list of (block, lead, reason) of those that could not be made

    Raises
    ------
    InputError
        No lead, or one before planting.
    NoAnswerError
        Not one forecast could have been made.
    """
    if not leads or min(leads) < 0:
        raise InputError(Fault("not a lead", "leads", list(leads), "0 or more days after planting"))
    made, missed = [], []
    for number, (past, lead) in enumerate((p, n) for p in pasts for n in leads):
        try:
            made.append(
                hindcast_block(past, lead=lead, draws=draws, seed=seed, past_years=past_years)
            )
        except NoAnswerError as error:
            missed.append((past, lead, str(error.faults[0])))
        if progress is not None:
            progress(number + 1, len(pasts) * len(leads), f"{past.label}: {past.block.name}")
    if not made:
        raise NoAnswerError(_why_none(missed))
    return made, missed


def _why_none(missed: Sequence[tuple[PastBlock, int, str]]) -> list[Fault]:
    """Faults of forecasts that could not be made, the same reason once."""
    if not missed:
        return [Fault("no past block-season has records")]
    first = missed[0]
    more = f" and {len(missed) - 1} more like it" if len(missed) > 1 else ""
    return [Fault(f"not one forecast could have been made: {first[2]}{more}")]
