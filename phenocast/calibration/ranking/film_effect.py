"""What a film did, split: what the temperature of the crown explains, and the effect beyond it.

A film changes the temperature of the crown, which the model knows, and the light that comes from
below with its red to far-red ratio, which it does not. The difference between two films in flowers,
fruit or yield is parted into what the fitted model makes of their crown temperatures, in draws of
film optics and of fitted parameters, and the rest. Parameters that were not fitted stand at their
central value, as they did in the fit, and a season is as much later or earlier as the fit found it.
The rest is zero in every forecast until the records support it.
"""

from __future__ import annotations

import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from scipy.stats import t as student

from phenocast._typing import FloatArray
from phenocast.calibration._checks import finite
from phenocast.calibration.cultivar.model import (
    FRUIT,
    FRUIT_NUMBER,
    MARKETABLE,
    OPEN_FLOWERS,
    run_trials,
)
from phenocast.calibration.ranking.heat_response import NurseryWeather, drawn_plants
from phenocast.errors import Fault, InputError, refuse
from phenocast.parameters import Parameter, ParameterSet
from phenocast.phenology import make_work
from phenocast.simulation import BlockSetup, bed_season, crown_daily, site_weather
from phenocast.simulation.setup import physics_records
from phenocast.vector import lane_records
from phenocast.weather import HourlyWeather

LEVEL = 0.95
# A left-over is a claim on seasons to come: three seasons are the fewest that can show it.
FEWEST_SEASONS = 3
OWN_RECORDS = "own records"


@dataclass(frozen=True)
class Part:
    """A difference between two films as the logarithm of their ratio, with its interval.

    ``estimate``, ``lower``, ``upper`` and ``error`` are natural logarithms; the interval is NaN
    where one season was grown. ``df`` are the degrees of freedom of the error.
    """

    estimate: float
    error: float
    df: float
    lower: float
    upper: float

    def as_share(self) -> tuple[float, float, float]:
        """Estimate and interval as a share: 0.30 is 30 % more than on the reference. [1]"""
        low, mid, high = np.expm1([self.lower, self.estimate, self.upper])
        return float(mid), float(low), float(high)


@dataclass(frozen=True)
class FilmSplit:
    """Difference between two films, parted.

    Parameters
    ----------
    response, film, reference : str
    seasons : tuple of str
    pairs : int
        Pairs of blocks that were compared.
    observed, explained, left_over : Part
        ``left_over`` is what is observed less what is explained.
    earned : bool
        Whether the left-over may enter a forecast.
    why : str
        The sentence that says so.
    error_without, error_with : float
        Root mean square error of a season that was left out, without a left-over and with that of
        the other seasons. [logarithm]
    bic_gain : float
        Fall of BIC when the left-over is added; above 0 speaks for it.
    """

    response: str
    film: str
    reference: str
    seasons: tuple[str, ...]
    pairs: int
    observed: Part
    explained: Part
    left_over: Part
    earned: bool
    why: str
    error_without: float
    error_with: float
    bic_gain: float


