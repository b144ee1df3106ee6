"""The page of a crown table: what film and bed make of the same weather, by day and by season."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from phenocast.report.crown_words import (
    answer,
    change,
    hottest,
    next_steps,
    overview,
    source,
    sure,
    words,
)
from phenocast.report.dates import week_days
from phenocast.report.figures.axes import as_of_line, month_axis
from phenocast.report.figures.panels import MOST_PANELS, Panel, Panels, panels_figure
from phenocast.report.heat_words import compared_days
from phenocast.report.page import render
from phenocast.report.parts import Figure, Page, Section, Table
from phenocast.report.provenance import assumed_items, engine
from phenocast.report.reader import Reader

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Document = Mapping[str, Any]
CUT_OFF_C = 30.0
OF_THE_DAY = ("crown_c", "film_surface_c", "air_c", "soil_10cm_c")
OF_THE_SEASON = ("crown_mean_c", "crown_max_c", "air_mean_c", "soil_10cm_mean_c")


def crown_page(document: Document, *, language: str = "en", units: str = "metric") -> str:
    """Page of a crown table.

    Parameters
    ----------
    document : mapping
        A crown document: what ``phenocast crown --json`` prints.
    language, units : str
        As `phenocast.report.reader.Reader`.

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
    page = Page(
        kind="crown",
        title=say("crown.title"),
        place=reader.name(document["site"]["name"], 200),
        issue_date=document["issue_date"],
        answer=answer(document, reader),
        sure=sure(document, reader),
        change=change(document, reader),
        next_steps=next_steps(document, reader),
        cautions=engine(document["warnings"]),
        assumed=assumed_items(document["assumptions"], reader),
        sections=[
            Section(say("crown.together"), [overview(document, reader)]),
            Section(
                say("crown.season" if document["compared"] is None else "crown.day_and_season"),
                [*_day(document, reader), *_season(document, reader)],
            ),
        ],
        terms=("crown", "cut_off", "degree_hours", "film", "root_zone", "week"),
        sources=[source(document, reader), say("crown.made_of")],
        engine_version=document["engine_version"],
    )
    return render(page, reader)


def _named(block: Document, reader: Reader) -> str:
    """Film and block above a panel."""
    return f"{reader.name(block['film'], 18)} ({reader.name(block['block'], 12)})"


def _parts(blocks: Sequence[Document]) -> Iterator[tuple[int, Sequence[Document]]]:
    """Blocks in groups that one figure holds, with a number for each."""
    for number, start in enumerate(range(0, len(blocks), MOST_PANELS), start=1):
        yield number, blocks[start : start + MOST_PANELS]


def _day(document: Document, reader: Reader) -> list[Figure]:
    """Figures of the mean day; none where the blocks share no day."""
    if document["compared"] is None:
        return []
    say = reader.say
    span = {
        "first": reader.date(document["compared"]["from"]),
        "last": reader.date(document["compared"]["to"]),
    }
    figures = []
    for number, blocks in _parts(document["blocks"]):
        shown = Panels(
            panels=[
                Panel(
                    _named(block, reader),
                    [
                        [reader.value("temperature", row[name]) for row in block["mean_day"]]
                        for name in OF_THE_DAY
                    ],
                    [row["hour"] + 0.5 for row in block["mean_day"]],
                )
                for block in blocks
            ],
            names=[say(f"crown.line.{name}") for name in OF_THE_DAY],
            level=reader.value("temperature", CUT_OFF_C),
            level_name=say("crown.line.cut_off"),
            head=say("crown.temperature", unit=reader.unit("temperature")),
            foot=say("crown.hour"),
            marks=6,
        )
        alt = say("crown.day_alt", **span, list=_warmest_hours(blocks, reader))
        svg = panels_figure(
            f"day-{number}", shown, reader, _hours, title=say("crown.day_title"), alt=alt
        )
        caption = say("crown.day_caption", **span)
        figures.append(Figure(svg, caption, _day_table(blocks, reader), _origin(document, reader)))
    return figures


def _origin(document: Document, reader: Reader) -> str:
    return source(document, reader).rstrip(".")


