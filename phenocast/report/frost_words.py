"""Frost on a page: the caution at its top, and each block's nights and weeks."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from phenocast.report.frost_text import LEAST_SHARE, MOST_BLOCKS, lost_weeks, worst_nights
from phenocast.report.parts import Folded, Item, Section, Table
from phenocast.report.reader import Reader

Document = Mapping[str, Any]

MOST_SERIOUS = 3
"""Blocks that the answer names, those that lose most; the others are named in the cautions."""


def frost_answer(blocks: list[Document], reader: Reader) -> list[str]:
    """Sentences for the top of a page: of blocks that lose much to frost.

    Parameters
    ----------
    blocks : each with its name under ``block`` and what is told of its ``frost``.

    Examples
    --------
    >>> frost_answer([{"block": "North", "frost": {"caution": None}}], Reader())
    []
    """
    serious = [block for block in blocks if block["frost"]["caution"] is not None]
    serious.sort(key=lambda block: -float(block["frost"]["share_of_season_lost"]["mean"]))
    return [
        reader.say(
            f"frost.answer_{protection_key(block)}",
            block=reader.name(block["block"], 40),
            protection=reader.say(f"frost.kind.{block['frost']['protection'].replace('-', '_')}")
            if protection_key(block) == "stated"
            else "",
            mean=reader.percent(block["frost"]["share_of_season_lost"]["mean"]),
            year=reader.percent(block["frost"]["share_of_season_lost"]["p90_over_weather_years"]),
        )
        for block in serious[:MOST_SERIOUS]
    ]


def protection_key(block: Document) -> str:
    """Which sentence tells how a block is protected."""
    stated = block["frost"]["protection"]
    return {"not stated": "not_stated", "none": "none"}.get(stated, "stated")


def frost_items(block: Document, reader: Reader) -> list[Item]:
    """What the section of a block tells of frost; nothing where no year has a frost night."""
    frost, say = block["frost"], reader.say
    if not frost["nights"]:
        return []
    count, share = frost["nights_in_season"], frost["share_of_season_lost"]
    told = [
        say(
            "frost.told",
            melting=reader.amount("temperature", 0.0, 0),
            nights=reader.number(count["p50"]),
            low=reader.number(count["p10"]), high=reader.number(count["p90"]),
            lost=reader.amount("fruit", frost["fruit_lost_g_per_plant"]["mean"]),
            mean=reader.percent(share["mean"]),
            year=reader.percent(share["p90_over_weather_years"]),
        ),
        say(f"frost.counted_{protection_key(block)}"),
        say("frost.decided_by"),
    ]  # fmt: skip
    beside = frost["with_protection"]
    if beside is not None:
        grams = beside["season_g_per_plant"]
        told.insert(
            2,
            say(
                "frost.with_protection",
                season=reader.amount("fruit", grams["p50"]),
                low=reader.figure("fruit", grams["p10"]),
                high=reader.figure("fruit", grams["p90"]),
            ),
        )
    tables: list[Item] = [_nights(block, reader)]
    if lost_weeks(block):
        tables.append(_weeks(block, reader))
    return [" ".join(told), Folded(say("frost.by_date"), tables)]


def frost_section(document: Document, reader: Reader) -> list[Section]:
    """The section of a labour plan on frost; none where no year has a frost night."""
    say, frost = reader.say, document["frost"]
    blocks = [block for block in frost["blocks"] if block["frost"]["nights"]]
    if not blocks:
        return []
    items: list[Item] = []
    if frost["with_protection"] is not None:
        bare = {row["week"]: row["trays"]["p50"] for row in document["weeks"]}
        rows = [
            [reader.calendar.short_week(row["week"]), reader.number(bare[row["week"]]),
             reader.number(row["trays"]["p50"])]
            for row in frost["with_protection"]["weekly"]
        ]  # fmt: skip
        header = [say("common.week"), say("frost.head.trays"), say("frost.head.trays_protected")]
        caption = say("frost.trays_caption")
        items.append(Folded(caption, [Table(caption, header, rows, "<>>")]))
    for block in blocks[:MOST_BLOCKS]:
        items += [f"{reader.name(block['block'], 60)}:", *frost_items(block, reader)]
    return [Section(say("frost.title"), items)]


def compared_frost(document: Document, reader: Reader, most: int) -> list[Section]:
    """The section of a comparison on frost; none where no option loses any fruit to it."""
    say = reader.say
    options = sorted(document["options"], key=lambda one: -float(one["expected"]))[:most]
    shares = [one["frost"]["share_of_season_lost"] for one in options]
    if not any(share["mean"] >= LEAST_SHARE for share in shares):
        return []
    frost, fruit = document["frost"], reader.unit("fruit")
    rows = [
        [
            reader.day(one["planting_date"]),
            ", ".join(reader.name(one[axis]) for axis in ("film", "cultivar")),
            reader.percent(share["mean"]),
            reader.percent(share["p90_over_weather_years"]),
            reader.figure("fruit", one["season_g_per_plant"]["p50"]),
            *_kept(one["frost"]["with_protection"], reader),
        ]
        for one, share in zip(options, shares, strict=True)
    ]
    header = [
        say("common.planted"), say("compare.film_and_cultivar"), say("frost.head.mean"),
        say("frost.head.year"), say("frost.head.season", unit=fruit),
        say("frost.head.season_protected", unit=fruit),
    ]  # fmt: skip
    width = len(rows[0])
    caption = say(f"frost.counted_{protection_key({'frost': frost})}")
    table = Table(caption, header[:width], rows, "<<>>>>"[:width])
    return [Section(say("frost.title"), [table, say("frost.decided_by")])]


def _kept(protected: Document | None, reader: Reader) -> list[str]:
    """Fruit of a season with protection; nothing where a block states its own."""
    if protected is None:
        return []
    return [reader.figure("fruit", protected["season_g_per_plant"]["p50"])]


def _nights(block: Document, reader: Reader) -> Table:
    say = reader.say
    rows = [
        [
            reader.date(one["date"]),
            reader.percent(one["probability"]),
            reader.figure("temperature", one["flower_c"]),
            reader.figure("temperature", one["flower_protected_c"]),
            reader.number(one["flowers_lost"], 2),
            reader.figure("weekly_fruit", one["fruit_lost_g"]),
        ]
        for one in worst_nights(block["frost"]["nights"])
    ]
    degree, fruit = reader.unit("temperature"), reader.unit("weekly_fruit")
    header = [
        say("frost.head.night"), say("frost.head.chance"), say("frost.head.flower", unit=degree),
        say("frost.head.protected", unit=degree), say("frost.head.flowers"),
        say("frost.head.fruit", unit=fruit),
    ]  # fmt: skip
    return Table(say("frost.nights_caption"), header, rows, "<>>>>>")


def _weeks(block: Document, reader: Reader) -> Table:
    say = reader.say
    rows = [
        [
            reader.calendar.short_week(one["week"]),
            reader.figure("weekly_fruit", one["g_per_plant"]),
            *("" if row is None else reader.number(row["trays"]["p50"]) for row in (bare, spared)),
        ]
        for one, bare, spared in lost_weeks(block)
    ]
    header = [
        say("common.week"), say("frost.head.fruit", unit=reader.unit("weekly_fruit")),
        say("frost.head.trays"), say("frost.head.trays_protected"),
    ]  # fmt: skip
    if "weekly" not in block:  # a labour plan tells the trays of all blocks together
        rows, header = [row[:2] for row in rows], header[:2]
    return Table(say("frost.weeks_caption"), header, rows, "<>>>"[: len(header)])
