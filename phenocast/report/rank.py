"""The answer of a ranking: which cultivars lose least to heat, and what cannot be told apart."""

from collections.abc import Sequence
from functools import partial
from typing import Any

from phenocast.report.figures.canvas import as_file
from phenocast.report.figures.scores import Estimate, caterpillar_figure
from phenocast.report.parts import Bullets, Engine, Figure, Item, Page, Section, Table, engine
from phenocast.report.reader import Document, Reader

INDICES = ("ssi", "sti", "tol", "gmp", "ysi")
EFFECTS = {"season_loss": "season", "early_loss": "early", "delay_d": "delay"}
TERMS = ("film", "crown", "degree_hours", "first_pick", "median", "credible_interval")


def rank_parts(document: Document, reader: Reader) -> Page:
    """List the parts of a ranking.

    Parameters
    ----------
    document : mapping
        What ``phenocast rank --json`` prints; nothing else is used.
    reader : Reader
    """
    say, scenario = reader.say, document["scenario"]
    first = document["cultivars"][0]
    best, three = (reader.percent(first[key]) for key in ("p_best", "p_among_best"))
    draws = reader.number(document["draws"])
    return Page(
        kind="rank",
        title=say("rank.title"),
        place=say("rank.place", block=reader.name(scenario["block"]),
                  site=reader.name(scenario["site"])),
        summary=[_summary(document, reader), _others(document, reader)],
        uncertainty=[
            say("rank.sure_best", cultivar=reader.name(first["cultivar"]), best=best, three=three),
            say("rank.sure_draws", draws=draws, seed=document["seed"]),
        ],
        sensitivity=[Bullets([say("rank.change_scenario"), say("rank.change_records")])],
        next_steps=[Bullets([say(f"rank.next_{one}") for one in ("keep", "block", "forecast")])],
        cautions=engine(document["warnings"]),
        sections=[
            Section(say("rank.order"), [
                Figure(partial(_drawing, document, reader), _caption(reader),
                       _order(document, reader), _fit(document, reader), in_text=True),
            ]),
            Section(say("rank.effects"), [_effects(document, reader)]),
            Section(say("rank.raw"), [*_indices(document["raw"]["regimes"], reader),
                                      *_slopes(document["raw"]["responses"], reader)]),
            Section(say("rank.films"), _films(document["films"], reader)),
        ],
        sources=[_scenario(document, reader), _fit(document, reader)],
        terms=TERMS,
        engine_version=document["engine_version"],
    )  # fmt: skip


def _value(value: float | None, by: str, reader: Reader) -> str:
    return reader.number(value, 1) if by == "delay" else reader.percent(value)


def _interval(value: float, ends: Sequence[float], by: str, reader: Reader) -> str:
    return reader.interval(*(_value(one, by, reader) for one in (value, *ends)))


def _heat(scenario: Document, reader: Reader) -> dict[str, str]:
    return {"warming": reader.amount("difference", scenario["warming_c"]),
            "days": reader.number(scenario["days"])}  # fmt: skip


def _summary(document: Document, reader: Reader) -> str:
    by, first = document["by"], document["cultivars"][0]
    middle, low, high = (
        _value(one, by, reader) for one in (first["estimate"], *first["interval_80"])
    )
    return reader.say(
        f"rank.answer.{by}", cultivar=reader.name(first["cultivar"]), middle=middle, low=low,
        high=high, **_heat(document["scenario"], reader),
    )  # fmt: skip


def _others(document: Document, reader: Reader) -> str:
    """Which other cultivars may be the best too, and which are worse."""
    alike, worse = (
        reader.and_list([reader.name(one["cultivar"]) for one in document["cultivars"][1:]
                         if one["may_be_best"] is may])
        for may in (True, False)
    )  # fmt: skip
    key = "none" if not worse else "some" if alike else "all"
    return reader.say(f"rank.apart.{key}", alike=alike, worse=worse)


