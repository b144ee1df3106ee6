"""The answer of a comparison: which option, how sure that is, a map of all, what the money is."""

from collections.abc import Callable, Iterable, Sequence
from functools import partial
from itertools import product

from phenocast.report.figures.grids import MOST_DATES_NARROW, OptionMap, option_map_figure
from phenocast.report.parts import (
    Bullets,
    Engine,
    Figure,
    Folded,
    Item,
    Page,
    Section,
    Table,
    engine,
    packout_line,
)
from phenocast.report.reader import Document, Reader
from phenocast.report.stress import compared_days, compared_frost, frost_summary

Numbered = list[tuple[int, Document]]

MOST_ROWS = 30
LARGE = 10_000.0
TERMS = ("regret", "worst_tenth", "undominated", "film", "first_pick", "crown", "degree_hours",
         "cut_off", "median", "interval_80", "weather_year", "tray", "week")  # fmt: skip
MOST_MONEY = 10
AXES = ("planting_date", "film", "cultivar", "transplant")
MOST_NAMED = 3


def compare_parts(document: Document, reader: Reader) -> Page:
    """List the parts of a comparison.

    Parameters
    ----------
    document : mapping
        What ``phenocast compare --json`` prints; nothing else is used.
    reader : Reader
    """
    say, options = reader.say, list(enumerate(ranked(document), start=1))
    own = {"block": document["block"], "frost": document["frost"]}
    trusted = [(number, one) for number, one in options if not one["flags"]]
    sections = [
        Section(say("compare.map"), _maps(document, reader)),
        Section(say("compare.ways"), _options(options, document, reader)),
    ]
    if document["currency"]:
        money = (trusted or options)[:MOST_MONEY]
        sections.append(Section(say("compare.money"), [_money(money, document, reader)]))
    return Page(
        kind="compare",
        title=say("compare.title"),
        place=say("explore.place", block=reader.name(document["block"]),
                  site=reader.name(document["site"])),
        issue_date=document["issue_date"],
        summary=[*frost_summary([own], reader), *_summary(document, reader)],
        uncertainty=uncertainty(document, reader),
        sensitivity=sensitivity(document, reader),
        next_steps=next_steps(reader),
        cautions=engine(document["warnings"]),
        sections=[
            *sections,
            *compared_frost(document, options[:MOST_ROWS], reader),
            Section(say("compare.films"), _cautions(options, document, reader)),
        ],
        sources=[source(document, reader), say("compare.made_of")],
        terms=TERMS,
        engine_version=document["engine_version"],
    )  # fmt: skip


def source(document: Document, reader: Reader) -> str:
    """Where the numbers of a comparison come from."""
    pack = reader.name(document["pack"]["name"], 30)
    return reader.say("explore.source", seed=document["seed"], pack=pack)


def best_of(document: Document) -> Document | None:
    """Option that is recommended; None where every one is flagged."""
    return None if document["best"] is None else option_of(document, document["best"])


def ranked(document: Document) -> list[Document]:
    """Options by their mean, those that carry a flag after the others."""
    return sorted(
        document["options"], key=lambda one: (bool(one["flags"]), -float(one["expected"]))
    )


def option_of(document: Document, label: Document) -> Document:
    """Option that a label names."""
    found: Document = next(
        one for one in document["options"] if all(one[axis] == label[axis] for axis in AXES)
    )
    return found


def called(option: Document, document: Document, reader: Reader) -> str:
    """An option in words; the transplants only where they differ."""
    several = len({one["transplant"] for one in document["options"]}) > 1
    return reader.say(
        f"explore.script.option{'_of_transplant' if several else ''}",
        date=reader.date(option["planting_date"]), film=reader.name(option["film"]),
        cultivar=reader.name(option["cultivar"]), transplant=reader.name(option["transplant"]),
    )  # fmt: skip


def amounts(quantiles: Document, told: Callable[[float], str], unit: str, reader: Reader) -> str:
    """Mean where it is told, otherwise the median, with its unit, and the 80 % interval."""
    headline = "mean" if "mean" in quantiles else "p50"
    low, middle, high = (told(quantiles[level]) for level in ("p10", headline, "p90"))
    return reader.say(
        "explore.script.amount_and_range", low=low, middle=middle, high=high, unit=unit
    )


def judged_unit(document: Document, reader: Reader) -> str:
    """Unit in which the options are judged: money, or fruit."""
    return str(document["currency"] or reader.unit("fruit"))


def judged(value: float, document: Document, reader: Reader) -> str:
    """Value in that unit, without it."""
    return reader.number(value) if document["currency"] else reader.figure("fruit", value)


def worth(value: float, document: Document, reader: Reader) -> str:
    """Value with its unit."""
    return f"{judged(value, document, reader)}\u00a0{judged_unit(document, reader)}"


