"""The page to play with: a choice of planting date, film, cultivar and prices, and what follows.

Everything was worked out before: the page holds the options of a comparison, brought to the units
of the reader and to their digits, and its script only finds the one that is chosen and shows it.
Options lie in a grid of planting date, film, cultivar and transplant type, so that the script finds
one by its four places.
"""

from collections.abc import Mapping, Sequence
from itertools import product
from pathlib import Path
from typing import Any

from phenocast.report.compare import (
    AXES,
    amounts,
    best_of,
    bias_words,
    called,
    difference,
    flag_words,
    judged,
    next_steps,
    none_words,
    notes,
    option_of,
    ranked,
    sensitivity,
    source,
    uncertainty,
    verdict,
)
from phenocast.report.parts import Item, Markup, Page, Section, Table, engine
from phenocast.report.reader import (
    ABSENT,
    FORMATS,
    MEASURES,
    MINUS,
    Document,
    Reader,
    texts,
    week_days,
)
from phenocast.report.render import FRAME, environment
from phenocast.report.stress import compared_days

SCRIPTS = Path(__file__).resolve().parent / "scripts"
PARTS = ("explore_words.js", "explore_draw.js", "explore.js")
MOST_ROWS = 10
TERMS = ("film", "first_pick", "crown", "degree_hours", "cut_off", "median", "interval_80",
         "weather_year", "tray", "week")  # fmt: skip
LEVELS = ("p10", "p50", "p90")
MONEY_LEVELS = ("p10", "mean", "p90")
SCRIPT_WORDS = "explore.script."


def explore_parts(document: Document, reader: Reader) -> Page:
    """Return the page to play with of a comparison.

    Parameters
    ----------
    document : mapping
        What ``phenocast compare --json`` prints; nothing else is used.
    reader : Reader
    """
    say = reader.say
    data = explore_data(document, reader)
    return Page(
        kind="explore",
        title=say("explore.title"),
        place=say("explore.place", block=reader.name(document["block"]),
                  site=reader.name(document["site"])),
        issue_date=document["issue_date"],
        summary=_summary(document, reader),
        uncertainty=uncertainty(document, reader),
        sensitivity=sensitivity(document, reader),
        next_steps=next_steps(reader),
        cautions=engine(document["warnings"]),
        assumed=[],
        sections=[Section(say("explore.static"), [_highest(document, reader)])],
        terms=TERMS,
        sources=[source(document, reader)],
        panel=[_panel(document, data, reader)],
        style=(FRAME / "explore.css").read_text(encoding="utf-8"),
        script=script(),
        engine_version=document["engine_version"],
        data=data,
    )  # fmt: skip


def script() -> str:
    """The script of the page, in a function of its own so that it leaves no name behind.

    Examples
    --------
    >>> script().startswith("(() => {"), "http" in script().replace("http://www.w3.org", "")
    (True, False)
    """
    data = 'const data = JSON.parse(document.getElementById("page-data").textContent);'
    texts = [(SCRIPTS / name).read_text(encoding="utf-8") for name in PARTS]
    return "\n".join(["(() => {", '"use strict";', data, *texts, "})();"])


def _summary(document: Document, reader: Reader) -> list[str]:
    """The best option in the sentences that the script tells of any."""
    say = reader.say
    best = best_of(document) or option_of(document, document["highest_flagged"])
    pick, never = best["first_pick"], best["first_pick"]["not_reached_probability"]
    if pick["median"] is None:
        key = "answer_never"
    elif pick["p90"] is None:
        key = "answer_late"
    else:
        key = "answer_some_never" if never else "answer"
    first = say(
        f"explore.script.{key}", option=called(best, document, reader),
        never=reader.percent(never), middle=reader.date(pick["median"]),
        low=reader.date(pick["p10"]), high=reader.date(pick["p90"]),
    )  # fmt: skip
    fruit = amounts(
        best["season_g_per_plant"],
        lambda v: reader.figure("fruit", v),
        reader.unit("fruit"),
        reader,
    )
    if document["currency"]:
        margin = amounts(best["margin"], reader.number, document["currency"], reader)
        gain = say("explore.script.gain", fruit=fruit, margin=margin)
    else:
        gain = say("explore.script.gain_fruit", fruit=fruit)
    if best["flags"]:
        standing = [say("explore.script.is_flagged", flags=flag_words([best], reader))]
    else:
        near = [one for one in document["options"]
                if one["not_clearly_worse"] and not one["flags"]]  # fmt: skip
        key = "best" if len(near) == 1 else "best_not_alone"
        standing = [say(f"explore.script.{key}"), *notes(document, document, reader)]
    told = [" ".join([*none_words(document, reader), first]), " ".join([gain, *standing])]
    biases = " ".join(bias_words(document, reader))
    return [*told, biases] if biases else told


