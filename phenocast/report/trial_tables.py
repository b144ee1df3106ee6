"""The tables of a trial's page, made of its document alone."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from phenocast.report.parts import Table
from phenocast.report.reader import Reader

Document = Mapping[str, Any]

SMALLEST_P = 0.001
MOST_DECIMALS = 8


def factors(document: Document, reader: Reader) -> dict[str, str]:
    """Names of the factors and of the response as a sentence says them."""
    names = document["factors"]
    unit = f" [{document['unit']}]" if document["unit"] else ""
    return {
        "whole": reader.name(names["whole_plot"], 40),
        "sub": reader.name(names["sub_plot"], 40),
        "block": reader.name(names["block"], 40),
        "response": reader.name(f"{document['response']}{unit}", 60),
    }


def decimals(values: Sequence[float], digits: int = 4) -> int:
    """Decimals that give the largest value a number of digits.

    Examples
    --------
    >>> decimals([485.25, 605.5]), decimals([0.0213])
    (1, 5)
    """
    largest = max((abs(value) for value in values), default=0.0)
    if largest == 0.0 or not math.isfinite(largest):
        return 0
    return min(max(digits - 1 - math.floor(math.log10(largest)), 0), MOST_DECIMALS)


def p_value(value: float | None, reader: Reader) -> str:
    """Probability of a test; very small ones only as below a bound."""
    if value is None:
        return reader.number(None)
    if value < SMALLEST_P / 2.0:
        return reader.say("trial.p_below", p=reader.number(SMALLEST_P, 3))
    return reader.number(value, 3)


def source_name(name: str, document: Document, reader: Reader) -> str:
    """Name of a source of variation: the errors in words, factors as the file calls them."""
    known = {"whole-plot error": "whole_error", "sub-plot error": "sub_error"}
    if name in known:
        return reader.say(f"trial.part.{known[name]}")
    return reader.name(name)


def means(trial: Document, document: Document, reader: Reader) -> Table:
    """Means of the cells, one a row: tables with a column a film do not fit a phone."""
    named = factors(document, reader)
    shown = _rounding([cell["mean"] for cell in trial["means"]["cells"]], reader)
    every = reader.say("trial.all")
    rows = [
        [reader.name(cell["sub"]), reader.name(cell["whole"]), shown(cell["mean"])]
        for sub in trial["means"]["sub"]
        for cell in trial["means"]["cells"]
        if cell["sub"] == sub["level"]
    ]
    rows += [[every, reader.name(one["level"]), shown(one["mean"])]
             for one in trial["means"]["whole"]]  # fmt: skip
    rows += [[reader.name(one["level"]), every, shown(one["mean"])]
             for one in trial["means"]["sub"]]  # fmt: skip
    key = "trial.adjusted" if trial["missing_plots"] else "trial.means_table"
    return Table(
        reader.say(key, response=named["response"]),
        [named["sub"], named["whole"], named["response"]], rows, "<<>",
    )  # fmt: skip


def standard_errors(trial: Document, document: Document, reader: Reader) -> Table:
    """All standard errors of difference with their degrees of freedom."""
    named, say = factors(document, reader), reader.say
    digits = decimals([one["value"] for one in trial["standard_errors"]])
    rows = [
        [
            say(f"trial.between.{one['between'].replace(' ', '_')}",
                whole=named["whole"], sub=named["sub"]),
            reader.number(one["value"], digits),
            reader.number(one["df"], 1),
        ]
        for one in trial["standard_errors"]
    ]  # fmt: skip
    key = "trial.seds_typical" if trial["missing_plots"] else "trial.seds"
    header = [say(f"trial.column.{name}") for name in ("between", "sed", "df")]
    return Table(say(key), header, rows, "<>>")


def variance(trial: Document, document: Document, reader: Reader) -> Table:
    """Analysis of variance; tests alone where plots are missing."""
    say = reader.say
    sums = any(line["ss"] is not None for line in trial["table"])
    names = ["source", "df", *(["ss", "ms"] if sums else []), "f", "p", "against"]
    rows = []
    for line in trial["table"]:
        row = [source_name(line["source"], document, reader), reader.plain_value(line["df"])]
        if sums:
            row += [reader.plain_value(line["ss"]), reader.plain_value(line["ms"])]
        against = line["error"] and source_name(line["error"], document, reader)
        row += [reader.number(line["f"], 2), p_value(line["p"], reader), against]
        rows.append(row)
    return Table(
        say("trial.anova" if sums else "trial.tests"),
        [say(f"trial.column.{name}") for name in names], rows, "<" + ">" * (len(names) - 2) + "<",
    )  # fmt: skip


def components(trial: Document, reader: Reader) -> Table:
    """Variance components from blocks down to sub-plots."""
    say, parts = reader.say, trial["components"]
    digits = decimals(list(parts.values()))
    rows = [
        [say(f"trial.part.{key}"), reader.number(parts[key], digits)]
        for key in ("block", "whole_plot", "sub_plot")
    ]
    header = [say("trial.column.component"), say("trial.column.variance")]
    return Table(say("trial.components"), header, rows, "<>")


def differences(trial: Document, document: Document, reader: Reader) -> Table:
    """Every pair that can be spoken of, with its interval and whether it is told apart."""
    say = reader.say
    pairs = spoken_of(trial)
    digits = decimals([one["estimate"] for one in pairs], 3)
    rows = [
        [
            f"{reader.name(one['first'])} − {reader.name(one['second'])}"
            + (say("trial.at", level=reader.name(one["at"])) if one["at"] else ""),
            say("common.middle_and_range", middle=reader.number(one["estimate"], digits),
                low=reader.number(one["lower"], digits),
                high=reader.number(one["upper"], digits)),
            p_value(one["p"], reader),
            say("trial.column.yes" if one["told_apart"] else "trial.column.no"),
        ]
        for one in pairs
    ]  # fmt: skip
    header = [say(f"trial.column.{name}") for name in ("pair", "estimate", "p", "verdict")]
    caption = say("trial.differences_caption", level=reader.percent(document["level"]))
    return Table(caption, header, rows, "<>><")


def residuals(one: Document, reader: Reader) -> Table:
    """Residuals of one stratum in the order of their normal scores."""
    say = reader.say
    fitted, residual = decimals(one["fitted"]), decimals(one["residual"], 3)
    rows = [
        [
            reader.number(score, 2),
            reader.number(scaled, 2),
            reader.number(left, residual),
            reader.number(fit, fitted),
        ]
        for fit, left, score, scaled in zip(
            one["fitted"], one["residual"], one["normal_score"], one["scaled_residual"],
            strict=True,
        )
    ]  # fmt: skip
    header = [say(f"trial.residual.{name}") for name in ("score", "scaled", "residual", "fitted")]
    return Table(say("trial.residual.table"), header, rows, ">>>>")


def spoken_of(trial: Document) -> list[Document]:
    """Pairs of the kinds that the interaction lets one speak of."""
    return [one for one in trial["differences"] if one["between"] in trial["compared"]]


def _rounding(values: Sequence[float], reader: Reader) -> Callable[[float], str]:
    digits = decimals(values)
    return lambda value: reader.number(value, digits)
