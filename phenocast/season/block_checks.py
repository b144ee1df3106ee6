"""Checks between the keys of a block and of a nursery: days, periods, canopy and stripe."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import pairwise

from phenocast.errors import Fault
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
from phenocast.season.schema import BlockTable, CoverTable, LightingTable
from phenocast.season.site import place_faults
from phenocast.season.source_checks import source_faults


def block_faults(
    block: BlockTable, number: int, parts: Parts, names: KnownNames, path: Path
) -> list[Fault]:
    """Return the faults between the keys of one block."""
    at = under(path, "block", number)
    faults: list[Fault] = []
    striped = striped_names(parts, names)
    plain = block.film in (names.films | set(parts.films)) - striped
    if block.stripe_width_m is not None:
        if plain:
            faults.append(
                Fault(
                    "this film has no stripe",
                    at("stripe_width_m"),
                    block.stripe_width_m,
                    f"only with a striped film: {', '.join(sorted(striped))}",
                )
            )
        faults += width_fault(at("stripe_width_m"), block.stripe_width_m, parts)
    planted = block.planting_date
    end = block.season_end or parts.season_end
    if end is not None and end <= planted:
        where = at("season_end") if block.season_end else path("season_end")
        faults.append(
            Fault("the season ends before it begins", where, end, f"after planting, {planted}")
        )
    elif end is not None and (end - planted).days > 730:
        faults.append(
            Fault(
                "a season longer than two years",
                at("planting_date"),
                planted,
                f"at most 730 days before season_end, {end}",
            )
        )
    if block.film_laid is not None and block.film_laid > planted:
        faults.append(
            Fault(
                "the film is laid after planting",
                at("film_laid"),
                block.film_laid,
                f"not after {planted}",
            )
        )
    for key in ("row_cover", "low_tunnel", "lighting", "blackout"):
        faults += period_faults(getattr(block, key), planted, under(at, key))
    return faults + _frost(block, at) + _canopy(block, at)


def _frost(block: BlockTable, at: Path) -> list[Fault]:
    """Return the faults of what a block says of its protection from frost."""
    told = block.frost_protection
    if told is None:
        return []
    where = under(at, "frost_protection")
    if told.kind == "row-cover" and not block.row_cover:
        return [
            Fault(
                "a row cover against frost has no days",
                at("frost_protection"),
                told.kind,
                do="state its days: row_cover = { from = ..., to = ..., hours = [from, to] }",
            )
        ]
    if told.kind == "none" and (block.row_cover or block.low_tunnel):
        return [
            Fault(
                "the block has a cover, which protects from frost",
                at("frost_protection"),
                told.kind,
                do="leave frost_protection out, or take row_cover and low_tunnel out",
            )
        ]
    only = "the days of a cover stand in row_cover" if told.kind == "row-cover" else ""
    faults = [
        Fault(
            "this key is only for overhead water",
            where(key),
            value,
            'with kind = "overhead-water"',
            only or "take it out",
        )
        for key, value in (
            ("from", told.from_day),
            ("to", told.to_day),
            ("rate_mm_h", told.rate_mm_h),
            ("max_wind_m_s", told.max_wind_m_s),
            ("down_to_c", told.down_to_c),
        )
        if value is not None and told.kind != "overhead-water"
    ]
    first = max(told.from_day or block.planting_date, block.planting_date)
    if told.to_day is not None and told.to_day < first:
        late = told.from_day is not None and told.to_day < told.from_day
        what = "the period ends before it begins" if late else "the period ends before planting"
        faults.append(
            Fault(
                what,
                where("to"),
                told.to_day,
                f"not before {told.from_day if late else block.planting_date}",
            )
        )
    return faults


def period_faults(
    periods: Sequence[CoverTable | LightingTable], planted: date | None, path: Path
) -> list[Fault]:
    """Return the faults of periods: ends before starts, before planting, overlaps of covers."""
    faults = []
    for number, period in enumerate(periods):
        if period.to_day < period.from_day:
            faults.append(
                Fault(
                    "the period ends before it begins",
                    path(number, "to"),
                    period.to_day,
                    f"not before {period.from_day}",
                )
            )
        elif planted is not None and period.to_day < planted:
            faults.append(
                Fault(
                    "the period ends before planting",
                    path(number, "to"),
                    period.to_day,
                    f"not before {planted}",
                )
            )
    days = sorted((p.from_day, p.to_day) for p in periods if isinstance(p, CoverTable))
    for (_, before), (after, _) in pairwise(days):
        if after <= before:
            faults.append(
                Fault("two periods overlap", path(), after, do="end the one before the other")
            )
    return faults


def _canopy(block: BlockTable, path: Path) -> list[Fault]:
    faults = []
    days = [reading.date for reading in block.cover]
    for number, (before, after) in enumerate(pairwise(days), start=1):
        if after <= before:
            faults.append(
                Fault(
                    "the readings are not in order of days",
                    path("cover", number, "date"),
                    after,
                    f"after {before}",
                )
            )
    if days and min(days) < block.planting_date:
        faults.append(
            Fault(
                "a reading of cover before planting",
                path("cover"),
                min(days),
                f"not before {block.planting_date}",
            )
        )
    return faults


def nursery_faults(parts: Parts, path: Path) -> list[Fault]:
    """Return the faults of the nursery, by itself and against the blocks it supplies."""
    nursery = parts.nursery
    if nursery is None:
        return []
    faults = moved(
        place_faults(nursery.latitude, nursery.longitude, nursery.elevation_m, nursery.time_zone),
        lambda key: path("nursery", key),
    )
    faults += source_faults(nursery.weather, under(path, "nursery", "weather"))
    for key in ("lighting", "blackout"):
        faults += period_faults(getattr(nursery, key), None, under(path, "nursery", key))
    names = parts.block_names
    for number, name in enumerate(nursery.blocks):
        name_fault("block", name, names, path("nursery", "blocks", number), faults)
    blocks = parts.blocks.values()
    fed = [b for b in blocks if not nursery.blocks or b.name in nursery.blocks]
    planted = min((block.planting_date for block in fed), default=None)
    if planted is not None and nursery.from_day >= planted:
        faults.append(
            Fault(
                "the nursery begins after planting",
                path("nursery", "from"),
                nursery.from_day,
                f"before {planted}",
            )
        )
    if nursery.to_day is not None and nursery.to_day <= nursery.from_day:
        faults.append(
            Fault(
                "the nursery ends before it begins",
                path("nursery", "to"),
                nursery.to_day,
                f"after {nursery.from_day}",
            )
        )
    elif nursery.to_day is not None and planted is not None and nursery.to_day > planted:
        faults.append(
            Fault(
                "the plants leave the nursery after planting",
                path("nursery", "to"),
                nursery.to_day,
                f"not after {planted}",
            )
        )
    return faults