def difference(row: Document, document: Document, reader: Reader, *, cell: bool = False) -> str:
    """Mean difference of an option to the best, with its 95 % interval where there is one."""
    found = row["difference_to_best"]
    mean = (judged if cell else worth)(found["mean"], document, reader)
    if found["low_95"] is None:
        return mean
    low, high = (judged(found[key], document, reader) for key in ("low_95", "high_95"))
    if cell:
        return reader.say("common.middle_and_range", low=low, middle=mean, high=high)
    return reader.say("explore.script.interval", low=low, mean=mean, high=high)


def flag_words(options: Iterable[Document], reader: Reader) -> str:
    """Flags of some options in words, each once."""
    codes = dict.fromkeys(code for one in options for code in one["flags"])
    return "; ".join(reader.say(f"compare.flag.{code}") for code in codes)


def notes(told: Document, document: Document, reader: Reader, tilt: int | None = None) -> list[str]:
    """Where the best date lies on an edge, and which flagged option has a higher mean.

    Parameters
    ----------
    told : mapping
        The document, or the entry of a tilt in it.
    document : mapping
    reader : Reader
    tilt : int, optional
        Place of that tilt.
    """
    say, said = reader.say, []
    if told["best_on_edge"]:
        said.append(say(f"compare.edge.{told['best_on_edge']}"))
    if told["highest_flagged"]:
        one = option_of(document, told["highest_flagged"])
        row = one if tilt is None else one["tilted"][tilt]
        said.append(
            say("compare.flagged_higher" if told["best"] else "compare.flagged_highest",
                option=called(one, document, reader), flags=flag_words([one], reader),
                mean=worth(row["expected"], document, reader))
        )  # fmt: skip
    return said


def bias_words(document: Document, reader: Reader) -> list[str]:
    """Stated biases of the model that bear on what the options differ in."""
    return [reader.say(f"compare.bias.{name}") for name in document["biases"]]


def verdict(one: Document, is_best: bool, reader: Reader) -> str:
    """How an option stands against the best, and whether nothing beats it in both figures."""
    if one["flags"]:
        short = [reader.say(f"compare.flag_in_short.{code}") for code in one["flags"]]
        return reader.say("compare.is_flagged", flags="; ".join(short))
    key = "is_best" if is_best else "is_near" if one["not_clearly_worse"] else "is_worse"
    told = reader.say(f"compare.{key}")
    return f"{told}; {reader.say('compare.undominated')}" if one["undominated"] else told


def none_words(document: Document, reader: Reader) -> list[str]:
    """That no option can be recommended, and why; nothing where one can."""
    if document["best"]:
        return []
    return [reader.say("compare.none", flags=flag_words(document["options"], reader))]


def _summary(document: Document, reader: Reader) -> list[str]:
    """The best option and its worth, what to know beside it, and what is not clearly worse."""
    say, best, options = reader.say, best_of(document), document["options"]
    kind = "margin" if document["currency"] else "fruit"
    if best is None:
        told = none_words(document, reader)
    else:
        told = [
            say(f"compare.best_{kind}", option=called(best, document, reader),
                mean=worth(best["expected"], document, reader),
                worst=worth(best["worst_tenth"], document, reader))
        ]  # fmt: skip
    told += notes(document, document, reader)
    near = [
        called(one, document, reader)
        for one in ranked(document)
        if one["not_clearly_worse"] and one is not best and not one["flags"]
    ]
    if near:
        key = "compare.near" if len(near) <= MOST_NAMED else "compare.near_and_more"
        told.append(say(key, options=reader.and_list(near[:MOST_NAMED])))
    elif best is not None and sum(not one["flags"] for one in options) > 1:
        told.append(say("compare.alone"))
    reference = option_of(document, document["reference"])
    if reference["flags"] and best is not None:
        told.append(
            say("compare.reference_flagged", option=called(reference, document, reader),
                flags=flag_words([reference], reader))
        )  # fmt: skip
    return [*told, *bias_words(document, reader)]


def uncertainty(document: Document, reader: Reader) -> list[Item]:
    """What stands behind the numbers, and the best option against the reference."""
    say = reader.say
    weather_years, draws = (reader.number(document[key]) for key in ("weather_traces", "draws"))
    told = [say("explore.sure_seasons", weather_years=weather_years, draws=draws)]
    if any(one["difference_to_best"]["low_95"] is None for one in document["options"]):
        told.append(say("explore.sure_one_year"))
    else:
        told.append(say("explore.sure_clear"))
    if document["best"] not in (None, document["reference"]):
        reference = option_of(document, document["reference"])
        named, apart = called(reference, document, reader), difference(reference, document, reader)
        told.append(say("compare.reference", reference=named, difference=apart))
    return [Bullets(told)]


