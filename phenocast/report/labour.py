"""The answer of a labour plan: need against plan with its risk, decisions, heat in working hours.

A planning aid, not a safety programme: the cautions of the document stand in every answer, and no
hour is praised for lying below a limit.
"""

from datetime import date
from functools import partial

from phenocast.report.figures.weekly import heat_hours_figure, need_figure
from phenocast.report.parts import (
    Bullets,
    Figure,
    Folded,
    Item,
    Page,
    PageOnly,
    Section,
    Stack,
    Table,
    assumed_items,
    engine,
    packout_line,
)
from phenocast.report.reader import Document, Reader
from phenocast.report.seen import picked_weeks, seen_words
from phenocast.report.stress import MOST_BLOCKS, frost_section, frost_summary

TERMS = ("core_crew", "new_crew", "wbgt", "tray", "week", "median", "weather_year")
MOST_DECISIONS = 4


def labour_parts(document: Document, reader: Reader) -> Page:
    """List the parts of a labour plan.

    Parameters
    ----------
    document : mapping
        What ``phenocast labour --json`` prints; nothing else is used.
    reader : Reader
    """
    say = reader.say
    return Page(
        kind="labour",
        title=say("labour.title"),
        place=reader.name(document["site"], 200),
        issue_date=document["issue_date"],
        summary=[
            *frost_summary(document["frost"]["blocks"], reader),
            *labour_summary(document, reader),
        ],
        uncertainty=[Bullets(_uncertainty(document, reader))],
        sensitivity=[Bullets(_sensitivity(document, reader))],
        next_steps=[Bullets(_next_steps(document, reader))],
        cautions=[
            say("labour.aid"),
            *engine([*document["heat"]["cautions"], *document["warnings"]]),
        ],
        assumed=assumed_items(document["assumptions"], reader),
        sections=[
            Section(say("labour.need"), [_need(document, reader), *_decisions(document, reader)]),
            Section(say("labour.heat"), _heat(document, reader)),
            Section(say("labour.blocks"), _blocks(document, reader)),
            *frost_section(document, reader),
        ],
        sources=[_source(document, reader), say("labour.made_of")],
        terms=TERMS,
        engine_version=document["engine_version"],
    )


def _source(document: Document, reader: Reader) -> str:
    return reader.say(
        "labour.source", draws=reader.number(document["draws"]), seed=document["seed"],
        pack=reader.name(document["pack"]["name"], 30),
        mass=reader.amount("pack_mass", document["pack"]["net_mass_kg"]),
    )  # fmt: skip


def _busiest(document: Document) -> Document:
    """Week with the highest median need."""
    found: Document = max(document["weeks"], key=lambda row: float(row["need_people"]["p50"]))
    return found


def _largest_crew(document: Document) -> Document:
    """First week with the largest core crew."""
    found: Document = max(document["weeks"], key=lambda row: int(row["planned"]))
    return found


def _money(value: float, document: Document, reader: Reader) -> str:
    return f"{reader.number(value)}\u00a0{document['currency']}"


def labour_summary(document: Document, reader: Reader) -> list[str]:
    """The answer in two sentences, after what must be said first of its hours."""
    say, number, heat = reader.say, reader.number, document["heat"]
    need, crew = _busiest(document), _largest_crew(document)
    if need["need_people"]["p90"] <= 0.0:
        return [say("labour.no_need")]
    told = []
    for key in ("long_week", "hot_overtime"):
        if heat[key] is not None:
            one = heat[key]
            limit = number(one.get("limit_h"), 1)
            hours, week = number(one["hours"], 1), reader.week(one["worst"])
            weeks = number(one["weeks"])
            told.append(say(f"labour.{key}", hours=hours, week=week, weeks=weeks, limit=limit))
    cost = _money(document["figures"]["seasons_at_large"]["expected_cost"], document, reader)
    return [
        *told,
        say("labour.answer_need", week=reader.week(need["week"]),
            middle=number(need["need_people"]["p50"]), high=number(need["need_people"]["p90"])),
        say("labour.answer_plan", week=reader.week(crew["week"]), most=number(crew["planned"]),
            cost=cost),
    ]  # fmt: skip


