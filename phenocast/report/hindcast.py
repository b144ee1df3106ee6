"""The answer of hindcasts: how far forecasts of the past were off, and whether intervals held."""

from collections.abc import Sequence
from functools import partial

from phenocast.report.figures.scores import places_figure, reliability_figure
from phenocast.report.parts import (
    Bullets,
    Figure,
    Folded,
    Item,
    Page,
    PageOnly,
    Section,
    Table,
    TextOnly,
    engine,
)
from phenocast.report.reader import Document, Reader

HALF = 0.5
FEW_SEASONS = 5
MOST_ROWS = 20
KINDS = {"first_pick": "first_picks", "weekly": "weeks"}


def hindcast_parts(document: Document, reader: Reader) -> Page:
    """List the parts of hindcasts.

    Parameters
    ----------
    document : mapping
        What ``phenocast hindcast --json`` prints; nothing else is used.
    reader : Reader
    """
    say, leads = reader.say, document["leads"]
    next_steps = ["visits", "fit"]
    if len(document["seasons"]) < FEW_SEASONS:
        next_steps.append("more")
    left_out = [
        f"{one['season']}: {one['block']}: {one['reason']}"
        for one in (*document["not_made"], *document["records_not_used"])
    ]
    return Page(
        kind="hindcast",
        title=say("hindcast.title"),
        place=say("hindcast.place", count=reader.number(document["block_seasons"]),
                  seasons=", ".join(reader.name(one) for one in document["seasons"])),
        summary=_summary(leads[0], reader),
        uncertainty=_uncertainty(leads[0], reader),
        sensitivity=[Bullets(_sensitivity(leads[0], reader))],
        next_steps=[Bullets([say(f"hindcast.next_{one}") for one in next_steps])],
        cautions=engine([*document["warnings"], *left_out]),
        sections=[
            *(_section(lead, number, document, reader) for number, lead in enumerate(leads)),
            Section(say("hindcast.blocks"), _blocks(document["blocks"], reader)),
        ],
        sources=[_source(document, reader), say(f"hindcast.years_{document['past_years']}")],
        terms=("first_pick", "median", "interval_80", "weather_year", "crps", "pit", "week"),
        engine_version=document["engine_version"],
    )  # fmt: skip


def _when(lead_d: int, reader: Reader) -> str:
    if lead_d == 0:
        return reader.say("hindcast.at_planting")
    return reader.say("hindcast.days_after", lead=reader.number(lead_d))


def _source(document: Document, reader: Reader) -> str:
    return reader.say(
        "hindcast.source", file=reader.name(document["file"]),
        records=reader.number(document["records"]), draws=reader.number(document["draws"]),
        seed=document["seed"],
    )  # fmt: skip


def _summary(lead: Document, reader: Reader) -> list[str]:
    """How far dates and weekly fruit were off."""
    say, dates, weekly = reader.say, lead["first_pick"], lead["weekly"]
    if not dates["scored"]:
        told = [say("hindcast.answer_none")]
    else:
        told = [
            say("hindcast.answer_dates", when=_when(lead["lead_d"], reader),
                mae=reader.number(dates["mae_d"], 1), week=reader.percent(dates["within_a_week"]))
        ]  # fmt: skip
    if "wape" in weekly:
        told.append(say("hindcast.answer_fruit", wape=reader.percent(weekly["wape"])))
    return [one[:1].upper() + one[1:] for one in told]


def _uncertainty(lead: Document, reader: Reader) -> list[Item]:
    """How often the intervals held, and how wide they were."""
    say, dates, weekly = reader.say, lead["first_pick"], lead["weekly"]
    told: list[Item] = []
    if dates["scored"]:
        low, high = (reader.percent(one) for one in dates["coverage_80_of_seasons"])
        held, seasons = reader.percent(dates["coverage_80"]), reader.number(dates["seasons"])
        told += [
            say("hindcast.sure_held", held=held, seasons=seasons, low=low, high=high),
            say("hindcast.sure_width", width=reader.number(dates["width_80_d"]),
                floor=reader.number(dates["visit_floor_d"], 1)),
        ]  # fmt: skip
    if "coverage_80" in weekly:
        held, weeks = reader.percent(weekly["coverage_80"]), reader.number(weekly["weeks"])
        told.append(say("hindcast.sure_weeks", held=held, weeks=weeks))
    return told


def _sensitivity(lead: Document, reader: Reader) -> list[str]:
    """The forecast against what the other seasons, or a plain sum of warmth, would have told."""
    say, dates, weekly = reader.say, lead["first_pick"], lead["weekly"]
    told = []
    if dates["scored"] and not dates["calendar"]["compared"]:
        told.append(say("hindcast.change_no_calendar"))
    for key, name in (("calendar", "change_calendar"), ("air_warmth", "change_warmth")):
        one = dates[key] if dates["scored"] else {"compared": 0}
        if one["compared"]:
            other, own = (reader.number(one[mae], 1) for mae in ("mae_d", "forecast_mae_d"))
            told.append(say(f"hindcast.{name}", other=other, own=own))
    if "wape" in weekly and weekly["calendar"]["wape"] is None:
        told.append(say("hindcast.change_no_weeks"))
    elif "wape" in weekly:
        other, own = (reader.percent(weekly["calendar"][key]) for key in ("wape", "forecast_wape"))
        told.append(say("hindcast.change_week_calendar", other=other, own=own))
    return told