def pair_films(
    blocks: pd.DataFrame, predicted: ArrayLike, film: str, reference: str
) -> tuple[tuple[str, ...], FloatArray, FloatArray, int]:
    """Pair blocks that differ in film alone, and average the pairs of a season.

    Parameters
    ----------
    blocks : DataFrame ``[block]``
        ``season``, ``film``, ``observed`` (above 0) and every other column as what a pair shares:
        cultivar, planting date, transplant, site.
    predicted : array ``[block, draw]``
        What the model makes of each block, above 0, without any left-over.
    film, reference : the two films.

    Returns
    -------
    seasons : tuple of str
    observed : array ``[season]``, logarithm of the ratio of the films.
    predicted : array ``[season, draw]``, the same of the model.
    pairs : int

    Raises
    ------
    InputError : arrays that do not fit, a value not above 0, no pair.

    Examples
    --------
    >>> table = pd.DataFrame({"season": "2026", "cultivar": ["Marl", "Marl"],
    ...                       "film": ["black", "silver"], "observed": [400.0, 500.0]})
    >>> seasons, seen, made, n = pair_films(table, [[400.0], [480.0]], "silver", "black")
    >>> seasons, np.exp(seen).round(2).tolist(), np.exp(made).round(2).tolist(), n
    (('2026',), [1.25], [[1.2]], 1)
    """
    made = finite(predicted, "predicted", dimensions=2, shortest=(2, 1))
    seen = finite(blocks["observed"].to_numpy(), "observed", dimensions=1, shortest=(2,))
    refuse(
        (len(made) != len(blocks),
         Fault("not one prediction a block", "predicted", len(made), str(len(blocks)))),
        (np.any(seen <= 0.0) or np.any(made <= 0.0),
         Fault("a block without fruit or flowers has no ratio", "observed, predicted",
               do="leave the block out, or compare another response")),
    )  # fmt: skip
    shared = [one for one in blocks.columns if one not in ("film", "observed")]
    logs = np.column_stack([np.log(seen), np.log(made)])
    table = blocks.reset_index(drop=True)
    by_season: dict[str, list[FloatArray]] = {}
    for key, own in table.groupby(shared, sort=True):
        at, ref = own.index[own["film"] == film], own.index[own["film"] == reference]
        if len(at) and len(ref):
            season = str(dict(zip(shared, key, strict=True))["season"])
            difference = logs[at].mean(axis=0) - logs[ref].mean(axis=0)
            by_season.setdefault(season, []).append(difference)
    refuse(
        (not by_season,
         Fault(f"no season has {film} beside {reference} with all else alike", "blocks",
               do="plant one cultivar on both films on one day")),
    )  # fmt: skip
    seasons = tuple(sorted(by_season))
    means = np.array([np.mean(by_season[one], axis=0) for one in seasons])
    return seasons, means[:, 0], means[:, 1:], sum(map(len, by_season.values()))


def film_split(
    response: str,
    film: str,
    reference: str,
    seasons: Sequence[str],
    observed: ArrayLike,
    predicted: ArrayLike,
    *,
    pairs: int | None = None,
    level: float = LEVEL,
) -> FilmSplit:
    """Part the difference between two films.

    Parameters
    ----------
    response, film, reference : names.
    seasons : names, one a season.
    observed : array ``[season]``
        Logarithm of the ratio of the films, mean over the pairs of the season.
    predicted : array ``[season, draw]``
        What the model makes of it from the crown temperatures, in draws of all that is not known:
        film optics, bed physics and cultivar.
    pairs : number of pairs behind the seasons.
    level : coverage of the intervals.

    Returns
    -------
    FilmSplit

    Raises
    ------
    InputError : no season, arrays that do not fit, a value missing.

    Notes
    -----
    Delta method with the season as the unit: the variance of a mean over n seasons is their
    variance over n, to which the variance of the model's mean over its draws is added (it is the
    same in every season and no number of seasons takes it away). Degrees of freedom after
    Satterthwaite, the draws counted as known.

    The left-over is earned where its interval leaves out 0, a season that was left out is foretold
    better with it, and BIC falls, in three seasons or more.

    Examples
    --------
    >>> found = film_split("yield", "silver", "black", ["2023", "2024", "2025", "2026"],
    ...                    [0.30, 0.34, 0.28, 0.32], np.full((4, 100), 0.31))
    >>> found.earned, round(found.left_over.estimate, 3)
    (False, 0.0)
    """
    seen = finite(observed, "observed", dimensions=1, shortest=(1,))
    made = finite(predicted, "predicted", dimensions=2, shortest=(1, 1))
    n = seen.size
    if made.shape[0] != n or len(seasons) != n:
        raise InputError(Fault("not one value a season", value=(n, made.shape[0], len(seasons))))
    rest = seen - made.mean(axis=1)
    of_draws = float(np.var(made.mean(axis=0)))
    left_over = _part(rest, of_draws, level)
    without, with_it = _left_out(rest)
    gain = _bic_gain(rest)
    earned, why = _verdict(left_over, n, without, with_it, gain)
    return FilmSplit(
        response=response,
        film=film,
        reference=reference,
        seasons=tuple(seasons),
        pairs=n if pairs is None else pairs,
        observed=_part(seen, 0.0, level),
        explained=_part(made.mean(axis=1), of_draws, level),
        left_over=left_over,
        earned=earned,
        why=why,
        error_without=without,
        error_with=with_it,
        bic_gain=gain,
    )


