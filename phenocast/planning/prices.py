"""Weekly prices as a curve with a season effect and a week effect that remembers the week before.

p(w) = P0 s(w) exp(u + e_w), with u ~ N(0, season sd) one number a season and e_w a first-order
autoregression whose spread falls from early to late weeks. P0 s(w) is stated week by week, or as
prices of months that are joined on a log scale through the middle of each month. The spread is
about the stated curve as its median. A week with more fruit than usual may be cheaper: e_w can be
correlated with the logarithm of the supply.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import ArrayLike, NDArray

from phenocast._typing import FloatArray
from phenocast.errors import Fault, InputError, broken, named, raise_any, refuse, unknown_name
from phenocast.harvest.weeks import iso_week, monday
from phenocast.parameters import price_shapes
from phenocast.season import Prices

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_Z90 = 1.2815515655446004  # standard normal quantile of 0.9


@dataclass(frozen=True)
class PriceCurve:
    """Prices of consecutive weeks and how they spread.

    Parameters
    ----------
    weeks : tuple of str
        Consecutive ISO weeks.
    per_kg : array [weeks]
        Median price of a kg of marketable fruit [currency kg-1], above 0.
    currency : str
    season_sd : float
        Log spread between seasons.
    week_sd : array [weeks]
        Log spread of a week within its season.
    week_memory : float
        Correlation of a week's deviation with that of the next, 0 to below 1.
    supply_correlation : float
        Correlation of the week effect with the log of the supply, -1 to 1.
    source : str
        Where the prices are stated, for messages.

    Raises
    ------
    InputError
        With every fault: weeks that are missing or out of order, prices not above 0.

    Examples
    --------
    >>> PriceCurve(("2027-W01", "2027-W03"), np.array([3.0, 2.5]), "EUR")
    Traceback (most recent call last):
    phenocast.errors.InputError: prices: weeks are missing (value '2027-W02')...
    """

    weeks: tuple[str, ...]
    per_kg: FloatArray
    currency: str
    season_sd: float = 0.0
    week_sd: FloatArray | float = 0.0
    week_memory: float = 0.0
    supply_correlation: float = 0.0
    source: str = "prices"

    def __post_init__(self) -> None:
        faults = _week_faults(self.weeks)
        faults += broken(
            (
                len(self.per_kg) != len(self.weeks),
                Fault(
                    "prices and weeks disagree",
                    "prices",
                    len(self.per_kg),
                    f"{len(self.weeks)} weeks",
                ),
            )
        )
        bad = [w for w, p in zip(self.weeks, self.per_kg, strict=False)
               if not (np.isfinite(p) and p > 0.0)]  # fmt: skip
        if bad:
            faults.append(
                Fault(
                    "a price is not above zero",
                    "prices",
                    ", ".join(bad[:6]),
                    f"above 0 {self.currency} per kg",
                    "state it or leave the weeks out",
                )
            )
        faults += broken(
            (
                not self.currency.strip(),
                Fault("the currency is not stated", "prices.currency", allowed="such as EUR"),
            ),
            (
                not (self.season_sd >= 0.0 and np.all(np.asarray(self.week_sd) >= 0.0)),
                Fault("a spread is below zero", "prices"),
            ),
            (
                not 0.0 <= self.week_memory < 1.0,
                Fault("out of range", "prices.week_memory", self.week_memory, "0 to below 1"),
            ),
            (
                not -1.0 <= self.supply_correlation <= 1.0,
                Fault(
                    "out of range", "prices.supply_correlation", self.supply_correlation, "-1 to 1"
                ),
            ),
        )
        raise_any(faults)

    def at(self, weeks: Sequence[str]) -> NDArray[np.int64]:
        """Return the place of each week in the curve.

        Raises
        ------
        InputError
            With every week that has no price.
        """
        place = {week: number for number, week in enumerate(self.weeks)}
        missing = [week for week in weeks if week not in place]
        if missing:
            number = "a week" if len(missing) == 1 else f"{len(missing)} weeks"
            raise InputError(
                Fault(f"no price for {number} in which fruit is possible", self.source,
                      _spans(missing), f"{self.weeks[0]} to {self.weeks[-1]}",
                      "state a price for every week of the season")
            )  # fmt: skip
        return np.array([place[week] for week in weeks], dtype=np.int64)


def draw_prices(
    curve: PriceCurve, n: int, seed: int, supply: ArrayLike | None = None
) -> FloatArray:
    """Draw prices, ``[n, weeks of the curve]`` [currency kg-1].

    The same curve, number and seed give the same draws: options that are compared share them, each
    taking its own weeks by `PriceCurve.at`. With a supply they stay shared as long as all options
    are given the supply of one reference option (the region's, say).

    Parameters
    ----------
    curve : PriceCurve
    n : int
        Number of draws.
    seed : int
    supply : array [n, weeks], optional
        Fruit of the region or the farm in each draw, any unit; weeks without fruit have no effect.

    Examples
    --------
    >>> curve = PriceCurve(("2027-W01", "2027-W02"), np.array([3.0, 2.5]), "EUR", 0.2, 0.1, 0.7)
    >>> draw_prices(curve, 4, seed=1).shape
    (4, 2)
    """
    refuse((n < 1, Fault("too few draws", value=n, allowed="1 or more")))
    rng = np.random.Generator(np.random.PCG64(np.random.SeedSequence([seed, 0x5052])))
    weeks = len(curve.weeks)
    season = rng.standard_normal(n)
    fresh = rng.standard_normal((n, weeks))
    effect = np.empty((n, weeks))
    memory = curve.week_memory
    for week in range(weeks):
        before = effect[:, week - 1] if week else fresh[:, 0]
        renewed = np.sqrt(1.0 - memory**2) * fresh[:, week] + memory * before
        effect[:, week] = renewed if week else fresh[:, 0]
    if supply is not None and curve.supply_correlation != 0.0:
        rho = curve.supply_correlation
        scored, moves = _scores(np.asarray(supply, dtype=np.float64), (n, weeks))
        mixed = rho * scored + np.sqrt(1.0 - rho**2) * effect
        effect = np.where(moves, mixed, effect)
    week_sd = np.broadcast_to(np.asarray(curve.week_sd, dtype=np.float64), (weeks,))
    log = curve.season_sd * season[:, None] + week_sd * effect
    return np.asarray(curve.per_kg * np.exp(log))


def _scores(supply: FloatArray, shape: tuple[int, int]) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Return standard scores of log supply by week, and where there is any spread."""
    refuse(
        (
            supply.shape != shape,
            Fault("supply and prices disagree", "supply", supply.shape, str(shape)),
        )
    )
    positive = supply > 0.0
    log = np.log(np.where(positive, supply, 1.0))
    count = np.maximum(positive.sum(axis=0), 1)
    mean = np.where(positive, log, 0.0).sum(axis=0) / count
    deviation = np.where(positive, log - mean, 0.0)
    sd = np.sqrt((deviation**2).sum(axis=0) / count)
    moves = positive & (sd > 1e-12)
    return np.where(moves, deviation / np.where(sd > 1e-12, sd, 1.0), 0.0), moves


def curve_from_table(
    weeks: Sequence[str],
    per_kg: ArrayLike,
    currency: str,
    *,
    low: ArrayLike | None = None,
    high: ArrayLike | None = None,
    currencies: Sequence[str] | None = None,
    season_sd: float | None = None,
    week_memory: float | None = None,
    supply_correlation: float = 0.0,
) -> PriceCurve:
    """Return the curve that a table of weekly prices states.

    Parameters
    ----------
    weeks : sequence of str
        ISO weeks, one row each, in order and without gaps.
    per_kg : array [weeks]
    currency : str
        As the season states it.
    low, high : arrays [weeks], optional
        Price in a bad and a good year, 1 in 10 each; NaN where unknown (the shipped spread then).
    currencies : sequence of str, optional
        Currency of each row, where the table states it.
    season_sd, week_memory : float, optional
        Shipped ones where not given.
    supply_correlation : float

    Raises
    ------
    InputError
        With every fault: missing weeks, weeks twice, mixed currencies, low above high.

    Examples
    --------
    >>> curve = curve_from_table(["2026-W50", "2026-W51"], [3.8, 4.1], "EUR", low=[3.1, np.nan],
    ...                          high=[4.7, np.nan])
    >>> curve.week_sd.round(2)
    array([0.  , 0.22])
    """
    price = np.asarray(per_kg, dtype=np.float64)
    faults = _week_faults(weeks)
    found = sorted({*(currencies or ()), currency})
    faults += broken(
        (
            len(found) > 1,
            Fault(
                "prices in more than one currency",
                "prices",
                ", ".join(found),
                currency,
                "convert them to one; no rate of exchange is guessed",
            ),
        )
    )
    known = price_shapes()["spread"]
    between = known.value("season_sd") if season_sd is None else season_sd
    bad = np.asarray(np.full(len(price), np.nan) if low is None else low, dtype=np.float64)
    good = np.asarray(np.full(len(price), np.nan) if high is None else high, dtype=np.float64)
    for number, week in enumerate(weeks):
        half = np.isfinite(bad[number]) != np.isfinite(good[number])
        if half or bad[number] > price[number] or good[number] < price[number]:
            faults.append(
                Fault("low and high do not enclose the price", f"prices, week {week}",
                      (float(bad[number]), float(price[number]), float(good[number])),
                      "both, or neither; low at most the price, high at least")
            )  # fmt: skip
        elif np.isfinite(bad[number]) and bad[number] <= 0.0:
            faults.append(
                Fault("a price is not above zero", f"prices, week {week}", float(bad[number]))
            )
    raise_any(faults)
    with np.errstate(invalid="ignore"):
        whole = (np.log(good) - np.log(bad)) / (2.0 * _Z90)
    stated = np.isfinite(whole)
    within = np.sqrt(np.maximum(whole**2 - between**2, 0.0))
    return PriceCurve(
        tuple(weeks), price, currency, between, np.where(stated, within, shipped_week_sd(weeks)),
        known.value("week_memory") if week_memory is None else week_memory, supply_correlation,
    )  # fmt: skip


def curve_from_months(
    months: Mapping[str, float],
    weeks: Sequence[str],
    currency: str,
    *,
    season_sd: float | None = None,
    week_sd: float | None = None,
    week_memory: float | None = None,
    supply_correlation: float = 0.0,
) -> PriceCurve:
    """Return the curve through prices of months, joined on a log scale at the middle of each.

    A month that is not stated lies on the straight line between its neighbours of the same log
    scale, over New Year and over the summer alike.

    Parameters
    ----------
    months : mapping of str to float
        "jan" to "dec" and the price in the middle of the month [currency kg-1].
    weeks : sequence of str
        ISO weeks wanted, consecutive.
    currency : str
    season_sd, week_sd, week_memory, supply_correlation : float, optional
        Shipped ones where not given; the correlation with supply is 0.

    Raises
    ------
    InputError
        Where a month is not known or a price is not above 0.

    Examples
    --------
    >>> curve = curve_from_months({"dec": 4.0, "jan": 2.0}, ["2026-W51", "2027-W02"][:1], "EUR")
    >>> curve.per_kg.round(2)
    array([3.83])
    """
    faults = [unknown_name("month", name, MONTHS, "prices.months") for name in months
              if name not in MONTHS]  # fmt: skip
    faults += [
        Fault("a price is not above zero", f"prices.months.{name}", value, "above 0")
        for name, value in months.items()
        if not value > 0.0
    ]
    faults += broken((not months, Fault("no month has a price", "prices.months")))
    raise_any(faults)
    middles = np.array([monday(week).toordinal() + 3.0 for week in weeks])
    knots, logs = _knots(months, weeks)
    price = np.exp(np.interp(middles, knots, logs))
    known = price_shapes()["spread"]
    return PriceCurve(
        tuple(weeks), price, currency,
        known.value("season_sd") if season_sd is None else season_sd,
        shipped_week_sd(weeks) if week_sd is None else np.full(len(weeks), week_sd),
        known.value("week_memory") if week_memory is None else week_memory,
        supply_correlation,
    )  # fmt: skip


def curve_stated(prices: Prices, weeks: Sequence[str]) -> PriceCurve:
    """Return the price curve of prices that are stated without a file, for the weeks wanted.

    A file of prices is read by `io` and goes through `curve_from_table`.

    Examples
    --------
    >>> curve_stated(Prices("EUR", per_kg=2.5), ["2027-W03", "2027-W04"]).per_kg
    array([2.5, 2.5])
    """
    months = dict(prices.months)
    if prices.per_kg is not None:
        months = {"mar": prices.per_kg}
        if prices.shape is not None:
            months = shape_months(prices.shape, prices.per_kg)
    return curve_from_months(
        months,
        weeks,
        prices.currency,
        season_sd=prices.season_sd,
        week_sd=prices.week_sd,
        week_memory=prices.week_memory,
        supply_correlation=prices.supply_correlation,
    )


def shape_months(name: str, march_per_kg: float) -> dict[str, float]:
    """Return the prices of all months from a shipped shape and the price in March.

    Raises
    ------
    InputError
        Where no shape has the name.

    Examples
    --------
    >>> round(shape_months("winter-field", 2.0)["dec"], 2)
    3.37
    """
    shapes = {key: value for key, value in price_shapes().items() if key != "spread"}
    shape = named("shape of prices", name, shapes, "prices.shape")
    return {month: march_per_kg * shape.value(month) for month in MONTHS}


def shipped_week_sd(weeks: Sequence[str]) -> FloatArray:
    """Return the shipped log spread of each week: greatest in November, least from March on.

    Between October and the next March the spread falls evenly; see ``[price.spread]``.
    """
    known = price_shapes()["spread"]
    early, late = known.value("week_sd_early"), known.value("week_sd_late")
    since = np.array([(monday(week).month - 11) % 12 for week in weeks], dtype=np.float64)
    fall = np.where(since == 11.0, 0.0, np.minimum(since / 4.0, 1.0))
    return np.asarray(early + (late - early) * fall)


def _knots(months: Mapping[str, float], weeks: Sequence[str]) -> tuple[FloatArray, FloatArray]:
    first, last = monday(weeks[0]), monday(weeks[-1])
    year, knots, logs = first.year - 1, [], []
    while year <= last.year + 1:
        for number, name in enumerate(MONTHS, start=1):
            if name in months:
                knots.append(float(date(year, number, 15).toordinal()))
                logs.append(np.log(months[name]))
        year += 1
    return np.array(knots), np.array(logs)


def _spans(weeks: Sequence[str]) -> str:
    """Return weeks in order with runs of them written by their ends.

    Examples
    --------
    >>> _spans(["2026-W43", "2026-W53", "2027-W01", "2027-W02", "2027-W09"])
    '2026-W43, 2026-W53 to 2027-W02, 2027-W09'
    """
    runs: list[list[str]] = []
    for week in weeks:
        if runs and monday(week) - monday(runs[-1][-1]) == timedelta(days=7):
            runs[-1].append(week)
        else:
            runs.append([week])
    shown = [f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(run) for run in runs]
    return ", ".join(shown[:4]) + (", ..." if len(shown) > 4 else "")


def _week_faults(weeks: Sequence[str]) -> list[Fault]:
    if not weeks:
        return [Fault("there are no prices", "prices")]
    try:
        days = [monday(week) for week in weeks]
    except InputError as told:
        return list(told.faults)
    faults = []
    twice = sorted({week for week in weeks if list(weeks).count(week) > 1})
    faults += broken((twice, Fault("a week has two prices", "prices", ", ".join(twice))))
    span = range(0, (max(days) - min(days)).days + 1, 7)
    held = set(days)
    missing = [
        min(days) + timedelta(days=d) for d in span if min(days) + timedelta(days=d) not in held
    ]
    if missing:
        faults.append(
            Fault(
                "weeks are missing",
                "prices",
                _spans([iso_week(day) for day in missing]),
                do="state a price for every week; gaps are not filled",
            )
        )
    elif days != sorted(days) and not twice:
        faults.append(Fault("the weeks are out of order", "prices", f"{weeks[0]}, {weeks[1]}, ..."))
    return faults
