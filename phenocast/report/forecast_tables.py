"""The tables of a forecast page; every cell is a value of the document, rounded or converted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from phenocast.report.heat_words import compared_days
from phenocast.report.parts import Table
from phenocast.report.reader import Reader

Document = Mapping[str, Any]
CUT_OFF_C = 30.0
LEVELS = ("p10", "p50", "p90")


def likeliest(pick: Mapping[str, Any]) -> Mapping[str, Any] | None:
    """Week of a first pick with the highest probability; None where it is never reached."""
    weeks = pick["week_probabilities"]
    return max(weeks, key=lambda row: row["probability"]) if weeks else None


def spread(kind: str, quantiles: Mapping[str, float], reader: Reader) -> str:
    """Middle with its low and high in brackets, without the unit."""
    low, middle, high = (reader.figure(kind, quantiles[level]) for level in LEVELS)
    return reader.say("common.middle_and_range", middle=middle, low=low, high=high)


def overview(document: Document, reader: Reader) -> Table:
    """One row a block: its first pick, its heat and its fruit."""
    say = reader.say
    rows = []
    for block in document["blocks"]:
        pick = block["first_pick"]
        rows.append(
            [
                reader.name(block["block"], 60),
                f"{reader.name(block['cultivar'], 30)}, {reader.name(block['film'], 30)}",
                reader.day(block["planting_date"]),
                _week(pick, reader),
                reader.day(pick["median"]),
                _span(pick, reader),
                spread("heat", block["crown"]["compared"]["degree_hours_above_30c_spread"], reader),
                spread("fruit", block["fruit"]["season_g_per_plant"], reader),
                reader.percent(pick["not_reached_probability"]),
            ]
        )
    header = [
        say("common.block"),
        say("forecast.head.plant"),
        say("common.planted"),
        say("forecast.head.likeliest"),
        say("forecast.head.middle"),
        say("forecast.head.eight_in_ten"),
        say("forecast.head.heat", unit=reader.unit("heat"), cut_off=_cut_off(reader)),
        say("forecast.head.fruit", unit=reader.unit("fruit")),
        say("forecast.head.never"),
    ]
    over = compared_days(document, reader)
    caption, sides = say("forecast.overview_caption", over=over), "<<<<<<>>>"
    if all(block["first_pick"]["not_reached_probability"] == 0.0 for block in document["blocks"]):
        return Table(caption, header[:-1], [row[:-1] for row in rows], sides[:-1])
    return Table(caption, header, rows, sides)


def _week(pick: Mapping[str, Any], reader: Reader) -> str:
    """Likeliest week of a first pick, with its chance."""
    week = likeliest(pick)
    if week is None:
        return reader.say("common.not_reached")
    return f"{reader.week(week['week'])}: {reader.percent(week['probability'])}"


def _span(pick: Mapping[str, Any], reader: Reader) -> str:
    if pick["p10"] is None:
        return reader.say("common.not_reached")
    high = reader.say("common.never") if pick["p90"] is None else reader.day(pick["p90"])
    return reader.say("common.between", low=reader.day(pick["p10"]), high=high)


def _cut_off(reader: Reader) -> str:
    return reader.amount("temperature", CUT_OFF_C, 0)


def total_weeks(document: Document, reader: Reader) -> Table:
    """Trays of all blocks together by week."""
    say = reader.say
    rows = [
        [reader.calendar.short_week(row["week"]), *_numbers(row["trays"], reader)]
        for row in document["total"]["weekly"]
    ]
    header = [say("common.week"), *(say(f"common.{name}") for name in ("low", "middle", "high"))]
    return Table(say("forecast.total_table"), header, rows, "<>>>")


def block_weeks(block: Document, reader: Reader) -> Table:
    """Fruit and trays of a block by week."""
    say = reader.say
    rows = [
        [
            reader.calendar.short_week(row["week"]),
            *(reader.figure("weekly_fruit", row["g_per_plant"][level]) for level in LEVELS),
            *_numbers(row["trays"], reader),
        ]
        for row in block["weekly"]
    ]
    names = [say(f"common.{name}") for name in ("low", "middle", "high")]
    header = [
        say("common.week"),
        *(say("forecast.head.fruit_of", of=name, unit=reader.unit("weekly_fruit"))
          for name in names),
        *(say("forecast.head.trays_of", of=name) for name in names),
    ]  # fmt: skip
    return Table(say("forecast.block_weeks_table"), header, rows, "<>>>>>>")


def _numbers(quantiles: Mapping[str, float], reader: Reader) -> list[str]:
    return [reader.number(quantiles[level]) for level in LEVELS]


def week_table(block: Document, shown: Sequence[Document], reader: Reader) -> Table:
    """What the crown felt and how far the plants are, by week."""
    say = reader.say
    chances = {row["week"]: row["probability"] for row in block["first_pick"]["week_probabilities"]}
    rows = [
        [
            reader.calendar.short_week(row["week"]),
            spread("temperature", row["crown_mean_c"], reader),
            spread("temperature", row["crown_max_c"], reader),
            spread("heat", row["degree_hours_above_30c"], reader),
            *(
                reader.percent(row["reached"][stage])
                for stage in ("flower_initiation", "anthesis", "first_pick")
            ),
            reader.percent(chances.get(row["week"], 0.0)),
        ]
        for row in shown
    ]
    degree = reader.unit("temperature")
    header = [
        say("common.week"),
        say("forecast.head.mean", unit=degree),
        say("forecast.head.highest", unit=degree),
        say("forecast.head.heat", unit=reader.unit("heat"), cut_off=_cut_off(reader)),
        say("forecast.head.initiated"),
        say("forecast.head.blooming"),
        say("forecast.head.picked"),
        say("forecast.head.in_week"),
    ]
    return Table(say("forecast.week_table"), header, rows, "<>>>>>>>")


def months(block: Document, reader: Reader) -> Table:
    """Heat of the crown and the root zone by month."""
    say = reader.say
    rows = [
        [
            reader.calendar.month_and_year(row["month"]),
            reader.figure("time", row["hours_above_30c"]),
            reader.figure("heat", row["degree_hours_above_30c"]),
            *(
                reader.figure("temperature", row[name])
                for name in ("mean_c", "max_c", "soil_10cm_mean_c", "soil_10cm_max_c")
            ),
        ]
        for row in block["crown"]["by_month"]
    ]
    degree = reader.unit("temperature")
    depth = say(f"root_zone.{reader.units}")
    header = [
        say("common.month"),
        say("forecast.head.hours", cut_off=_cut_off(reader)),
        say("forecast.head.heat", unit=reader.unit("heat"), cut_off=_cut_off(reader)),
        say("forecast.head.mean", unit=degree),
        say("forecast.head.highest", unit=degree),
        say("forecast.head.soil_mean", unit=degree, depth=depth),
        say("forecast.head.soil_highest", unit=degree, depth=depth),
    ]
    return Table(say("forecast.months"), header, rows, "<>>>>>>")
