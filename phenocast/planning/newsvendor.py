"""One amount decided before a demand that is not known: the newsvendor's rule.

For a crew the amount is the core crew of a week, what is missing is bought at overtime or agency
pay (or fruit is lost), and what is too much is paid without work. The best amount is the quantile
of demand at the critical share ``under / (under + over)``.
"""

from __future__ import annotations

from dataclasses import dataclass

from scipy.stats import norm

from phenocast.errors import Fault, InputError


@dataclass(frozen=True)
class Newsvendor:
    """Best amount for a normal demand, what is expected to be lost, and the expected profit."""

    critical_share: float
    amount: float
    expected_lost: float
    expected_profit: float


def critical_share(under: float, over: float) -> float:
    """Return the share of seasons that the amount should suffice for.

    Parameters
    ----------
    under, over : float
        Cost of one unit too few and of one too many, in the same money.

    Raises
    ------
    InputError
        When a cost is not above 0.

    Examples
    --------
    >>> critical_share(8.0, 4.0)
    0.6666666666666666
    """
    if not (under > 0.0 and over > 0.0):
        raise InputError(
            Fault("a cost of too few or too many is not above zero", value=(under, over),
                  allowed="both above 0",
                  do="too few must cost more than a regular hour, too many more than nothing")
        )  # fmt: skip
    return under / (under + over)


def newsvendor(mean: float, sd: float, under: float, over: float) -> Newsvendor:
    """Return the best amount for a normal demand (Cachon and Terwiesch, chapter 12).

    Parameters
    ----------
    mean, sd : float
        Of demand, in units; sd above 0.
    under, over : float
        See `critical_share`.

    Examples
    --------
    >>> round(newsvendor(200.0, 80.0, 8.0, 4.0).amount, 2)
    234.46
    """
    if not sd > 0.0:
        raise InputError(Fault("the spread of demand is not above zero", value=sd))
    share = critical_share(under, over)
    z = float(norm.ppf(share))
    density = float(norm.pdf(z))
    lost = sd * (density - z * (1.0 - share))
    return Newsvendor(share, mean + z * sd, lost, under * mean - (under + over) * sd * density)