def sensitivity(document: Document, reader: Reader) -> list[Item]:
    """Prices, costs and the days up to which fruit counts."""
    say = reader.say
    told = [say("explore.change_prices" if document["currency"] else "explore.change_fruit")]
    if document["currency"]:
        told += [*_other_bests(document, reader), say("explore.change_costs")]
    told.append(packout_line(document["pack"], reader))
    return [Bullets([*told, *_until(document, reader)])]


def _until(document: Document, reader: Reader) -> list[str]:
    """Days up to which fruit counts, and which options still bear on the last."""
    say, options = reader.say, document["options"]
    last, early = reader.date(document["last_day"]), reader.date(document["early_until"])
    if all(one["season_end"]["rule"] == "stated" for one in options):
        return [say("explore.change_until", last=last, early=early)]
    ends = sorted(one["last_day"] for one in options)
    amount = reader.amount("weekly_fruit", options[0]["season_end"]["g_per_plant"])
    told = [
        say("explore.change_until_open", first=reader.date(ends[0]), last=reader.date(ends[-1]),
            early=early, fruit=amount)
    ]  # fmt: skip
    count = sum(one["season_end"]["rule"] == "still-bearing" for one in options)
    return [*told, say.counted("explore.still_bearing", count, last=last)] if count else told


def _other_bests(document: Document, reader: Reader) -> list[str]:
    """Least lean of the prices, either way, at which another option is best."""
    tilts = sorted(document["price_tilt"]["tilts"], key=lambda one: abs(float(one["tilt"])))
    told = []
    known = (None, document["best"])
    for key, side in (("early_dearer", 1.0), ("late_dearer", -1.0)):
        other = [one for one in tilts if one["tilt"] * side > 0.0 and one["best"] not in known]
        for one in other[:1]:
            share, best = reader.percent(abs(one["tilt"])), called(one["best"], document, reader)
            told.append(reader.say(f"compare.{key}", share=share, option=best))
    return told


def next_steps(reader: Reader) -> list[Item]:
    """What to do with a comparison."""
    steps = ("forecast", "closer", "film")
    return [Bullets([reader.say(f"explore.next_{step}") for step in steps])]


def _maps(document: Document, reader: Reader) -> list[Item]:
    """One map for each cultivar and kind of transplant, all in the same shades."""
    options = document["options"]
    dates = sorted({one["planting_date"] for one in options})
    films, cultivars, kinds = (
        list(dict.fromkeys(one[axis] for one in options)) for axis in AXES[1:]
    )
    known = {tuple(one[axis] for axis in AXES): one for one in options}
    drawn: list[Item] = []
    for number, (cultivar, kind) in enumerate(product(cultivars, kinds), start=1):
        grid = [[known.get((day, film, cultivar, kind)) for day in dates] for film in films]
        named = reader.name(cultivar)
        if len(kinds) > 1:
            named = reader.say("compare.of_kind", cultivar=named, kind=reader.name(kind))
        drawn.append(_map(number, dates, films, grid, named, document, reader))
    return drawn


def _map(
    number: int,
    dates: Sequence[str],
    films: Sequence[str],
    grid: list[list[Document | None]],
    named: str,
    document: Document,
    reader: Reader,
) -> Figure:
    """Map of the options of one cultivar; amounts of money in thousands where they are large."""
    say, money, best = reader.say, document["currency"], best_of(document)
    means = [_mean(one, document, reader) for one in document["options"]]
    large = bool(money) and max(map(abs, means)) >= LARGE
    unit = judged_unit(document, reader)
    kind = "map_title" if money else "map_title_fruit"
    plain = say(f"explore.script.{kind}", unit=unit, cultivar=named)
    thousands = say("explore.script.thousands", unit=unit)
    title = say(f"explore.script.{kind}", unit=thousands, cultivar=named) if large else plain
    digits = 2 if not money and reader.units == "us" else 0
    figure = OptionMap(
        [reader.day(day) for day in dates],
        films,
        [[None if one is None else _mean(one, document, reader) for one in line] for line in grid],
        [[bool(one and one["not_clearly_worse"]) for one in line] for line in grid],
        [[bool(one and one["flags"]) for one in line] for line in grid],
        next(((row, line.index(best)) for row, line in enumerate(grid) if best and best in line),
             None),
        min(means), max(means),
    )  # fmt: skip
    svg = partial(
        option_map_figure, f"map-{number}", figure,
        lambda value: reader.number(value / 1000.0 if large else value, digits),
        title=title, alt=say("explore.script.map_alt"),
    )  # fmt: skip
    rows = [
        [reader.name(film), *(reader.number(None) if one is None
                              else judged(one["expected"], document, reader) for one in line)]
        for film, line in zip(films, grid, strict=True)
    ]  # fmt: skip
    header = [say("common.film"), *figure.dates]
    table = Table(plain, header, rows, "<" + ">" * len(figure.dates))
    caption = say("compare.map_caption", title=title)
    wide = len(figure.dates) > MOST_DATES_NARROW
    return Figure(svg, caption, table, source(document, reader), wide=wide)


