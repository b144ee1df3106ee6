"""The page of a ranking: which cultivars lose least to heat, and what cannot be told apart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from phenocast.report.figures.canvas import as_file
from phenocast.report.figures.caterpillar import Crawler, caterpillar_figure
from phenocast.report.page import render
from phenocast.report.parts import Bullets, Engine, Figure, Item, Page, Section, Table
from phenocast.report.provenance import engine
from phenocast.report.reader import Reader

Document = Mapping[str, Any]


def rank_page(document: Document, *, language: str = "en", units: str = "metric") -> str:
    """Page of a ranking.

    Parameters
    ----------
    document : mapping
        A rank document: what ``phenocast rank --json`` prints.
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
    scenario = document["scenario"]
    first = document["cultivars"][0]
    page = Page(
        kind="rank",
        title=say("rank.title"),
        place=say("rank.place", block=reader.name(scenario["block"]),
                  site=reader.name(scenario["site"])),
        issue_date=None,
        answer=[_answer(document, reader), _apart(document, reader)],
        sure=[
            say("rank.sure_best", cultivar=reader.name(first["cultivar"]),
                best=reader.percent(first["p_best"]), three=reader.percent(first["p_among_best"])),
            say("rank.sure_draws", draws=reader.number(document["draws"]), seed=document["seed"]),
        ],
        change=[Bullets([say("rank.change_scenario"), say("rank.change_records")])],
        next_steps=[Bullets([say(f"rank.next_{one}") for one in ("keep", "block", "forecast")])],
        cautions=engine(document["warnings"]),
        assumed=[],
        sections=[
            Section(say("rank.order"), [_caterpillar(document, reader)]),
            Section(say("rank.effects"), [_effects(document, reader)]),
            Section(say("rank.raw"), [*_indices(document["raw"]["regimes"], reader),
                                      *_slopes(document["raw"]["responses"], reader)]),
            Section(say("rank.films"), _films(document["films"], reader)),
        ],
        terms=("film", "crown", "degree_hours", "first_pick", "median", "eight_in_ten"),
        sources=[_scenario(document, reader), _fit(document, reader)],
        engine_version=document["engine_version"],
    )  # fmt: skip
    return render(page, reader)


def _value(value: float | None, by: str, reader: Reader) -> str:
    if value is None:
        return reader.number(None)
    return reader.number(value, 1) if by == "delay" else reader.percent(value)


def _span(pair: Sequence[float | None], by: str, reader: Reader) -> str:
    low, high = (_value(one, by, reader) for one in pair)
    return reader.say("common.between", low=low, high=high)


def _answer(document: Document, reader: Reader) -> str:
    by, first, scenario = document["by"], document["cultivars"][0], document["scenario"]
    low, high = (_value(one, by, reader) for one in first["interval_80"])
    return reader.say(
        f"rank.answer.{by}",
        cultivar=reader.name(first["cultivar"]),
        warming=reader.amount("difference", scenario["warming_c"]),
        days=reader.number(scenario["days"]),
        middle=_value(first["estimate"], by, reader),
        low=low,
        high=high,
    )


def _apart(document: Document, reader: Reader) -> str:
    rest = document["cultivars"][1:]
    alike = [reader.name(one["cultivar"]) for one in rest if one["may_be_best"]]
    apart = [reader.name(one["cultivar"]) for one in rest if not one["may_be_best"]]
    if not apart:
        return reader.say("rank.apart.none")
    if not alike:
        return reader.say("rank.apart.all", apart=reader.and_list(apart))
    return reader.say("rank.apart.some", alike=reader.and_list(alike), apart=reader.and_list(apart))


def _scenario(document: Document, reader: Reader) -> str:
    one = document["scenario"]
    years = reader.say.counted(
        "rank.years", len(one["years"]), first=one["years"][0], last=one["years"][-1]
    )
    return reader.say(
        "rank.scenario", block=reader.name(one["block"]), film=reader.name(one["film"]),
        date=reader.date(one["planting_date"]),
        warming=reader.amount("difference", one["warming_c"]),
        days=reader.number(one["days"]), years=years,
    )  # fmt: skip


def _fit(document: Document, reader: Reader) -> str:
    fit = document["fit"]
    return reader.say(
        "rank.source", fit=reader.name(fit["folder"]), records=reader.name(fit["records"]),
        seasons=", ".join(reader.name(one) for one in fit["seasons"]),
    )  # fmt: skip


def rank_figure(document: Document, *, language: str = "en", units: str = "metric") -> str:
    """Caterpillar plot of a ranking as an SVG file.

    Parameters
    ----------
    document, language, units : as in `rank_page`.
    """
    reader = Reader(language, units)
    return as_file(_drawing(document, reader), _caption(reader))


def _caption(reader: Reader) -> str:
    return f"{reader.say('rank.caterpillar_caption')} {reader.say('rank.sure_interval')}"


def _drawing(document: Document, reader: Reader) -> str:
    say, by, rows = reader.say, document["by"], document["cultivars"]
    scale = 1.0 if by == "delay" else 100.0

    def scaled(pair: Sequence[float]) -> tuple[float, float]:
        return scale * pair[0], scale * pair[1]

    return caterpillar_figure(
        "ranks",
        [
            Crawler(one["cultivar"], scale * one["estimate"], scaled(one["interval_80"]),
                    scaled(one["interval_95"]), one["may_be_best"])
            for one in rows
        ],
        reader,
        unit=say(f"rank.axis.{by}"),
        digits=0,
        title=say("rank.caterpillar_title"),
        alt=say("rank.caterpillar_alt", best=rows[0]["cultivar"], worst=rows[-1]["cultivar"],
                low_value=_value(rows[0]["estimate"], by, reader),
                high_value=_value(rows[-1]["estimate"], by, reader),
                count=reader.number(len(rows))),
    )  # fmt: skip