def cover(document: Document, reader: Reader) -> list[str]:
    """Who it takes to pick the fruit, and what is lost and why, from one result.

    Each of its shares says what the plan does or loses in the same seasons, so that no sentence can
    speak against another.
    """
    say, percent = reader.say, reader.percent
    weeks, figures = document["weeks"], document["figures"]["seasons_at_large"]
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
    if figures["cover"] in ("some-lost", "always-lost"):
        short = figures["all_short_probability"]
        worst = max(weeks, key=lambda row: float(row["short_of_all_probability"]))
        key, share = "why_short" if short > 0.0 else "why_cost", worst["short_of_all_probability"]
        told.append(
            say(f"labour.cover.{key}", short=percent(short), week=reader.week(worst["week"]),
                share=percent(share))
        )  # fmt: skip
    core = max(weeks, key=lambda row: float(row["short_of_core_probability"]))
    if figures["cover"] != "core" and core["short_of_core_probability"] > 0.0:
        left = core["short_of_all_probability"]
        key = "beyond" if left > 0.0 else "beyond_covered"
        told.append(
            say(f"labour.cover.{key}", week=reader.week(core["week"]), left=percent(left),
                share=percent(core["short_of_core_probability"]))
        )  # fmt: skip
    return told


def _uncertainty(document: Document, reader: Reader) -> list[str]:
    """Risk, cost of bad seasons, and what the plan's own search leaves."""
    say, figures = reader.say, document["figures"]
    worst, mean = (_money(figures["seasons_at_large"][key], document, reader)
                   for key in ("cvar_90", "expected_cost"))  # fmt: skip
    kept = reader.number(figures["seasons_kept"])
    error = reader.percent(figures["reduction_error"]["weekly_mean"])
    gap = reader.percent(figures["gap"])
    seasons = reader.number(figures["seasons_at_large"]["seasons"])
    return [
        *cover(document, reader),
        say("labour.cost", worst=worst, mean=mean, seasons=seasons),
        say("labour.reduction", count=kept, mean=error),
        say("labour.gap" if figures["gap_reached"] else "labour.gap_cut", gap=gap),
    ]


def _sensitivity(document: Document, reader: Reader) -> list[str]:
    """Rates of picking, what knowing the weather would be worth, and heat."""
    say, figures, picking = reader.say, document["figures"], document["picking"]
    rates = {"walk": reader.number(picking["walk_h_per_ha"], 1),
             "reach": reader.number(picking["reach_h_per_t"], 1)}  # fmt: skip
    tallies = picking.get("tallies")
    if tallies is not None:
        rates["picks"] = reader.number(tallies["picks"])
        for key in ("walk", "reach"):
            ends = zip(("low", "high"), tallies[f"{key}_interval"], strict=True)
            rates |= {f"{key}_{name}": reader.number(end, 1) for name, end in ends}
    told = [say("labour.rates_shipped" if tallies is None else "labour.rates_yours", **rates)]
    if not figures["gap_reached"]:
        told.append(say("labour.unknown_worth"))
    elif figures["value_of_hedging"] is None:
        told.append(say("labour.mean_plan_breaks"))
    else:
        keys = ("value_of_perfect_information", "value_of_hedging")
        knowing, hedging = (_money(figures[key], document, reader) for key in keys)
        told.append(say("labour.knowing", knowing=knowing, hedging=hedging))
    return [*told, say("labour.heat_take"), packout_line(document["pack"], reader)]


def _open_changes(document: Document) -> list[Document]:
    """Weeks whose core crew changes and that are not decided yet, by the day of the decision."""
    found = [row for row in document["weeks"] if row["change"] and row["decide_by"]]
    return sorted(found, key=lambda row: str(row["decide_by"]))


def _next_steps(document: Document, reader: Reader) -> list[str]:
    """The next decisions, and to plan and measure again."""
    say = reader.say
    told = [
        say("labour.decide", date=reader.date(row["decide_by"]), week=reader.week(row["week"]),
            change=_signed(row["change"], reader), planned=reader.number(row["planned"]))
        for row in _open_changes(document)[:MOST_DECISIONS]
    ]  # fmt: skip
    return [*(told or [say("labour.decided")]), say("labour.again"), say("labour.measure")]


def _signed(change: int, reader: Reader) -> str:
    """Change with its sign; nothing where there is none.

    Examples
    --------
    >>> _signed(3, Reader()), _signed(0, Reader())
    ('+3', '')
    """
    return "" if change == 0 else ("+" if change > 0 else "") + reader.number(change)


