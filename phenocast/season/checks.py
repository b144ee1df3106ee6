"""Checks of a season file that need more than one key, or a list of known names."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping

from phenocast.errors import Fault
from phenocast.season.block_checks import block_faults, nursery_faults
from phenocast.season.costs_stated import cost_faults
from phenocast.season.known import (
    KnownNames,
    Path,
    moved,
    name_fault,
    striped_names,
    under,
    width_fault,
)
from phenocast.season.parts import Parts
from phenocast.season.planning_stated import planning_faults
from phenocast.season.site import place_faults
from phenocast.season.source_checks import source_faults
from phenocast.season.user_films import film_faults


def season_faults(parts: Parts, names: KnownNames, path: Path) -> list[Fault]:
    """Return every fault that the schema alone cannot see.

    Parameters
    ----------
    parts : Parts
        What of the file is in order by itself.
    names : KnownNames
        Shipped names and those of the files that the user brings.
    path : callable
        Turns the steps to a key into its path for the message.
    """
    faults: list[Fault] = []
    if parts.site is not None:
        site = parts.site
        faults = moved(
            place_faults(site.latitude, site.longitude, site.elevation_m, site.time_zone),
            lambda key: path("site", key),
        )
    faults += _weather(parts, path) + _bed(parts, names, path) + _films(parts, names, path)
    faults += _twice(parts.block_names, path("block"))
    for number, texts in enumerate(parts.names):
        faults += _block_names(texts, number, parts, names, path)
        if number in parts.blocks:
            faults += block_faults(parts.blocks[number], number, parts, names, path)
    faults += planning_faults(parts.labour, parts.prices, parts.has_prices, path)
    faults += cost_faults(parts, names, path)
    return faults + nursery_faults(parts, path)


def _twice(names: Iterable[str], where: str) -> list[Fault]:
    return [
        Fault("two blocks have the same name", where, name, do="give each block its own")
        for name, count in Counter(names).items()
        if count > 1
    ]


def _weather(parts: Parts, path: Path) -> list[Fault]:
    weather = parts.weather
    faults: list[Fault] = []
    if weather is None:
        return faults
    if weather.observed is None and weather.history is None:
        faults.append(
            Fault(
                "no weather is stated",
                path("weather"),
                allowed="observed, history or both",
                do="name at least one weather file",
            )
        )
    for kind in ("observed", "history", "outlook"):
        faults += source_faults(getattr(weather, kind), under(path, "weather", kind))
    return faults


def _bed(parts: Parts, names: KnownNames, path: Path) -> list[Fault]:
    bed = parts.bed
    faults: list[Fault] = []
    if parts.soil is not None:
        name_fault("soil", parts.soil, names.soils, path("bed", "soil"), faults)
    if bed is None:
        return faults
    if bed.top_width_m >= bed.row_spacing_m:
        faults.append(
            Fault(
                "the bed top is wider than the distance between bed centres",
                path("bed", "top_width_m"),
                bed.top_width_m,
                f"below row_spacing_m, {bed.row_spacing_m:g} m",
            )
        )
    if bed.plant_row_offset_m > bed.top_width_m / 2.0:
        faults.append(
            Fault(
                "the plant rows lie beside the bed top",
                path("bed", "plant_row_offset_m"),
                bed.plant_row_offset_m,
                f"at most half of top_width_m, {bed.top_width_m / 2:g} m",
            )
        )
    return faults


def _films(parts: Parts, names: KnownNames, path: Path) -> list[Fault]:
    faults: list[Fault] = []
    for name, film in parts.films.items():
        where = path("film", name)
        if name in names.films:
            faults.append(
                Fault("a shipped film has this name", where, name, do="give it another name")
            )
        faults += film_faults(film, where)
        if film.shoulder is not None:
            plain = (names.films | parts.film_names) - striped_names(parts, names)
            name_fault("film", film.shoulder, plain, path("film", name, "shoulder"), faults)
        faults += width_fault(path("film", name, "stripe_width_m"), film.stripe_width_m, parts)
    return faults


def _block_names(
    texts: Mapping[str, str], number: int, parts: Parts, names: KnownNames, path: Path
) -> list[Fault]:
    known = {
        "cultivar": names.cultivars,
        "film": names.films | parts.film_names,
        "transplant": names.transplants,
    }
    faults: list[Fault] = []
    for key, candidates in known.items():
        if texts.get(key):
            name_fault(key, texts[key], candidates, path("block", number, key), faults)
    return faults
