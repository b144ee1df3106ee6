"""The page of a labour plan: need against plan with its risk, decisions, heat in working hours.

A planning aid, not a safety programme: the cautions of the document stand on every page, and no
hour is praised for lying below a limit.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from phenocast.report import labour_tables
from phenocast.report.figures.heat_hours import HeatHours, heat_hours_figure
from phenocast.report.figures.need import Need, need_figure
from phenocast.report.frost_words import frost_answer, frost_section
from phenocast.report.labour_words import (
    answer,
    busiest,
    change,
    largest_crew,
    next_steps,
    sure,
)
from phenocast.report.page import render
from phenocast.report.parts import Bullets, Figure, Folded, Item, Page, Section, Stack
from phenocast.report.provenance import assumed_items, engine
from phenocast.report.reader import Reader

Document = Mapping[str, Any]

TERMS = ("core_crew", "new_crew", "wbgt", "tray", "week", "median", "possible_season")


def labour_page(document: Document, *, language: str = "en", units: str = "metric") -> str:
    """Page of a labour plan.

    Parameters
    ----------
    document : mapping
        What ``phenocast labour --json`` prints; nothing else is used.
    language, units : str
        As of `phenocast.report.reader.Reader`.

    Returns
    -------
    str
        One self-contained HTML file.

    Raises
    ------
    InputError
        For another language or system of units.
    """
    reader = Reader(language, units)
    say = reader.say
    sections = [
        Section(say("labour.need"), _need_and_decisions(document, reader)),
        Section(say("labour.heat"), _heat(document, reader)),
        Section(say("labour.blocks"), _blocks(document, reader)),
        *frost_section(document, reader),
    ]
    return render(
        Page(
            kind="labour",
            title=say("labour.title"),
            place=reader.name(document["site"], 200),
            issue_date=document["issue_date"],
            answer=[*frost_answer(document["frost"]["blocks"], reader), *answer(document, reader)],
            sure=sure(document, reader),
            change=change(document, reader),
            next_steps=next_steps(document, reader),
            cautions=[
                say("labour.aid"),
                *engine([*document["heat"]["cautions"], *document["warnings"]]),
            ],
            assumed=assumed_items(document["assumptions"], reader),
            sections=sections,
            terms=TERMS,
            sources=[_source(document, reader), say("labour.made_of")],
            engine_version=document["engine_version"],
        ),
        reader,
    )


def _source(document: Document, reader: Reader) -> str:
    return reader.say(
        "labour.source", draws=reader.number(document["draws"]), seed=document["seed"],
        pack=reader.name(document["pack"]["name"], 30),
        mass=reader.amount("pack_mass", document["pack"]["net_mass_kg"]),
    )  # fmt: skip


def _need_and_decisions(document: Document, reader: Reader) -> list[Item]:
    """Need against plan, and beside it what must be decided when."""
    decisions = labour_tables.decisions(document, reader)
    items: list[Item] = [_need(document, reader)]
    return items if decisions is None else [*items, Stack([decisions])]


def _need(document: Document, reader: Reader) -> Figure:
    say, weeks = reader.say, document["weeks"]
    need = Need(
        weeks=[row["week"] for row in weeks],
        middle=[row["need_people"]["p50"] for row in weeks],
        high=[row["need_people"]["p90"] for row in weeks],
        planned=[row["planned"] for row in weeks],
        core_short=[row["short_of_core_probability"] for row in weeks],
        all_short=[row["short_of_all_probability"] for row in weeks],
    )
    top, crew = busiest(document), largest_crew(document)
    alt = say(
        "labour.need_alt", week=reader.week(top["week"]),
        middle=reader.number(top["need_people"]["p50"]),
        high=reader.number(top["need_people"]["p90"]), most_week=reader.week(crew["week"]),
        most=reader.number(crew["planned"]),
    )  # fmt: skip
    svg = need_figure(
        "need", need, reader, title=say("labour.need"), alt=alt,
        issue_date=date.fromisoformat(document["as_of"]),
    )  # fmt: skip
    table = labour_tables.people(document, reader)
    return Figure(svg, say("labour.need_caption"), table, _source(document, reader))


def _heat(document: Document, reader: Reader) -> list[Item]:
    say, heat = reader.say, document["heat"]
    rows = heat["weeks"]

    def pairs(name: str) -> list[tuple[float, float]]:
        return [(row[name]["p50"], row[name]["p90"]) for row in rows]

    new = pairs("hours_above_limit_new_crew")
    hours = HeatHours([row["week"] for row in rows], new, pairs("hours_above_limit_acclimatised"))
    top = max(range(len(rows)), key=lambda number: new[number][::-1])
    alt = say(
        "labour.heat_alt", week=reader.week(rows[top]["week"]),
        middle=reader.number(new[top][0]), high=reader.number(new[top][1]),
    )  # fmt: skip
    svg = heat_hours_figure("heat", hours, reader, title=say("labour.heat_title"), alt=alt)
    start, end = (labour_tables.clock(hour) for hour in heat["working_hours"])
    zone = labour_tables.zone(heat, reader)
    caption = say("labour.heat_caption", start=start, end=end, zone=zone)
    table = labour_tables.heat(document, reader)
    beside: list[Item] = [say("labour.aid"), say("labour.heat_reads")]
    told = [f"{row['week']}: {row['suggestion']}" for row in rows if row["suggestion"]]
    if told:
        between = labour_tables.between(heat, reader)
        beside.append(Folded(say("labour.starts", between=between), [Bullets(engine(told))]))
    return [Figure(svg, caption, table, _source(document, reader)), Stack(beside)]


def _blocks(document: Document, reader: Reader) -> list[Item]:
    items: list[Item] = [
        Folded(reader.name(one["block"]), [labour_tables.block(one, reader)])
        for one in document["blocks"]
    ]
    loading = labour_tables.loading(document, reader)
    if loading is not None:
        items.append(Folded(reader.say("labour.loading"), [loading]))
    return items
