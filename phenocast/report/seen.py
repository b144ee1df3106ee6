"""What was seen in a block, in words: visits, picks, and what they tell of its forecast."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from phenocast.report.reader import Reader

Document = Mapping[str, Any]


POORLY = 0.5
"""Share of past seasons in a forecast from which the model is said to explain a block poorly."""
SAID_SHARE = 0.05
SAID_DAYS = 1.0
"""Least share and least days that are worth a sentence."""


def seen_words(block: Document, reader: Reader) -> list[str]:
    """What was seen and picked in a block, and what its forecast leans on."""
    return [*_visits(block, reader), *_leaning(block, reader)]


def overdue_words(blocks: Sequence[Document], reader: Reader) -> list[str]:
    """Blocks in which picking should have begun and of which nothing is known."""
    return [
        reader.say("forecast.overdue", block=reader.name(block["block"], 40),
                   date=reader.date(block["first_pick"]["median"]))
        for block in blocks
        if block.get("leaning", {}).get("overdue")
    ]  # fmt: skip


def has_picks(block: Document) -> bool:
    """Whether fruit of a block is recorded."""
    return any(row["picks"] for row in picked_weeks(block).values())


def _leaning(block: Document, reader: Reader) -> list[str]:
    leaning = block.get("leaning")
    if leaning is None:
        return []
    share, later, told = leaning["past_share"], leaning["later_d"], []
    if share >= SAID_SHARE:
        key = "leans_on_past" if share >= POORLY else "leans_on_both"
        told.append(reader.say(f"forecast.{key}", share=reader.percent(share),
                               model=reader.percent(leaning["model_share"])))  # fmt: skip
    if later is not None and abs(later) >= SAID_DAYS:
        days = reader.number(abs(later))
        told.append(reader.say("forecast.later" if later > 0.0 else "forecast.earlier", days=days))
    told += overdue_words([block], reader)
    return [*told, reader.say("forecast.no_pick_assumed")] if leaning["no_pick_assumed"] else told


def _visits(block: Document, reader: Reader) -> list[str]:
    seen = block.get("seen")
    if seen is None:
        return []
    weeks = [row for row in seen["weeks"] if row["picks"]]
    return [
        reader.say(
            "forecast.seen_picked" if weeks else "forecast.seen",
            visits=reader.number(seen["visits"]), date=reader.date(seen["last_visit"]),
            fruit=reader.amount("weekly_fruit", sum(row["g_per_plant"] for row in weeks)),
            trays=reader.number(sum(row["trays"] for row in weeks)),
        )
    ]  # fmt: skip


def picked_weeks(block: Document) -> dict[str, Document]:
    """Weeks in which a pick is recorded, those that found nothing ripe included."""
    return {row["week"]: row for row in block.get("seen", {"weeks": []})["weeks"]}


def picked_rows(block: Document) -> dict[str, Document]:
    """The same in the form of forecast weeks, where a fact has no interval."""
    return {
        week: {key: dict.fromkeys(("p10", "p50", "p90"), row[key])
               for key in ("g_per_plant", "trays")}
        for week, row in picked_weeks(block).items()
    }  # fmt: skip