def _caterpillar(document: Document, reader: Reader) -> Figure:
    say, by, rows = reader.say, document["by"], document["cultivars"]
    table = Table(
        say("rank.caterpillar_title"),
        [say("common.cultivar"), say("common.middle"), say("rank.interval_80"),
         say("rank.interval_95"), say("rank.mean_rank"), say("rank.probability_best"),
         say("rank.probability_three"), say("rank.may_be_best")],
        [
            [
                reader.name(one["cultivar"]),
                _value(one["estimate"], by, reader),
                _span(one["interval_80"], by, reader),
                _span(one["interval_95"], by, reader),
                reader.number(one["expected_rank"], 1),
                reader.percent(one["p_best"]),
                reader.percent(one["p_among_best"]),
                say("rank.told_yes" if one["may_be_best"] else "rank.told_no"),
            ]
            for one in rows
        ],
        "<>>>>>><",
    )  # fmt: skip
    return Figure(_drawing(document, reader), _caption(reader), table, _fit(document, reader))


def _effects(document: Document, reader: Reader) -> Table:
    say = reader.say
    kinds = (("season_loss", "season"), ("early_loss", "early"), ("delay_d", "delay"))

    def told(one: Document, key: str, by: str) -> str:
        spread = one[key]
        low, high = (_value(value, by, reader) for value in spread["interval_80"])
        return say("common.middle_and_range", middle=_value(spread["median"], by, reader),
                   low=low, high=high)  # fmt: skip

    return Table(
        say("rank.effects_caption"),
        [say("common.cultivar"), say("rank.season_loss"), say("rank.early_loss"),
         say("rank.delay"), say("rank.never")],
        [
            [reader.name(one["cultivar"]), *(told(one, key, by) for key, by in kinds),
             reader.percent(one["never_share"])]
            for one in document["cultivars"]
        ],
        "<>>>>",
    )  # fmt: skip


def _indices(regimes: Document, reader: Reader) -> list[Item]:
    say = reader.say
    if "why_not" in regimes:
        return [say("rank.indices_none"), Engine(regimes["why_not"])]
    unit = reader.unit("fruit")
    rows = [
        [
            reader.name(one["cultivar"]),
            reader.figure("fruit", one["mild_g"]),
            reader.figure("fruit", one["hot_g"]),
            reader.number(one["indices"]["ssi"], 2),
            reader.number(one["indices"]["sti"], 2),
            reader.percent(one["indices"]["ysi"]),
        ]
        for one in regimes["cultivars"]
    ]
    header = [say("common.cultivar"), say("rank.mild", unit=unit), say("rank.hot", unit=unit),
              say("rank.ssi"), say("rank.sti"), say("rank.kept")]  # fmt: skip
    count = reader.number(len(regimes["pairs"]))
    return [Table(say("rank.indices_caption", count=count), header, rows, "<>>>>>")]


def _slopes(responses: Document, reader: Reader) -> list[Item]:
    say = reader.say
    if "why_not" in responses:
        return [say("rank.slopes_none"), Engine(responses["why_not"])]
    # the engine's slope is g per plant for 100 degC h
    scale = reader.value("fruit", 1.0) / reader.value("heat", 1.0)
    digits = 1 if reader.units == "metric" else 4
    square = reader.value("fruit", 1.0) ** 2
    rows = [
        [
            reader.name(one["cultivar"]),
            reader.number(scale * one["slope_g_per_100_degree_hours"], digits),
            reader.number(scale * one["slope_error"], digits),
            reader.number(None)
            if one["stability_variance"] is None
            else reader.number(square * one["stability_variance"], 0 if square == 1.0 else 4),
        ]
        for one in responses["cultivars"]
    ]
    header = [
        say("common.cultivar"),
        say("rank.slope", fruit=reader.unit("fruit"), heat=reader.unit("heat")),
        say("rank.slope_error"),
        say("rank.stability"),
    ]
    count = reader.number(len(responses["environments"]))
    return [Table(say("rank.slopes_caption", count=count), header, rows, "<>>>")]


def _films(films: Document, reader: Reader) -> list[Item]:
    say = reader.say
    if "why_not" in films:
        return [say("rank.films_none"), Engine(films["why_not"])]
    splits = films["splits"]

    def told(part: Document) -> str:
        low, high = part["interval_95"]
        if low is None:
            return reader.percent(part["share"])
        return say("common.middle_and_range", middle=reader.percent(part["share"]),
                   low=reader.percent(low), high=reader.percent(high))  # fmt: skip

    rows = [
        [
            reader.name(one["film"]),
            one["response"],
            told(one["observed"]),
            told(one["explained"]),
            told(one["left_over"]),
            say("rank.told_yes" if one["earned"] else "rank.told_no"),
        ]
        for one in splits
    ]
    header = [say("common.film"), say("rank.response"), say("rank.observed"),
              say("rank.explained"), say("rank.left_over"), say("rank.earned")]  # fmt: skip
    caption = say("rank.films_caption", reference=reader.name(splits[0]["reference"]))
    why = engine(f"{one['film']}, {one['response']}: {one['why']}" for one in splits)
    return [Table(caption, header, rows, "<<>>><"), Bullets(why)]
