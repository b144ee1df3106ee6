"""Plants of another family, written once and without the engine's code.

A plant here is a flux, not cohorts of trusses: warmth and short days fill a store of initiation,
what is initiated beyond a requirement opens after a sum of degree-days of the air and is ripe after
another, a load of green fruit slows initiation, and heat while a fruit grows takes from its mass.
Its crown is the air plus an offset of the film. Nothing is calibrated: the numbers give seasons of
a plausible length and nothing else, and all of it is invented.

Worlds
------
A : bare-root plants, six blocks, planting dates within 6 days of the block's usual date.
B : half of the blocks unconditioned plugs, planting dates within 10 days.
C : as A, but in the forecast years one cultivar and one film are new, and one season is odd (a warm
    autumn, or a late freeze).

Five seasons to learn from and three to forecast; the window of eight years is drawn anew for each
seed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Array = NDArray[np.float64]

WEATHER = Path(__file__).resolve().parents[2] / "demo_weather" / "tamarind_coast.parquet"
LATITUDE = 29.3
FIRST_YEAR, N_YEARS = 2002, 24
LEARNT, FORECAST = 5, 3
PICK_NOISE = 0.12
PLANTS_SEEN = 40  # at a visit
PLANTS_COUNTED = 10  # whose flowers and fruit are counted

FILM_OFFSET_C = {"black": 2.2, "white-on-black": 0.6, "silver": 0.2, "metallised-striped": -0.3}
# Full days of initiation that plants bring along; unconditioned plugs still have to grow up. [d]
READY = {"bare-root": 2.0, "plug": -5.0}
USUAL_DATES = ((9, 8), (9, 20), (10, 2))


@dataclass(frozen=True)
class Cultivar:
    """What makes a cultivar.

    Parameters
    ----------
    corners : trapezoid of initiation against crown temperature. [degC]
    critical_h, width_h : day length at which initiation runs at half its rate, and the width of
        the logistic. [h]
    requirement : full days of initiation before the first flower is laid down. [d]
    to_bloom, to_ripe : degree-days of the air above 5 degC, from there to the open flower and on
        to the ripe fruit. [degC d]
    flowers : flowers that a full day of initiation gives.
    mass_g : of a fruit grown at 15 degC. [g]
    heat : share of the mass lost a degree of mean air temperature above 15 degC. [degC-1]
    """

    name: str
    corners: tuple[float, float, float, float]
    critical_h: float
    width_h: float
    requirement: float
    to_bloom: float
    to_ripe: float
    flowers: float
    mass_g: float
    heat: float


CULTIVARS = {
    "Basalt": Cultivar("Basalt", (7.0, 14.0, 21.0, 31.0), 13.2, 0.45, 7.0, 250.0, 390.0, 0.62,
                       21.0, 0.022),
    "Marl": Cultivar("Marl", (6.0, 13.0, 19.0, 29.0), 13.6, 0.40, 5.0, 235.0, 410.0, 0.55, 24.0,
                     0.034),
    "Gneiss": Cultivar("Gneiss", (8.0, 15.0, 23.0, 34.0), 13.4, 0.55, 8.0, 265.0, 370.0, 0.58,
                       22.0, 0.012),
}  # fmt: skip
NEW_CULTIVAR, NEW_FILM = "Gneiss", "silver"


@dataclass(frozen=True)
class TrueBlock:
    """One block of a world, and the day on which it is planted in one season."""

    name: str
    cultivar: str
    film: str
    transplant: str
    planting_date: date


@dataclass(frozen=True)
class TrueSeason:
    """What the plants of one block did in one season; days count from planting.

    Parameters
    ----------
    block : TrueBlock
    flowers, ripe_g : ``[days]``, flowers that open and marketable fruit that ripens on each day, a
        plant. [1, g per plant]
    open_flowers, green_fruit, ripe_fruit : ``[days]``, what a visitor counts on a plant.
    bloom, first_pick : days until one flower has opened and until 10 g have ripened. [d]
    """

    block: TrueBlock
    flowers: Array
    ripe_g: Array
    open_flowers: Array
    green_fruit: Array
    ripe_fruit: Array
    bloom: float
    first_pick: float


@dataclass(frozen=True)
class World:
    """Seasons of one world under one seed; ``seasons[year]`` holds its blocks in order."""

    name: str
    seed: int
    learnt: tuple[int, ...]
    forecast: tuple[int, ...]
    seasons: dict[int, tuple[TrueSeason, ...]]
    odd: dict[int, str]


@cache
def hourly_air() -> tuple[np.datetime64, Array]:
    """Hour of the first value (UTC, which is local there) and the demo's hourly air. [degC]"""
    table = pd.read_parquet(WEATHER, columns=["time", "air_c"])
    start = table["time"].iloc[0].tz_localize(None).to_datetime64()
    return start, table["air_c"].to_numpy(dtype=np.float64)


