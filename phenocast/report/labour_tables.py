"""The tables of a labour page, made of its document alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from phenocast.report.parts import Table
from phenocast.report.reader import Reader

Document = Mapping[str, Any]

EN_DASH = "\u2013"


def signed(change: int, reader: Reader) -> str:
    """Change with its sign; nothing where there is none.

    Examples
    --------
    >>> signed(3, Reader()), signed(0, Reader())
    ('+3', '')
    """
    return "" if change == 0 else ("+" if change > 0 else "") + reader.number(change)


def clock(hour: float) -> str:
    """Time of a day from hours and their fraction.

    Examples
    --------
    >>> clock(12.6666667)
    '12:40'
    """
    minutes = round(60.0 * hour)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def zone(heat: Document, reader: Reader) -> str:
    """Time zone with the names of its clock over the plan.

    Examples
    --------
    >>> winter = {"from": "2027-03-01", "name": "WET", "utc_offset_h": 0.0}
    >>> summer = {"from": "2027-03-28", "name": "WEST", "utc_offset_h": 1.0}
    >>> zone({"time_zone": "Atlantic/Canary", "clock": [winter, summer]}, Reader())
    'Atlantic/Canary: WET, UTC+00:00, from 28 Mar WEST, UTC+01:00'
    """
    parts = [
        f"{one['name']}, UTC{'-' if one['utc_offset_h'] < 0.0 else '+'}"
        + clock(abs(one["utc_offset_h"]))
        for one in heat["clock"]
    ]
    later = [
        reader.say("labour.clock_from", date=reader.day(one["from"]), clock=part)
        for one, part in zip(heat["clock"][1:], parts[1:], strict=True)
    ]
    return f"{heat['time_zone']}: {', '.join([*parts[:1], *later])}"


def between(heat: Document, reader: Reader) -> str:
    """Hours between which other starts are suggested."""
    first, last = heat["earliest"], heat["latest"]
    if first is None and last is None:
        return reader.say("labour.by_daylight")
    first, last = clock(first or 0.0), clock(24.0 if last is None else last)
    return reader.say("labour.by_hours", first=first, last=last)


def people(document: Document, reader: Reader) -> Table:
    """People week by week; a column for the shed where it packs."""
    say, shed = reader.say, document["packed_in"] == "shed"
    names = ["trays", "need_middle", "need_high", *(["shed"] if shed else []), "planned",
             "change", "temporary", "extra", "core_short", "all_short", "decide"]  # fmt: skip
    rows = [
        [
            reader.calendar.short_week(row["week"]),
            _spread(row["trays"], reader),
            reader.number(row["need_people"]["p50"], 1),
            reader.number(row["need_people"]["p90"], 1),
            *([reader.number(row["packing_people"]["p50"], 1)] if shed else []),
            reader.number(row["planned"]),
            signed(row["change"], reader),
            _range(row["temporary"], reader),
            _range(row["extra_h"], reader),
            reader.percent(row["short_of_core_probability"]),
            reader.percent(row["short_of_all_probability"]),
            reader.day(row["decide_by"]) if row["decide_by"] else say("labour.column.decided"),
        ]
        for row in document["weeks"]
    ]
    header = [say("common.week"), *(say(f"labour.column.{name}") for name in names)]
    return Table(say("labour.need_table"), header, rows, "<" + ">" * (len(header) - 2) + "<")


def decisions(document: Document, reader: Reader) -> Table | None:
    """Changes of the core crew that can still be decided; None where there is none."""
    say = reader.say
    rows = [
        [
            reader.day(row["decide_by"]),
            reader.calendar.short_week(row["week"]),
            signed(row["change"], reader),
            reader.number(row["planned"]),
            reader.percent(row["short_of_core_probability"]),
        ]
        for row in open_changes(document)
    ]
    if not rows:
        return None
    header = [
        say("labour.column.decide"), say("common.week"), say("labour.column.change"),
        say("labour.column.planned"), say("labour.column.core_short"),
    ]  # fmt: skip
    return Table(say("labour.decisions_caption"), header, rows, "<<>>>")


def open_changes(document: Document) -> list[Document]:
    """Weeks whose core crew changes and that are not decided yet, by the day of the decision."""
    found = [row for row in document["weeks"] if row["change"] and row["decide_by"]]
    return sorted(found, key=lambda row: str(row["decide_by"]))


def heat(document: Document, reader: Reader) -> Table:
    """Heat of the working hours week by week."""
    say = reader.say
    unit = reader.unit("temperature")
    header = [
        say("common.week"),
        say("labour.column.wbgt", unit=unit),
        say("labour.column.index", unit=unit),
        *(say(f"labour.column.{name}") for name in ("used", "new", "share", "share_new")),
    ]
    rows = [
        [
            reader.calendar.short_week(row["week"]),
            _degrees(row["highest_wbgt_c"], reader),
            _degrees(row["highest_heat_index_c"], reader),
            _passed(row["hours_above_limit_acclimatised"], reader),
            _passed(row["hours_above_limit_new_crew"], reader),
            _shares(row["work_share_range"], reader),
            _shares(row["work_share_range_new_crew"], reader),
        ]
        for row in document["heat"]["weeks"]
    ]
    return Table(say("labour.heat_table"), header, rows, "<>>>>>>")


def block(one: Document, reader: Reader) -> Table:
    """Fruit of one block week by week."""
    say = reader.say
    header = [say("common.week"), say("labour.column.trays"), say("labour.column.picks"),
              say("labour.column.left", unit=reader.unit("mass"))]  # fmt: skip
    rows = [
        [
            reader.calendar.short_week(row["week"]),
            _spread(row["trays"], reader),
            reader.number(row["picks"], 1),
            reader.figure("mass", row["left_in_field_kg"]),
        ]
        for row in one["weeks"]
    ]
    return Table(
        say("labour.blocks_caption", block=reader.name(one["block"])), header, rows, "<>>>"
    )


def loading(document: Document, reader: Reader) -> Table | None:
    """Hours to load the trays of each week; None where nothing is loaded."""
    say = reader.say
    rows = [
        [
            reader.calendar.short_week(row["week"]),
            reader.number(row["p50"], 1),
            reader.number(row["p90"], 1),
        ]
        for row in document["loading_h"]
        if row["p90"] > 0.0
    ]
    if not rows:
        return None
    header = [say("common.week"), say("labour.column.hours_middle"),
              say("labour.column.hours_high")]  # fmt: skip
    return Table(say("labour.loading_caption"), header, rows, "<>>")


def _spread(quantiles: Document, reader: Reader) -> str:
    low, middle, high = (reader.number(quantiles[name]) for name in ("p10", "p50", "p90"))
    return reader.say("common.middle_and_range", low=low, middle=middle, high=high)


def _range(pair: Document, reader: Reader) -> str:
    middle, high = reader.number(pair["p50"]), reader.number(pair["p90"])
    return middle if middle == high else f"{middle}{EN_DASH}{high}"


def _passed(pair: Document, reader: Reader) -> str:
    return f"{reader.number(pair['p50'])} ({reader.number(pair['p90'])})"


def _degrees(pair: Document, reader: Reader) -> str:
    middle, high = (reader.figure("temperature", pair[name]) for name in ("p50", "p90"))
    return f"{middle} ({high})"


def _shares(pair: Sequence[float], reader: Reader) -> str:
    low, high = reader.percent(pair[0]), reader.percent(pair[1])
    return low if low == high else f"{low}{EN_DASH}{high}"
