"""Which parameters a fit moves, in which order, and where each of them stands in the vector."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr, ndtri

from phenocast._typing import FloatArray, IntArray
from phenocast.calibration.cultivar.blocks import FitBlock
from phenocast.parameters import Parameter, ParameterSet

TIMING = (
    "initiation_to_anthesis",
    "anthesis_to_ripe",
    "induction_requirement",
    "critical_photoperiod_18",
)
SUPPLY = ("phyllochron",)
SIZE = ("fruit_mass_15",)
HEAT = ("heat_sensitivity",)
CUT_OFF = ("induction_ceiling",)
AT_PLANTING = ("truss_progress", "trusses_at_planting")
# What a fitted number stands in for: the same fruit, or the same loss, comes of any of these. They
# keep their central value, and their spread is part of the fitted number's.
CARRIED = {
    "phyllochron": ("leaves_per_truss", "flowers_per_truss", "set_potential", "marketable_share"),
    "heat_sensitivity": ("vigour_heat_loss", "bud_heat_half"),
}

CULTIVAR, TRANSPLANT, SEASON_SHIFT, SEASON_LEVEL, PLOT_LEVEL = range(5)


@dataclass(frozen=True)
class Entry:
    """One entry of the vector, in standard deviations from its centre.

    Parameters
    ----------
    group : int
        `CULTIVAR`, `TRANSPLANT`, `SEASON_SHIFT` [d], `SEASON_LEVEL` or `PLOT_LEVEL` [log].
    owner : str
        Cultivar, transplant type, season, or season and block.
    name : str
        Name of the number.
    prior : Parameter or None
        None for effects of a season or a plot, whose spread is estimated.
    """

    group: int
    owner: str
    name: str
    prior: Parameter | None = None

    @property
    def low(self) -> float:
        """Lower bound in standard deviations."""
        p = self.prior
        return -8.0 if p is None else (p.lower - p.value) / p.sd

    @property
    def high(self) -> float:
        """Upper bound in standard deviations."""
        p = self.prior
        return 8.0 if p is None else (p.upper - p.value) / p.sd

    def in_unit(self, standard: ArrayLike) -> FloatArray:
        """Values in the unit of the number, from standard deviations about its centre.

        A value on a bound is the bound to its last digit: times the spread and back again it may
        come out beside it.
        """
        assert self.prior is not None
        p = self.prior
        return np.clip(p.value + p.sd * np.asarray(standard), p.lower, p.upper)


@dataclass(frozen=True)
class Layout:
    """The vector of a fit and who reads what of it.

    Parameters
    ----------
    entries : tuple of Entry
    of_block : tuple of IntArray
        Entries that each block reads: those that change a run first, then the two levels.
    runs : tuple of int
        How many of a block's entries change its run (cultivar, transplant, shift of the season).
    """

    entries: tuple[Entry, ...]
    of_block: tuple[IntArray, ...]
    runs: tuple[int, ...]

    def where(self, *groups: int, names: Sequence[str] | None = None) -> IntArray:
        """Positions of the entries of some groups, and of some names where given."""
        return np.array(
            [
                i
                for i, one in enumerate(self.entries)
                if one.group in groups and (names is None or one.name in names)
            ],
            dtype=np.int64,
        )

    @property
    def effects(self) -> IntArray:
        """Positions of the effects of seasons and plots."""
        return self.where(SEASON_SHIFT, SEASON_LEVEL, PLOT_LEVEL)

    def free(self, names: Sequence[str]) -> IntArray:
        """Positions of some parameters of cultivars and transplants, and of the effects."""
        own = self.where(CULTIVAR, TRANSPLANT, names=names)
        return np.sort(np.concatenate([own, self.effects]))

    @property
    def low(self) -> FloatArray:
        """Lower bounds."""
        return np.array([one.low for one in self.entries])

    @property
    def high(self) -> FloatArray:
        """Upper bounds."""
        return np.array([one.high for one in self.entries])


def cut_normal(
    share: ArrayLike, middle: ArrayLike, sd: ArrayLike, low: ArrayLike, high: ArrayLike
) -> FloatArray:
    """Quantiles of a normal distribution that is cut off at two bounds.

    Parameters
    ----------
    share : array, probability below the quantile [0 to 1]
    middle, sd : array, mode (on a bound at the most) and spread before the cut
    low, high : array, the bounds

    Returns
    -------
    array
        Between the bounds; the median is the middle where both bounds are far away.

    Examples
    --------
    >>> cut_normal([0.1, 0.5, 0.9], 0.0, 1.0, 0.0, 9.0).round(3)  # the mode lies on a bound
    array([0.126, 0.674, 1.645])
    """
    middle, sd = np.asarray(middle), np.asarray(sd)
    below, upto = (ndtr((np.asarray(end) - middle) / sd) for end in (low, high))
    found = middle + sd * ndtri(below + np.asarray(share) * (upto - below))
    return np.asarray(np.clip(found, low, high))


def prior_of(cultivar: ParameterSet, name: str) -> Parameter:
    """Prior of a number, its spread widened by that of the numbers that it stands in for.

    Relative spreads add up in squares; of the two that heat works through, the larger counts.

    Examples
    --------
    >>> from phenocast.parameters import cultivars
    >>> round(prior_of(cultivars()["Basalt"], "heat_sensitivity").sd, 3)
    0.391
    """
    prior = cultivar[name]
    carried = [cultivar[other] for other in CARRIED.get(name, ()) if other in cultivar]
    if prior.sd == 0.0 or not carried:
        return prior
    shares = [one.sd / abs(one.value) for one in carried if one.value != 0.0]
    if name in HEAT:
        shares = [max(shares, default=0.0)]
    return replace(prior, sd=float(np.hypot(prior.sd, prior.value * np.linalg.norm(shares))))


def layout_of(
    blocks: Sequence[FitBlock], names: Sequence[str], at_planting: Sequence[str]
) -> Layout:
    """Return the vector for some blocks.

    Parameters
    ----------
    blocks : those that have records.
    names : cultivar numbers to fit; one whose prior has no spread is left out.
    at_planting : transplant numbers to fit, shared by all blocks of a type.
    """
    numbers: list[Entry] = []
    place: dict[tuple[int, str, str], int] = {}

    def entry(group: int, owner: str, name: str, prior: Parameter | None = None) -> int:
        key = (group, owner, name)
        if key not in place:
            place[key] = len(numbers)
            numbers.append(Entry(group, owner, name, prior))
        return place[key]

    for block in sorted(blocks, key=lambda one: one.cultivar):
        for name in names:
            prior = prior_of(block.cultivar_set, name)
            if prior.sd > 0.0:
                entry(CULTIVAR, block.cultivar, name, prior)
    of_block, runs = [], []
    for block in blocks:
        own = [
            entry(CULTIVAR, block.cultivar, name)
            for name in names
            if block.cultivar_set[name].sd > 0.0
        ]
        if not block.from_nursery:
            own += [
                entry(TRANSPLANT, block.transplant, name, block.transplant_set[name])
                for name in at_planting
                if block.transplant_set[name].sd > 0.0
            ]
        own.append(entry(SEASON_SHIFT, block.season, "shift"))
        runs.append(len(own))
        own.append(entry(SEASON_LEVEL, block.season, "level"))
        own.append(entry(PLOT_LEVEL, block.key, "level"))
        of_block.append(np.array(own, dtype=np.int64))
    return Layout(tuple(numbers), tuple(of_block), tuple(runs))
