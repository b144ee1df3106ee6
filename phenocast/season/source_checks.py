"""Checks of a weather source: its units and its time zone."""

from __future__ import annotations

from dataclasses import replace

from phenocast.errors import Fault, InputError
from phenocast.season.known import Path
from phenocast.season.schema import SourceTable
from phenocast.season.site import time_zone_fault
from phenocast.units import parse_unit


def source_faults(source: SourceTable | None, path: Path) -> list[Fault]:
    """Return the faults of a weather source that the schema alone cannot see."""
    if source is None:
        return []
    faults: list[Fault] = []
    for quantity, unit in source.units.items():
        try:
            parse_unit(unit)
        except InputError as told:
            where = path("units", quantity)
            faults += [replace(fault, where=where) for fault in told.faults]
    if source.time_zone is not None:
        fault = time_zone_fault(source.time_zone, path("time_zone"))
        faults += [fault] if fault else []
    return faults
