"""Known names, and small helpers that the checks of a season file share."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from phenocast.errors import Fault, unknown_name

if TYPE_CHECKING:
    from phenocast.season.parts import Parts

Path = Callable[..., str]


@dataclass(frozen=True)
class KnownNames:
    """Names that a season may use, apart from those it brings itself."""

    films: frozenset[str]
    striped_films: frozenset[str]
    cultivars: frozenset[str]
    soils: frozenset[str]
    transplants: frozenset[str]


def under(path: Path, *first: str | int) -> Path:
    """Return what turns steps below a table into a path."""

    def below(*steps: str | int) -> str:
        return path(*first, *steps)

    return below


def moved(faults: Iterable[Fault], where: Callable[[str], str]) -> list[Fault]:
    """Return faults with the place of each turned into a path of the file."""
    return [replace(fault, where=where(fault.where)) for fault in faults]


def name_fault(kind: str, name: str, known: Iterable[str], where: str, faults: list[Fault]) -> None:
    """Add a fault where a name is not known."""
    names = sorted(known)
    if name not in names:
        faults.append(unknown_name(kind, name, names, where))


def width_fault(where: str, width: float | None, parts: Parts) -> list[Fault]:
    """Return the fault of a stripe wider than the bed top."""
    if width is None or parts.bed is None or width <= parts.bed.top_width_m:
        return []
    allowed = f"at most top_width_m, {parts.bed.top_width_m:g} m"
    return [Fault("the stripe is wider than the bed top", where, width, allowed)]


def striped_names(parts: Parts, names: KnownNames) -> set[str]:
    """Return the names of all films with a stripe."""
    own = {name for name, film in parts.films.items() if film.shoulder is not None}
    return own | names.striped_films