def _need(document: Document, reader: Reader) -> Figure:
    """Need against plan, week by week, with a column for the shed where it packs."""
    say, weeks, shed = reader.say, document["weeks"], document["packed_in"] == "shed"
    top, crew = _busiest(document), _largest_crew(document)
    svg = partial(
        need_figure, "need", weeks, reader, title=say("labour.need"),
        alt=say("labour.need_alt", week=reader.week(top["week"]),
                middle=reader.number(top["need_people"]["p50"]),
                high=reader.number(top["need_people"]["p90"]),
                most_week=reader.week(crew["week"]), most=reader.number(crew["planned"])),
        issue_date=date.fromisoformat(document["as_of"]),
    )  # fmt: skip
    names = ["trays", "need_middle", "need_high", *(["shed"] if shed else []), "planned",
             "change", "temporary", "extra", "core_short", "all_short", "decide"]  # fmt: skip
    rows = [
        [
            reader.short_week(row["week"]),
            reader.spread(row["trays"]),
            *(reader.number(row["need_people"][level], 1) for level in ("p50", "p90")),
            *([reader.number(row["packing_people"]["p50"], 1)] if shed else []),
            reader.number(row["planned"]),
            _signed(row["change"], reader),
            *(reader.between(*(reader.number(row[key][level]) for level in ("p50", "p90")))
              for key in ("temporary", "extra_h")),
            *(reader.percent(row[f"short_of_{who}_probability"]) for who in ("core", "all")),
            reader.day(row["decide_by"]) if row["decide_by"] else say("labour.column.decided"),
        ]
        for row in weeks
    ]  # fmt: skip
    header = [say("common.week"), *reader.heads("labour.column", *names)]
    table = Table(say("labour.need_table"), header, rows, "<" + ">" * (len(header) - 2) + "<")
    return Figure(svg, say("labour.need_caption"), table, _source(document, reader), in_text=True)


def _decisions(document: Document, reader: Reader) -> list[Item]:
    """Changes of the core crew that can still be decided; nothing where there is none."""
    rows = [
        [
            reader.day(row["decide_by"]),
            reader.short_week(row["week"]),
            _signed(row["change"], reader),
            reader.number(row["planned"]),
            reader.percent(row["short_of_core_probability"]),
        ]
        for row in _open_changes(document)
    ]
    header = [*reader.heads("labour.column", "decide"), reader.say("common.week"),
              *reader.heads("labour.column", "change", "planned", "core_short")]  # fmt: skip
    table = Table(reader.say("labour.decisions_caption"), header, rows, "<<>>>")
    return [Stack([table])] if rows else []


def _heat(document: Document, reader: Reader) -> list[Item]:
    """Heat of the working hours week by week, and other starts of the working day."""
    say, heat = reader.say, document["heat"]
    rows = heat["weeks"]
    new = "hours_above_limit_new_crew"
    top = max(rows, key=lambda row: (float(row[new]["p90"]), float(row[new]["p50"])))
    alt = say(
        "labour.heat_alt", week=reader.week(top["week"]),
        middle=reader.number(top[new]["p50"]), high=reader.number(top[new]["p90"]),
    )  # fmt: skip
    title = say("labour.heat_title")
    svg = partial(heat_hours_figure, "heat", rows, reader, title=title, alt=alt)
    start, end = (_clock(hour) for hour in heat["working_hours"])
    hours = say("labour.heat_hours", start=start, end=end, zone=_zone(heat, reader))
    caption = f"{hours} {say('labour.heat_caption')}"
    beside: list[Item] = [hours, say("labour.aid"), say("labour.heat_reads")]
    told = [f"{row['week']}: {row['suggestion']}" for row in rows if row["suggestion"]]
    if told:
        first, last = heat["earliest"], heat["latest"]
        between = say("labour.by_daylight")
        if first is not None or last is not None:
            ends = _clock(first or 0.0), _clock(24.0 if last is None else last)
            between = say("labour.by_hours", first=ends[0], last=ends[1])
        beside.append(Folded(say("labour.starts", between=between), [Bullets(engine(told))]))
    table, source = _heat_table(rows, reader), _source(document, reader)
    return [Figure(svg, caption, table, source, in_text=True), Stack(beside)]


def _heat_table(weeks: list[Document], reader: Reader) -> Table:
    def pair(quantiles: Document) -> str:
        return f"{reader.number(quantiles['p50'])} ({reader.number(quantiles['p90'])})"

    def degrees(quantiles: Document) -> str:
        middle, high = (reader.figure("temperature", quantiles[level]) for level in ("p50", "p90"))
        return f"{middle} ({high})"

    rows = [
        [
            reader.short_week(row["week"]),
            degrees(row["highest_wbgt_c"]),
            degrees(row["highest_heat_index_c"]),
            pair(row["hours_above_limit_acclimatised"]),
            pair(row["hours_above_limit_new_crew"]),
            *(reader.between(*(reader.percent(share) for share in row[key]))
              for key in ("work_share_range", "work_share_range_new_crew")),
        ]
        for row in weeks
    ]  # fmt: skip
    names = ("wbgt", "index", "used", "new", "share", "share_new")
    header = [reader.say("common.week"), *reader.heads("labour.column", *names)]
    return Table(reader.say("labour.heat_table"), header, rows, "<>>>>>>")