def _section(lead: Document, number: int, document: Document, reader: Reader) -> Section:
    items: list[Item] = [*(_summary(lead, reader) if number else []), _scores(lead, reader)]
    if any(sum(lead["pit"][key]) > 0.0 for key in KINDS):
        items.append(_reliability(lead, number, document, reader))
        items.append(_places(lead, number, document, reader))
    heading = reader.say("hindcast.heading", when=_when(lead["lead_d"], reader))
    return Section(heading, items)


def _scores(lead: Document, reader: Reader) -> Table:
    """Every score of the forecasts made at one time."""
    dates, weekly = lead["first_pick"], lead["weekly"]
    found: list[tuple[str, str]] = [("scored", reader.number(dates["scored"]))]
    if dates["scored"]:
        days = {"mae": dates["mae_d"], "bias": dates["bias_d"], "rmse": dates["rmse_d"],
                "crps": dates["crps_d"], "width": dates["width_80_d"],
                "visits": dates["visit_floor_d"], "calendar": dates["calendar"]["mae_d"],
                "from_planting": dates["days_from_planting"]["mae_d"],
                "warmth": dates["air_warmth"]["mae_d"]}  # fmt: skip
        found += [(name, reader.number(value, 1)) for name, value in days.items()]
        for name, key in (("skill_calendar", "calendar"), ("skill_warmth", "air_warmth")):
            found.append((name, reader.number(dates[key].get("skill"), 2)))
        found.append(("held", reader.percent(dates["coverage_80"])))
    if dates.get("never_reached"):
        found.append(("never", reader.number(dates["never_reached"])))
    if "wape" in weekly:
        shares = {"wape": weekly["wape"], "week_bias": weekly["bias_share"],
                  "week_held": weekly["coverage_80"]}  # fmt: skip
        found += [(name, reader.percent(value)) for name, value in shares.items()]
    say = reader.say
    rows = [[say(f"hindcast.score.{name}"), value] for name, value in found]
    header = [say("hindcast.score.name"), say("hindcast.score.value")]
    return Table(say("hindcast.score.caption"), header, rows, "<>")


def _reliability(lead: Document, number: int, document: Document, reader: Reader) -> Figure:
    say, rows = reader.say, lead["reliability"]
    half = next(row for row in rows if row["level"] == HALF)
    title = say("hindcast.reliability_title")
    svg = partial(
        reliability_figure, f"held-{number}",
        [row["level"] for row in rows],
        [(say(f"hindcast.{words}"), [row[key] for row in rows])
         for key, words in KINDS.items() if all(row[key] is not None for row in rows)],
        reader,
        stated=say("hindcast.stated"), held=say("hindcast.held"), title=title,
        alt=say("hindcast.reliability_alt", dates=reader.percent(half["first_pick"]),
                weeks=reader.percent(half["weekly"])),
    )  # fmt: skip
    names = ("level", "first_pick", "weekly")
    header = [say(f"hindcast.{key}") for key in ("level", *KINDS.values())]
    table = Table(title, header, [[reader.percent(row[key]) for key in names] for row in rows],
                  ">>>")  # fmt: skip
    caption, source = say("hindcast.reliability_caption"), _source(document, reader)
    return Figure(svg, caption, table, source, in_text=True)


def _places(lead: Document, number: int, document: Document, reader: Reader) -> Figure:
    say, pit = reader.say, lead["pit"]
    kinds = [(say(f"hindcast.{words}"), pit[key]) for key, words in KINDS.items() if sum(pit[key])]
    title, bins = say("hindcast.pit_title"), pit["bins"]
    svg = partial(
        places_figure, f"places-{number}", kinds, reader, slices=say("hindcast.slice"), title=title,
        alt=say("hindcast.pit_alt"),
    )  # fmt: skip
    rows = [
        [reader.between(reader.percent(place / bins), reader.percent((place + 1) / bins)),
         *(reader.number(counts[place], 1) for _, counts in kinds)]
        for place in range(bins)
    ]  # fmt: skip
    header = [say("hindcast.slice_name"), *(name for name, _ in kinds)]
    table = Table(title, header, rows, ">" * len(header))
    return Figure(svg, say("hindcast.pit_caption"), table, _source(document, reader), in_text=True)


def _blocks(blocks: Sequence[Document], reader: Reader) -> list[Item]:
    """Every first pick on a page; in a text those that are furthest off."""
    say = reader.say
    scored = [one for one in blocks if one["first_pick"]["error_d"] is not None]
    furthest = sorted(scored, key=lambda one: -abs(float(one["first_pick"]["error_d"])))
    most = say("hindcast.blocks_most", most=reader.number(min(MOST_ROWS, len(scored))),
               all=reader.number(len(scored)))  # fmt: skip
    every = _block_table(say("hindcast.blocks_caption"), blocks, reader)
    return [PageOnly([Folded(say("hindcast.blocks"), [every])]),
            TextOnly([_block_table(most, furthest[:MOST_ROWS], reader)])]  # fmt: skip


def _block_table(caption: str, blocks: Sequence[Document], reader: Reader) -> Table:
    say = reader.say
    rows = [
        [
            *(reader.name(one[key]) for key in ("season", "block", "cultivar")),
            _when(one["lead_d"], reader),
            *(reader.date(one["first_pick"][key]) for key in ("median", "p10", "p90", "seen_by")),
            *(reader.number(one["first_pick"][key], 1) for key in ("error_d", "calendar_error_d")),
        ]
        for one in blocks
    ]
    header = [
        say("hindcast.season"), say("common.block"), say("common.cultivar"), say("hindcast.made"),
        *(say(f"common.{key}") for key in ("middle", "low", "high")),
        *(say(f"hindcast.{key}") for key in ("seen_by", "off", "calendar")),
    ]  # fmt: skip
    return Table(caption, header, rows, "<<<<<<<<>>")