def _highest(document: Document, reader: Reader) -> Item:
    """The options with the highest mean, for readers without the script."""
    say, money, best = reader.say, document["currency"], best_of(document)
    unit = money or reader.unit("fruit")
    header = [
        *(say(f"common.{key}") for key in ("planted", "film", "cultivar")),
        say("explore.script.row_transplant"),
        say("explore.script.row_pick"),
        say("explore.script.row_mean", judged=unit),
        say("explore.script.row_worst", judged=unit),
        say("explore.script.row_difference", judged=unit),
        say("compare.verdict"),
    ]
    rows = [
        [
            reader.date(one["planting_date"]),
            *(reader.name(one[key]) for key in ("film", "cultivar", "transplant")),
            reader.date(one["first_pick"]["median"]),
            judged(one["expected"], document, reader),
            judged(one["worst_tenth"], document, reader),
            reader.number(None) if one is best else difference(one, document, reader, cell=True),
            verdict(one, one is best, reader),
        ]
        for one in ranked(document)[:MOST_ROWS]
    ]
    return Table(say("explore.static_caption"), header, rows, "<<<<<>>><")


def _panel(document: Document, data: Mapping[str, Any], reader: Reader) -> Markup:
    tilt = document["price_tilt"] or {"first_week": None, "last_week": None}
    return Markup(
        environment()
        .get_template("explore.html")
        .render(
            data=data,
            say=reader.say,
            source=source(document, reader),
            issued=reader.date(document["issue_date"]),
            reference=called(document["reference"], document, reader),
            first_week=tilt["first_week"] and reader.week(tilt["first_week"]),
            last_week=tilt["last_week"] and reader.week(tilt["last_week"]),
        )
    )


def explore_data(document: Document, reader: Reader) -> dict[str, Any]:
    """Return what the script needs, as plain values.

    Parameters
    ----------
    document : mapping
        A comparison document of schema version 1.
    reader : Reader

    Returns
    -------
    dict
        ``axes`` values of each of the four; ``names`` the same in words; ``grid`` the number of the
        option at each place, planting date running slowest; ``options``; ``weeks``; ``tilts``;
        ``best`` the number of the best option at each tilt, the highest of the flagged ones where
        ``none`` says that no option can be recommended; ``notes`` what to know beside it;
        ``biases``; ``words``, ``format``.
    """
    options = document["options"]
    axes = {axis: list(dict.fromkeys(one[axis] for one in options)) for axis in AXES}
    axes["planting_date"].sort()
    place = {tuple(one[axis] for axis in AXES): row for row, one in enumerate(options)}
    weeks = sorted({row["week"] for one in options for row in one["weekly"]})
    warnings = list(dict.fromkeys(text for one in options for text in one["warnings"]))
    tilt = document["price_tilt"]
    tilts = [one["tilt"] for one in tilt["tilts"]] if tilt else [0.0]
    told = tilt["tilts"] if tilt else [document]
    best = [one["best"] or one["highest_flagged"] for one in told]
    return {
        "language": reader.language,
        "judged": "margin" if document["currency"] else "fruit",
        "currency": document["currency"],
        "axes": axes,
        "names": {
            axis: [_named(axis, value, reader) for value in values] for axis, values in axes.items()
        },
        "short_dates": [reader.day(day) for day in axes["planting_date"]],
        "grid": [place.get(key) for key in product(*(axes[axis] for axis in AXES))],
        "weeks": weeks,
        "week_names": [reader.week(week) for week in weeks],
        "week_days": [reader.day(week_monday(week)) for week in weeks],
        "days": _days(options, reader),
        "tilts": tilts,
        "no_tilt": tilts.index(0.0),
        "none": " ".join(none_words(document, reader)),
        "notes": [
            " ".join(notes(one, document, reader, number if tilt else None)) if one["best"] else ""
            for number, one in enumerate(told)
        ],
        "biases": " ".join(bias_words(document, reader)),
        "best": [place[tuple(one[axis] for axis in AXES)] for one in best],
        "reference": place[tuple(document["reference"][axis] for axis in AXES)],
        "options": [_option(one, weeks, warnings, document, reader) for one in options],
        "warnings": warnings,
        "cautions": document["cautions"],
        "digits": {kind: MEASURES[kind].digits(reader.units) for kind in ("fruit", "heat")},
        "words": _words(document, reader),
        "units": {kind: reader.unit(kind) for kind in ("fruit", "heat")},
        "format": _format(reader),
    }