def _clock(hour: float) -> str:
    """Time of a day from hours and their fraction.

    Examples
    --------
    >>> _clock(12.6666667)
    '12:40'
    """
    minutes = round(60.0 * hour)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def _zone(heat: Document, reader: Reader) -> str:
    """Time zone with the names of its clock over the plan.

    Examples
    --------
    >>> winter = {"from": "2027-03-01", "name": "WET", "utc_offset_h": 0.0}
    >>> summer = {"from": "2027-03-28", "name": "WEST", "utc_offset_h": 1.0}
    >>> _zone({"time_zone": "Atlantic/Canary", "clock": [winter, summer]}, Reader())
    'Atlantic/Canary: WET, UTC+00:00, from 28 Mar WEST, UTC+01:00'
    """
    told = []
    for number, one in enumerate(heat["clock"]):
        sign = "-" if one["utc_offset_h"] < 0.0 else "+"
        clock = f"{one['name']}, UTC{sign}{_clock(abs(one['utc_offset_h']))}"
        if number:
            clock = reader.say("labour.clock_from", date=reader.day(one["from"]), clock=clock)
        told.append(clock)
    return f"{heat['time_zone']}: {', '.join(told)}"


def _blocks(document: Document, reader: Reader) -> list[Item]:
    """From ripe fruit to trays, block by block, and the loading that the plan leaves out."""
    say = reader.say
    largest = sorted(
        (one for one in document["blocks"] if one["weeks"]),
        key=lambda one: -sum(float(row["trays"]["p50"]) for row in one["weeks"]),
    )
    rows = []
    for one in largest[:MOST_BLOCKS]:
        peak = max(one["weeks"], key=lambda row: float(row["trays"]["p50"]))
        picks = [row["picks"] for row in one["weeks"] if row["picks"] > 0.0] or [0.0]
        rows.append(
            [
                reader.name(one["block"], 30),
                reader.short_week(peak["week"]),
                reader.spread(peak["trays"]),
                reader.between(*(reader.number(end, 1) for end in (min(picks), max(picks)))),
                reader.figure("mass", sum(row["left_in_field_kg"] for row in one["weeks"])),
            ]
        )
    header = [
        say("common.block"),
        *reader.heads("labour.column", "busiest", "trays", "picks", "left"),
    ]
    shown, every = reader.number(len(rows)), reader.number(len(largest))
    caption = say("labour.blocks_table", shown=shown, all=every)
    items: list[Item] = [Table(caption, header, rows, "<<>>>")]
    facts = [f"{reader.name(one['block'])}: {words}"
             for one in document["blocks"] for words in seen_words(one, reader)]  # fmt: skip
    items += [Bullets(facts)] if facts else []
    items += [PageOnly([Folded(reader.name(one["block"]), [_block(one, reader)])])
              for one in document["blocks"]]  # fmt: skip
    loading = [row for row in document["loading_h"] if row["p90"] > 0.0]
    if loading:
        top = max(loading, key=lambda row: float(row["p50"]))
        middle, high = (reader.number(top[level]) for level in ("p50", "p90"))
        items.append(say("labour.loading", week=reader.week(top["week"]), middle=middle, high=high))
        hours = [
            [reader.short_week(row["week"]),
             *(reader.number(row[level], 1) for level in ("p50", "p90"))]
            for row in loading
        ]  # fmt: skip
        header = [say("common.week"), *reader.heads("labour.column", "hours_middle", "hours_high")]
        caption = say("labour.loading_caption")
        items.append(PageOnly([Folded(caption, [Table(caption, header, hours, "<>>")])]))
    return items


def _block(one: Document, reader: Reader) -> Table:
    """Fruit of one block week by week."""
    picked = picked_weeks(one)
    rows = [
        [f"{reader.short_week(week)} ({reader.say('forecast.picked')})",
         reader.number(row["trays"]), reader.number(row["picks"]), ""]
        for week, row in picked.items()
    ]  # fmt: skip
    rows += [
        [
            reader.short_week(row["week"]),
            reader.spread(row["trays"]),
            reader.number(row["picks"], 1),
            reader.figure("mass", row["left_in_field_kg"]),
        ]
        for row in one["weeks"]
        if row["week"] not in picked
    ]
    header = [reader.say("common.week"), *reader.heads("labour.column", "trays", "picks", "left")]
    caption = reader.say("labour.blocks_caption", block=reader.name(one["block"]))
    return Table(caption, header, rows, "<>>>")