def with_left_over(
    film: ParameterSet, prior: Parameter, splits: Sequence[FilmSplit]
) -> ParameterSet | None:
    """Film with the left-over that its records have earned; None where they have earned none.

    Parameters
    ----------
    film : the film as its season knows it.
    prior : certificate of ``flower_left_over``, for its bounds.
    splits : of several films and responses. Of a film's own the one nearest to the flowers counts:
        flowers, then fruit number, then yield.

    Returns
    -------
    ParameterSet or None

    Examples
    --------
    >>> from phenocast.parameters import bed, films
    >>> split = film_split("yield", "silver", "black", ["2024", "2025", "2026"],
    ...                    [0.30, 0.32, 0.31], np.full((3, 50), 0.1))
    >>> found = with_left_over(films()["silver"], bed()["flower_left_over"], [split])
    >>> round(found.value("flower_left_over"), 2), found["flower_left_over"].basis
    (0.21, 'fitted')
    """
    earned = [one for one in splits if one.film == film.name and one.earned]
    if not earned:
        return None
    one = earned[0]
    stated = replace(
        prior,
        value=float(np.clip(one.left_over.estimate, prior.lower, prior.upper)),
        sd=one.left_over.error,
        basis="fitted",
        conditions=f"{one.response} against {one.reference}, seasons {', '.join(one.seasons)}",
        source=OWN_RECORDS,
        where="left over of what the film did, rank.json",
        read=True,
    )
    return replace(film, parameters={**film.parameters, "flower_left_over": stated})


def _part(values: FloatArray, of_draws: float, level: float) -> Part:
    n = values.size
    mean = float(values.mean())
    if n < 2:
        nan = float("nan")
        return Part(mean, nan, 0.0, nan, nan)
    between = float(values.var(ddof=1)) / n
    error = float(np.sqrt(between + of_draws))
    df = (between + of_draws) ** 2 / (between**2 / (n - 1)) if between > 0.0 else np.inf
    reach = float(student.ppf((1.0 + level) / 2.0, df)) * error
    return Part(mean, error, float(df), mean - reach, mean + reach)


def _left_out(rest: FloatArray) -> tuple[float, float]:
    n = rest.size
    without = float(np.sqrt(np.mean(rest**2)))
    if n < 2:
        return without, float("nan")
    others = (rest.sum() - rest) / (n - 1)
    return without, float(np.sqrt(np.mean((rest - others) ** 2)))


def _bic_gain(rest: FloatArray) -> float:
    """BIC without a left-over less BIC with it, normal seasons of unknown spread."""
    n = rest.size
    without, with_it = float(np.sum(rest**2)), float(np.sum((rest - rest.mean()) ** 2))
    if n < 2 or without <= 0.0:
        return float("nan")
    if with_it <= 0.0:
        return float("inf")
    return n * float(np.log(without / with_it)) - float(np.log(n))


def _verdict(part: Part, n: int, without: float, with_it: float, gain: float) -> tuple[bool, str]:
    if n < FEWEST_SEASONS:
        return False, (
            f"{n} season(s): what is left over cannot be told from chance; "
            f"{FEWEST_SEASONS} seasons of both films are the fewest that could show it"
        )
    if part.lower <= 0.0 <= part.upper:
        return False, "nothing is left over that the records can tell from zero"
    if not with_it < without:
        return False, "a season that was left out is foretold no better with it"
    if not gain > 0.0:
        return False, "the fit is not better by more than the number it costs (BIC)"
    side = "more" if part.estimate > 0.0 else "less"
    return True, (
        f"{abs(100 * part.as_share()[0]):.0f} % {side} than the crown temperature explains, in "
        f"{n} seasons; a season that was left out is foretold better with it"
    )


PHYSICS_RUNS = 16
TOTALS = (OPEN_FLOWERS, FRUIT_NUMBER, MARKETABLE, FRUIT)
NAMES = {
    OPEN_FLOWERS: "flowers",
    FRUIT_NUMBER: "fruit number",
    MARKETABLE: "marketable yield",
    FRUIT: "yield",
}


@dataclass(frozen=True)
class GrownBlock:
    """A past block with its records of amounts.

    Parameters
    ----------
    season : str
    setup : BlockSetup
        It ends with the last day that has weather.
    weather : HourlyWeather
        As it was observed.
    kind : array ``[record]``, of `TOTALS`.
    start, stop : arrays ``[record]``
        Window of each, days since planting. [d]
    value : array ``[record]``
        What was recorded. [per plant]
    nursery : pair of Nursery and its weather, optional
    later_d, later_sd_d : float
        By how much the season was later than the model makes it, and its standard deviation: what
        all blocks of a season share. [d]
    """

    season: str
    setup: BlockSetup
    weather: HourlyWeather
    kind: NDArray[np.int64]
    start: FloatArray
    stop: FloatArray
    value: FloatArray
    nursery: NurseryWeather | None = None
    later_d: float = 0.0
    later_sd_d: float = 0.0

    def later(self, n: int, seed: int) -> FloatArray:
        """Draws of how much later the season was, ``[n]``, the same for all its blocks. [d]"""
        rng = np.random.default_rng([seed, zlib.crc32(self.season.encode())])
        return self.later_d + self.later_sd_d * rng.standard_normal(n)


