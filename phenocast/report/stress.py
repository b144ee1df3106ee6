"""Heat and frost in the words of every answer: over which days, and what they take."""

from collections.abc import Sequence

from phenocast.report.parts import Folded, Item, PageOnly, Section, Table, TextOnly
from phenocast.report.reader import Document, Reader

MOST_SERIOUS = 3
"""Blocks whose frost the summary names, those that lose most; the cautions name the others."""
MOST_NIGHTS = 10
MOST_BLOCKS = 12
LEAST_LOST_G = 0.5
"""Loss from which a week is shown. [g per plant]"""
LEAST_SHARE = 0.0005
"""Share of a season from which frost is told beside options."""
TABLES_FROM = 0.01
"""Share of a season, in the mean or in one weather year of ten, from which a text lists nights."""


def headline(crown: Document) -> Document:
    """Heat of a block that is told first: to first bloom, or of the bearing weeks."""
    found: Document = crown[crown["headline"]]
    return found


def headline_days(crown: Document, reader: Reader) -> str:
    """Days of that heat in words."""
    part = headline(crown)
    key = crown["headline"] if part.get("reached", True) else "no_bloom"
    first, last = reader.date(part["from"]), reader.date(part["to"])
    return reader.say(f"heat.{key}", days=part["days"], first=first, last=last)


def compared_days(document: Document, reader: Reader) -> str:
    """Days over which blocks or options are held against each other, in words."""
    told, blocks = document["heat_compared"], document.get("blocks", ())
    if len(blocks) == 1:  # held against nothing
        return headline_days(blocks[0]["crown"], reader)
    key = "same_days" if told["from"] is None else "same_weeks"
    first, last = reader.date(told["from"]), reader.date(told["to"])
    return reader.say(f"heat.{key}", days=told["days"], first=first, last=last)


def season_ends(block: Document, reader: Reader, words: str = "season_end") -> str:
    """Where the season of a block ends and why; ``words`` is the table of the sentences."""
    end = block["season_end"]
    return reader.say(
        f"{words}.{end['rule']}", block=reader.name(block["block"], 40),
        last_day=reader.date(block["last_day"]),
        fruit=reader.amount("weekly_fruit", end["g_per_plant"]),
    )  # fmt: skip


def frost_summary(blocks: Sequence[Document], reader: Reader) -> list[str]:
    """Sentences for the top of an answer: of blocks that lose much to frost.

    Parameters
    ----------
    blocks : each with its name under ``block`` and what is told of its ``frost``.

    Examples
    --------
    >>> frost_summary([{"block": "North", "frost": {"caution": None}}], Reader())
    []
    """
    serious = [block for block in blocks if block["frost"]["caution"] is not None]
    serious.sort(key=lambda block: -float(block["frost"]["share_of_season_lost"]["mean"]))
    told = []
    for block in serious[:MOST_SERIOUS]:
        frost, protection = block["frost"], ""
        if _protection(frost) == "stated":
            protection = reader.say(f"frost.kind.{frost['protection'].replace('-', '_')}")
        told.append(
            reader.say(
                f"frost.answer_{_protection(frost)}", block=reader.name(block["block"], 40),
                protection=protection, **_shares(frost["share_of_season_lost"], reader),
            )
        )  # fmt: skip
    return told


def _protection(frost: Document) -> str:
    """Which sentence tells how a block is protected."""
    return {"not stated": "not_stated", "none": "none"}.get(frost["protection"], "stated")


def _shares(share: Document, reader: Reader) -> dict[str, str]:
    """Share of the season that is lost, in the mean and in one weather year of ten."""
    return {"mean": reader.percent(share["mean"]),
            "year": reader.percent(share["p90_over_weather_years"])}  # fmt: skip


def frost_items(block: Document, reader: Reader) -> list[Item]:
    """What is told of frost beside a block; on a page nothing where no year has a frost night."""
    frost, say = block["frost"], reader.say
    melting = reader.amount("temperature", 0.0, 0)
    if not frost["nights"]:
        return [TextOnly([say("frost.no_night", melting=melting)])]
    count, share = frost["nights_in_season"], frost["share_of_season_lost"]
    told = [
        say(
            "frost.told", melting=melting, **_shares(share, reader),
            nights=reader.number(count["p50"]), low=reader.number(count["p10"]),
            high=reader.number(count["p90"]),
            lost=reader.amount("fruit", frost["fruit_lost_g_per_plant"]["mean"]),
        ),
        say(f"frost.counted_{_protection(frost)}"),
    ]  # fmt: skip
    if frost["with_protection"] is not None:
        grams = frost["with_protection"]["season_g_per_plant"]
        low, high = (reader.figure("fruit", grams[level]) for level in ("p10", "p90"))
        season = reader.amount("fruit", grams["p50"])
        told.append(say("frost.with_protection", season=season, low=low, high=high))
    tables: list[Item] = [_nights(frost, reader)]
    if lost_weeks(block):
        tables.append(_weeks(block, reader))
    by_date = Folded(say("frost.by_date"), tables)
    felt = max(share.values()) >= TABLES_FROM
    return [" ".join([*told, say("frost.decided_by")]), by_date if felt else PageOnly([by_date])]


