"""What a grower states of costs, as a frozen description, and the checks of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from phenocast.errors import Fault
from phenocast.season.known import KnownNames, Path, name_fault

if TYPE_CHECKING:
    from phenocast.season.parts import Parts
    from phenocast.season.planning_tables import CostsTable


@dataclass(frozen=True)
class Costs:
    """Costs of planting and harvest as stated, money in ``currency``; what is not stated is zero.

    Parameters
    ----------
    currency : str
    film_per_ha : mapping of str to float
        Film, laid, by name. [currency ha-1]
    transplant_each : mapping of str to float
        One plant, by type of transplant. [currency plant-1]
    planting_per_ha : float
        Bed, planting and all else that does not depend on the fruit. [currency ha-1]
    harvest_per_kg : float
        Picking, packing and all else that goes with the fruit. [currency kg-1]
    """

    currency: str
    film_per_ha: Mapping[str, float] = field(default_factory=dict)
    transplant_each: Mapping[str, float] = field(default_factory=dict)
    planting_per_ha: float = 0.0
    harvest_per_kg: float = 0.0


def costs_of(table: CostsTable | None) -> Costs | None:
    """Return the costs that the file states."""
    if table is None:
        return None
    return Costs(
        table.currency,
        dict(table.film_per_ha),
        dict(table.transplant_each),
        table.planting_per_ha,
        table.harvest_per_kg,
    )


def cost_faults(parts: Parts, names: KnownNames, path: Path) -> list[Fault]:
    """Return the faults of costs: names that are not known, amounts below zero, mixed currencies.

    Parameters
    ----------
    parts : Parts
    names : KnownNames
    path : callable
    """
    costs = parts.costs
    if costs is None:
        return []
    faults: list[Fault] = []
    known = {
        "film_per_ha": ("film", names.films | parts.film_names),
        "transplant_each": ("transplant", names.transplants),
    }
    for key, (kind, candidates) in known.items():
        for name, amount in getattr(costs, key).items():
            where = path("costs", key, name)
            name_fault(kind, name, candidates, where, faults)
            if amount < 0.0:
                faults.append(Fault("a cost below zero", where, amount, "0 or more"))
    for kind, table in (("prices", parts.prices), ("labour", parts.labour)):
        if table is not None and table.currency != costs.currency:
            faults.append(
                Fault(
                    f"costs and {kind} are in different currencies",
                    path("costs", "currency"),
                    costs.currency,
                    table.currency,
                    "state both in one; no rate of exchange is guessed",
                )
            )
            break  # labour and prices are held against each other too
    return faults