def _mean(one: Document, document: Document, reader: Reader) -> float:
    """Mean of an option in the unit of the page."""
    mean = float(one["expected"])
    return mean if document["currency"] else reader.value("fruit", mean)


def _options(options: Numbered, document: Document, reader: Reader) -> list[Item]:
    """The options with the highest means, and apart from them those that carry a flag."""
    tables: list[Item] = []
    for flagged in (False, True):
        rows = [(number, one) for number, one in options if bool(one["flags"]) is flagged]
        key = "ways_all" if len(rows) <= MOST_ROWS else "ways_most"
        caption = reader.say(f"compare.{key}", most=reader.number(MOST_ROWS))
        if flagged:
            caption = reader.say("compare.flagged")
        if rows:
            tables.append(_table(caption, rows[:MOST_ROWS], document, reader))
    days = compared_days(document, reader)
    return [*tables, reader.say("compare.heat_over", over=days)]


def _table(caption: str, options: Numbered, document: Document, reader: Reader) -> Table:
    say, unit, best = reader.say, judged_unit(document, reader), best_of(document)
    several = len({one["transplant"] for one in document["options"]}) > 1
    fruit = reader.unit("fruit")
    header = [
        say("common.number"),
        say("common.planted"),
        say("compare.film_and_cultivar"),
        say("compare.pick"),
        say("compare.heat", heat=reader.unit("heat")),
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
            reader.number(number),
            reader.day(one["planting_date"]),
            ", ".join(reader.name(one[axis]) for axis in AXES[1 : 4 if several else 3]),
            reader.day(one["first_pick"]["median"]),
            reader.figure("heat", one["crown_degree_hours_above_30c"]["p50"]),
            reader.figure("fruit", one["early_g_per_plant"]["p50"]),
            reader.figure("fruit", one["season_g_per_plant"]["p50"]),
            *(judged(one[key], document, reader) for key in ("expected", "worst_tenth", "regret")),
            reader.number(None) if one is best else difference(one, document, reader, cell=True),
            verdict(one, one is best, reader),
        ]
        for number, one in options
    ]
    return Table(caption, header, rows, "<<<<>>>>>>><")


def _money(options: Numbered, document: Document, reader: Reader) -> Table:
    """What the margin of the best options is made of."""
    say, unit = reader.say, document["currency"]
    parts = ("film", "transplants", "planting", "harvest_mean")
    header = [
        say("common.number"),
        say("common.planted"),
        say("compare.film_and_cultivar"),
        say("explore.script.row_revenue", currency=unit),
        *(say(f"compare.cost.{part}") for part in parts),
        say("compare.mean_margin", currency=unit),
        say("compare.median_margin", currency=unit),
    ]
    rows = [
        [
            reader.number(number),
            reader.day(one["planting_date"]),
            ", ".join(reader.name(one[axis]) for axis in AXES[1:3]),
            reader.number(one["revenue"]["mean"]),
            *(reader.number(one["cost_parts"][part]) for part in parts),
            judged(one["expected"], document, reader),
            reader.spread(one["margin"]),
        ]
        for number, one in options
    ]
    return Table(say("compare.money_caption"), header, rows, "<<<" + ">" * (len(header) - 3))


def _cautions(options: Numbered, document: Document, reader: Reader) -> list[Item]:
    """What to know of the best option's film, and folded away of other films and single options."""
    best = best_of(document)
    items: list[Item] = []
    for film, texts in sorted(document["cautions"].items()):
        own = Bullets(engine(texts))
        if best is not None and film == best["film"]:
            items.insert(0, own)
        elif texts:
            items.append(Folded(reader.name(film), [own]))
    warned: dict[str, list[int]] = {}
    for number, one in options:
        for text in one["warnings"]:
            warned.setdefault(text, []).append(number)
    told = [Engine(f"{_ranges(numbers)}: {text}") for text, numbers in warned.items()]
    return [*items, Folded(reader.say("explore.about"), [Bullets(told)])] if told else items


def _ranges(numbers: Iterable[int]) -> str:
    """Rising numbers with runs written as ranges.

    Examples
    --------
    >>> _ranges([1, 2, 3, 7, 9, 10])
    'no. 1-3, 7, 9, 10'
    """
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    told = [f"{run[0]}-{run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs]
    return f"no. {', '.join(told)}"
