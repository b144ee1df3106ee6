"""The one switch between metric and US units on a page; the engine knows only its own units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from phenocast.units import convert

SYSTEMS = ("metric", "us")


@dataclass(frozen=True)
class Measure:
    """One kind of quantity: its unit in a document, in both systems, and how fine it is shown.

    Parameters
    ----------
    inside : str
        Unit of the value in the document.
    metric, us : str
        Units on a page; each has its label in the strings under ``units``.
    metric_digits, us_digits : int
        Decimals that a page shows.
    """

    inside: str
    metric: str
    us: str
    metric_digits: int
    us_digits: int

    def unit(self, system: str) -> str:
        """Unit on a page of that system."""
        return self.us if system == "us" else self.metric

    def digits(self, system: str) -> int:
        """Decimals on a page of that system."""
        return self.us_digits if system == "us" else self.metric_digits

    def value(self, amount: float, system: str) -> float:
        """Value in the unit of a page.

        Examples
        --------
        >>> MEASURES["temperature"].value(30.0, "us"), MEASURES["heat"].value(10.0, "us")
        (86.0, 18.0)
        >>> round(MEASURES["fruit"].value(907.18474, "us"), 6)
        2.0
        """
        return convert(amount, self.inside, self.unit(system))


MEASURES: Mapping[str, Measure] = {
    "temperature": Measure("degC", "degC", "degF", 1, 1),
    "difference": Measure("delta_degC", "delta_degC", "delta_degF", 1, 1),
    "heat": Measure("degC h", "degC h", "degF h", 0, 0),
    "fruit": Measure("g plant-1", "g plant-1", "lb plant-1", 0, 2),
    "weekly_fruit": Measure("g plant-1", "g plant-1", "oz plant-1", 1, 2),
    "mass": Measure("kg", "kg", "lb", 0, 0),
    "pack_mass": Measure("kg", "kg", "lb", 2, 2),
    "area": Measure("ha", "ha", "acre", 2, 2),
    "density": Measure("plants ha-1", "plants ha-1", "plants acre-1", 0, 0),
    "rain": Measure("mm", "mm", "in", 0, 2),
    "length": Measure("m", "m", "ft", 1, 1),
    "wind": Measure("m s-1", "m s-1", "mph", 1, 1),
    "time": Measure("h", "h", "h", 0, 0),
}
"""Kinds of quantity by name; add one here and its labels to the strings."""


def measure(kind: str) -> Measure:
    """Measure of a kind.

    Raises
    ------
    KeyError
        For a kind that is not in `MEASURES`; the message lists them.

    Examples
    --------
    >>> measure("heat").unit("us")
    'degF h'
    """
    if kind not in MEASURES:
        raise KeyError(f"no measure '{kind}'; there are {', '.join(MEASURES)}")
    return MEASURES[kind]
