"""Checks of a season file that need more than one key, or a list of known names."""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise

from phenocast.errors import Fault, InputError, broken, unknown_name
from phenocast.season.economics import Costs, Labour, Prices, labour_faults, price_faults
from phenocast.season.model import Bed, WeatherSource, WeatherSources
from phenocast.season.schema import (
    BlockTable,
    CoverTable,
    FilmTable,
    LightingTable,
    NurseryTable,
    SiteTable,
    film_faults,
)
from phenocast.season.site import place_faults, time_zone_fault
from phenocast.units import parse_unit

Path = Callable[..., str]


@dataclass(frozen=True)
class KnownNames:
    """Names that a season may use, apart from those it brings itself."""

    films: frozenset[str]
    striped_films: frozenset[str]
    cultivars: frozenset[str]
    soils: frozenset[str]
    transplants: frozenset[str]


@dataclass(frozen=True)
class Parts:
    """Tables that hold together by themselves; what does not is None or left out.

    Parameters
    ----------
    site, weather, bed, nursery : table or None
    blocks : mapping of int to BlockTable
        By the block's place in the file.
    names : tuple of mapping
        Texts of every block as read, sound or not, so that unknown names are told in any case.
    soil : str or None
        Name of the soil, where it is a text.
    films : mapping of str to FilmTable
    film_names : frozenset of str
        Names of all films of the user, sound or not.
    season_end : date or None
    labour, prices, costs : table or None
    has_prices : bool
        Whether the file has a table of prices, sound or not.
    """

    site: SiteTable | None
    weather: WeatherSources | None
    bed: Bed | None
    nursery: NurseryTable | None
    blocks: Mapping[int, BlockTable]
    names: tuple[Mapping[str, str], ...]
    soil: str | None
    films: Mapping[str, FilmTable]
    film_names: frozenset[str]
    season_end: date | None
    labour: Labour | None = None
    prices: Prices | None = None
    has_prices: bool = False
    costs: Costs | None = None

    @property
    def block_names(self) -> list[str]:
        """Names of all blocks, in the order of the file."""
        return [block["name"] for block in self.names if "name" in block]


def season_faults(parts: Parts, names: KnownNames, path: Path) -> list[Fault]:
    """Return every fault that the schema alone cannot see.

    Parameters
    ----------
    parts : Parts
        The sound parts of a file, each in order by itself.
    names : KnownNames
    path : callable
        Turns steps such as ``("block", 0, "film")`` into a path as shown to the user.
    """
    faults = [] if parts.site is None else _place(parts.site, under(path, "site"))
    faults += _weather(parts, under(path, "weather"))
    faults += _bed(parts, names, under(path, "bed"))
    for name, film in parts.films.items():
        faults += _film(name, film, parts, names, under(path, "film", name))
    faults += [
        Fault("two blocks have the same name", path("block"), name, do="give each block its own")
        for name, count in Counter(parts.block_names).items()
        if count > 1
    ]
    known = {
        "cultivar": names.cultivars,
        "film": names.films | parts.film_names,
        "transplant": names.transplants,
    }
    for number, texts in enumerate(parts.names):
        for key, candidates in known.items():
            if texts.get(key):
                faults += name_faults(key, texts[key], candidates, path("block", number, key))
        if number in parts.blocks:
            faults += block_faults(parts.blocks[number], number, parts, names, path)
    return faults + _economics(parts, names, path) + nursery_faults(parts, under(path, "nursery"))


def under(path: Path, *first: str | int) -> Path:
    """Return what turns steps below a table into a path."""

    def below(*steps: str | int) -> str:
        return path(*first, *steps)

    return below


def name_faults(kind: str, name: str, known: Iterable[str], where: str) -> list[Fault]:
    """Return the fault of a name that is not known."""
    names = sorted(known)
    return [] if name in names else [unknown_name(kind, name, names, where)]


def striped_names(parts: Parts, names: KnownNames) -> set[str]:
    """Return the names of all films with a stripe."""
    own = {name for name, film in parts.films.items() if film.shoulder is not None}
    return own | names.striped_films


def _place(place: SiteTable, path: Path) -> list[Fault]:
    faults = place_faults(place.latitude, place.longitude, place.elevation_m, place.time_zone)
    return [replace(fault, where=path(fault.where)) for fault in faults]


def _weather(parts: Parts, path: Path) -> list[Fault]:
    weather = parts.weather
    if weather is None:
        return []
    faults = broken(
        (
            weather.observed is None and weather.history is None,
            Fault(
                "no weather is stated", path(), allowed="observed, history or both",
                do="name at least one weather file",
            ),
        )
    )  # fmt: skip
    for kind in ("observed", "history", "outlook"):
        faults += source_faults(getattr(weather, kind), under(path, kind))
    return faults


