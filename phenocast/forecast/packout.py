"""From ripe fruit to packed trays: one chain for the forecast, the plan of labour and a comparison.

Of the fruit that ripens in a week a share stays in the field, and a week with too little fruit for
a crew is not picked at all. What is picked fills trays, which hold a little more than their nominal
mass. The share that stays is drawn, once for each parameter draw and for all blocks alike.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from phenocast._typing import FloatArray
from phenocast.errors import Fault, InputError, unknown_name
from phenocast.forecast.summary import quantiles
from phenocast.parameters import labour as shipped_labour
from phenocast.parameters import packs
from phenocast.season import Block, Labour

AnyFloat = TypeVar("AnyFloat", bound=np.floating[Any])

DEFAULT_PACK = "8 x 1 lb"
KG_PER_G = 1e-3


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

    def trays(self, kg: ArrayLike) -> FloatArray:
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
        over_pack = shipped_labour()["packing"].value("over_pack")
    return Tray(name, net_mass_kg, over_pack)


def tray_of(labour: Labour | None) -> Tray:
    """Return the tray that a season states, or the usual one where it states no labour.

    Raises
    ------
    InputError
        As `tray`.

    Examples
    --------
    >>> tray_of(None).name
    '8 x 1 lb'
    """
    if labour is None:
        return tray(DEFAULT_PACK)
    return tray(labour.pack, labour.tray_kg, labour.over_pack)


@dataclass(frozen=True)
class Packout:
    """The chain from ripe to packed fruit.

    Parameters
    ----------
    tray : Tray
        The one tray of the site.
    left_share : array ``[draws]``
        Of ripe marketable fruit, what stays in the field.
    least_t_per_ha : float
        Ripe fruit of a week below which no crew is sent [t ha-1].
    """

    tray: Tray
    left_share: FloatArray
    least_t_per_ha: float

    def picked_g(self, ripe_g: NDArray[AnyFloat], plants_per_ha: float) -> NDArray[AnyFloat]:
        """Return the fruit that is carried out of the field.

        Parameters
        ----------
        ripe_g : array ``[..., draws, weeks]``
            Marketable fruit that ripens in each week [g per plant].
        plants_per_ha : float

        Returns
        -------
        array ``[..., draws, weeks]``
            [g per plant], of the type of ``ripe_g``.

        Examples
        --------
        >>> chain = Packout(tray("8 x 500 g"), np.array([0.1, 0.2]), 0.02)
        >>> chain.picked_g(np.array([[0.3, 50.0], [0.3, 50.0]]), 50_000.0).tolist()
        [[0.0, 45.0], [0.0, 40.0]]
        """
        kept = (1.0 - self.left_share[:, None]).astype(ripe_g.dtype)
        return np.where(ripe_g * (plants_per_ha * 1e-6) >= self.least_t_per_ha, ripe_g * kept, 0.0)

    def trays_per_g(self, plants: float) -> float:
        """Return the trays that one picked gram of every plant of a block fills."""
        return plants * KG_PER_G / self.tray.fruit_kg

    def trays(self, ripe_g: NDArray[np.floating[Any]], block: Block) -> FloatArray:
        """Return the trays of a block, from its ripe fruit ``[..., draws, weeks]`` [g per plant].

        Examples
        --------
        >>> from datetime import date
        >>> block = Block("East", "Marl", "black", "plug", date(2026, 10, 1), 50_000.0, 2.0)
        >>> chain = Packout(tray("8 x 500 g", over_pack=0.0), np.array([0.2]), 0.02)
        >>> chain.trays(np.array([[40.0]]), block).tolist()  # 3.2 of 4 t picked, 4 kg a tray
        [[800.0]]
        """
        picked = self.picked_g(ripe_g.astype(np.float64), block.plants_per_ha)
        return picked * self.trays_per_g(block.plants)

    def to_dict(self) -> dict[str, Any]:
        """Return the chain's numbers, as documents hold them."""
        return {
            "name": self.tray.name,
            "net_mass_kg": self.tray.net_mass_kg,
            "over_pack": self.tray.over_pack,
            "left_share": quantiles(self.left_share, 3),
            "least_t_per_ha": self.least_t_per_ha,
        }


def packout_of(labour: Labour | None, *, draws: int, seed: int) -> Packout:
    """Return the chain of a season, from its labour where that is stated and the shipped numbers.

    Parameters
    ----------
    labour : Labour or None
        States the tray, and where known the over-pack and the share left in the field; a stated
        share has no spread.
    draws, seed : int
        As of the forecast or the comparison.

    Examples
    --------
    >>> chain = packout_of(None, draws=200, seed=0)
    >>> chain.tray.name, chain.to_dict()["left_share"]
    ('8 x 1 lb', {'p10': 0.058, 'p50': 0.12, 'p90': 0.184})
    """
    numbers = shipped_labour()["picking"]
    if labour is None or labour.left_share is None:
        left = numbers.draw(seed, draws)["left_share"]
    else:
        left = np.full(draws, labour.left_share)
    return Packout(tray_of(labour), left, numbers.value("least_worth"))
