"""The page of a forecast: when each block is first picked, how sure that is, and the fruit."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from phenocast.report.figures.fan import Fan, fan_figure
from phenocast.report.figures.timeline import Timeline, shown_weeks, timeline_figure
from phenocast.report.forecast_tables import (
    block_weeks,
    months,
    overview,
    total_weeks,
    week_table,
)
from phenocast.report.forecast_words import (
    answer,
    change,
    initiation,
    next_steps,
    of_block,
    sure,
)
from phenocast.report.frost_words import frost_answer, frost_items
from phenocast.report.heat_words import headline, headline_days
from phenocast.report.page import render
from phenocast.report.parts import Bullets, Figure, Folded, Item, Page, Section, Stack
from phenocast.report.provenance import (
    assumed_items,
    draws_line,
    engine,
    filled_line,
    weather_line,
)
from phenocast.report.reader import Reader

Document = Mapping[str, Any]
CUT_OFF_C = 30.0
"""Crown temperature above which heat counts in the document (``degree_hours_above_30c``)."""
LEVELS = ("p10", "p50", "p90")


def forecast_page(document: Document, *, language: str = "en", units: str = "metric") -> str:
    """Page of a forecast.

    Parameters
    ----------
    document : mapping
        A forecast document: what ``phenocast forecast --json`` prints.
    language : str
        ``en`` or ``es``.
    units : str
        ``metric`` or ``us``.

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
    sections = [_together(document, reader)]
    sections += [
        _block(document, number, reader) for number, _ in enumerate(document["blocks"], start=1)
    ]
    page = Page(
        kind="forecast",
        title=say("forecast.title"),
        place=reader.name(document["site"]["name"], 200),
        issue_date=document["issue_date"],
        answer=[*frost_answer(document["blocks"], reader), *answer(document, reader)],
        sure=sure(document, reader),
        change=change(document, reader),
        next_steps=next_steps(document, reader),
        cautions=engine(document["warnings"]),
        assumed=assumed_items(document["assumptions"], reader),
        sections=sections,
        terms=("first_pick", "crown", "cut_off", "degree_hours", "initiation", "anthesis", "film",
               "root_zone", "median", "eight_in_ten", "possible_season", "week", "tray"),
        sources=[
            weather_line(document["weather"], reader),
            draws_line(document, reader),
            *filled_line(document["weather"], reader),
            say("forecast.made_of"),
        ],
        engine_version=document["engine_version"],
    )  # fmt: skip
    return render(page, reader)


def _together(document: Document, reader: Reader) -> Section:
    """All blocks in one table, and their trays in one fan."""
    items: list[Item] = [overview(document, reader)]
    weekly = document["total"]["weekly"]
    if weekly and len(document["blocks"]) > 1:
        say = reader.say
        pack = reader.name(document["pack"]["name"], 30)
        mass = reader.amount("pack_mass", document["pack"]["net_mass_kg"])
        low, middle, high = ([row["trays"][name] for row in weekly] for name in LEVELS)
        best = max(weekly, key=lambda row: row["trays"]["p50"])
        caption = say("forecast.total_caption", pack=pack, mass=mass)
        svg = fan_figure(
            "total", Fan([row["week"] for row in weekly], low, middle, high,
                         say("forecast.figure.trays")), reader,
            title=say("common.all_blocks"),
            alt=say("forecast.total_alt", week=reader.week(best["week"]),
                    trays=reader.number(best["trays"]["p50"])),
            issue_date=date.fromisoformat(document["issue_date"]),
        )  # fmt: skip
        source = weather_line(document["weather"], reader).rstrip(".")
        items.append(Figure(svg, caption, total_weeks(document, reader), source))
    return Section(reader.say("forecast.together"), items)


def _block(document: Document, number: int, reader: Reader) -> Section:
    """One block: its season on a calendar, its weekly fruit, its months of heat, its cautions."""
    block = document["blocks"][number - 1]
    source = weather_line(document["weather"], reader).rstrip(".")
    issued = date.fromisoformat(document["issue_date"])
    heading = reader.say(
        "forecast.block_heading", block=reader.name(block["block"], 400),
        cultivar=reader.name(block["cultivar"], 40), film=reader.name(block["film"], 40),
    )  # fmt: skip
    items: list[Item] = []
    if block["warnings"]:
        items.append(Bullets(engine(block["warnings"])))
    items.append(Bullets(of_block(block, reader)))
    items += frost_items(block, reader)
    items.append(_timeline(block, number, issued, source, reader))
    heat = Folded(reader.say("forecast.months"), [months(block, reader)])
    fruit = [_fruit(block, number, issued, source, reader)] if block["weekly"] else []
    items.append(Stack([*fruit, heat]))
    return Section(heading, items)


