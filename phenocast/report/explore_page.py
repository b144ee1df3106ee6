"""The page to play with: a choice of planting date, film, cultivar and prices, and what follows.

Everything was worked out before: the page holds the options of a comparison, and its script only
finds the one that is chosen and shows it.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from phenocast.report.compare_words import (
    amounts,
    best_of,
    bias_words,
    called,
    change,
    difference,
    flag_words,
    judged,
    next_steps,
    none_words,
    notes,
    option_of,
    ranked,
    sure,
    verdict,
)
from phenocast.report.explore_data import explore_data
from phenocast.report.page import HOME, render
from phenocast.report.parts import Item, Markup, Page, Section, Table
from phenocast.report.provenance import engine
from phenocast.report.reader import Reader

if TYPE_CHECKING:
    from jinja2 import Template

Document = Mapping[str, Any]

SCRIPTS = Path(__file__).resolve().parent / "scripts"
PARTS = ("explore_words.js", "explore_draw.js", "explore.js")
MOST_ROWS = 10
TERMS = ("film", "first_pick", "crown", "degree_hours", "cut_off", "median", "eight_in_ten",
         "possible_season", "tray", "week")  # fmt: skip


def explore_page(document: Document, *, language: str = "en", units: str = "metric") -> str:
    """Return the page to play with of a comparison.

    Parameters
    ----------
    document : mapping
        What ``phenocast compare --json`` prints; nothing else is used.
    language, units : str
        As of `phenocast.report.reader.Reader`.

    Returns
    -------
    str
        One HTML file that needs nothing beside it.

    Raises
    ------
    InputError
        For another language or another system of units.
    """
    reader = Reader(language, units)
    return render(_page(document, reader), reader)


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


def _page(document: Document, reader: Reader) -> Page:
    say = reader.say
    data = explore_data(document, reader)
    return Page(
        kind="explore",
        title=say("explore.title"),
        place=say("explore.place", block=reader.name(document["block"]),
                  site=reader.name(document["site"])),
        issue_date=document["issue_date"],
        answer=_answer(document, reader),
        sure=sure(document, reader),
        change=change(document, reader),
        next_steps=next_steps(reader),
        cautions=engine(document["warnings"]),
        assumed=[],
        sections=[Section(say("explore.static"), [_highest(document, reader)])],
        terms=TERMS,
        sources=[_source(document, reader)],
        panel=[_panel(document, data, reader)],
        style=(HOME / "explore.css").read_text(encoding="utf-8"),
        script=script(),
        engine_version=document["engine_version"],
        data=data,
    )  # fmt: skip


def _source(document: Document, reader: Reader) -> str:
    pack = reader.name(document["pack"]["name"], 30)
    return reader.say("explore.source", seed=document["seed"], pack=pack)


def _answer(document: Document, reader: Reader) -> list[str]:
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
        _template().render(
            data=data,
            say=reader.say,
            source=_source(document, reader),
            issued=reader.date(document["issue_date"]),
            reference=called(document["reference"], document, reader),
            first_week=tilt["first_week"] and reader.week(tilt["first_week"]),
            last_week=tilt["last_week"] and reader.week(tilt["last_week"]),
        )
    )


@cache
def _template() -> Template:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(HOME), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    return environment.get_template("explore.html")
