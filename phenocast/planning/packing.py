"""Trays from kilograms, and what packing, cooling and loading can take."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from phenocast.errors import Fault, InputError, unknown_name
from phenocast.parameters import labour, packs

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Tray:
    """What one tray holds: nominal fruit [kg], and the share given above it."""

    name: str
    net_mass_kg: float
    over_pack: float

    def __post_init__(self) -> None:
        faults = []
        if not (np.isfinite(self.net_mass_kg) and 0.0 < self.net_mass_kg <= 50.0):
            faults.append(
                Fault(
                    "a tray holds no such mass",
                    where=f"tray '{self.name}'",
                    value=self.net_mass_kg,
                    allowed="above 0, at most 50 kg",
                )
            )
        if not 0.0 <= self.over_pack <= 0.5:
            faults.append(
                Fault(
                    "over-pack out of range",
                    where=f"tray '{self.name}'",
                    value=self.over_pack,
                    allowed="0 to 0.5",
                )
            )
        if faults:
            raise InputError(faults)

    def trays(self, kg: ArrayLike) -> Array:
        """Return how many trays some fruit fills.

        Examples
        --------
        >>> Tray("8 x 500 g", 4.0, 0.0).trays(1000.0)
        array(250.)
        """
        return np.asarray(np.asarray(kg, dtype=np.float64) / self.fruit_kg)

    @property
    def fruit_kg(self) -> float:
        """Fruit that really goes into a tray [kg]."""
        return self.net_mass_kg * (1.0 + self.over_pack)


def tray(name: str, net_mass_kg: float | None = None, over_pack: float | None = None) -> Tray:
    """Return a shipped tray by name, or one of the user's own.

    Parameters
    ----------
    name : str
    net_mass_kg : float, optional
        Of a tray of the user's own [kg].
    over_pack : float, optional
        Share of fruit above the nominal mass; the shipped one where not given.

    Raises
    ------
    InputError
        Where the name is not known and no mass is given, or the mass is not above 0.

    Examples
    --------
    >>> tray("8 x 1 lb").net_mass_kg, tray("6 x 300 g", 1.8).net_mass_kg
    (3.6287, 1.8)
    """
    if net_mass_kg is None:
        if name not in packs():
            raise InputError(unknown_name("tray", name, packs(), "pack"))
        net_mass_kg = packs()[name].value("net_mass_kg")
    if over_pack is None:
        over_pack = labour()["packing"].value("over_pack")
    return Tray(name, net_mass_kg, over_pack)


def packing_hours(kg: ArrayLike, rate_kg_h: float | None = None) -> Array:
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


def loading_hours(trays: ArrayLike, trays_h: float | None = None) -> Array:
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
    if not value > 0.0:
        raise InputError(
            Fault(f"the {what} is not above zero", value=value, allowed=f"above 0 {unit}")
        )
    return value
