"""The answer of a forecast: when each block is first picked, how sure that is, and the fruit."""

from collections.abc import Sequence
from datetime import date
from functools import partial

from phenocast.report.figures.weekly import fan_figure, shown_weeks, timeline_figure
from phenocast.report.parts import (
    Bullets,
    Figure,
    Folded,
    Item,
    Page,
    Section,
    Stack,
    Table,
    TextOnly,
    assumed_items,
    draws_line,
    engine,
    filled_line,
    packout_line,
    weather_line,
)
from phenocast.report.reader import CUT_OFF_C, Document, Reader, week_days
from phenocast.report.seen import has_picks, overdue_words, picked_rows, picked_weeks, seen_words
from phenocast.report.stress import (
    compared_days,
    frost_items,
    frost_summary,
    headline,
    headline_days,
    season_ends,
)

LEVELS = ("p10", "p50", "p90")
STAGES = ("flower_initiation", "anthesis", "first_pick")
TERMS = ("first_pick", "crown", "cut_off", "degree_hours", "initiation", "anthesis", "film",
         "root_zone", "median", "interval_80", "weather_year", "week", "tray")  # fmt: skip
LEAST_G = 0.05
"""Fruit of a week, in one case of ten, from which it is shown. [g per plant]"""
MOST_NAMED = 8
"""Blocks that are named one by one in words; more are left to the table."""


def forecast_parts(document: Document, reader: Reader) -> Page:
    """List the parts of a forecast.

    Parameters
    ----------
    document : mapping
        What ``phenocast forecast --json`` prints; nothing else is used.
    reader : Reader
    """
    say = reader.say
    return Page(
        kind="forecast",
        title=say("forecast.title"),
        place=reader.name(document["site"]["name"], 200),
        issue_date=document["issue_date"],
        summary=[*frost_summary(document["blocks"], reader), *forecast_summary(document, reader)],
        uncertainty=_uncertainty(document, reader),
        sensitivity=[Bullets(_sensitivity(document, reader))],
        next_steps=[Bullets(_next_steps(document, reader))],
        cautions=engine(document["warnings"]),
        assumed=assumed_items(document["assumptions"], reader),
        sections=[
            _together(document, reader),
            *(_block(document, number, reader) for number in range(1, len(document["blocks"]) + 1)),
        ],
        sources=[
            weather_line(document["weather"], reader),
            draws_line(document, reader),
            *filled_line(document["weather"], reader),
            say("forecast.made_of"),
        ],
        terms=TERMS,
        engine_version=document["engine_version"],
    )


def _name(block: Document, reader: Reader) -> str:
    return reader.name(block["block"], 40)


def _likeliest(block: Document, reader: Reader, *, chance: bool = False) -> str:
    """Week of a first pick with the highest probability, and that probability."""
    weeks = block["first_pick"]["week_probabilities"]
    if not weeks:
        return reader.say("common.not_reached")
    best = max(weeks, key=lambda row: float(row["probability"]))
    if chance:
        return f"{reader.short_week(best['week'])}: {reader.percent(best['probability'])}"
    return reader.week(best["week"])


def _by_first_pick(blocks: Sequence[Document]) -> list[Document]:
    """Blocks whose first pick is reached in half of the cases, the earliest first."""
    reached = [block for block in blocks if block["first_pick"]["median"] is not None]
    return sorted(reached, key=lambda block: str(block["first_pick"]["median"]))


def forecast_summary(document: Document, reader: Reader) -> list[str]:
    """The answer in two sentences.

    Examples
    --------
    >>> pick = {"median": None, "week_probabilities": [], "not_reached_probability": 1.0}
    >>> block = {"block": "North", "first_pick": pick,
    ...          "fruit": {"season_g_per_plant": {"p50": 0.0}, "early_until": "2026-12-01",
    ...                    "early_g_per_plant": {"p50": 0.0}}}
    >>> len(forecast_summary({"blocks": [block]}, Reader()))
    2
    """
    say, blocks = reader.say, document["blocks"]
    if len(blocks) == 1:
        return _summary_of_one(blocks[0], reader)
    ordered = _by_first_pick(blocks)
    never = [block for block in blocks if block["first_pick"]["median"] is None]
    if not ordered:
        return [say("forecast.none_reached", count=len(blocks)), _busiest(document, reader)]
    first, last = ordered[0], ordered[-1]
    if len(ordered) == 1:
        told = say(
            "forecast.answer_only", block=_name(first, reader), week=_likeliest(first, reader)
        )
    else:
        told = say(
            "forecast.answer_many", first=_name(first, reader), last=_name(last, reader),
            first_week=_likeliest(first, reader), last_week=_likeliest(last, reader),
        )  # fmt: skip
    if not never:
        return [told, _busiest(document, reader)]
    names = reader.and_list([_name(block, reader) for block in never[:MOST_NAMED]])
    return [told, say.counted("forecast.some_never", len(never), blocks=names)]


