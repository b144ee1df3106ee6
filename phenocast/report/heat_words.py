"""Over which days heat is told, and where a season ends, in the words of every page."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from phenocast.report.reader import Reader

Document = Mapping[str, Any]


def headline(crown: Document) -> Document:
    """Heat of a block that is told first: to first bloom, or of the bearing weeks."""
    found: Document = crown[crown["headline"]]
    return found


def headline_days(crown: Document, reader: Reader) -> str:
    """Days of that heat in words."""
    part, key = headline(crown), crown["headline"]
    if not part.get("reached", True):
        key = "no_bloom"
    return reader.say(
        f"heat.{key}", days=part["days"], first=reader.date(part["from"]),
        last=reader.date(part["to"]),
    )  # fmt: skip


def compared_days(document: Document, reader: Reader) -> str:
    """Days over which blocks or options are held against each other, in words."""
    told, blocks = document["heat_compared"], document.get("blocks", ())
    if len(blocks) == 1:  # held against nothing
        return headline_days(blocks[0]["crown"], reader)
    if told["from"] is None:
        return reader.say("heat.same_days", days=told["days"])
    return reader.say(
        "heat.same_weeks", first=reader.date(told["from"]), last=reader.date(told["to"])
    )


def season_ends(block: Document, reader: Reader, words: str = "season_end") -> str:
    """Where the season of a block ends and why; ``words`` is the table of the sentences."""
    end = block["season_end"]
    return reader.say(
        f"{words}.{end['rule']}", block=reader.name(block["block"], 40),
        last_day=reader.date(block["last_day"]),
        fruit=reader.amount("weekly_fruit", end["g_per_plant"]),
    )  # fmt: skip
