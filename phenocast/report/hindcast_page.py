"""The page of hindcasts: how far forecasts of past seasons were off, and whether spans held."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from phenocast.report.figures.reliability import Held, Places, places_figure, reliability_figure
from phenocast.report.page import render
from phenocast.report.parts import Bullets, Figure, Folded, Item, Page, Section, Table
from phenocast.report.provenance import engine
from phenocast.report.reader import Reader

Document = Mapping[str, Any]
HALF = 0.5
KINDS = {"first_pick": "first_picks", "weekly": "weeks"}


def hindcast_page(document: Document, *, language: str = "en", units: str = "metric") -> str:
    """Page of hindcasts.

    Parameters
    ----------
    document : mapping
        A hindcast document: what ``phenocast hindcast --json`` prints.
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
    leads = document["leads"]
    next_steps = ["visits", "fit"] + (["more"] if len(document["seasons"]) < 5 else [])
    page = Page(
        kind="hindcast",
        title=say("hindcast.title"),
        place=say("hindcast.place", count=reader.number(document["block_seasons"]),
                  seasons=", ".join(reader.name(one) for one in document["seasons"])),
        issue_date=None,
        answer=[_answer(leads[0], reader), *_fruit(leads[0], reader)],
        sure=_sure(leads[0], reader),
        change=[Bullets(_change(leads[0], reader))],
        next_steps=[Bullets([say(f"hindcast.next_{one}") for one in next_steps])],
        cautions=engine([*document["warnings"], *_left_out(document)]),
        assumed=[],
        sections=[
            *(_section(lead, number, document, reader) for number, lead in enumerate(leads)),
            Section(say("hindcast.blocks"), [_blocks(document, reader)]),
        ],
        terms=("first_pick", "median", "eight_in_ten", "possible_season", "week"),
        sources=[_source(document, reader), say(f"hindcast.years_{document['past_years']}")],
        engine_version=document["engine_version"],
    )  # fmt: skip
    return render(page, reader)


def _answer(lead: Document, reader: Reader) -> str:
    dates = lead["first_pick"]
    if not dates["scored"]:
        return reader.say("hindcast.answer_none")
    told = {"mae": reader.number(dates["mae_d"], 1), "week": reader.percent(dates["within_a_week"])}
    if lead["lead_d"] == 0:
        return reader.say("hindcast.answer_dates", **told)
    return reader.say("hindcast.answer_later", lead=reader.number(lead["lead_d"]), **told)


def _fruit(lead: Document, reader: Reader) -> list[str]:
    weekly = lead["weekly"]
    if "wape" not in weekly:
        return []
    return [reader.say("hindcast.answer_fruit", wape=reader.percent(weekly["wape"]))]


def _sure(lead: Document, reader: Reader) -> list[Item]:
    say, dates, weekly = reader.say, lead["first_pick"], lead["weekly"]
    told: list[Item] = []
    if dates["scored"]:
        low, high = (reader.percent(one) for one in dates["coverage_80_of_seasons"])
        told.append(
            say("hindcast.sure_held", held=reader.percent(dates["coverage_80"]),
                seasons=reader.number(dates["seasons"]), low=low, high=high)
        )  # fmt: skip
        told.append(
            say("hindcast.sure_width", width=reader.number(dates["width_80_d"]),
                floor=reader.number(dates["visit_floor_d"], 1))
        )  # fmt: skip
    if "coverage_80" in weekly:
        told.append(
            say("hindcast.sure_weeks", held=reader.percent(weekly["coverage_80"]),
                weeks=reader.number(weekly["weeks"]))
        )  # fmt: skip
    return told


def _change(lead: Document, reader: Reader) -> list[str]:
    say, dates, weekly = reader.say, lead["first_pick"], lead["weekly"]
    told = []
    if dates["scored"]:
        calendar = dates["calendar"]
        told.append(
            say("hindcast.change_calendar", calendar=reader.number(calendar["mae_d"], 1),
                own=reader.number(calendar["forecast_mae_d"], 1))
            if calendar["compared"]
            else say("hindcast.change_no_calendar")
        )  # fmt: skip
        warmth = dates["air_warmth"]
        if warmth["compared"]:
            told.append(
                say("hindcast.change_warmth", sum=reader.number(warmth["mae_d"], 1),
                    own=reader.number(warmth["forecast_mae_d"], 1))
            )  # fmt: skip
    if weekly.get("calendar", {}).get("wape") is not None:
        told.append(
            say("hindcast.change_week_calendar",
                calendar=reader.percent(weekly["calendar"]["wape"]),
                own=reader.percent(weekly["calendar"]["forecast_wape"]))
        )  # fmt: skip
    return told