def day_length_h(day_of_year: Array) -> Array:
    """Hours from sunrise to sunset by the cosine of the declination, for the site's latitude."""
    declination = np.radians(-23.44) * np.cos(2.0 * np.pi * (day_of_year + 10.0) / 365.0)
    hour_angle = np.arccos(-np.tan(np.radians(LATITUDE)) * np.tan(declination))
    return np.asarray(24.0 / np.pi * hour_angle)


def air_of(planting: date, n_days: int, odd: str = "") -> Array:
    """Hourly air ``[days, 24]`` from a planting date on, changed where the season is odd."""
    start, air = hourly_air()
    first = int((np.datetime64(planting, "h") - start) / np.timedelta64(1, "h"))
    own = air[first : first + 24 * n_days].reshape(n_days, 24).copy()
    days = [planting + timedelta(days=i) for i in range(n_days)]
    if odd == "warm autumn":
        own[[one.month in (9, 10, 11) for one in days]] += 2.5
    if odd == "late freeze":
        cold = [(one.month, one.day) in ((1, 24), (1, 25)) for one in days]
        own[cold] -= own[cold].min() + 3.5
    return own


def trapezoid(x: Array, low: float, up: float, down: float, high: float) -> Array:
    """Nothing below ``low`` and above ``high``, one between ``up`` and ``down``."""
    return np.clip(np.minimum((x - low) / (up - low), (high - x) / (high - down)), 0.0, 1.0)


def grow(
    block: TrueBlock, *, last: date, store: float = 0.0, level: float = 1.0, odd: str = ""
) -> TrueSeason:
    """Let one block grow from its planting to ``last``.

    Parameters
    ----------
    block : TrueBlock
    last : last day of the season.
    store : full days of initiation that the plants bring along. [d]
    level : flowers of this block in this season over the usual.
    odd : "", "warm autumn" or "late freeze".
    """
    kind = CULTIVARS[block.cultivar]
    n_days = (last - block.planting_date).days + 1
    air = air_of(block.planting_date, n_days, odd)
    mean, coldest = air.mean(axis=1), air.min(axis=1)
    crown = air + FILM_OFFSET_C[block.film]
    day_of_year = np.array(
        [(block.planting_date + timedelta(days=i)).timetuple().tm_yday for i in range(n_days)]
    )
    short = 1.0 / (1.0 + np.exp((day_length_h(day_of_year) - kind.critical_h) / kind.width_h))
    rate = trapezoid(crown, *kind.corners).mean(axis=1) * short
    # plugs root at once but were never conditioned; bare roots need days to take hold
    rate[: 4 if block.transplant == "plug" else 9] = 0.0
    warmth = np.cumsum(np.clip(mean - 5.0, 0.0, 20.0))
    crowns = 1.0 + 2.2 * (1.0 - np.exp(-warmth / 1100.0))
    opened, ripened = np.zeros(n_days + 1), np.zeros(n_days + 1)
    flowers, fruit = np.zeros(n_days), np.zeros(n_days)
    green = np.zeros(n_days)
    for day in range(n_days):
        flowers[day] = opened[day] if coldest[day] > -1.0 else 0.0
        # a fruit sits on the plant from its flower until it is ripe
        load = flowers[: day + 1].sum() - fruit[:day].sum()
        if coldest[day] < -2.0:
            ripened[day + 1 :] *= 0.5
        stop = warmth[day] + kind.to_ripe
        _put(ripened, _reached(warmth, stop), flowers[day] * 0.88)
        fruit[day] = ripened[day]
        green[day] = max(load - fruit[day], 0.0)
        before, store = store, store + rate[day]
        beyond = max(store - kind.requirement, 0.0) - max(before - kind.requirement, 0.0)
        made = beyond * 1.5 * kind.flowers * crowns[day] * level / (1.0 + (green[day] / 12.0) ** 2)
        # the flowers of a truss open one after another
        for share, later in ((0.25, 0.0), (0.4, 45.0), (0.35, 100.0)):
            _put(opened, _reached(warmth, warmth[day] + kind.to_bloom + later), share * made)
    grown_at = pd.Series(mean).rolling(30, min_periods=1).mean().to_numpy()
    mass = kind.mass_g * np.clip(1.0 - kind.heat * (grown_at - 15.0), 0.3, 1.2)
    ripe_g = fruit * mass
    return TrueSeason(
        block=block, flowers=flowers, ripe_g=ripe_g,
        open_flowers=pd.Series(flowers).rolling(4, min_periods=1).sum().to_numpy(),
        green_fruit=green, ripe_fruit=pd.Series(fruit).rolling(3, min_periods=1).sum().to_numpy(),
        bloom=passed(flowers, 1.0), first_pick=passed(ripe_g, 10.0),
    )  # fmt: skip


def _reached(warmth: Array, stop: float) -> float:
    """Day, counted in parts, on which a sum of warmth is reached; inf where never."""
    at = int(np.searchsorted(warmth, stop))
    if at >= len(warmth):
        return float("inf")
    below = warmth[at - 1] if at else 0.0
    return at + float((stop - below) / (warmth[at] - below))