def predicted_records(
    block: GrownBlock,
    fitted: Mapping[str, FloatArray],
    *,
    seed: int = 0,
    physics_runs: int = PHYSICS_RUNS,
) -> FloatArray:
    """Return what the model makes of every record of a block.

    Parameters
    ----------
    block : GrownBlock
    fitted : mapping of str to array ``[draw]``
        Draws of the cultivar's fitted numbers.
    seed, physics_runs : draws of film, soil and bed; draw ``d`` takes draw ``d % physics_runs``.

    Returns
    -------
    array ``[draw, record]``
    """
    n = next(iter(fitted.values())).size
    plants, tables = drawn_plants(block.setup, fitted, n, seed, block.nursery, as_fitted=True)
    bed = bed_season(block.setup, site_weather(block.weather, block.setup.site))
    physics = physics_records(block.setup, n_draws=min(physics_runs, n), seed=seed)
    crown, daily, _ = crown_daily(bed, physics)
    work = make_work(bed.days.n_days)
    total = np.empty((4, bed.days.n_days + 1))
    later = block.later(n, seed)
    out = np.empty((n, block.kind.size))
    for run in range(len(physics)):
        own = np.arange(run, n, len(physics))
        part = np.empty((own.size, block.kind.size))
        run_trials(
            crown[run], bed.days.first_hour, daily[run], np.ascontiguousarray(tables[own]),
            np.arange(own.size), lane_records(plants[own]), later[own],
            block.setup.block.first_pick_g_per_plant, block.kind, block.start, block.stop, work,
            total, part,
        )  # fmt: skip
        out[own] = part
    return out


def split_films(
    blocks: Sequence[GrownBlock],
    draws: Mapping[str, Mapping[str, FloatArray]],
    reference: str,
    *,
    seed: int = 0,
) -> list[FilmSplit] | str:
    """Split what every film did against one of them, for every kind of amount that was recorded.

    Parameters
    ----------
    blocks : past blocks with records.
    draws : draws of the fitted numbers by cultivar; blocks of other cultivars are left out.
    reference : film that the others are held against.
    seed : of the draws of films and beds.

    Returns
    -------
    list of FilmSplit, or the sentence that says why there is none
    """
    known = [block for block in blocks if block.setup.block.cultivar in draws]
    films = sorted({block.setup.block.film for block in known} - {reference})
    if not films or not any(block.setup.block.film == reference for block in known):
        return "one film was grown"
    made = [
        predicted_records(block, draws[block.setup.block.cultivar], seed=seed) for block in known
    ]
    found = []
    for kind in TOTALS:
        rows, predicted = [], []
        for block, drawn in zip(known, made, strict=True):
            own = block.kind == kind
            seen, expected = float(block.value[own].sum()), drawn[:, own].sum(axis=1)
            if own.any() and seen > 0.0 and np.all(expected > 0.0):
                one = block.setup.block
                rows.append(
                    {
                        "season": block.season,
                        "site": block.setup.site.name,
                        "cultivar": one.cultivar,
                        "planting_date": one.planting_date.isoformat(),
                        "transplant": one.transplant,
                        "film": one.film,
                        "observed": seen,
                    }
                )
                predicted.append(expected)
        table = pd.DataFrame(rows)
        for film in films if rows else ():
            try:
                paired = pair_films(table, np.array(predicted), film, reference)
            except InputError:
                continue  # no season has both films with this kind of record and all else alike
            seasons, seen_log, made_log, pairs = paired
            found.append(
                film_split(NAMES[kind], film, reference, seasons, seen_log, made_log, pairs=pairs)
            )
    return found or (
        f"no season has another film beside {reference} with one cultivar, planting date and kind "
        "of record"
    )


def cut_to_weather(setup: BlockSetup, n_days: int) -> BlockSetup:
    """Return a block that ends with the last day that has weather."""
    end = setup.block.planting_date + timedelta(days=n_days - 1)
    return replace(setup, block=replace(setup.block, season_end=end))