def _summary_of_one(block: Document, reader: Reader) -> list[str]:
    pick, fruit = block["first_pick"], block["fruit"]
    season, early = (
        reader.amount("fruit", fruit[f"{part}_g_per_plant"]["p50"]) for part in ("season", "early")
    )
    return [
        reader.say(
            "forecast.one_never" if pick["median"] is None else "forecast.answer_one",
            block=_name(block, reader), share=reader.percent(pick["not_reached_probability"]),
            week=_likeliest(block, reader), date=reader.date(pick["median"]),
        ),
        reader.say("forecast.answer_fruit", season=season, early=early,
                   until=reader.date(fruit["early_until"])),
    ]  # fmt: skip


def _busiest(document: Document, reader: Reader) -> str:
    """Week with most trays of all blocks together."""
    count, weekly = len(document["blocks"]), document["total"]["weekly"]
    if not weekly:
        return reader.say("forecast.no_fruit", count=count)
    best = max(weekly, key=lambda row: float(row["trays"]["p50"]))
    trays = reader.number(best["trays"]["p50"])
    return reader.say("forecast.busiest", count=count, week=reader.week(best["week"]), trays=trays)


def _uncertainty(document: Document, reader: Reader) -> list[Item]:
    """Intervals of the first picks, and what they hold."""
    say, blocks = reader.say, document["blocks"]
    items: list[Item] = [say("forecast.spans_below")]
    if len(blocks) <= MOST_NAMED:
        items = [Bullets([_interval(block, reader) for block in blocks])]
    if document["weather"]["weather_traces"] == 1:
        items.append(say("forecast.one_year"))
    return [*items, say("forecast.spans_hold")]


def _interval(block: Document, reader: Reader) -> str:
    pick = block["first_pick"]
    key = "span_some_never" if pick["not_reached_probability"] > 0.0 else "span"
    return reader.say(
        "forecast.span_never" if pick["p10"] is None else f"forecast.{key}",
        block=_name(block, reader), low=reader.day(pick["p10"]), high=_late(pick, reader),
        share=reader.percent(pick["not_reached_probability"]),
    )  # fmt: skip


def _late(pick: Document, reader: Reader) -> str:
    return reader.say("common.never") if pick["p90"] is None else reader.day(pick["p90"])


def _sensitivity(document: Document, reader: Reader) -> list[str]:
    """Where the spread comes from, what the heat does, and what the convention does."""
    say, blocks = reader.say, document["blocks"]
    told = []
    for first in _by_first_pick(blocks)[:1]:
        shares = first["first_pick"]["spread_from"]
        if shares is not None:
            parts = {name: reader.percent(share) for name, share in shares.items()}
            key = "spread_from_season" if "season" in shares else "spread_from"
            told.append(say(f"forecast.{key}", block=_name(first, reader), **parts))
    hottest = max(
        blocks, key=lambda block: float(block["crown"]["compared"]["degree_hours_above_30c"])
    )
    told.append(
        say(
            "forecast.heat_of", block=_name(hottest, reader), film=reader.name(hottest["film"], 40),
            heat=reader.amount("heat", hottest["crown"]["compared"]["degree_hours_above_30c"]),
            over=compared_days(document, reader), cut_off=reader.places["cut_off"],
        )
    )  # fmt: skip
    thresholds = {block["first_pick"]["threshold_g_per_plant"] for block in blocks}
    if len(thresholds) == 1:
        amount = reader.amount("weekly_fruit", thresholds.pop())
        told.append(say("forecast.threshold", amount=amount))
    return [*told, packout_line(document["pack"], reader)]


