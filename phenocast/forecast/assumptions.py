"""Every number behind a forecast that is assumed rather than measured or fitted."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Any

from phenocast.parameters import ParameterSet
from phenocast.simulation.setup import BlockSetup


def assumed_numbers(setups: Iterable[BlockSetup]) -> list[dict[str, Any]]:
    """Return the assumed numbers that the blocks use, each once, in a fixed order.

    Returns
    -------
    list of dict with ``set, name, value, unit, source``.
    """
    sets: dict[str, ParameterSet] = {}
    for setup in setups:
        kinds = (
            ("film", setup.film),
            ("film", setup.shoulder),
            ("bed", setup.physics),
            ("soil", setup.soil),
            ("cultivar", setup.cultivar),
            ("transplant", setup.transplant),
        )
        for kind, parameters in kinds:
            if parameters is not None:
                sets[f"{kind} {parameters.name}"] = parameters
    return [row for label, parameters in sorted(sets.items())
            for row in assumed_of(label, parameters)]  # fmt: skip


def assumed_of(
    label: str, parameters: ParameterSet, names: Collection[str] | None = None
) -> list[dict[str, Any]]:
    """Return the assumed numbers of one set; of some names only, where these are given."""
    return [
        {
            "set": label,
            "name": name,
            "value": parameter.value,
            "unit": parameter.unit,
            "source": parameter.source,
        }
        for name, parameter in parameters.items()
        if parameter.basis == "assumed" and (names is None or name in names)
    ]
