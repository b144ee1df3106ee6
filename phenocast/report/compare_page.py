"""The page of a comparison: which way to plant, a map of all of them, and what the money is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import product
from typing import Any

from phenocast.report.compare_words import (
    answer,
    best_of,
    change,
    difference,
    judged,
    judged_unit,
    next_steps,
    ranked,
    sure,
    verdict,
)
from phenocast.report.figures.option_map import MOST_DATES_NARROW, OptionMap, option_map_figure
from phenocast.report.frost_words import compared_frost, frost_answer
from phenocast.report.page import render
from phenocast.report.parts import Bullets, Figure, Folded, Item, Page, Section, Table
from phenocast.report.provenance import engine
from phenocast.report.reader import Reader

Document = Mapping[str, Any]

MOST_ROWS = 30
LARGE = 10_000.0
TERMS = ("regret", "worst_tenth", "undominated", "film", "first_pick", "crown", "degree_hours",
         "cut_off", "median", "eight_in_ten", "possible_season", "tray", "week")  # fmt: skip


def compare_page(document: Document, *, language: str = "en", units: str = "metric") -> str:
    """Page of a comparison.

    Parameters
    ----------
    document : mapping
        What ``phenocast compare --json`` prints; nothing else is used.
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
        Section(say("compare.map"), _maps(document, reader)),
        Section(say("compare.ways"), _ways(document, reader)),
    ]
    if document["currency"]:
        sections.append(Section(say("compare.money"), [_money(document, reader)]))
    sections += compared_frost(document, reader, MOST_ROWS)
    sections.append(Section(say("compare.films"), _cautions(document, reader)))
    return render(
        Page(
            kind="compare",
            title=say("compare.title"),
            place=say("explore.place", block=reader.name(document["block"]),
                      site=reader.name(document["site"])),
            issue_date=document["issue_date"],
            answer=[
                *frost_answer([{"block": document["block"], "frost": document["frost"]}], reader),
                *answer(document, reader),
            ],
            sure=sure(document, reader),
            change=change(document, reader),
            next_steps=next_steps(reader),
            cautions=engine(document["warnings"]),
            assumed=[],
            sections=sections,
            terms=TERMS,
            sources=[_source(document, reader), say("compare.made_of")],
            engine_version=document["engine_version"],
        ),
        reader,
    )  # fmt: skip


def _source(document: Document, reader: Reader) -> str:
    pack = reader.name(document["pack"]["name"], 30)
    return reader.say("explore.source", seed=document["seed"], pack=pack)


def _maps(document: Document, reader: Reader) -> list[Item]:
    """One map for each cultivar and kind of transplant, all in the same shades."""
    options = document["options"]
    dates = sorted({one["planting_date"] for one in options})
    films, cultivars, kinds = (
        list(dict.fromkeys(one[axis] for one in options))
        for axis in ("film", "cultivar", "transplant")
    )
    known = {
        (one["planting_date"], one["film"], one["cultivar"], one["transplant"]): one
        for one in options
    }
    means = [float(one["expected"]) for one in options]
    large = bool(document["currency"]) and max(map(abs, means)) >= LARGE
    best = best_of(document)
    drawn: list[Item] = []
    for number, (cultivar, kind) in enumerate(product(cultivars, kinds), start=1):
        grid = [[known.get((day, film, cultivar, kind)) for day in dates] for film in films]
        place = next(
            (
                (row, column)
                for row, line in enumerate(grid)
                for column, one in enumerate(line)
                if one is not None and one is best
            ),
            None,
        )
        figure = OptionMap(
            [reader.day(day) for day in dates],
            films,
            [[_shown(one, document, reader) for one in line] for line in grid],
            [[bool(one and one["not_clearly_worse"]) for one in line] for line in grid],
            [[bool(one and one["flags"]) for one in line] for line in grid],
            place,
            *_ends(means, document, reader),
        )
        named = reader.name(cultivar) if len(kinds) == 1 else reader.say(
            "compare.of_kind", cultivar=reader.name(cultivar), kind=reader.name(kind)
        )  # fmt: skip
        drawn.append(_map(number, figure, grid, named, large, document, reader))
    return drawn


def _shown(one: Document | None, document: Document, reader: Reader) -> float | None:
    """Mean of an option in the unit of the page."""
    if one is None:
        return None
    mean = float(one["expected"])
    return mean if document["currency"] else reader.value("fruit", mean)


def _ends(means: list[float], document: Document, reader: Reader) -> tuple[float, float]:
    low, high = min(means), max(means)
    if document["currency"]:
        return low, high
    return reader.value("fruit", low), reader.value("fruit", high)