def _scenario(document: Document, reader: Reader) -> str:
    one = document["scenario"]
    years = reader.say.counted(
        "rank.years", len(one["years"]), first=one["years"][0], last=one["years"][-1]
    )
    return reader.say(
        "rank.scenario", block=reader.name(one["block"]), film=reader.name(one["film"]),
        date=reader.date(one["planting_date"]), years=years, **_heat(one, reader),
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
    document : mapping
        As of `rank_parts`.
    language, units : str
        As of `phenocast.report.reader.Reader`.
    """
    reader = Reader(language, units)
    return as_file(_drawing(document, reader), _caption(reader))


def rank_rows(document: Document) -> list[dict[str, Any]]:
    """Rows of the table that ``--csv`` writes, one a cultivar, in order.

    Parameters
    ----------
    document : mapping
        A rank document.
    """
    indices = {
        row["cultivar"]: row["indices"] for row in document["raw"]["regimes"].get("cultivars", [])
    }
    slopes = {row["cultivar"]: row for row in document["raw"]["responses"].get("cultivars", [])}
    rows = []
    for one in document["cultivars"]:
        row = {"rank": one["rank"], "cultivar": one["cultivar"], "estimate": one["estimate"]}
        for level in ("80", "95"):
            row[f"lower_{level}"], row[f"upper_{level}"] = one[f"interval_{level}"]
        row |= {name: one[name] for name in ("expected_rank", "p_best")}
        row |= {"p_among_best_3": one["p_among_best"], "may_be_best": one["may_be_best"]}
        row |= {name: one[name]["median"] for name in EFFECTS}
        row |= {name: indices.get(one["cultivar"], {}).get(name) for name in INDICES}
        own = slopes.get(one["cultivar"], {})
        names = ("slope_g_per_100_degree_hours", "stability_variance", "first_axis_score")
        rows.append(row | {name: own.get(name) for name in names})
    return rows


def _caption(reader: Reader) -> str:
    return f"{reader.say('rank.caterpillar_caption')} {reader.say('rank.sure_interval')}"


def _drawing(document: Document, reader: Reader) -> str:
    say, by, rows = reader.say, document["by"], document["cultivars"]
    scale = 1.0 if by == "delay" else 100.0
    estimates = []
    for one in rows:
        narrow, wide = (
            (scale * low, scale * high) for low, high in (one["interval_80"], one["interval_95"])
        )
        name, middle = one["cultivar"], scale * one["estimate"]
        estimates.append(Estimate(name, middle, narrow, wide, one["may_be_best"]))
    alt = say(
        "rank.caterpillar_alt", best=rows[0]["cultivar"], worst=rows[-1]["cultivar"],
        low_value=_value(rows[0]["estimate"], by, reader),
        high_value=_value(rows[-1]["estimate"], by, reader), count=reader.number(len(rows)),
    )  # fmt: skip
    return caterpillar_figure(
        "ranks", estimates, reader, unit=say(f"rank.axis.{by}"), digits=0,
        title=say("rank.caterpillar_title"), alt=alt,
    )  # fmt: skip


def _order(document: Document, reader: Reader) -> Table:
    by = document["by"]
    rows = [
        [
            reader.name(one["cultivar"]),
            _value(one["estimate"], by, reader),
            *(reader.between(*(_value(end, by, reader) for end in one[f"interval_{level}"]))
              for level in ("80", "95")),
            reader.number(one["expected_rank"], 1),
            reader.percent(one["p_best"]),
            reader.percent(one["p_among_best"]),
            reader.say("common.yes" if one["may_be_best"] else "common.no"),
        ]
        for one in document["cultivars"]
    ]  # fmt: skip
    names = ("median", "interval_80", "interval_95", "mean_rank", "probability_best",
             "probability_three", "may_be_best")  # fmt: skip
    caption = reader.say("rank.caterpillar_title")
    return Table(
        caption, [reader.say("common.cultivar"), *reader.heads("rank", *names)], rows, "<>>>>>><"
    )


def _effects(document: Document, reader: Reader) -> Table:
    rows = [
        [
            reader.name(one["cultivar"]),
            *(_interval(one[key]["median"], one[key]["interval_80"], by, reader)
              for key, by in EFFECTS.items()),
            reader.percent(one["never_share"]),
        ]
        for one in document["cultivars"]
    ]  # fmt: skip
    header = [
        reader.say("common.cultivar"),
        *reader.heads("rank", "season_loss", "early_loss", "delay", "never"),
    ]
    return Table(reader.say("rank.effects_caption"), header, rows, "<>>>>")


def _indices(regimes: Document, reader: Reader) -> list[Item]:
    """Stress indices of raw yields: susceptibility, tolerance, stability."""
    say = reader.say
    if "why_not" in regimes:
        return [say("rank.indices_none"), Engine(regimes["why_not"])]
    rows = [
        [
            reader.name(one["cultivar"]),
            *(reader.figure("fruit", one[key]) for key in ("mild_g", "hot_g")),
            *(reader.number(one["indices"][key], 2) for key in ("ssi", "sti")),
            *(reader.figure("fruit", one["indices"][key]) for key in ("tol", "gmp")),
            reader.percent(one["indices"]["ysi"]),
        ]
        for one in regimes["cultivars"]
    ]
    header = [
        reader.say("common.cultivar"),
        *reader.heads("rank", "non_stress", "stress", *INDICES),
    ]
    caption = say("rank.indices_caption", count=reader.number(len(regimes["pairs"])))
    return [Table(caption, header, rows, "<>>>>>>>")]


def _slopes(responses: Document, reader: Reader) -> list[Item]:
    """Finlay-Wilkinson slopes on heat, Shukla's variance and the first AMMI component."""
    say = reader.say
    if "why_not" in responses:
        return [say("rank.slopes_none"), Engine(responses["why_not"])]
    # the engine's slope is g per plant for 100 degC h
    grams = reader.value("fruit", 1.0)
    scale = grams / reader.value("heat", 1.0)
    digits = 1 if reader.units == "metric" else 4
    rows = []
    for one in responses["cultivars"]:
        variance, axis = one["stability_variance"], one["first_axis_score"]
        rows.append(
            [
                reader.name(one["cultivar"]),
                *(reader.number(scale * one[key], digits)
                  for key in ("slope_g_per_100_degree_hours", "slope_error")),
                reader.number(None if variance is None else grams**2 * variance,
                              0 if grams == 1.0 else 4),
                reader.number(None if axis is None else grams**0.5 * axis, 2),
            ]
        )  # fmt: skip
    header = [
        reader.say("common.cultivar"),
        *reader.heads("rank", "slope", "slope_error", "stability", "ipca1"),
    ]
    count = reader.number(len(responses["environments"]))
    return [Table(say("rank.slopes_caption", count=count), header, rows, "<>>>>")]


def _films(films: Document, reader: Reader) -> list[Item]:
    """Effect of each film: observed, explained by crown temperature, and beyond it."""
    say = reader.say
    if "why_not" in films:
        return [say("rank.films_none"), Engine(films["why_not"])]
    splits = films["splits"]

    def told(part: Document) -> str:
        if part["interval_95"][0] is None:
            return reader.percent(part["share"])
        return _interval(part["share"], part["interval_95"], "share", reader)

    rows = [
        [
            reader.name(one["film"]),
            one["response"],
            *(told(one[key]) for key in ("observed", "explained", "left_over")),
            say("common.yes" if one["earned"] else "common.no"),
        ]
        for one in splits
    ]
    names = ("response", "observed", "explained", "left_over", "earned")
    header = [say("common.film"), *reader.heads("rank", *names)]
    caption = say("rank.films_caption", reference=reader.name(splits[0]["reference"]))
    why = engine(f"{one['film']}, {one['response']}: {one['why']}" for one in splits)
    return [Table(caption, header, rows, "<<>>><"), Bullets(why)]
