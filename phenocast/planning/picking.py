"""From ripe and picked fruit to picks and hours.

A pick of a hectare takes a walk and a reach: hours = a + b * Y, with Y the fruit picked [t ha-1].
The rate is then a hyperbola that levels off at 1000 / b [kg h-1]. No published curve of picking
rate against yield was found: the form is an assumption, its centres hit published rates, and
`phenocast.planning.tallies` puts a cooperative's own in their place.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from phenocast.errors import Fault, InputError
from phenocast.parameters import ParameterSet, labour

Array = NDArray[np.float64]


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

    def rate_kg_h(self, yield_t_ha: ArrayLike, fruit_g: float | None = None) -> Array:
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


def rates_of(numbers: ParameterSet) -> PickingRates:
    """Return the rates that a parameter set of picking holds."""
    return PickingRates(
        numbers.value("walk"), numbers.value("reach"), numbers.value("fruit_mass"),
        numbers.value("cull_share"), numbers.value("shortest_interval"),
        numbers.value("longest_interval"), numbers.value("worth_a_pick"),
    )  # fmt: skip


def shipped_rates() -> PickingRates:
    """Return the shipped rates; see ``[labour.picking]`` in ``calibration/packing.toml``.

    Examples
    --------
    >>> shipped_rates().longest_d
    7.0
    """
    return rates_of(labour()["picking"])


def hours_per_pick(
    rates: PickingRates, yield_t_ha: ArrayLike, fruit_g: float | None = None
) -> Array:
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


def interval_d(rates: PickingRates, ripening_t_ha_d: ArrayLike) -> Array:
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
    rates: PickingRates, ripe_g: Array, picked_g: Array, plants_per_ha: float,
    fruit_g: float | None = None,
) -> tuple[Array, Array]:  # fmt: skip
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
    if not plants_per_ha > 0.0:
        raise InputError(
            Fault("the block has no plants", "plants_per_ha", plants_per_ha, "above 0")
        )
    t_per_g = plants_per_ha / 1e6  # [t ha-1 week-1]
    sent = picked_g > 0.0
    picks = np.where(sent, 7.0 / interval_d(rates, ripe_g * t_per_g / 7.0), 0.0)
    each = np.divide(picked_g * t_per_g, picks, out=np.zeros_like(picks), where=sent)
    return picks, picks * hours_per_pick(rates, each, fruit_g)


def experience(weeks_worked: ArrayLike) -> Array:
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