def _next_steps(document: Document, reader: Reader) -> list[str]:
    """What to prepare from the day of issue on, and when to ask again."""
    say, issued = reader.say, document["issue_date"]
    told = overdue_words(document["blocks"], reader)
    reached = [block for block in _by_first_pick(document["blocks"]) if not has_picks(block)]
    due = [block for block in document["blocks"]
           if block in reached and block["first_pick"]["p10"] < issued]  # fmt: skip
    if due:
        names = reader.and_list([_name(block, reader) for block in due[:MOST_NAMED]])
        told.append(say("forecast.ready_now", blocks=names, date=reader.date(issued)))
    for first in [block for block in reached if block not in due][:1]:
        ready = reader.date(first["first_pick"]["p10"])
        told.append(say("forecast.be_ready", block=_name(first, reader), date=ready))
    year, number, _ = date.fromisoformat(issued).isocalendar()
    weekly = [row for row in document["total"]["weekly"]
              if row["week"] >= f"{year}-W{number:02d}"]  # fmt: skip
    if weekly:
        best = max(weekly, key=lambda row: float(row["trays"]["p90"]))
        trays = reader.number(best["trays"]["p90"])
        told.append(say("forecast.most_hands", week=reader.week(best["week"]), trays=trays))
    known = document["weather"]["observed_until"]
    again = "ask_again_unseen" if known is None else "ask_again"
    return [*told, say(f"forecast.{again}", date=reader.date(known)), say("forecast.compare")]


def overview(document: Document, reader: Reader) -> Table:
    """One row a block: its first pick, its heat and its fruit."""
    say = reader.say
    rows = []
    for block in document["blocks"]:
        pick = block["first_pick"]
        span = say("common.not_reached")
        if pick["p10"] is not None:
            span = reader.between(reader.day(pick["p10"]), _late(pick, reader))
        rows.append(
            [
                reader.name(block["block"], 60),
                f"{reader.name(block['cultivar'], 30)}, {reader.name(block['film'], 30)}",
                reader.day(block["planting_date"]),
                _likeliest(block, reader, chance=True),
                reader.day(pick["median"]),
                span,
                reader.spread(block["crown"]["compared"]["degree_hours_above_30c_spread"], "heat"),
                reader.spread(block["fruit"]["season_g_per_plant"], "fruit"),
                reader.percent(pick["not_reached_probability"]),
            ]
        )
    header = [
        say("common.block"), say("forecast.head.plant"), say("common.planted"),
        *reader.heads("forecast.head", "likeliest", "middle", "interval_80", "heat", "fruit",
                      "never"),
    ]  # fmt: skip
    caption = say("forecast.overview_caption", over=compared_days(document, reader))
    always = all(block["first_pick"]["not_reached_probability"] == 0.0
                 for block in document["blocks"])  # fmt: skip
    shown = len(header) - 1 if always else len(header)
    return Table(caption, header[:shown], [row[:shown] for row in rows], "<<<<<<>>>"[:shown])


def _together(document: Document, reader: Reader) -> Section:
    """All blocks in one table, and their trays in one fan."""
    say, weekly = reader.say, document["total"]["weekly"]
    items: list[Item] = [overview(document, reader)]
    if weekly and len(document["blocks"]) > 1:
        best = max(weekly, key=lambda row: float(row["trays"]["p50"]))
        svg = partial(
            fan_figure, "total", [row["week"] for row in weekly],
            [row["trays"] for row in weekly], reader,
            unit=say("forecast.figure.trays"), title=say("common.all_blocks"),
            alt=say("forecast.total_alt", week=reader.week(best["week"]),
                    trays=reader.number(best["trays"]["p50"])),
            issue_date=date.fromisoformat(document["issue_date"]),
        )  # fmt: skip
        rows = [[reader.short_week(row["week"]),
                 *(reader.number(row["trays"][level]) for level in LEVELS)]
                for row in weekly if row["trays"]["p90"] >= 0.5]  # fmt: skip
        header = [say(f"common.{name}") for name in ("week", "low", "middle", "high")]
        table = Table(say("forecast.total_table"), header, rows, "<>>>")
        pack = reader.name(document["pack"]["name"], 30)
        mass = reader.amount("pack_mass", document["pack"]["net_mass_kg"])
        caption = say("forecast.total_caption", pack=pack, mass=mass)
        items.append(Figure(svg, caption, table, _source(document, reader), in_text=True))
    return Section(say("forecast.together"), items)


def _source(document: Document, reader: Reader) -> str:
    return weather_line(document["weather"], reader).rstrip(".")


