"""Walk and reach from a cooperative's own tallies: hours per hectare-pick on fruit per hectare."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import stdtrit

from phenocast.errors import Fault, InputError, NoAnswerError
from phenocast.planning.picking import PickingRates

Array = NDArray[np.float64]

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
    faults = [
        Fault(f"{what} is not above zero in {int((~(v > 0.0)).sum())} picks",
              where=f"tallies, row {int(np.argmax(~(v > 0.0))) + 1}",
              value=float(v[np.argmax(~(v > 0.0))]), allowed=f"above 0 {unit}")
        for what, v, unit in (("picker hours", hours, "h"), ("fruit", mass, "kg"),
                              ("area", area, "ha"))
        if np.any(~(v > 0.0))
    ]  # fmt: skip
    if faults:
        raise InputError(faults)
    if len(hours) < _FEWEST:
        raise NoAnswerError(Fault("too few picks for a line", value=len(hours),
                                  allowed=f"{_FEWEST} or more"))  # fmt: skip
    x, y = mass / 1000.0 / area, hours / area
    if x.max() - x.min() < 0.05 * x.mean():
        raise NoAnswerError(
            Fault("all picks have nearly the same fruit: walk and reach cannot be told apart",
                  value=f"{x.min():.2f} to {x.max():.2f} t ha-1",
                  do="add tallies of early and of peak weeks")
        )  # fmt: skip
    from scipy.stats import linregress  # slow to load, and every reader of prices passes here

    line = linregress(x, y)
    free = len(x) - 2
    wide = float(stdtrit(free, 0.5 + level / 2.0))
    residual = y - line.intercept - line.slope * x
    walk, reach = float(line.intercept), float(line.slope)
    if walk < 0.0 or reach <= 0.0:
        raise NoAnswerError(
            Fault("the tallies give a walk or a reach that cannot be",
                  value=f"walk {walk:.1f} h ha-1, reach {reach:.1f} h t-1",
                  allowed="walk 0 or more, reach above 0",
                  do="look for picks with the wrong area or with hours of other work")
        )  # fmt: skip
    warnings = []
    if walk - wide * float(line.intercept_stderr) < 0.0:
        warnings.append("the walk cannot be told from zero; tallies of light picks would help")
    if reach - wide * float(line.stderr) < 0.0:
        warnings.append("the reach cannot be told from zero; tallies of heavy picks would help")
    return TallyFit(
        walk=walk,
        walk_interval=_about(walk, wide * float(line.intercept_stderr)),
        reach=reach,
        reach_interval=_about(reach, wide * float(line.stderr)),
        level=level,
        residual_sd=float(np.sqrt(np.sum(residual**2) / free)),
        r_squared=float(line.rvalue**2),
        picks=len(x),
        yields=(float(x.min()), float(x.max())),
        warnings=tuple(warnings),
    )


def _about(centre: float, half: float) -> tuple[float, float]:
    return centre - half, centre + half