def _timeline(block: Document, number: int, issued: date, source: str, reader: Reader) -> Figure:
    say = reader.say
    pick = block["first_pick"]
    picked = [row for row in pick["week_probabilities"] if row["probability"] > 0.0]
    first, last = shown_weeks(
        date.fromisoformat(block["planting_date"]),
        date.fromisoformat(block["last_day"]),
        picked[-1]["week"] if picked else None,
    )
    rows = [
        row for row in block["week_by_week"] if date.fromisocalendar(*_week(row["week"]), 7) <= last
    ]

    def band(name: str, kind: str) -> tuple[list[float], list[float], list[float]]:
        low, middle, high = (
            [reader.value(kind, row[name][level]) for row in rows] for level in LEVELS
        )
        return low, middle, high

    line = Timeline(
        first=first,
        last=last,
        weeks=[row["week"] for row in rows],
        crown_max=band("crown_max_c", "temperature"),
        crown_mean=band("crown_mean_c", "temperature"),
        heat=band("degree_hours_above_30c", "heat"),
        cut_off=reader.value("temperature", CUT_OFF_C),
        reached=[
            (say(f"forecast.stage.{stage}"), [row["reached"][stage] for row in rows])
            for stage in ("flower_initiation", "anthesis", "first_pick")
        ],
        pick_weeks=[row["week"] for row in picked],
        pick_chances=[row["probability"] for row in picked],
    )
    alt = say(
        "forecast.timeline_alt",
        last_day=reader.date(block["last_day"]),
        heat=reader.amount("heat", headline(block["crown"])["degree_hours_above_30c"]),
        over=headline_days(block["crown"], reader),
        season=reader.amount("heat", block["crown"]["season"]["degree_hours_above_30c"]),
        cut_off=reader.amount("temperature", CUT_OFF_C, 0),
        highest=reader.amount("temperature", headline(block["crown"])["max_c"]),
        initiation=initiation(block, reader),
        anthesis=reader.date(block["stages"]["anthesis"]["median"]),
        pick=reader.date(pick["median"]),
    )
    name = reader.name(block["block"], 40)
    svg = timeline_figure(
        f"season-{number}", line, reader, issue_date=issued,
        title=say("forecast.timeline_title", block=name), alt=alt,
    )  # fmt: skip
    return Figure(svg, alt, week_table(block, rows, reader), source)


def _fruit(block: Document, number: int, issued: date, source: str, reader: Reader) -> Figure:
    say = reader.say
    weekly = block["weekly"]
    low, middle, high = (
        [reader.value("weekly_fruit", row["g_per_plant"][level]) for row in weekly]
        for level in LEVELS
    )
    best = max(weekly, key=lambda row: row["g_per_plant"]["p50"])
    caption = say(
        "forecast.fruit_caption",
        season=reader.amount("fruit", block["fruit"]["season_g_per_plant"]["p50"]),
        low=reader.figure("fruit", block["fruit"]["season_g_per_plant"]["p10"]),
        high=reader.figure("fruit", block["fruit"]["season_g_per_plant"]["p90"]),
        early=reader.amount("fruit", block["fruit"]["early_g_per_plant"]["p50"]),
        until=reader.date(block["fruit"]["early_until"]),
    )
    svg = fan_figure(
        f"fruit-{number}",
        Fan([row["week"] for row in weekly], low, middle, high,
            say("forecast.figure.fruit", unit=reader.unit("weekly_fruit")),
            digits=0 if max(high) >= 5.0 else 1),
        reader, title=say("forecast.fruit_title", block=reader.name(block["block"], 40)),
        alt=say("forecast.fruit_alt", week=reader.week(best["week"]),
                fruit=reader.amount("weekly_fruit", best["g_per_plant"]["p50"])),
        issue_date=issued, first=date.fromisoformat(block["planting_date"]), height=330.0,
    )  # fmt: skip
    return Figure(svg, caption, block_weeks(block, reader), source)


def _week(label: str) -> tuple[int, int]:
    return int(label[:4]), int(label[6:])