def _block(document: Document, number: int, reader: Reader) -> Section:
    """One block: its season on a calendar, its weekly fruit, its months of heat, its cautions."""
    block, say = document["blocks"][number - 1], reader.say
    issued = date.fromisoformat(document["issue_date"])
    alt = _season_words(block, reader)
    svg = partial(
        timeline_figure, f"season-{number}", block, CUT_OFF_C, reader, issue_date=issued,
        title=say("forecast.timeline_title", block=_name(block, reader)), alt=alt,
    )  # fmt: skip
    items: list[Item] = [
        *([Bullets(engine(block["warnings"]))] if block["warnings"] else []),
        Bullets(_of_block(block, reader)),
        *frost_items(block, reader),
        TextOnly([Bullets([alt, _fruit_words(block, reader)])]),
        Figure(svg, alt, _week_table(block, reader), _source(document, reader)),
        Stack([
            *([_fruit(block, number, document, reader)] if block["weekly"] else []),
            Folded(say("forecast.months"), [_months(block, reader)]),
        ]),
    ]  # fmt: skip
    heading = say(
        "forecast.block_heading", block=reader.name(block["block"], 400),
        cultivar=reader.name(block["cultivar"], 40), film=reader.name(block["film"], 40),
    )  # fmt: skip
    return Section(heading, items)


def _season_words(block: Document, reader: Reader) -> str:
    """Heat, stages and first pick of a block in words."""
    part = headline(block["crown"])
    return reader.say(
        "forecast.timeline_alt",
        last_day=reader.date(block["last_day"]),
        heat=reader.amount("heat", part["degree_hours_above_30c"]),
        over=headline_days(block["crown"], reader),
        season=reader.amount("heat", block["crown"]["season"]["degree_hours_above_30c"]),
        cut_off=reader.places["cut_off"],
        highest=reader.amount("temperature", part["max_c"]),
        initiation=_initiation(block, reader),
        anthesis=reader.date(block["stages"]["anthesis"]["median"]),
        pick=reader.date(block["first_pick"]["median"]),
    )


def _initiation(block: Document, reader: Reader) -> str:
    """When flowers are initiated, or that the plants are taken to have arrived with buds."""
    stage = block["stages"]["flower_initiation"]
    share = stage["arrived_with_buds"]
    key = "arrived_all" if share == 1.0 else "arrived_some" if share > 0.0 else "initiated"
    initiation = reader.date(stage["median"])
    return reader.say(f"forecast.{key}", share=reader.percent(share), initiation=initiation)


def _of_block(block: Document, reader: Reader) -> list[str]:
    """The plants, where the season ends, and what heat takes from flower initiation."""
    heat = block["stages"]["flower_initiation"]["heat"]
    lost = heat["new_trusses_lost_share"]
    took = reader.say(
        "forecast.heat_took_none" if lost is None else "forecast.heat_took", days=heat["days"],
        hours=reader.percent(heat["hours_stopped_share"]["p50"]),
        trusses="" if lost is None else reader.spread(lost, "share"),
    )  # fmt: skip
    planted = reader.say(
        "forecast.planted", date=reader.date(block["planting_date"]),
        transplant=reader.name(block["transplant"], 20), plants=reader.number(block["plants"]),
        alive=reader.spread(block["plants_alive_share"], "share"),
    )  # fmt: skip
    told = [planted, *seen_words(block, reader), season_ends(block, reader)]
    return [*told, f"{_initiation(block, reader)} {took}"]


def _chances(block: Document) -> dict[str, float]:
    return {row["week"]: row["probability"] for row in block["first_pick"]["week_probabilities"]}


def _week_table(block: Document, reader: Reader) -> Table:
    """Crown temperature, heat and stages by week."""
    chances, last = _chances(block), shown_weeks(block)[1]
    rows = [
        [
            reader.short_week(row["week"]),
            reader.spread(row["crown_mean_c"], "temperature"),
            reader.spread(row["crown_max_c"], "temperature"),
            reader.spread(row["degree_hours_above_30c"], "heat"),
            *(reader.percent(row["reached"][stage]) for stage in STAGES),
            reader.percent(chances.get(row["week"], 0.0)),
        ]
        for row in block["week_by_week"]
        if week_days(row["week"])[1] <= last
    ]
    names = ("mean", "highest", "heat", "initiated", "blooming", "picked", "in_week")
    header = [reader.say("common.week"), *reader.heads("forecast.head", *names)]
    return Table(reader.say("forecast.week_table"), header, rows, "<>>>>>>>")