def _map(
    number: int, figure: OptionMap, grid: list[list[Document | None]], named: str, large: bool,
    document: Document, reader: Reader,
) -> Figure:  # fmt: skip
    say = reader.say
    unit = judged_unit(document, reader)
    digits = 2 if not document["currency"] and reader.units == "us" else 0

    def written(value: float) -> str:
        return reader.number(value / 1000.0 if large else value, digits)

    shown = say("explore.script.thousands", unit=unit) if large else unit
    kind = "map_title" if document["currency"] else "map_title_fruit"
    title = say(f"explore.script.{kind}", unit=shown, cultivar=named)
    svg = option_map_figure(
        f"map-{number}", figure, written, title=title, alt=say("explore.script.map_alt")
    )
    rows = [
        [reader.name(film), *(
            reader.number(None) if one is None else judged(one["expected"], document, reader)
            for one in line
        )]
        for film, line in zip(figure.films, grid, strict=True)
    ]  # fmt: skip
    table = Table(title if not large else say(f"explore.script.{kind}", unit=unit, cultivar=named),
                  [say("common.film"), *figure.dates], rows,
                  "<" + ">" * len(figure.dates))  # fmt: skip
    caption = say("compare.map_caption", title=title)
    return Figure(svg, caption, table, _source(document, reader),
                  wide=len(figure.dates) > MOST_DATES_NARROW)  # fmt: skip


def _ways(document: Document, reader: Reader) -> list[Item]:
    """The options with the highest means, and apart from them those that carry a flag."""
    options = ranked(document)
    trusted = [one for one in options if not one["flags"]]
    flagged = [one for one in options if one["flags"]]
    key = "compare.ways_all" if len(trusted) <= MOST_ROWS else "compare.ways_most"
    caption = reader.say(key, most=reader.number(MOST_ROWS))
    tables: list[Item] = [_table(caption, trusted, document, reader)] if trusted else []
    if flagged:
        tables.append(_table(reader.say("compare.flagged"), flagged, document, reader))
    return tables


def _table(caption: str, options: Sequence[Document], document: Document, reader: Reader) -> Table:
    say, unit = reader.say, judged_unit(document, reader)
    several = len({one["transplant"] for one in document["options"]}) > 1
    best = best_of(document)
    fruit = reader.unit("fruit")
    header = [
        say("common.planted"),
        say("compare.film_and_cultivar"),
        say("compare.pick"),
        say("explore.script.row_early", fruit=fruit),
        say("explore.script.row_season", fruit=fruit),
        say("explore.script.row_mean", judged=unit),
        say("explore.script.row_worst", judged=unit),
        say("compare.regret", judged=unit),
        say("compare.difference", judged=unit),
        say("compare.verdict"),
    ]
    rows = [
        [
            reader.day(one["planting_date"]),
            ", ".join(reader.name(one[axis]) for axis in ("film", "cultivar", "transplant")
                      if several or axis != "transplant"),
            reader.day(one["first_pick"]["median"]),
            reader.figure("fruit", one["early_g_per_plant"]["p50"]),
            reader.figure("fruit", one["season_g_per_plant"]["p50"]),
            judged(one["expected"], document, reader),
            judged(one["worst_tenth"], document, reader),
            judged(one["regret"], document, reader),
            reader.number(None) if one is best else difference(one, document, reader, cell=True),
            verdict(one, one is best, reader),
        ]
        for one in options[:MOST_ROWS]
    ]  # fmt: skip
    return Table(caption, header, rows, "<<<>>>>>><")


def _money(document: Document, reader: Reader) -> Table:
    """What the margin of the best options is made of."""
    say, unit = reader.say, document["currency"]
    parts = ("film", "transplants", "planting", "harvest_mean")
    header = [
        say("common.planted"),
        say("compare.film_and_cultivar"),
        say("explore.script.row_revenue", currency=unit),
        *(say(f"compare.cost.{part}") for part in parts),
        say("compare.mean_margin", currency=unit),
        say("compare.median_margin", currency=unit),
    ]
    options = ranked(document)
    trusted = [one for one in options if not one["flags"]] or options
    rows = [
        [
            reader.day(one["planting_date"]),
            ", ".join(reader.name(one[axis]) for axis in ("film", "cultivar")),
            reader.number(one["revenue"]["mean"]),
            *(reader.number(one["cost_parts"][part]) for part in parts),
            judged(one["expected"], document, reader),
            say("common.middle_and_range", low=reader.number(one["margin"]["p10"]),
                middle=reader.number(one["margin"]["p50"]),
                high=reader.number(one["margin"]["p90"])),
        ]
        for one in trusted[:10]
    ]  # fmt: skip
    return Table(say("compare.money_caption"), header, rows, "<<" + ">" * (len(header) - 2))


def _cautions(document: Document, reader: Reader) -> list[Item]:
    """What to know of the best way's film, and folded away of the others and of single options."""
    best = best_of(document)
    first = None if best is None else best["film"]
    items: list[Item] = [
        Bullets(engine(texts)) if film == first else Folded(reader.name(film),
                                                            [Bullets(engine(texts))])
        for film, texts in sorted(document["cautions"].items(), key=lambda one: one[0] != first)
        if texts
    ]  # fmt: skip
    told = engine(text for one in document["options"] for text in one["warnings"])
    if told:
        items.append(Folded(reader.say("explore.about"), [Bullets(told)]))
    return items