def _left_out(document: Document) -> list[str]:
    return [
        f"{one['season']}: {one['block']}: {one['reason']}"
        for one in (*document["not_made"], *document["records_not_used"])
    ]


def _source(document: Document, reader: Reader) -> str:
    return reader.say(
        "hindcast.source", file=reader.name(document["file"]),
        records=reader.number(document["records"]), draws=reader.number(document["draws"]),
        seed=document["seed"],
    )  # fmt: skip


def _when(lead_d: int, reader: Reader) -> str:
    if lead_d == 0:
        return reader.say("hindcast.at_planting")
    return reader.say("hindcast.days_after", lead=reader.number(lead_d))


def _section(lead: Document, number: int, document: Document, reader: Reader) -> Section:
    items: list[Item] = []
    if number:
        items += [_answer(lead, reader), *_fruit(lead, reader)]
    if any(sum(lead["pit"][key]) > 0.0 for key in KINDS):
        items.append(_reliability(lead, number, document, reader))
        items.append(_places(lead, number, document, reader))
    return Section(
        reader.say("hindcast.heading", when=_when(lead["lead_d"], reader)), items
    )  # fmt: skip


def _reliability(lead: Document, number: int, document: Document, reader: Reader) -> Figure:
    say, rows = reader.say, lead["reliability"]
    kinds = [
        (key, say(f"hindcast.{words}"))
        for key, words in KINDS.items()
        if all(row[key] is not None for row in rows)
    ]
    half = next(row for row in rows if row["level"] == HALF)
    svg = reliability_figure(
        f"held-{number}",
        [row["level"] for row in rows],
        [Held(name, [row[key] for row in rows]) for key, name in kinds],
        reader,
        stated=say("hindcast.stated"),
        held=say("hindcast.held"),
        title=say("hindcast.reliability_title"),
        alt=say("hindcast.reliability_alt", dates=reader.percent(half["first_pick"]),
                weeks=reader.percent(half["weekly"])),
    )  # fmt: skip
    table = Table(
        say("hindcast.reliability_title"),
        [say("hindcast.level"), say("hindcast.first_picks"), say("hindcast.weeks")],
        [[reader.percent(row[key]) for key in ("level", "first_pick", "weekly")] for row in rows],
        ">>>",
    )
    return Figure(svg, say("hindcast.reliability_caption"), table, _source(document, reader))


def _places(lead: Document, number: int, document: Document, reader: Reader) -> Figure:
    say, pit = reader.say, lead["pit"]
    kinds = [(key, say(f"hindcast.{words}")) for key, words in KINDS.items() if sum(pit[key]) > 0.0]
    svg = places_figure(
        f"places-{number}",
        [Places(name, pit[key]) for key, name in kinds],
        reader,
        slices=say("hindcast.slice"),
        title=say("hindcast.pit_title"),
        alt=say("hindcast.pit_alt"),
    )
    bins = pit["bins"]
    table = Table(
        say("hindcast.pit_title"),
        [say("hindcast.slice_name"), *(name for _, name in kinds)],
        [
            [
                say("common.between", low=reader.percent(i / bins),
                    high=reader.percent((i + 1) / bins)),
                *(reader.number(pit[key][i], 1) for key, _ in kinds),
            ]
            for i in range(bins)
        ],
        ">" * (1 + len(kinds)),
    )  # fmt: skip
    return Figure(svg, say("hindcast.pit_caption"), table, _source(document, reader))


def _blocks(document: Document, reader: Reader) -> Folded:
    say = reader.say
    rows = []
    for one in document["blocks"]:
        pick = one["first_pick"]
        rows.append(
            [
                reader.name(one["season"]),
                reader.name(one["block"]),
                reader.name(one["cultivar"]),
                _when(one["lead_d"], reader),
                reader.date(pick["median"]),
                reader.date(pick["p10"]),
                reader.date(pick["p90"]),
                reader.date(pick["seen_by"]),
                reader.number(pick["error_d"], 1),
                reader.number(pick["calendar_error_d"], 1),
            ]
        )
    header = [
        *(say(f"hindcast.{key}") for key in ("season",)),
        *(say(f"common.{key}") for key in ("block", "cultivar")),
        say("hindcast.made"),
        *(say(f"common.{key}") for key in ("middle", "low", "high")),
        *(say(f"hindcast.{key}") for key in ("seen_by", "off", "calendar")),
    ]
    table = Table(say("hindcast.blocks_caption"), header, rows, "<<<<<<<<>>")
    return Folded(say("hindcast.blocks"), [table])
