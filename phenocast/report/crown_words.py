"""The sentences and the overview of a crown page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from phenocast.report.heat_words import compared_days, headline, headline_days, season_ends
from phenocast.report.parts import Bullets, Item, Table
from phenocast.report.reader import Reader

Document = Mapping[str, Any]
CUT_OFF_C = 30.0
MOST_NAMED = 8
"""Beds whose season is told one by one in words; of more the document tells."""
OBSERVED = "observed"
"""Course of weather that was observed to its last day."""


def _heat(block: Document) -> float:
    return float(block["crown"]["compared"]["degree_hours_above_30c"])


def words(block: Document, crown: Document, over: str, reader: Reader) -> dict[str, str]:
    """Film, block and heat of a block over some days for a sentence."""
    return {
        "over": over,
        "film": reader.name(block["film"], 40),
        "block": reader.name(block["block"], 40),
        "heat": reader.amount("heat", crown["degree_hours_above_30c"]),
        "hours": reader.amount("time", crown["hours_above_30c"]),
        "highest": reader.amount("temperature", crown["max_c"]),
        "date": reader.date(crown["max_day"]),
        "cut_off": reader.amount("temperature", CUT_OFF_C, 0),
    }


def hottest(blocks: Sequence[Document]) -> Document:
    """Bed that carries the most heat over the days that all are compared over."""
    return max(blocks, key=_heat)


def answer(document: Document, reader: Reader) -> list[str]:
    """The answer in two sentences: which bed is hottest, and which the coolest."""
    blocks = document["blocks"]
    warmest, coolest = hottest(blocks), min(blocks, key=_heat)
    if len(blocks) == 1:
        crown = warmest["crown"]
        part = headline(crown)
        second = "one" if part["degree_hours_above_30c"] > 0.0 else "none"
        told = words(warmest, part, headline_days(crown, reader), reader)
        return [reader.say(key, **told) for key in ("crown.answer_alone", f"crown.answer_{second}")]
    over = compared_days(document, reader)
    return [
        reader.say(f"crown.answer_{key}", **words(block, block["crown"]["compared"], over, reader))
        for key, block in (("hottest", warmest), ("least", coolest))
    ]


def sure(document: Document, reader: Reader) -> list[Item]:
    """One course of weather, one value of each number, and what was never measured."""
    course = document["weather"]["course"]
    items: list[Item] = [
        reader.say("crown.all_observed")
        if course == OBSERVED
        else reader.say("crown.one_course", course=reader.name(course)),
        reader.say("crown.not_measured"),
    ]
    blocks = document["blocks"]
    if len(blocks) <= MOST_NAMED:
        items.append(Bullets([season_ends(one, reader, "crown.season_end") for one in blocks]))
    filled = document["weather"]["filled_hours"]
    if filled:
        items.append(reader.say("crown.filled", hours=reader.number(filled)))
    return items


def change(_document: Document, reader: Reader) -> list[Item]:
    """What cools a crown."""
    return [Bullets([reader.say(f"crown.change_{name}") for name in ("film", "leaves", "water")])]


def next_steps(_document: Document, reader: Reader) -> list[Item]:
    """What to do with it."""
    return [Bullets([reader.say(f"crown.next_{name}") for name in ("forecast", "sensor")])]


def source(document: Document, reader: Reader) -> str:
    """Weather of the table in one sentence."""
    weather = document["weather"]
    if weather["course"] == OBSERVED:
        return reader.say("crown.source_all")
    course = reader.name(weather["course"])
    if weather["observed_until"] is None:
        return reader.say("crown.source", course=course)
    return reader.say(
        "crown.source_observed", course=course, date=reader.date(weather["observed_until"])
    )


def overview(document: Document, reader: Reader) -> Table:
    """One row a bed, the hottest first."""
    say = reader.say
    rows = [
        [
            reader.name(block["block"], 60),
            reader.name(block["film"], 40),
            reader.day(block["planting_date"]),
            reader.figure("temperature", block["crown"]["compared"]["max_c"]),
            reader.date(block["crown"]["compared"]["max_day"]),
            reader.figure("time", block["crown"]["compared"]["hours_above_30c"]),
            reader.figure("heat", block["crown"]["compared"]["degree_hours_above_30c"]),
            reader.figure("heat", block["crown"]["season"]["degree_hours_above_30c"]),
        ]
        for block in sorted(document["blocks"], key=_heat, reverse=True)
    ]
    header = [
        say("common.block"),
        say("common.film"),
        say("common.planted"),
        say("crown.highest", unit=reader.unit("temperature")),
        say("crown.highest_on"),
        say("crown.hours", cut_off=reader.amount("temperature", CUT_OFF_C, 0)),
        say("crown.heat", unit=reader.unit("heat")),
        say("crown.heat_season", unit=reader.unit("heat")),
    ]
    caption = say("crown.overview", over=compared_days(document, reader))
    return Table(caption, header, rows, "<<<><>>>")