def _put(into: Array, day: float, amount: float) -> None:
    """Share an amount between the two days next to a day counted in parts."""
    if day < len(into) - 1:
        whole = int(day)
        into[whole] += amount * (1.0 - (day - whole))
        into[whole + 1] += amount * (day - whole)


def passed(daily: Array, limit: float) -> float:
    """Day, counted in parts, on which the sum of a daily series passes a limit; inf where never."""
    return _reached(np.cumsum(daily), limit)


def world(name: str, seed: int) -> World:
    """Make one world.

    Parameters
    ----------
    name : "A", "B" or "C".
    seed : of the window of years, the planting dates and what each season and block adds.

    Examples
    --------
    >>> made = world("A", 1)
    >>> len(made.learnt), len(made.forecast), len(made.seasons[made.learnt[0]])
    (5, 3, 6)
    """
    rng = np.random.default_rng([ord(name), seed])
    n_seasons = LEARNT + FORECAST
    start = FIRST_YEAR + int(rng.integers(0, N_YEARS - n_seasons + 1))
    years = tuple(range(start, start + n_seasons))
    learnt, forecast = years[:LEARNT], years[LEARNT:]
    odd = {}
    if name == "C":
        odd[int(rng.choice(forecast))] = str(rng.choice(["warm autumn", "late freeze"]))
    reach = 10 if name == "B" else 6
    usual = rng.normal(1.0, 0.10, 6)
    seasons = {}
    for year in years:
        late = {"bare-root": rng.normal(0.0, 0.9), "plug": rng.normal(0.0, 1.8)}
        found = []
        for number in range(6):
            block = block_of(name, number, year, new=year in forecast)
            day = block.planting_date + timedelta(days=int(rng.integers(-reach, reach + 1)))
            level = usual[number] * float(np.exp(rng.normal(0.0, 0.14)))
            ready = READY[block.transplant] + late[block.transplant]
            found.append(
                grow(replace(block, planting_date=day), last=date(year + 1, 5, 10), store=ready,
                     level=level, odd=odd.get(year, ""))
            )  # fmt: skip
        seasons[year] = tuple(found)
    return World(name, seed, learnt, forecast, seasons, odd)


def block_of(name: str, number: int, year: int, *, new: bool) -> TrueBlock:
    """Block of a world by its number, with its usual planting date."""
    cultivar = ("Basalt", "Marl")[number % 2]
    film = ("black", "white-on-black", "metallised-striped")[number % 3]
    if name == "C" and new and number == 4:
        cultivar = NEW_CULTIVAR
    if name == "C" and new and number == 5:
        film = NEW_FILM
    plug = name == "B" and number >= 3
    return TrueBlock(
        f"Block {number + 1}", cultivar, film, "plug" if plug else "bare-root",
        date(year, *USUAL_DATES[number // 2]),
    )  # fmt: skip


def records_of(season: TrueSeason, seed: int) -> pd.DataFrame:
    """What weekly visits to one block wrote down.

    Parameters
    ----------
    season : TrueSeason
    seed : of the noise.

    Returns
    -------
    DataFrame
        ``block, date, plants_seen, plants_in_bloom, open_flowers_per_plant,
        green_fruit_per_plant, ripe_fruit_per_plant, marketable_g_per_plant``. Counts are of
        `PLANTS_COUNTED` plants; the pick holds what ripened since the visit before, with noise of
        `PICK_NOISE`, and is NaN before the first fruit.
    """
    block = season.block
    rng = np.random.default_rng([seed, block.planting_date.toordinal(), int(block.name[-1])])
    weekday = int(rng.integers(0, 7))
    ripe = np.cumsum(season.ripe_g)
    rows: list[dict[str, Any]] = []
    taken = 0.0
    for day in range(21 + weekday, len(ripe), 7):
        in_bloom = 1.0 / (1.0 + np.exp(-(day - season.bloom) / 2.5))
        row = {
            "block": block.name,
            "date": pd.Timestamp(block.planting_date + timedelta(days=day)),
            "plants_seen": PLANTS_SEEN,
            "plants_in_bloom": int(rng.binomial(PLANTS_SEEN, in_bloom)),
        }
        for name in ("open_flowers", "green_fruit", "ripe_fruit"):
            mean = float(getattr(season, name)[day])
            row[f"{name}_per_plant"] = rng.poisson(mean * PLANTS_COUNTED) / PLANTS_COUNTED
        new = ripe[day] - taken
        if ripe[day] >= 3.0 and new > 0.0:
            taken = float(ripe[day])
            row["marketable_g_per_plant"] = new * float(
                np.exp(rng.normal(-0.5 * PICK_NOISE**2, PICK_NOISE))
            )
        rows.append(row)
    return pd.DataFrame(rows)
