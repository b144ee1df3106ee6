"""From ripe and picked fruit to picks and hours; what packing, cooling and loading can take.

A pick of a hectare takes a walk and a reach: hours = a + b * Y, with Y the fruit picked [t ha-1].
The rate is then a hyperbola that levels off at 1000 / b [kg h-1]. No published curve of picking
rate against yield was found: the form is an assumption, its centres hit published rates, and a
cooperative's own tallies take their place: hours per hectare-pick on fruit per hectare
(`fit_tallies`).
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import stdtrit

from phenocast._typing import FloatArray
from phenocast.errors import Fault, InputError, NoAnswerError, applying, raise_any, refuse
from phenocast.parameters import labour


@dataclass(frozen=True)
class PickingRates:
    """What picking takes.

    Parameters
    ----------
    walk_h_per_ha : float
        Walking and searching of one pick, ``a`` [h ha-1].
    reach_h_per_t : float
        Reaching and placing, ``b``, for fruit of ``fruit_g`` [h t-1].
    fruit_g : float
        Mean fruit for which the reach holds [g].
    cull_share : float
        Of all fruit picked, what is thrown away.
    shortest_d, longest_d : float
        Interval between picks [d].
    worth_t_per_ha : float
        Ripe fruit at which a crew is sent [t ha-1].
    """

    walk_h_per_ha: float
    reach_h_per_t: float
    fruit_g: float
    cull_share: float
    shortest_d: float
    longest_d: float
    worth_t_per_ha: float

    def rate_kg_h(self, yield_t_ha: ArrayLike, fruit_g: float | None = None) -> FloatArray:
        """Return kg of marketable fruit an experienced picker picks in an hour.

        Parameters
        ----------
        yield_t_ha : array
            Marketable fruit of one pick [t ha-1].
        fruit_g : float, optional
            Mean fruit [g].

        Examples
        --------
        >>> shipped_rates().rate_kg_h([0.3, 0.8, 1.5]).round(1)
        array([11.3, 21.2, 28.1])
        """
        y = np.asarray(yield_t_ha, dtype=np.float64)
        return np.asarray(1000.0 * y / hours_per_pick(self, y, fruit_g))


def shipped_rates() -> PickingRates:
    """Return the shipped rates; see ``[labour.picking]`` in ``calibration/packing.toml``.

    Examples
    --------
    >>> shipped_rates().longest_d
    7.0
    """
    names = ("walk", "reach", "fruit_mass", "cull_share", "shortest_interval",
             "longest_interval", "worth_a_pick")  # fmt: skip
    return PickingRates(*(labour()["picking"].value(name) for name in names))


def hours_per_pick(
    rates: PickingRates, yield_t_ha: ArrayLike, fruit_g: float | None = None
) -> FloatArray:
    """Return the hours of an experienced crew for one pick of one hectare [h ha-1].

    A small fruit takes as long to pick as a large one, so the reach by mass is inverse to the
    fruit's mass; culls are reached for like marketable fruit.

    Parameters
    ----------
    rates : PickingRates
    yield_t_ha : array
        Marketable fruit of the pick [t ha-1], 0 or more.
    fruit_g : float, optional
        Mean fruit [g]; that of the rates where not given.

    Examples
    --------
    >>> rates = shipped_rates()
    >>> hours_per_pick(rates, 1.8, 20.0) < hours_per_pick(rates, 1.8, 10.0)
    np.True_
    """
    y = np.asarray(yield_t_ha, dtype=np.float64)
    if np.any(y < 0.0):
        raise InputError(Fault("fruit of a pick is negative", value=float(y.min()),
                               allowed="0 t ha-1 or more"))  # fmt: skip
    size = 1.0 if fruit_g is None else rates.fruit_g / fruit_g
    return np.asarray(rates.walk_h_per_ha + rates.reach_h_per_t * size * y / (1 - rates.cull_share))


def interval_d(rates: PickingRates, ripening_t_ha_d: ArrayLike) -> FloatArray:
    """Return the days between picks, from how fast fruit ripens.

    A crew comes when there is enough to be worth the walk, but never later than the longest
    interval and never more often than the shortest.

    Parameters
    ----------
    rates : PickingRates
    ripening_t_ha_d : array
        Marketable fruit that ripens in a day [t ha-1 d-1].

    Examples
    --------
    >>> interval_d(shipped_rates(), [0.0, 0.1, 1.0])
    array([7., 5., 2.])
    """
    rate = np.asarray(ripening_t_ha_d, dtype=np.float64)
    with np.errstate(divide="ignore", over="ignore"):
        days = rates.worth_t_per_ha / rate
    return np.clip(days, rates.shortest_d, rates.longest_d)


def picks_and_hours(
    rates: PickingRates, ripe_g: FloatArray, picked_g: FloatArray, plants_per_ha: float,
    fruit_g: float | None = None,
) -> tuple[FloatArray, FloatArray]:  # fmt: skip
    """Return the picks of each week, and the hours of experienced pickers for each hectare.

    Parameters
    ----------
    rates : PickingRates
    ripe_g, picked_g : arrays [..., weeks]
        Marketable fruit that ripens in the week, and that is carried out of the field (see
        `phenocast.forecast.packout`) [g per plant].
    plants_per_ha : float
    fruit_g : float, optional
        Mean fruit [g].

    Returns
    -------
    (picks, hours) : arrays [..., weeks]
        Picks a week; hours [h ha-1].

    Raises
    ------
    InputError
        Where the block has no plants.

    Examples
    --------
    >>> ripe, picked = np.array([0.3, 5.0, 60.0]), np.array([0.0, 4.4, 52.8])
    >>> picks, hours = picks_and_hours(shipped_rates(), ripe, picked, 43000.0)
    >>> picks.round(2), hours.round(0)
    (array([0. , 1. , 3.5]), array([  0.,  24., 120.]))
    """
    refuse(
        (
            not plants_per_ha > 0.0,
            Fault("the block has no plants", "plants_per_ha", plants_per_ha, "above 0"),
        )
    )
    t_per_g = plants_per_ha / 1e6  # [t ha-1 week-1]
    sent = picked_g > 0.0
    picks = np.where(sent, 7.0 / interval_d(rates, ripe_g * t_per_g / 7.0), 0.0)
    each = np.divide(picked_g * t_per_g, picks, out=np.zeros_like(picks), where=sent)
    return picks, picks * hours_per_pick(rates, each, fruit_g)


def experience(weeks_worked: ArrayLike) -> FloatArray:
    """Return the picking rate of people by weeks worked before, against experienced ones.

    1 - (1 - r) exp(-w / t), with the beginner's rate r and the time of learning t of
    ``[labour.picking]``.

    Examples
    --------
    >>> experience([0.0, 1.0, 4.0]).round(2)
    array([0.6 , 0.85, 0.99])
    """
    numbers = labour()["picking"]
    start, time = numbers.value("beginner_rate"), numbers.value("learning")
    worked = np.asarray(weeks_worked, dtype=np.float64)
    return np.asarray(1.0 - (1.0 - start) * np.exp(-worked / time))


_FEWEST = 5


@dataclass(frozen=True)
class TallyFit:
    """The fitted line, with intervals of the level asked for.

    ``walk`` [h ha-1] and ``reach`` [h t-1] with their (low, high); ``residual_sd`` [h ha-1];
    ``yields`` the least and greatest fruit of a pick in the tallies [t ha-1]; ``warnings``.
    """

    walk: float
    walk_interval: tuple[float, float]
    reach: float
    reach_interval: tuple[float, float]
    level: float
    residual_sd: float
    r_squared: float
    picks: int
    yields: tuple[float, float]
    warnings: tuple[str, ...]

    def applied_to(self, rates: PickingRates) -> PickingRates:
        """Return the rates with walk and reach from the tallies.

        The tallied reach is by marketable fruit, so the share of culls is already in it.
        """
        reach = self.reach * (1.0 - rates.cull_share)
        return replace(rates, walk_h_per_ha=self.walk, reach_h_per_t=reach)


def fit_tallies(
    picker_hours: ArrayLike, kg: ArrayLike, area_ha: ArrayLike, *, level: float = 0.90
) -> TallyFit:
    """Fit hours per hectare-pick on tonnes per hectare by ordinary least squares.

    Parameters
    ----------
    picker_hours : array [picks]
        Hours of all pickers together, one entry a pick [h].
    kg : array [picks]
        Marketable fruit [kg].
    area_ha : array [picks]
        Area picked [ha].
    level : float
        Of the intervals of Student's t.

    Raises
    ------
    InputError
        Where an entry is not a number above 0, or a block has no area.
    NoAnswerError
        Where there are fewer than five picks, yields hardly differ, or a line fits with a walk or
        a reach that cannot be.

    Examples
    --------
    >>> yields = np.array([0.3, 0.6, 0.9, 1.2, 1.5])
    >>> fit = fit_tallies(2 * (18.0 + 22.0 * yields), 2000 * yields, np.full(5, 2.0))
    >>> round(fit.walk, 6), round(fit.reach, 6)
    (18.0, 22.0)
    """
    hours, mass, area = (np.asarray(v, dtype=np.float64) for v in (picker_hours, kg, area_ha))
    raise_any([
        Fault(f"{what} is not above zero in {int((~(v > 0.0)).sum())} picks",
              where=f"tallies, row {int(np.argmax(~(v > 0.0))) + 1}",
              value=float(v[np.argmax(~(v > 0.0))]), allowed=f"above 0 {unit}")
        for what, v, unit in (("picker hours", hours, "h"), ("fruit", mass, "kg"),
                              ("area", area, "ha"))
        if np.any(~(v > 0.0))
    ])  # fmt: skip
    refuse(
        (
            len(hours) < _FEWEST,
            Fault("too few picks for a line", value=len(hours), allowed=f"{_FEWEST} or more"),
        ),
        error=NoAnswerError,
    )
    x, y = mass / 1000.0 / area, hours / area
    refuse(
        (x.max() - x.min() < 0.05 * x.mean(),
         Fault("all picks have nearly the same fruit: walk and reach cannot be told apart",
               value=f"{x.min():.2f} to {x.max():.2f} t ha-1",
               do="add tallies of early and of peak weeks")), error=NoAnswerError,
    )  # fmt: skip
    from scipy.stats import linregress  # slow to load, and every reader of prices passes here

    line = linregress(x, y)
    free = len(x) - 2
    wide = float(stdtrit(free, 0.5 + level / 2.0))
    residual = y - line.intercept - line.slope * x
    walk, reach = float(line.intercept), float(line.slope)
    refuse(
        (
            walk < 0.0 or reach <= 0.0,
            Fault(
                "the tallies give a walk or a reach that cannot be",
                value=f"walk {walk:.1f} h ha-1, reach {reach:.1f} h t-1",
                allowed="walk 0 or more, reach above 0",
                do="look for picks with the wrong area or with hours of other work",
            ),
        ),
        error=NoAnswerError,
    )
    half_walk, half_reach = wide * float(line.intercept_stderr), wide * float(line.stderr)
    warnings = applying(
        (walk < half_walk, "the walk cannot be told from zero; tallies of light picks would help"),
        (
            reach < half_reach,
            "the reach cannot be told from zero; tallies of heavy picks would help",
        ),
    )
    return TallyFit(
        walk=walk,
        walk_interval=(walk - half_walk, walk + half_walk),
        reach=reach,
        reach_interval=(reach - half_reach, reach + half_reach),
        level=level,
        residual_sd=float(np.sqrt(np.sum(residual**2) / free)),
        r_squared=float(line.rvalue**2),
        picks=len(x),
        yields=(float(x.min()), float(x.max())),
        warnings=tuple(warnings),
    )


def packing_hours(kg: ArrayLike, rate_kg_h: float | None = None) -> FloatArray:
    """Return the hours of packing in a shed; field-packed fruit has none [h].

    Examples
    --------
    >>> packing_hours(470.0)
    array(100.)
    """
    rate = labour()["packing"].value("shed_rate") if rate_kg_h is None else rate_kg_h
    return np.asarray(
        np.asarray(kg, dtype=np.float64) / _above_zero("packing rate", rate, "kg h-1")
    )


def loading_hours(trays: ArrayLike, trays_h: float | None = None) -> FloatArray:
    """Return the hours of loading [h].

    Examples
    --------
    >>> loading_hours(120.0)
    array(2.)
    """
    rate = labour()["packing"].value("load_rate") if trays_h is None else trays_h
    return np.asarray(
        np.asarray(trays, dtype=np.float64) / _above_zero("loading rate", rate, "h-1")
    )


def cooler_trays_per_day(
    positions: int, hours: float = 10.0, *, cooling_min: float | None = None
) -> float:
    """Return the trays that forced-air positions cool in a day; only whole loads count.

    Parameters
    ----------
    positions : int
        Pallets cooled at once.
    hours : float
        Hours of the day in which loads can start and end [h].
    cooling_min : float, optional
        Seven-eighths cooling time [min]; the shipped one for two-pound boxes where not given.

    Examples
    --------
    >>> cooler_trays_per_day(2)
    864.0
    """
    numbers = labour()["cooling"]
    cooling = numbers.value("cooling_time") if cooling_min is None else cooling_min
    turn = cooling + numbers.value("handling_time")
    loads = int(hours * 60.0 / _above_zero("cooling time", turn, "min"))
    return float(positions * loads * numbers.value("trays_a_pallet"))


def _above_zero(what: str, value: float, unit: str) -> float:
    refuse(
        (
            not value > 0.0,
            Fault(f"the {what} is not above zero", value=value, allowed=f"above 0 {unit}"),
        )
    )
    return value