def source_faults(source: WeatherSource | None, path: Path) -> list[Fault]:
    """Return the faults of a weather source that the schema alone cannot see."""
    if source is None:
        return []
    faults: list[Fault] = []
    for quantity, unit in source.units.items():
        try:
            parse_unit(unit)
        except InputError as error:
            faults += [replace(fault, where=path("units", quantity)) for fault in error.faults]
    fault = source.time_zone and time_zone_fault(source.time_zone, path("time_zone"))
    return [*faults, fault] if fault else faults


def _bed(parts: Parts, names: KnownNames, path: Path) -> list[Fault]:
    bed = parts.bed
    faults = name_faults("soil", parts.soil, names.soils, path("soil")) if parts.soil else []
    if bed is None:
        return faults
    return faults + broken(
        (
            bed.top_width_m >= bed.row_spacing_m,
            Fault(
                "the bed top is wider than the distance between bed centres", path("top_width_m"),
                bed.top_width_m, f"below row_spacing_m, {bed.row_spacing_m:g} m",
            ),
        ),
        (
            bed.plant_row_offset_m > bed.top_width_m / 2.0,
            Fault(
                "the plant rows lie beside the bed top", path("plant_row_offset_m"),
                bed.plant_row_offset_m, f"at most half of top_width_m, {bed.top_width_m / 2:g} m",
            ),
        ),
    )  # fmt: skip


def _film(name: str, film: FilmTable, parts: Parts, names: KnownNames, path: Path) -> list[Fault]:
    faults = broken(
        (
            name in names.films,
            Fault("a shipped film has this name", path(), name, do="give it another name"),
        )
    )
    faults += film_faults(film, path())
    if film.shoulder is not None:
        plain = (names.films | parts.film_names) - striped_names(parts, names)
        faults += name_faults("film", film.shoulder, plain, path("shoulder"))
    return faults + _width(film.stripe_width_m, parts, path("stripe_width_m"))


def _width(width: float | None, parts: Parts, where: str) -> list[Fault]:
    """Return the fault of a stripe wider than the bed top."""
    if width is None or parts.bed is None or width <= parts.bed.top_width_m:
        return []
    allowed = f"at most top_width_m, {parts.bed.top_width_m:g} m"
    return [Fault("the stripe is wider than the bed top", where, width, allowed)]


def block_faults(
    block: BlockTable, number: int, parts: Parts, names: KnownNames, path: Path
) -> list[Fault]:
    """Return the faults between the keys of one block."""
    at = under(path, "block", number)
    striped = striped_names(parts, names)
    has_width = block.stripe_width_m is not None
    planted = block.planting_date
    end = block.season_end or parts.season_end
    lasts_d = 1 if end is None else (end - planted).days
    faults = broken(
        (
            has_width and block.film in (names.films | set(parts.films)) - striped,
            Fault(
                "this film has no stripe", at("stripe_width_m"), block.stripe_width_m,
                f"only with a striped film: {', '.join(sorted(striped))}",
            ),
        )
    )  # fmt: skip
    faults += _width(block.stripe_width_m, parts, at("stripe_width_m"))
    faults += broken(
        (
            lasts_d <= 0,
            Fault(
                "the season ends before it begins",
                at("season_end") if block.season_end else path("season_end"), end,
                f"after planting, {planted}",
            ),
        ),
        (
            lasts_d > 730,
            Fault(
                "a season longer than two years", at("planting_date"), planted,
                f"at most 730 days before season_end, {end}",
            ),
        ),
        (
            block.film_laid is not None and block.film_laid > planted,
            Fault(
                "the film is laid after planting", at("film_laid"), block.film_laid,
                f"not after {planted}",
            ),
        ),
    )  # fmt: skip
    for key in ("row_cover", "low_tunnel", "lighting", "blackout"):
        faults += period_faults(getattr(block, key), planted, under(at, key))
    return faults + _frost(block, at) + _canopy(block, at)


def _frost(block: BlockTable, at: Path) -> list[Fault]:
    """Return the faults of what a block says of its protection from frost."""
    stated = block.frost_protection
    if stated is None:
        return []
    of_cover = stated.kind == "row-cover"
    alone = broken(
        (
            of_cover and not block.row_cover,
            Fault(
                "a row cover against frost has no days", at("frost_protection"), stated.kind,
                do="state its days: row_cover = { from = ..., to = ..., hours = [from, to] }",
            ),
        ),
        (
            stated.kind == "none" and (block.row_cover or block.low_tunnel),
            Fault(
                "the block has a cover, which protects from frost", at("frost_protection"),
                stated.kind, do="leave frost_protection out, or take row_cover and low_tunnel out",
            ),
        ),
    )  # fmt: skip
    if alone:
        return alone
    begins, planted = stated.first_day or block.planting_date, block.planting_date
    ends = stated.last_day or max(begins, planted)
    late = ends < begins and stated.first_day is not None
    return broken(
        *(
            (
                value is not None and stated.kind != "overhead-water",
                Fault(
                    "this key is only for overhead water", at("frost_protection", key), value,
                    'with kind = "overhead-water"',
                    "the days of a cover stand in row_cover" if of_cover else "take it out",
                ),
            )
            for key, value in (
                ("from", stated.first_day),
                ("to", stated.last_day),
                ("rate_mm_h", stated.rate_mm_h),
                ("max_wind_m_s", stated.max_wind_m_s),
                ("down_to_c", stated.down_to_c),
            )
        ),
        (
            ends < max(begins, planted),
            Fault(
                f"the period ends before {'it begins' if late else 'planting'}",
                at("frost_protection", "to"), stated.last_day,
                f"not before {begins if late else planted}",
            ),
        ),
    )  # fmt: skip


