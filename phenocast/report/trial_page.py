"""The page of a designed trial: what differs, means with their errors, variance, residuals."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from phenocast.report import trial_tables
from phenocast.report.figures.means import Means, means_figure
from phenocast.report.figures.residuals import Labels, Stratum, residual_figure
from phenocast.report.page import render
from phenocast.report.parts import Bullets, Figure, Item, Page, Section, Stack
from phenocast.report.provenance import engine
from phenocast.report.reader import Reader
from phenocast.report.trial_tables import factors
from phenocast.report.trial_words import answer, change, name_of, next_steps, sure

Document = Mapping[str, Any]

TERMS = ("film", "whole_plot", "trial_block", "sed", "p")


def trial_page(document: Document, *, language: str = "en", units: str = "metric") -> str:
    """Page of a trial.

    Parameters
    ----------
    document : mapping
        What ``phenocast trial --json`` prints; nothing else is used.
    language, units : str
        As of `phenocast.report.reader.Reader`; the response keeps the unit of its file.

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
    notes = [note for trial in document["trials"] for note in trial["notes"]]
    return render(
        Page(
            kind="trial",
            title=say("trial.title"),
            place=say("trial.place", response=factors(document, reader)["response"],
                      file=reader.name(document["file"])),
            issue_date=None,
            answer=answer(document, reader),
            sure=sure(document, reader),
            change=change(document, reader),
            next_steps=next_steps(reader),
            cautions=[
                *([say("trial.apart")] if len(document["trials"]) > 1 else []),
                *engine([*notes, *document["warnings"]]),
            ],
            assumed=[],
            sections=[
                _section(trial, number, document, reader)
                for number, trial in enumerate(document["trials"], start=1)
            ],
            terms=TERMS,
            sources=[_source(document, reader), say("trial.made_of")],
            engine_version=document["engine_version"],
        ),
        reader,
    )  # fmt: skip


def _source(document: Document, reader: Reader) -> str:
    return reader.say(
        "trial.source", records=reader.number(document["records"]),
        file=reader.name(document["file"]),
    )  # fmt: skip


def _section(trial: Document, number: int, document: Document, reader: Reader) -> Section:
    say = reader.say
    heading = say(
        "trial.heading", trial=name_of(trial, reader),
        plots=reader.number(trial["plots"] - trial["missing_plots"]),
        blocks=reader.number(len(trial["blocks"])),
    )  # fmt: skip
    items: list[Item] = [
        _means(trial, number, document, reader),
        Stack([
            trial_tables.standard_errors(trial, document, reader),
            trial_tables.components(trial, reader),
        ]),
        trial_tables.differences(trial, document, reader),
        trial_tables.variance(trial, document, reader),
        *_residuals(trial, number, document, reader),
    ]  # fmt: skip
    return Section(heading[:1].upper() + heading[1:], items)


def _means(trial: Document, number: int, document: Document, reader: Reader) -> Figure:
    say, named = reader.say, factors(document, reader)
    cells = trial["means"]["cells"]
    digits = trial_tables.decimals([cell["mean"] for cell in cells])
    error = next(
        one["value"] for one in trial["standard_errors"] if one["between"] == "whole within sub"
    )
    means = Means(
        [
            (
                reader.name(sub["level"]),
                [(reader.name(c["whole"]), c["mean"]) for c in cells if c["sub"] == sub["level"]],
            )
            for sub in trial["means"]["sub"]
        ],
        error,
        digits,
    )
    high = max(cells, key=lambda cell: float(cell["mean"]))
    low = min(cells, key=lambda cell: float(cell["mean"]))
    alt = say(
        "trial.means_alt", response=named["response"], whole=named["whole"], sub=named["sub"],
        high=reader.number(high["mean"], digits), high_sub=reader.name(high["sub"]),
        high_whole=reader.name(high["whole"]), low=reader.number(low["mean"], digits),
        low_sub=reader.name(low["sub"]), low_whole=reader.name(low["whole"]),
    )  # fmt: skip
    words = {"whole": named["whole"], "sub": named["sub"]}
    svg = means_figure(
        f"means-{number}", means, reader, title=say("trial.means_title", **words), alt=alt,
        response=named["response"], scale=say("trial.scale"),
    )  # fmt: skip
    return Figure(
        svg,
        say("trial.means_caption", **words),
        trial_tables.means(trial, document, reader),
        _source(document, reader),
    )


def _residuals(
    trial: Document, number: int, document: Document, reader: Reader
) -> list[Figure | Bullets]:
    """Residuals of both strata, and what the engine says of their spread."""
    say, response = reader.say, factors(document, reader)["response"]
    labels = Labels(
        say("trial.residual.of", response=response), say("trial.residual.fitted"),
        say("trial.residual.scaled"), say("trial.residual.score"),
    )  # fmt: skip
    drawn: list[Figure | Bullets] = []
    for one in trial["strata"]:
        if len(one["residual"]) < 2:
            continue
        name = say(f"trial.{one['stratum']}s")
        largest = max(one["scaled_residual"], key=abs)
        alt = say("trial.stratum", stratum=name, largest=reader.number(largest, 1))
        svg = residual_figure(
            f"{one['stratum'].replace('_', '-')}-{number}",
            Stratum(one["fitted"], one["residual"], one["normal_score"], one["scaled_residual"]),
            reader, labels=labels, title=say("trial.residual.title", stratum=name), alt=alt,
        )  # fmt: skip
        table = trial_tables.residuals(one, reader)
        drawn.append(Figure(svg, alt, table, _source(document, reader)))
    return [*drawn, Bullets(engine(one["in_words"] for one in trial["strata"]))]
