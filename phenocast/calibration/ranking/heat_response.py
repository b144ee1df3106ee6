"""What heat costs each cultivar in one stated scenario: a block as it is, and in warmer air.

The block lives through its own past years twice: as they were, and with the air warmed by a stated
number of degrees for a stated number of days after planting. All cultivars share years, beds and
draws of what they have in common, so that differences between them are not blurred by chance.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from phenocast._typing import FloatArray
from phenocast.errors import Fault, NoAnswerError, broken, raise_any, refuse
from phenocast.parameters import ParameterSet, scenarios, species
from phenocast.phenology import plant_records
from phenocast.phenology.plant import CULTIVAR_FIELDS, TRANSPLANT_FIELDS
from phenocast.phenology.work import FIRST_PICK
from phenocast.season import Nursery
from phenocast.simulation import BlockSetup, DrawnBlock, run_blocks, site_weather
from phenocast.simulation.nursery import nursery_plants
from phenocast.simulation.responses import induction_tables
from phenocast.simulation.setup import flowers_on_film, physics_records
from phenocast.weather import HourlyWeather
from phenocast.weather.hourly import local_midnight_utc
from phenocast.weather.traces import Trace

# Runs of the bed for every year and regime: a number of the sampling, not of the model.
PHYSICS_RUNS = 8
_KELVIN = 273.15

Progress = Callable[[int, int, str], None]
NurseryWeather = tuple[Nursery, HourlyWeather]


@dataclass(frozen=True)
class HeatScenario:
    """Air that is warmer for some time after planting.

    Parameters
    ----------
    warming_c : float
        Added to the air, above 0. [degC difference]
    days : int
        Days from planting on, 1 or more. [d]
    """

    warming_c: float
    days: int

    def __post_init__(self) -> None:
        refuse(
            (
                not (np.isfinite(self.warming_c) and self.warming_c > 0.0),
                Fault("the warming is no warming", "warming", self.warming_c, "above 0"),
            ),
            (self.days < 1, Fault("the warming lasts no day", "days", self.days, "1 or more")),
        )


def standard_heat() -> HeatScenario:
    """Return the standard scenario, as ``calibration/cultivars.toml`` states it with its reason.

    Examples
    --------
    >>> standard_heat()
    HeatScenario(warming_c=3.0, days=60)
    """
    stated = scenarios()["standard-heat"]
    return HeatScenario(stated.value("warming"), int(stated.value("days")))


@dataclass(frozen=True)
class HeatResponse:
    """What the scenario costs each cultivar in each draw.

    Parameters
    ----------
    cultivars : tuple of str
    years : tuple of str
        Past years, or "typical year".
    season_loss : array ``[cultivar, draw]``
        Share of the season's marketable fruit that the heat takes, over all years. [1]
    early_loss : array ``[cultivar, draw]``
        The same of early fruit; NaN where there is none as it is. [1]
    delay : array ``[cultivar, draw]``
        Days by which first pick comes later, mean over the years that reach it both times; NaN
        where none does. [d]
    never : array ``[cultivar, draw]``
        Share of years that reach first pick as they are and not in the heat. [1]
    mild_g, hot_g : arrays ``[cultivar, year, draw]``
        Marketable fruit of the season in both regimes. [g per plant]
    """

    cultivars: tuple[str, ...]
    years: tuple[str, ...]
    season_loss: FloatArray
    early_loss: FloatArray
    delay: FloatArray
    never: FloatArray
    mild_g: FloatArray
    hot_g: FloatArray

    def loss_by_year(self) -> FloatArray:
        """Middle loss of each cultivar in each year ``[cultivar, year]``, NaN without fruit."""
        with np.errstate(divide="ignore", invalid="ignore"):
            loss = 1.0 - self.hot_g / self.mild_g
        return np.asarray(np.median(loss, axis=2))


def warmed(weather: HourlyWeather, start: np.datetime64, scenario: HeatScenario) -> HourlyWeather:
    """Weather with warmer air for some days.

    Parameters
    ----------
    weather : HourlyWeather
    start : datetime64
        Hour from which the air is warmer.
    scenario : HeatScenario

    Returns
    -------
    HourlyWeather
        With sun, wind, rain and the moisture of the air as they were. Measured longwave rises as
        that of a clear sky would: ``(T + w)^4 (T + w)^(-1/7)``, Brutsaert (1975) at one vapour
        pressure; where none was measured the sky follows from the warmer air in any case.

    Examples
    --------
    >>> from phenocast.season import Site
    >>> from phenocast.weather.hourly import constant_weather
    >>> site = Site("Low Quay", 29.3, -15.6, 35.0, "Atlantic/Canary")
    >>> air = warmed(constant_weather(site, 72, 15.0), np.datetime64("2026-01-02T00", "h"),
    ...              HeatScenario(3.0, 1)).air_c
    >>> air[[0, 23, 24, 47, 48]].tolist()
    [15.0, 15.0, 18.0, 18.0, 15.0]
    """
    since = (weather.time_utc - start.astype("datetime64[h]")).astype(np.int64)
    within = (since >= 0) & (since < 24 * scenario.days)
    air = np.where(within, weather.air_c + scenario.warming_c, weather.air_c)
    ratio = (air + _KELVIN) / (weather.air_c + _KELVIN)
    sky = weather.longwave_down_w_m2 * ratio ** (4.0 - 1.0 / 7.0)
    return replace(weather, air_c=air, longwave_down_w_m2=sky)


def heat_response(
    setup: BlockSetup,
    cultivars: Mapping[str, ParameterSet],
    draws: Mapping[str, Mapping[str, FloatArray]],
    years: Sequence[Trace],
    scenario: HeatScenario,
    *,
    seed: int = 0,
    physics_runs: int = PHYSICS_RUNS,
    nursery: NurseryWeather | None = None,
    progress: Progress | None = None,
) -> HeatResponse:
    """Follow every cultivar through every year in both regimes.

    Parameters
    ----------
    setup : BlockSetup
        The block; its own cultivar is replaced by each of ``cultivars`` in turn.
    cultivars : mapping of str to ParameterSet
    draws : mapping of str to mapping of str to array ``[draw]``
        Fitted numbers of each cultivar by name, draw by draw and the same number of draws for all.
        What was not fitted is drawn from its stated spread, once for all cultivars where it is the
        number of the species.
    years : sequence of Trace
        Weather of each past year from before planting to the block's last day.
    scenario : HeatScenario
    seed : int
    physics_runs : int
        Draws of film, soil and bed, which the draws of the plant share, as many each.
    nursery : pair of Nursery and its weather, optional
        Makes the transplants, which are the same in both regimes.
    progress : callable, optional
        Called with what is done, what there is to do and what is being done.

    Raises
    ------
    InputError
        No cultivar, no year, draws that differ in number or carry a name no plant has.
    NoAnswerError
        A cultivar that bears nothing in any year of a draw as it is: then there is nothing to lose.
    """
    n = _count(cultivars, draws, years)
    start = local_midnight_utc(setup.block.planting_date, setup.site.time_zone)
    regimes = [w for one in years for w in (one.weather, warmed(one.weather, start, scenario))]
    each = min(physics_runs, n)
    own_physics = physics_records(setup, n_draws=each, seed=seed)
    physics: np.recarray[Any, Any] = np.tile(own_physics, len(regimes)).view(np.recarray)
    flowers = flowers_on_film(setup, n_draws=n, seed=seed)
    blocks = []
    for name, cultivar in cultivars.items():
        own = replace(setup, cultivar=cultivar)
        plants, tables = drawn_plants(own, draws[name], n, seed, nursery)
        plants["flowers_per_truss"] *= flowers
        blocks.append(DrawnBlock(own, plants, tables, physics, each))
    season_g, early_g, first = np.empty((3, len(cultivars), len(years), 2, n))
    made = run_blocks(
        blocks,
        [site_weather(one, setup.site) for one in regimes],
        early_days=[int(own.value("early_season_days")) for own in cultivars.values()],
        detailed=False,
    )
    for c, seasons in made:
        season_g[c] = seasons.weekly_g.sum(axis=-1, dtype=np.float64).reshape(len(years), 2, n)
        early_g[c] = seasons.early_g.reshape(len(years), 2, n)
        first[c] = seasons.dates[..., FIRST_PICK].reshape(len(years), 2, n)
        if progress is not None:
            progress(c + 1, len(cultivars), setup.block.name)
    names = tuple(cultivars)
    _require_fruit(names, season_g)
    delay, never = _later(first)
    return HeatResponse(
        cultivars=names,
        years=tuple(one.label for one in years),
        season_loss=_loss(season_g),
        early_loss=_loss(early_g),
        delay=delay,
        never=never,
        mild_g=season_g[:, :, 0],
        hot_g=season_g[:, :, 1],
    )


def _count(
    cultivars: Mapping[str, ParameterSet],
    draws: Mapping[str, Mapping[str, FloatArray]],
    years: Sequence[Trace],
) -> int:
    """Return the number of draws, refused where they do not fit."""
    faults = broken(
        (not cultivars, Fault("no cultivar", "cultivars")),
        (not years, Fault("no year of weather", "years")),
    )
    faults += [Fault("no draws", f"draws.{name}") for name in cultivars if not draws.get(name)]
    sizes = {array.size for own in draws.values() for array in own.values()}
    faults += broken((len(sizes) > 1, Fault("draws differ in number", "draws", sorted(sizes))))
    known = {*CULTIVAR_FIELDS, *TRANSPLANT_FIELDS}
    faults += [
        Fault("a drawn number that no plant has", f"draws.{name}.{key}")
        for name, own in draws.items()
        for key in own
        if key not in known
    ]
    raise_any(faults)
    return int(sizes.pop())


def drawn_plants(
    setup: BlockSetup,
    fitted: Mapping[str, FloatArray],
    n: int,
    seed: int = 0,
    nursery: NurseryWeather | None = None,
    *,
    as_fitted: bool = False,
) -> tuple[np.recarray[Any, Any], FloatArray]:
    """Return the plants of a fitted cultivar and their induction tables, one a draw.

    Parameters
    ----------
    setup : the block and its cultivar.
    fitted : mapping of str to array ``[draw]``
        Numbers that were fitted; what was not is drawn from its stated spread, once for all
        cultivars where it is the number of the species.
    n, seed : number and seed of the draws.
    nursery : pair of Nursery and its weather, optional
    as_fitted : bool
        Hold what was not fitted at its central value, as the fit did: for what a fit makes of its
        own records, where the spread of the rest would count twice.

    Returns
    -------
    recarray ``[draw]`` and array ``[draw, nodes]``
    """
    if as_fitted:
        records = np.repeat(plant_records(setup.cultivar, setup.transplant), n).view(np.recarray)
    else:
        records = plant_records(setup.cultivar, setup.transplant, n_draws=n, seed=seed)
        common = species()
        shared = common.draw(seed, n)
        for name in CULTIVAR_FIELDS:
            if name in common and setup.cultivar[name] == common[name]:
                records[name] = shared[name]
    for name, values in fitted.items():
        records[name] = values
    tables = induction_tables(
        records["induction_base"], records["induction_optimum"], records["induction_ceiling"]
    )
    if nursery is not None:
        records = nursery_plants(nursery[0], nursery[1], setup, records, tables)
    return records, tables


def _require_fruit(names: tuple[str, ...], season_g: FloatArray) -> None:
    bare = (season_g[:, :, 0].sum(axis=1) <= 0.0).mean(axis=1)
    faults = [
        Fault(
            "bears nothing in these years even without the heat, so it has nothing to lose",
            where=name,
            value=f"in {100 * share:.0f} % of the draws",
            do="name a season whose first block suits every cultivar",
        )
        for name, share in zip(names, bare, strict=True)
        if share > 0.0
    ]
    if faults:
        raise NoAnswerError(faults)


def _loss(grams: FloatArray) -> FloatArray:
    """Share lost over all years, ``[cultivar, year, 2, draw]`` to ``[cultivar, draw]``."""
    total = grams.sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.where(total[:, 0] > 0.0, 1.0 - total[:, 1] / total[:, 0], np.nan))


def _later(first: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean delay of first pick, and the share of years in which the heat takes it altogether."""
    mild, hot = first[:, :, 0], first[:, :, 1]
    both = np.isfinite(mild) & np.isfinite(hot)
    count = both.sum(axis=1)
    with np.errstate(invalid="ignore"):
        late = np.where(both, hot - mild, 0.0).sum(axis=1) / np.where(count > 0, count, np.nan)
    return np.asarray(late), (np.isfinite(mild) & ~np.isfinite(hot)).mean(axis=1)
