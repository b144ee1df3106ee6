"""The options of a comparison as the script of the page to play with reads them.

Every number is one of the comparison's document, brought to the units of the reader and to their
digits; nothing is worked out here or in the script. Options lie in a grid of planting date, film,
cultivar and transplant type, so that the script finds one by its four places.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import product
from typing import Any

from phenocast.report.compare_words import bias_words, difference, flag_words, none_words, notes
from phenocast.report.dates import week_days
from phenocast.report.heat_words import compared_days
from phenocast.report.language import texts
from phenocast.report.numbers import ABSENT, FORMATS, MINUS
from phenocast.report.reader import Reader
from phenocast.report.units import measure

Document = Mapping[str, Any]

AXES = ("planting_date", "film", "cultivar", "transplant")
LEVELS = ("p10", "p50", "p90")
MONEY_LEVELS = ("p10", "mean", "p90")
SCRIPT_WORDS = "explore.script."


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
        "digits": {kind: measure(kind).digits(reader.units) for kind in ("fruit", "heat")},
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
    found["short_day"] = reader.calendar.day(_A_DAY).replace("13", "{day}").replace(
        reader.calendar.short_month(_A_DAY), "{month}"
    )  # fmt: skip
    for month in range(1, 13):
        found[f"m{month:02d}"] = reader.calendar.short_month(f"2026-{month:02d}-01")
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