def _months(block: Document, reader: Reader) -> Table:
    """Heat of the crown and the root zone by month."""
    rows = [
        [
            reader.month_and_year(row["month"]),
            reader.figure("time", row["hours_above_30c"]),
            reader.figure("heat", row["degree_hours_above_30c"]),
            *(reader.figure("temperature", row[name])
              for name in ("mean_c", "max_c", "soil_10cm_mean_c", "soil_10cm_max_c")),
        ]
        for row in block["crown"]["by_month"]
    ]  # fmt: skip
    names = ("hours", "heat", "mean", "highest", "soil_mean", "soil_highest")
    header = [reader.say("common.month"), *reader.heads("forecast.head", *names)]
    return Table(reader.say("forecast.months"), header, rows, "<>>>>>>")


def _fruit(block: Document, number: int, document: Document, reader: Reader) -> Figure:
    """Fruit of a block by week, with the chance of the first pick and the trays."""
    say, weekly = reader.say, block["weekly"]
    best = max(weekly, key=lambda row: float(row["g_per_plant"]["p50"]))
    grams = [{level: reader.value("weekly_fruit", row["g_per_plant"][level]) for level in LEVELS}
             for row in weekly]  # fmt: skip
    svg = partial(
        fan_figure, f"fruit-{number}", [row["week"] for row in weekly], grams, reader,
        unit=say("forecast.figure.fruit", unit=reader.unit("weekly_fruit")),
        digits=0 if max(one["p90"] for one in grams) >= 5.0 else 1,
        title=say("forecast.fruit_title", block=_name(block, reader)),
        alt=say("forecast.fruit_alt", week=reader.week(best["week"]),
                fruit=reader.amount("weekly_fruit", best["g_per_plant"]["p50"])),
        issue_date=date.fromisoformat(document["issue_date"]),
        first=date.fromisoformat(block["planting_date"]), height=330.0,
        picked={week: reader.value("weekly_fruit", row["g_per_plant"])
                for week, row in picked_weeks(block).items()},
    )  # fmt: skip
    caption = _fruit_words(block, reader)
    table = _fruit_weeks(block, reader)
    return Figure(svg, caption, table, _source(document, reader), in_text=True)


def _fruit_words(block: Document, reader: Reader) -> str:
    """Fruit of the season and early fruit in words."""
    fruit = block["fruit"]
    if not block["weekly"]:
        return reader.say("forecast.no_fruit_in_block")
    season, early = fruit["season_g_per_plant"], fruit["early_g_per_plant"]
    return reader.say(
        "forecast.fruit_caption", season=reader.amount("fruit", season["p50"]),
        low=reader.figure("fruit", season["p10"]), high=reader.figure("fruit", season["p90"]),
        early=reader.amount("fruit", early["p50"]), until=reader.date(fruit["early_until"]),
    )  # fmt: skip


def _fruit_weeks(block: Document, reader: Reader) -> Table:
    """Weeks that may bring the first pick or bring fruit; weeks without any are left out."""
    say, chances, picked = reader.say, _chances(block), picked_rows(block)
    fruit = {row["week"]: row for row in block["weekly"] if row["g_per_plant"]["p90"] >= LEAST_G}
    fruit |= picked
    none = {"g_per_plant": dict.fromkeys(LEVELS, 0.0), "trays": dict.fromkeys(LEVELS, 0.0)}
    rows = []
    for week in sorted({*chances, *fruit}):
        row, mark = fruit.get(week, none), f" ({say('forecast.picked')})" if week in picked else ""
        rows.append(
            [
                reader.short_week(week) + mark,
                reader.percent(chances.get(week, 0.0)),
                *(reader.figure("weekly_fruit", row["g_per_plant"][level]) for level in LEVELS),
                *(reader.number(row["trays"][level]) for level in LEVELS),
            ]
        )
    names = [say(f"common.{name}") for name in ("low", "middle", "high")]
    unit = reader.unit("weekly_fruit")
    header = [
        say("common.week"),
        *reader.heads("forecast.head", "in_week"),
        *(say("forecast.head.fruit_of", of=name, unit=unit) for name in names),
        *(say("forecast.head.trays_of", of=name) for name in names),
    ]
    return Table(say("forecast.block_weeks_table"), header, rows, "<>>>>>>>")