def frost_section(document: Document, reader: Reader) -> list[Section]:
    """The section of a labour plan on frost; none where no year has a frost night."""
    say, frost = reader.say, document["frost"]
    blocks = [block for block in frost["blocks"] if block["frost"]["nights"]]
    if not blocks:
        return []
    items: list[Item] = []
    if frost["with_protection"] is not None:
        bare = {row["week"]: row["trays"]["p50"] for row in document["weeks"]}
        rows = [
            [reader.short_week(row["week"]), reader.number(bare[row["week"]]),
             reader.number(row["trays"]["p50"])]
            for row in frost["with_protection"]["weekly"]
        ]  # fmt: skip
        header = [say("common.week"), *reader.heads("frost.head", "trays", "trays_protected")]
        caption = say("frost.trays_caption")
        items.append(Folded(caption, [Table(caption, header, rows, "<>>")]))
    for block in blocks[:MOST_BLOCKS]:
        items += [f"{reader.name(block['block'], 60)}:", *frost_items(block, reader)]
    return [Section(say("frost.title"), items)]


def compared_frost(
    document: Document, options: Sequence[tuple[int, Document]], reader: Reader
) -> list[Section]:
    """The section of a comparison on frost; none where no option loses any fruit to it.

    Parameters
    ----------
    options : numbers and options that are shown.
    """
    shares = [one["frost"]["share_of_season_lost"] for _, one in options]
    if not any(share["mean"] >= LEAST_SHARE for share in shares):
        return []
    say, frost, names = reader.say, document["frost"], ["mean", "year", "season"]
    if _protection(frost) == "not_stated":
        names.append("season_protected")
    rows = []
    for number, one in options:
        kept = one["frost"]["with_protection"]
        fruit = [one["season_g_per_plant"], *([kept["season_g_per_plant"]] if kept else [])]
        rows.append(
            [
                reader.number(number),
                reader.day(one["planting_date"]),
                ", ".join(reader.name(one[axis]) for axis in ("film", "cultivar")),
                *_shares(one["frost"]["share_of_season_lost"], reader).values(),
                *(reader.figure("fruit", grams["p50"]) for grams in fruit),
            ]
        )
    header = [say("common.number"), say("common.planted"), say("compare.film_and_cultivar"),
              *reader.heads("frost.head", *names)]  # fmt: skip
    caption = say(f"frost.counted_{_protection(frost)}")
    table = Table(caption, header, rows, "><<" + ">" * len(names))
    return [Section(say("frost.title"), [table, say("frost.decided_by")])]


def worst_nights(nights: Sequence[Document]) -> list[Document]:
    """Return the nights that take most, in order of days; none of those that take nothing.

    Examples
    --------
    >>> worst_nights([{"date": "2027-01-02", "fruit_lost_g": 1.0, "flowers_lost": 0.0}])
    [{'date': '2027-01-02', 'fruit_lost_g': 1.0, 'flowers_lost': 0.0}]
    """
    felt = [one for one in nights if one["fruit_lost_g"] > 0.0 or one["flowers_lost"] > 0.0]
    worst = sorted(felt, key=lambda one: -float(one["fruit_lost_g"]))[:MOST_NIGHTS]
    return sorted(worst, key=lambda one: str(one["date"]))


def _nights(frost: Document, reader: Reader) -> Table:
    rows = [
        [
            reader.date(one["date"]),
            reader.percent(one["probability"]),
            reader.figure("temperature", one["flower_c"]),
            reader.figure("temperature", one["flower_protected_c"]),
            reader.number(one["flowers_lost"], 2),
            reader.figure("weekly_fruit", one["fruit_lost_g"]),
        ]
        for one in worst_nights(frost["nights"])
    ]
    header = reader.heads(
        "frost.head", "night", "chance", "flower", "protected", "flowers", "fruit"
    )
    return Table(reader.say("frost.nights_caption"), header, rows, "<>>>>>")


def lost_weeks(block: Document) -> list[tuple[Document, Document | None, Document | None]]:
    """Return weeks that lose fruit to frost, each with its row without and with protection."""
    bare = {row["week"]: row for row in block.get("weekly", ())}
    beside = block["frost"]["with_protection"]
    spared = {} if beside is None else {row["week"]: row for row in beside["weekly"]}
    return [
        (one, bare.get(one["week"]), spared.get(one["week"]))
        for one in block["frost"]["fruit_lost_by_week"]
        if abs(one["g_per_plant"]) >= LEAST_LOST_G
    ]


def _weeks(block: Document, reader: Reader) -> Table:
    rows = [
        [
            reader.short_week(one["week"]),
            reader.figure("weekly_fruit", one["g_per_plant"]),
            *("" if row is None else reader.number(row["trays"]["p50"]) for row in (bare, spared)),
        ]
        for one, bare, spared in lost_weeks(block)
    ]
    header = [
        reader.say("common.week"),
        *reader.heads("frost.head", "fruit", "trays", "trays_protected"),
    ]
    # a labour plan tells the trays of all blocks together
    shown = len(header) if "weekly" in block else 2
    caption = reader.say("frost.weeks_caption")
    return Table(caption, header[:shown], [row[:shown] for row in rows], "<>>>"[:shown])
