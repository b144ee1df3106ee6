"""The sentences of a forecast page: the answer, how sure it is, what would change it, what next."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from phenocast.report.forecast_tables import CUT_OFF_C, likeliest
from phenocast.report.heat_words import compared_days, season_ends
from phenocast.report.parts import Bullets, Item
from phenocast.report.provenance import packout_line
from phenocast.report.reader import Reader

Document = Mapping[str, Any]
MOST_NAMED = 8
"""Blocks that are named one by one in words; more are left to the table."""


def answer(document: Document, reader: Reader) -> list[str]:
    """The answer in two sentences.

    Examples
    --------
    >>> pick = {"median": None, "week_probabilities": [], "not_reached_probability": 1.0}
    >>> block = {"block": "North", "first_pick": pick,
    ...          "fruit": {"season_g_per_plant": {"p50": 0.0}, "early_until": "2026-12-01",
    ...                    "early_g_per_plant": {"p50": 0.0}}}
    >>> len(answer({"blocks": [block]}, Reader()))
    2
    """
    blocks = document["blocks"]
    if len(blocks) == 1:
        return _answer_for_one(blocks[0], reader)
    reached = [block for block in blocks if block["first_pick"]["median"] is not None]
    never = [block for block in blocks if block["first_pick"]["median"] is None]
    say = reader.say
    if not reached:
        return [say("forecast.none_reached", count=len(blocks)), _busiest(document, reader)]
    ordered = sorted(reached, key=lambda block: str(block["first_pick"]["median"]))
    first, last = ordered[0], ordered[-1]
    if len(ordered) == 1:
        told = say("forecast.answer_only", block=_name(first, reader), week=_week(first, reader))
    else:
        told = say(
            "forecast.answer_many", first=_name(first, reader), last=_name(last, reader),
            first_week=_week(first, reader), last_week=_week(last, reader),
        )  # fmt: skip
    if never:
        names = reader.and_list([_name(block, reader) for block in never[:MOST_NAMED]])
        return [told, say.counted("forecast.some_never", len(never), blocks=names)]
    return [told, _busiest(document, reader)]


def _answer_for_one(block: Document, reader: Reader) -> list[str]:
    pick, fruit = block["first_pick"], block["fruit"]
    if pick["median"] is None:
        first = reader.say(
            "forecast.one_never", block=_name(block, reader),
            share=reader.percent(pick["not_reached_probability"]),
        )  # fmt: skip
    else:
        first = reader.say(
            "forecast.answer_one", block=_name(block, reader), week=_week(block, reader),
            date=reader.date(pick["median"]),
        )  # fmt: skip
    second = reader.say(
        "forecast.answer_fruit",
        season=reader.amount("fruit", fruit["season_g_per_plant"]["p50"]),
        early=reader.amount("fruit", fruit["early_g_per_plant"]["p50"]),
        until=reader.date(fruit["early_until"]),
    )
    return [first, second]


def _busiest(document: Document, reader: Reader) -> str:
    """Week with most trays of all blocks together."""
    count = len(document["blocks"])
    weekly = document["total"]["weekly"]
    if not weekly:
        return reader.say("forecast.no_fruit", count=count)
    best = max(weekly, key=lambda row: row["trays"]["p50"])
    return reader.say(
        "forecast.busiest", count=count, week=reader.week(best["week"]),
        trays=reader.number(best["trays"]["p50"]),
    )  # fmt: skip


def sure(document: Document, reader: Reader) -> list[Item]:
    """Spans of the first picks, and what they hold."""
    say = reader.say
    items: list[Item] = []
    blocks = document["blocks"]
    if len(blocks) <= MOST_NAMED:
        items.append(Bullets([_span(block, reader) for block in blocks]))
    else:
        items.append(say("forecast.spans_below"))
    if document["weather"]["weather_traces"] == 1:
        items.append(say("forecast.one_year"))
    items.append(say("forecast.spans_hold"))
    return items


def _span(block: Document, reader: Reader) -> str:
    pick = block["first_pick"]
    if pick["p10"] is None:
        return reader.say(
            "forecast.span_never", block=_name(block, reader),
            share=reader.percent(pick["not_reached_probability"]),
        )  # fmt: skip
    high = reader.say("common.never") if pick["p90"] is None else reader.day(pick["p90"])
    some = "_some_never" if pick["not_reached_probability"] > 0.0 else ""
    return reader.say(
        f"forecast.span{some}", block=_name(block, reader), low=reader.day(pick["p10"]), high=high,
        share=reader.percent(pick["not_reached_probability"]),
    )  # fmt: skip


def change(document: Document, reader: Reader) -> list[Item]:
    """Where the spread comes from, what the heat does, and what the convention does."""
    say = reader.say
    told = []
    blocks = document["blocks"]
    first = _earliest(blocks)
    shares = None if first is None else first["first_pick"]["spread_from"]
    if first is not None and shares is not None:
        seasons = {"season": reader.percent(shares["season"])} if "season" in shares else {}
        told.append(
            say(
                "forecast.spread_from_season" if seasons else "forecast.spread_from",
                block=_name(first, reader),
                weather=reader.percent(shares["weather"]),
                plants=reader.percent(shares["plants"]),
                rest=reader.percent(shares["bed_and_interplay"]),
                **seasons,
            )
        )
    hottest = max(
        blocks, key=lambda block: float(block["crown"]["compared"]["degree_hours_above_30c"])
    )
    told.append(
        say(
            "forecast.heat_of",
            block=_name(hottest, reader),
            film=reader.name(hottest["film"], 40),
            heat=reader.amount("heat", hottest["crown"]["compared"]["degree_hours_above_30c"]),
            over=compared_days(document, reader),
            cut_off=reader.amount("temperature", CUT_OFF_C, 0),
        )
    )
    thresholds = {block["first_pick"]["threshold_g_per_plant"] for block in blocks}
    if len(thresholds) == 1:
        amount = reader.amount("weekly_fruit", thresholds.pop())
        told.append(say("forecast.threshold", amount=amount))
    told.append(packout_line(document["pack"], reader))
    return [Bullets(told)]


def initiation(block: Document, reader: Reader) -> str:
    """When flowers are initiated, or that the plants are taken to have arrived with buds."""
    stage = block["stages"]["flower_initiation"]
    share = stage["arrived_with_buds"]
    key = "arrived_all" if share == 1.0 else "arrived_some" if share > 0.0 else "initiated"
    return reader.say(
        f"forecast.{key}", share=reader.percent(share), initiation=reader.date(stage["median"])
    )


def of_block(block: Document, reader: Reader) -> list[str]:
    """Where the season of a block ends, and what heat takes from flower initiation."""
    heat = block["stages"]["flower_initiation"]["heat"]
    lost = heat["new_trusses_lost_share"]
    low, middle, high = (reader.percent(lost and lost[level]) for level in ("p10", "p50", "p90"))
    took = reader.say(
        "forecast.heat_took_none" if lost is None else "forecast.heat_took", days=heat["days"],
        hours=reader.percent(heat["hours_stopped_share"]["p50"]), trusses=middle, low=low,
        high=high,
    )  # fmt: skip
    return [season_ends(block, reader), f"{initiation(block, reader)} {took}"]


def next_steps(document: Document, reader: Reader) -> list[Item]:
    """What to prepare from the day of issue on, and when to ask again."""
    say, issued = reader.say, document["issue_date"]
    told = []
    reached = [block for block in document["blocks"] if block["first_pick"]["median"] is not None]
    due = [block for block in reached if block["first_pick"]["p10"] < issued]
    first = _earliest([block for block in reached if block not in due])
    if due:
        names = reader.and_list([_name(block, reader) for block in due[:MOST_NAMED]])
        told.append(say("forecast.ready_now", blocks=names, date=reader.date(issued)))
    if first is not None:
        told.append(
            say(
                "forecast.be_ready",
                block=_name(first, reader),
                date=reader.date(first["first_pick"]["p10"]),
            )
        )
    year, number, _ = date.fromisoformat(issued).isocalendar()
    now = f"{year}-W{number:02d}"
    weekly = [row for row in document["total"]["weekly"] if row["week"] >= now]
    if weekly:
        best = max(weekly, key=lambda row: row["trays"]["p90"])
        told.append(
            say(
                "forecast.most_hands",
                week=reader.week(best["week"]),
                trays=reader.number(best["trays"]["p90"]),
            )
        )
    known = document["weather"]["observed_until"]
    told.append(
        say("forecast.ask_again_unseen")
        if known is None
        else say("forecast.ask_again", date=reader.date(known))
    )
    told.append(say("forecast.compare"))
    return [Bullets(told)]


def _earliest(blocks: Sequence[Document]) -> Document | None:
    """Block whose first pick comes first; None where none is reached in half of the seasons."""
    reached = [block for block in blocks if block["first_pick"]["median"] is not None]
    return min(reached, key=lambda block: str(block["first_pick"]["median"])) if reached else None


def _name(block: Document, reader: Reader) -> str:
    return reader.name(block["block"], 40)


def _week(block: Document, reader: Reader) -> str:
    week = likeliest(block["first_pick"])
    return reader.say("common.not_reached") if week is None else reader.week(week["week"])