def _words(document: Document, reader: Reader) -> dict[str, str]:
    """Sentences of the script by their keys; units are put in, other places are left open."""
    unit = document["currency"] or reader.unit("fruit")
    known = {
        "fruit": reader.unit("fruit"), "heat": reader.unit("heat"), "judged": unit,
        "currency": document["currency"] or "", "over": compared_days(document, reader),
    }  # fmt: skip
    found = {}
    for key, text in texts(reader.language).items():
        if key.startswith(SCRIPT_WORDS):
            name = key.removeprefix(SCRIPT_WORDS)
            if name.startswith("row_"):
                for place, value in known.items():
                    text = text.replace(f"{{{place}}}", value)
            found[name] = text
    if document["best"] is None:
        found["best_choice"] = found["highest_flagged"]
    found["short_day"] = reader.day(_A_DAY).replace("13", "{day}").replace(
        reader.short_month(_A_DAY), "{month}"
    )  # fmt: skip
    for month in range(1, 13):
        found[f"m{month:02d}"] = reader.short_month(f"2026-{month:02d}-01")
    return found


_A_DAY = "2026-11-13"


def week_monday(week: str) -> str:
    """First day of an ISO week.

    Examples
    --------
    >>> week_monday("2026-W53")
    '2026-12-28'
    """
    return week_days(week)[0].isoformat()


def _named(axis: str, value: str, reader: Reader) -> str:
    return reader.date(value) if axis == "planting_date" else reader.name(value)


def _days(options: Sequence[Document], reader: Reader) -> dict[str, list[str]]:
    """Every day of the document in words, long and short."""
    told = {one["planting_date"] for one in options}
    told |= {one["first_pick"][name] for one in options for name in ("p10", "median", "p90")}
    return {day: [reader.date(day), reader.day(day)] for day in sorted(told - {None})}


def _option(
    one: Document,
    weeks: Sequence[str],
    warnings: Sequence[str],
    document: Document,
    reader: Reader,
) -> dict[str, Any]:
    """One option; lists hold P10, P50 and P90, of money P10, mean and P90, one row a tilt."""
    pick = one["first_pick"]
    standing = one["tilted"] if document["price_tilt"] else [one]
    fruit = [_of_row(row, weeks) for row in one["weekly"]]
    entry: dict[str, Any] = {
        "pick": [pick["p10"], pick["median"], pick["p90"]],
        "never": pick["not_reached_probability"],
        "early": _converted("fruit", one["early_g_per_plant"], reader),
        "season": _converted("fruit", one["season_g_per_plant"], reader),
        "heat": _converted("heat", one["crown_degree_hours_above_30c"], reader),
        "alive": [one["plants_alive_share"][level] for level in LEVELS],
        "from_week": fruit[0][0] if fruit else 0,
        "trays": [trays for _, trays in fruit],
        "standing": [
            [
                _mean(row["expected"], document, reader),
                _mean(row["worst_tenth"], document, reader),
                difference(row, document, reader),
                difference(row, document, reader, cell=True),
                row["not_clearly_worse"],
            ]
            for row in standing
        ],
        "flags": flag_words([one], reader),
        "warnings": [warnings.index(text) for text in one["warnings"]],
    }
    if document["currency"]:
        entry["cost"] = one["cost"]
        for name in ("revenue", "margin"):
            entry[name] = [[row[name][level] for level in MONEY_LEVELS] for row in standing]
    return entry


def _of_row(row: Document, weeks: Sequence[str]) -> tuple[int, list[float]]:
    return weeks.index(row["week"]), [row["trays"][level] for level in LEVELS]


def _converted(kind: str, quantiles: Document, reader: Reader) -> list[float]:
    return [reader.value(kind, quantiles[level]) for level in LEVELS]


def _mean(value: float, document: Document, reader: Reader) -> float:
    """Mean in what the options are judged by: money, or fruit in the reader's unit."""
    return value if document["currency"] else reader.value("fruit", value)


def _format(reader: Reader) -> dict[str, Any]:
    marks = FORMATS[reader.language]
    return {
        "decimal": marks.decimal,
        "thousands": marks.thousands,
        "grouped_from": marks.grouped_from,
        "before_percent": marks.before_percent,
        "minus": MINUS,
        "absent": ABSENT,
    }