def _warmest_hours(blocks: Sequence[Document], reader: Reader) -> str:
    """Warmest hour of the crown on the mean day of each bed."""
    told = []
    for block in blocks:
        best = max(block["mean_day"], key=lambda row: float(row["crown_c"]))
        told.append(
            reader.say(
                "crown.warmest_hour",
                film=reader.name(block["film"], 30),
                block=reader.name(block["block"], 30),
                degrees=reader.amount("temperature", best["crown_c"]),
                hour=best["hour"],
            )
        )
    return "; ".join(told)


def _hours(axes: Axes, words: bool) -> None:
    axes.set_xlim(0.0, 24.0)
    hours = [0, 6, 12, 18, 24]
    axes.set_xticks(hours, [str(hour) for hour in hours] if words else [""] * len(hours))
    axes.grid(visible=True, axis="x")


def _day_table(blocks: Sequence[Document], reader: Reader) -> Table:
    degree = reader.unit("temperature")
    header = [
        reader.say("common.block"),
        reader.say("common.film"),
        reader.say("crown.hour"),
        *(f"{reader.say(f'crown.line.{name}')} [{degree}]" for name in OF_THE_DAY),
    ]
    rows = [
        [
            reader.name(block["block"], 40),
            reader.name(block["film"], 30),
            str(row["hour"]),
            *(reader.figure("temperature", row[name]) for name in OF_THE_DAY),
        ]
        for block in blocks
        for row in block["mean_day"]
    ]
    return Table(reader.say("crown.day_table"), header, rows, "<<>>>>>")


def _season(document: Document, reader: Reader) -> Iterator[Figure]:
    """Figures of the weeks of the season."""
    say = reader.say
    issued = date.fromisoformat(document["issue_date"])
    for number, blocks in _parts(document["blocks"]):
        weeks = [week_days(row["week"]) for block in blocks for row in block["weekly"]]
        first, last = min(day for day, _ in weeks), max(day for _, day in weeks)

        def calendar(axes: Axes, words: bool, first: date = first, last: date = last) -> None:
            month_axis(axes, first, last, reader, words=words, most=4)
            as_of_line(axes, issued)

        shown = Panels(
            panels=[
                Panel(
                    _named(block, reader),
                    [
                        [reader.value("temperature", row[name]) for row in block["weekly"]]
                        for name in OF_THE_SEASON
                    ],
                    [week_days(row["week"])[0].toordinal() + 3.5 for row in block["weekly"]],
                )
                for block in blocks
            ],
            names=[say(f"crown.line.{name}") for name in OF_THE_SEASON],
            level=reader.value("temperature", CUT_OFF_C),
            level_name=say("crown.line.cut_off"),
            head=say("crown.temperature_week", unit=reader.unit("temperature")),
            foot=say("crown.as_of", date=reader.date(document["issue_date"])),
            marks=8,
        )
        most = hottest(blocks)
        over = compared_days(document, reader)
        alt = say("crown.season_alt", **words(most, most["crown"]["compared"], over, reader))
        svg = panels_figure(
            f"season-{number}", shown, reader, calendar, title=say("crown.season_title"), alt=alt
        )
        yield Figure(
            svg, say("crown.season_caption"), _season_table(blocks, reader),
            _origin(document, reader),
        )  # fmt: skip


def _season_table(blocks: Sequence[Document], reader: Reader) -> Table:
    degree = reader.unit("temperature")
    header = [
        reader.say("common.block"),
        reader.say("common.film"),
        reader.say("common.week"),
        *(f"{reader.say(f'crown.line.{name}')} [{degree}]" for name in OF_THE_SEASON),
        reader.say("crown.heat", unit=reader.unit("heat")),
        reader.say("crown.cover"),
    ]
    rows = [
        [
            reader.name(block["block"], 40),
            reader.name(block["film"], 30),
            reader.calendar.short_week(row["week"]),
            *(reader.figure("temperature", row[name]) for name in OF_THE_SEASON),
            reader.figure("heat", row["degree_hours_above_30c"]),
            reader.percent(row["canopy_cover"]),
        ]
        for block in blocks
        for row in block["weekly"]
    ]
    return Table(reader.say("crown.season_table"), header, rows, "<<<>>>>>>")
