"""The answer of a crown table: what film and bed make of the same weather, by day and by season."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import date
from functools import partial
from typing import TYPE_CHECKING

from phenocast.report.figures.canvas import as_of_line, month_axis
from phenocast.report.figures.grids import MOST_PANELS, Panel, Panels, panels_figure
from phenocast.report.parts import (
    Bullets,
    Figure,
    Item,
    Page,
    Section,
    Table,
    assumed_items,
    engine,
)
from phenocast.report.reader import CUT_OFF_C, Document, Reader, week_days
from phenocast.report.stress import compared_days, headline, headline_days, season_ends

if TYPE_CHECKING:
    from matplotlib.axes import Axes

OF_THE_DAY = ("crown_c", "film_surface_c", "air_c", "soil_10cm_c")
OF_THE_SEASON = ("crown_mean_c", "crown_max_c", "air_mean_c", "soil_10cm_mean_c")
MOST_NAMED = 8
"""Beds whose season is told one by one in words; of more the document tells."""
OBSERVED = "observed"
"""Course of weather that was observed to its last day."""


def crown_parts(document: Document, reader: Reader) -> Page:
    """List the parts of a crown table.

    Parameters
    ----------
    document : mapping
        What ``phenocast crown --json`` prints; nothing else is used.
    reader : Reader
    """
    say, compared = reader.say, document["compared"]
    figures = [] if compared is None else list(_day(document, reader))
    return Page(
        kind="crown",
        title=say("crown.title"),
        place=reader.name(document["site"]["name"], 200),
        issue_date=document["issue_date"],
        summary=_summary(document, reader),
        uncertainty=_uncertainty(document, reader),
        sensitivity=[Bullets([say(f"crown.change_{one}") for one in ("film", "leaves", "water")])],
        next_steps=[Bullets([say(f"crown.next_{one}") for one in ("forecast", "sensor")])],
        cautions=engine(document["warnings"]),
        assumed=assumed_items(document["assumptions"], reader),
        sections=[
            Section(say("crown.together"), [_overview(document, reader)]),
            Section(say("crown.season" if compared is None else "crown.day_and_season"),
                    [*figures, *_season(document, reader)]),
        ],
        sources=[_source(document, reader), say("crown.made_of")],
        terms=("crown", "cut_off", "degree_hours", "film", "root_zone", "week"),
        engine_version=document["engine_version"],
    )  # fmt: skip


def _heat(block: Document) -> float:
    """Heat over the days that all beds are compared over."""
    return float(block["crown"]["compared"]["degree_hours_above_30c"])


def _words(block: Document, crown: Document, over: str, reader: Reader) -> dict[str, str]:
    """Film, block and heat of a block over some days for a sentence."""
    return {
        "over": over,
        "film": reader.name(block["film"], 40),
        "block": reader.name(block["block"], 40),
        "heat": reader.amount("heat", crown["degree_hours_above_30c"]),
        "hours": reader.amount("time", crown["hours_above_30c"]),
        "highest": reader.amount("temperature", crown["max_c"]),
        "date": reader.date(crown["max_day"]),
        "cut_off": reader.places["cut_off"],
    }


def _summary(document: Document, reader: Reader) -> list[str]:
    """Which bed is hottest, and which the coolest."""
    blocks = document["blocks"]
    if len(blocks) == 1:
        crown = blocks[0]["crown"]
        told = _words(blocks[0], headline(crown), headline_days(crown, reader), reader)
        second = "one" if headline(crown)["degree_hours_above_30c"] > 0.0 else "none"
        return [reader.say(f"crown.answer_{key}", **told) for key in ("alone", second)]
    over = compared_days(document, reader)
    ends = (("hottest", max(blocks, key=_heat)), ("least", min(blocks, key=_heat)))
    return [
        reader.say(f"crown.answer_{key}", **_words(block, block["crown"]["compared"], over, reader))
        for key, block in ends
    ]


def _uncertainty(document: Document, reader: Reader) -> list[Item]:
    """One course of weather, one value of each parameter, and what was never measured."""
    weather, blocks = document["weather"], document["blocks"]
    key = "all_observed" if weather["course"] == OBSERVED else "one_course"
    items: list[Item] = [
        reader.say(f"crown.{key}", course=reader.name(weather["course"])),
        reader.say("crown.not_measured"),
    ]
    if len(blocks) <= MOST_NAMED:
        items.append(Bullets([season_ends(one, reader, "crown.season_end") for one in blocks]))
    if weather["filled_hours"]:
        items.append(reader.say("crown.filled", hours=reader.number(weather["filled_hours"])))
    return items


def _source(document: Document, reader: Reader) -> str:
    """Weather of the table in one sentence."""
    weather = document["weather"]
    key = "source" if weather["observed_until"] is None else "source_observed"
    if weather["course"] == OBSERVED:
        key = "source_all"
    until = reader.date(weather["observed_until"])
    return reader.say(f"crown.{key}", course=reader.name(weather["course"]), date=until)


def _overview(document: Document, reader: Reader) -> Table:
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
            reader.figure("heat", _heat(block)),
            reader.figure("heat", block["crown"]["season"]["degree_hours_above_30c"]),
        ]
        for block in sorted(document["blocks"], key=_heat, reverse=True)
    ]
    header = [
        *(say(f"common.{name}") for name in ("block", "film", "planted")),
        say("crown.highest", unit=reader.unit("temperature")),
        say("crown.highest_on"),
        say("crown.hours", cut_off=reader.places["cut_off"]),
        say("crown.heat", unit=reader.unit("heat")),
        say("crown.heat_season", unit=reader.unit("heat")),
    ]
    caption = say("crown.overview", over=compared_days(document, reader))
    return Table(caption, header, rows, "<<<><>>>")


def _parts(blocks: Sequence[Document]) -> Iterator[tuple[int, Sequence[Document]]]:
    """Blocks in groups that one figure holds, with a number for each."""
    for number, start in enumerate(range(0, len(blocks), MOST_PANELS), start=1):
        yield number, blocks[start : start + MOST_PANELS]


def _panels(
    blocks: Sequence[Document],
    rows: str,
    names: Sequence[str],
    place: Callable[[Document], float],
    reader: Reader,
    *,
    head: str,
    foot: str,
    marks: int,
) -> Panels:
    """Panels of some beds: the named columns of the rows that each of them holds."""
    return Panels(
        [
            Panel(
                f"{reader.name(block['film'], 18)} ({reader.name(block['block'], 12)})",
                [[reader.value("temperature", row[name]) for row in block[rows]] for name in names],
                [place(row) for row in block[rows]],
            )
            for block in blocks
        ],
        [reader.say(f"crown.line.{name}") for name in names],
        reader.value("temperature", CUT_OFF_C),
        reader.say("crown.line.cut_off"),
        reader.say(head, unit=reader.unit("temperature")),
        foot,
        marks,
    )


def _row_table(
    caption: str,
    blocks: Sequence[Document],
    rows: str,
    first: tuple[str, Callable[[Document], str]],
    names: Sequence[str],
    more: Sequence[tuple[str, Callable[[Document], str]]],
    reader: Reader,
) -> Table:
    """Numbers behind panels: block, film, hour or week, temperatures, and more columns."""
    degree = reader.unit("temperature")
    header = [
        reader.say("common.block"), reader.say("common.film"), first[0],
        *(f"{reader.say(f'crown.line.{name}')} [{degree}]" for name in names),
        *(words for words, _ in more),
    ]  # fmt: skip
    cells = [
        [
            reader.name(block["block"], 40),
            reader.name(block["film"], 30),
            first[1](row),
            *(reader.figure("temperature", row[name]) for name in names),
            *(shown(row) for _, shown in more),
        ]
        for block in blocks
        for row in block[rows]
    ]
    return Table(caption, header, cells, "<<<" + ">" * (len(header) - 3))


def _day(document: Document, reader: Reader) -> Iterator[Figure]:
    """Figures of the mean day of the days that all beds share."""
    say = reader.say
    span = {"first": reader.date(document["compared"]["from"]),
            "last": reader.date(document["compared"]["to"])}  # fmt: skip
    for number, blocks in _parts(document["blocks"]):
        shown = _panels(
            blocks, "mean_day", OF_THE_DAY, lambda row: row["hour"] + 0.5, reader,
            head="crown.temperature", foot=say("crown.hour"), marks=6,
        )  # fmt: skip
        svg = partial(
            panels_figure, f"day-{number}", shown, reader, _hours, title=say("crown.day_title"),
            alt=say("crown.day_alt", **span, list=_warmest_hours(blocks, reader)),
        )  # fmt: skip
        hour = (say("crown.hour"), lambda row: str(row["hour"]))
        table = _row_table(say("crown.day_table"), blocks, "mean_day", hour, OF_THE_DAY, [], reader)
        source = _source(document, reader).rstrip(".")
        yield Figure(svg, say("crown.day_caption", **span), table, source)


def _warmest_hours(blocks: Sequence[Document], reader: Reader) -> str:
    """Warmest hour of the crown on the mean day of each bed."""
    told = []
    for block in blocks:
        best = max(block["mean_day"], key=lambda row: float(row["crown_c"]))
        told.append(
            reader.say(
                "crown.warmest_hour", film=reader.name(block["film"], 30),
                block=reader.name(block["block"], 30), hour=best["hour"],
                degrees=reader.amount("temperature", best["crown_c"]),
            )
        )  # fmt: skip
    return "; ".join(told)


def _hours(axes: Axes, words: bool) -> None:
    axes.set_xlim(0.0, 24.0)
    hours = [0, 6, 12, 18, 24]
    axes.set_xticks(hours, [str(hour) for hour in hours] if words else [""] * len(hours))
    axes.grid(visible=True, axis="x")


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

        shown = _panels(
            blocks, "weekly", OF_THE_SEASON,
            lambda row: week_days(row["week"])[0].toordinal() + 3.5, reader,
            head="crown.temperature_week",
            foot=say("crown.as_of", date=reader.date(document["issue_date"])), marks=8,
        )  # fmt: skip
        most = max(blocks, key=_heat)
        told = _words(most, most["crown"]["compared"], compared_days(document, reader), reader)
        svg = partial(
            panels_figure, f"season-{number}", shown, reader, calendar,
            title=say("crown.season_title"), alt=say("crown.season_alt", **told),
        )  # fmt: skip
        table = _row_table(
            say("crown.season_table"), blocks, "weekly",
            (say("common.week"), lambda row: reader.short_week(row["week"])), OF_THE_SEASON,
            [(say("crown.heat", unit=reader.unit("heat")),
              lambda row: reader.figure("heat", row["degree_hours_above_30c"])),
             (say("crown.cover"), lambda row: reader.percent(row["canopy_cover"]))],
            reader,
        )  # fmt: skip
        source = _source(document, reader).rstrip(".")
        yield Figure(svg, say("crown.season_caption"), table, source)