def period_faults(
    periods: Sequence[CoverTable | LightingTable], planted: date | None, path: Path
) -> list[Fault]:
    """Return the faults of periods: ends before starts, before planting, overlaps of covers."""
    faults = []
    for number, period in enumerate(periods):
        for what, start in (("it begins", period.from_day), ("planting", planted)):
            if start is not None and period.to_day < start:
                where = path(number, "to")
                ends = f"the period ends before {what}"
                faults.append(Fault(ends, where, period.to_day, f"not before {start}"))
                break
    days = sorted((p.from_day, p.to_day) for p in periods if isinstance(p, CoverTable))
    return faults + [
        Fault("two periods overlap", path(), after, do="end the one before the other")
        for (_, before), (after, _) in pairwise(days)
        if after <= before
    ]


def _canopy(block: BlockTable, path: Path) -> list[Fault]:
    days = [reading.day for reading in block.cover]
    first = min(days, default=block.planting_date)
    return broken(
        *(
            (
                after <= before,
                Fault(
                    "the readings are not in order of days", path("cover", number, "date"), after,
                    f"after {before}",
                ),
            )
            for number, (before, after) in enumerate(pairwise(days), start=1)
        ),
        (
            first < block.planting_date,
            Fault(
                "a reading of cover before planting", path("cover"), first,
                f"not before {block.planting_date}",
            ),
        ),
    )  # fmt: skip


def nursery_faults(parts: Parts, path: Path) -> list[Fault]:
    """Return the faults of the nursery, by itself and against the blocks it supplies."""
    nursery = parts.nursery
    if nursery is None:
        return []
    faults = _place(nursery, path) + source_faults(nursery.weather, under(path, "weather"))
    for key in ("lighting", "blackout"):
        faults += period_faults(getattr(nursery, key), None, under(path, key))
    for number, name in enumerate(nursery.blocks):
        faults += name_faults("block", name, parts.block_names, path("blocks", number))
    supplied = [b for b in parts.blocks.values() if not nursery.blocks or b.name in nursery.blocks]
    planted = min((block.planting_date for block in supplied), default=date.max)
    begins, ends = nursery.from_day, nursery.to_day or date.max
    stated = nursery.to_day is not None
    return faults + broken(
        (
            begins >= planted,
            Fault(
                "the nursery begins after planting", path("from"), begins, f"before {planted}"
            ),
        ),
        (
            stated and ends <= begins,
            Fault("the nursery ends before it begins", path("to"), ends, f"after {begins}"),
        ),
        (
            stated and ends > max(begins, planted),
            Fault(
                "the plants leave the nursery after planting", path("to"), ends,
                f"not after {planted}",
            ),
        ),
    )  # fmt: skip


def _economics(parts: Parts, names: KnownNames, path: Path) -> list[Fault]:
    """Return the faults of labour, prices and costs, and of their currencies."""
    labour, prices, costs = parts.labour, parts.prices, parts.costs
    faults = [] if prices is None else price_faults(prices, path)
    if labour is not None:
        faults += _currencies("labour", labour, {"prices": prices}, path)
        faults += labour_faults(labour, parts.has_prices, path)
    if costs is None:
        return faults
    amounts = (
        ("film_per_ha", "film", names.films | parts.film_names),
        ("transplant_each", "transplant", names.transplants),
    )
    for key, kind, known in amounts:
        for name, amount in getattr(costs, key).items():
            where = path("costs", key, name)
            faults += name_faults(kind, name, known, where)
            faults += broken((amount < 0.0, Fault("a cost below zero", where, amount, "0 or more")))
    # labour and prices are held against each other too
    return faults + _currencies("costs", costs, {"prices": prices, "labour": labour}, path)[:1]


def _currencies(
    name: str, table: Labour | Costs, others: Mapping[str, Labour | Prices | None], path: Path
) -> list[Fault]:
    return [
        Fault(
            f"{name} and {kind} are in different currencies", path(name, "currency"),
            table.currency, other.currency, "state both in one; no rate of exchange is guessed",
        )
        for kind, other in others.items()
        if other is not None and other.currency != table.currency
    ]  # fmt: skip
