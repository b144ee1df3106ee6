"""The sentences of a labour page: the answer, how sure it is, what would change it, what next."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from phenocast.report.labour_tables import open_changes, signed
from phenocast.report.parts import Bullets, Item
from phenocast.report.provenance import packout_line
from phenocast.report.reader import Reader

Document = Mapping[str, Any]

MOST_DECISIONS = 4


def busiest(document: Document) -> Document:
    """Week with the highest need in the middle season."""
    found: Document = max(document["weeks"], key=lambda row: float(row["need_people"]["p50"]))
    return found


def largest_crew(document: Document) -> Document:
    """First week with the largest core crew."""
    found: Document = max(document["weeks"], key=lambda row: int(row["planned"]))
    return found


def answer(document: Document, reader: Reader) -> list[str]:
    """The answer in two sentences, after what must be said first of its hours."""
    say = reader.say
    need, crew = busiest(document), largest_crew(document)
    if need["need_people"]["p90"] <= 0.0:
        return [say("labour.no_need")]
    return [
        *said_first(document["heat"], reader),
        say(
            "labour.answer_need", week=reader.week(need["week"]),
            middle=reader.number(need["need_people"]["p50"]),
            high=reader.number(need["need_people"]["p90"]),
        ),
        say(
            "labour.answer_plan", week=reader.week(crew["week"]),
            most=reader.number(crew["planned"]),
            cost=money(large(document)["expected_cost"], document, reader),
        ),
    ]  # fmt: skip


def said_first(heat: Document, reader: Reader) -> list[str]:
    """Weeks too long and overtime in the heat that the plan buys, where it does."""
    say, number = reader.say, reader.number
    told, long, hot = [], heat["long_week"], heat["hot_overtime"]
    if long is not None:
        told.append(
            say(
                "labour.long_week", hours=number(long["hours"], 1), week=reader.week(long["worst"]),
                limit=number(long["limit_h"], 1), weeks=number(long["weeks"]),
            )
        )  # fmt: skip
    if hot is not None:
        told.append(
            say("labour.hot_overtime", hours=number(hot["hours"], 1),
                week=reader.week(hot["worst"]), weeks=number(hot["weeks"]))
        )  # fmt: skip
    return told


def large(document: Document) -> Document:
    """Figures of the plan over seasons at large, of which all sentences are made."""
    found: Document = document["figures"]["seasons_at_large"]
    return found


def cover(document: Document, reader: Reader) -> list[str]:
    """Who it takes to pick the fruit, and what is lost and why, from one result.

    Each of its shares says what the plan does or loses in the same seasons, so that no sentence can
    speak against another.
    """
    say, percent, figures = reader.say, reader.percent, large(document)
    told = [
        say(
            f"labour.cover.{figures['cover'].replace('-', '_')}",
            seasons=reader.number(figures["seasons"]),
            lost=percent(figures["fruit_lost_probability"]),
            picked=percent(figures["fruit_picked_share"]),
            overtime=percent(figures["overtime_probability"]),
            temporary=percent(figures["temporary_probability"]),
        )
    ]
    weeks, short = document["weeks"], figures["all_short_probability"]
    everybody = max(weeks, key=lambda row: float(row["short_of_all_probability"]))
    if figures["cover"] in ("some-lost", "always-lost"):
        told.append(
            say("labour.cover.why_short", short=percent(short), week=reader.week(everybody["week"]),
                share=percent(everybody["short_of_all_probability"]))
            if short > 0.0
            else say("labour.cover.why_cost")
        )  # fmt: skip
    core = max(weeks, key=lambda row: float(row["short_of_core_probability"]))
    if figures["cover"] != "core" and core["short_of_core_probability"] > 0.0:
        left = core["short_of_all_probability"]
        told.append(
            say("labour.cover.beyond" if left > 0.0 else "labour.cover.beyond_covered",
                week=reader.week(core["week"]), share=percent(core["short_of_core_probability"]),
                left=percent(left))
        )  # fmt: skip
    return told


def money(value: float, document: Document, reader: Reader) -> str:
    """Amount of money in the currency of the season."""
    return f"{reader.number(value)}\u00a0{document['currency']}"


def sure(document: Document, reader: Reader) -> list[Item]:
    """Risk, cost of bad seasons, and what the plan's own search leaves."""
    say, figures = reader.say, document["figures"]
    told = [
        *cover(document, reader),
        say("labour.cost", worst=money(large(document)["cvar_90"], document, reader),
            mean=money(large(document)["expected_cost"], document, reader)),
        say("labour.reduction", count=reader.number(figures["seasons_kept"]),
            mean=reader.percent(figures["reduction_error"]["weekly_mean"])),
        say("labour.gap" if figures["gap_reached"] else "labour.gap_cut",
            gap=reader.percent(figures["gap"])),
    ]  # fmt: skip
    return [Bullets(told)]


def change(document: Document, reader: Reader) -> list[Item]:
    """Rates of picking, what knowing the weather would be worth, and heat."""
    say, figures, picking = reader.say, document["figures"], document["picking"]
    walk, reach = (reader.number(picking[key], 1) for key in ("walk_h_per_ha", "reach_h_per_t"))
    tallies = picking.get("tallies")
    if tallies is None:
        told = [say("labour.rates_shipped", walk=walk, reach=reach)]
    else:
        (walk_low, walk_high), (reach_low, reach_high) = (
            [reader.number(end, 1) for end in tallies[key]]
            for key in ("walk_interval", "reach_interval")
        )
        told = [
            say("labour.rates_yours", walk=walk, walk_low=walk_low, walk_high=walk_high,
                reach=reach, reach_low=reach_low, reach_high=reach_high,
                picks=reader.number(tallies["picks"]))
        ]  # fmt: skip
    if figures["value_of_hedging"] is not None:
        told.append(
            say("labour.knowing",
                knowing=money(figures["value_of_perfect_information"], document, reader),
                hedging=money(figures["value_of_hedging"], document, reader))
        )  # fmt: skip
    told.append(say("labour.heat_take"))
    told.append(packout_line(document["pack"], reader))
    return [Bullets(told)]


def next_steps(document: Document, reader: Reader) -> list[Item]:
    """The next decisions, and to plan and measure again."""
    say = reader.say
    told = [
        say("labour.decide", date=reader.date(row["decide_by"]), week=reader.week(row["week"]),
            change=signed(row["change"], reader), planned=reader.number(row["planned"]))
        for row in open_changes(document)[:MOST_DECISIONS]
    ]  # fmt: skip
    told = told or [say("labour.decided")]
    told += [say("labour.again"), say("labour.measure")]
    return [Bullets(told)]
