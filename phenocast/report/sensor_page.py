"""The page of a sensor fit: what readings told of a film and its bed, and what they could not."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from phenocast.report.figures.sensor_hours import ByHour, Labels, sensor_hours_figure
from phenocast.report.page import render
from phenocast.report.parts import Bullets, Figure, Item, Page, Section, Table
from phenocast.report.provenance import engine
from phenocast.report.reader import Reader

Document = Mapping[str, Any]

TERMS = ("crown", "film", "root_zone")
# A number whose spread shrank by less than this is not called learned, as in the text.
LEARNED = 0.1
DIGITS = 2


def sensor_page(document: Document, *, language: str = "en", units: str = "metric") -> str:
    """Page of a sensor fit.

    Parameters
    ----------
    document : mapping
        What ``phenocast fit --json`` prints for readings of sensors; nothing else is used.
    language, units : str
        As of `phenocast.report.reader.Reader`.

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
    blocks = document["blocks"]
    return render(
        Page(
            kind="fit",
            title=say("sensors.title"),
            place=say("sensors.place", file=reader.name(document["source"])),
            issue_date=None,
            answer=_answer(blocks, reader),
            sure=[Bullets([line for block in blocks for line in _sure(block, reader)])],
            change=[Bullets([say("sensors.more_days"), say("sensors.more_sensors")])],
            next_steps=[Bullets(
                [say("sensors.name_it", film=reader.name(block["film"])) for block in blocks]
                + [say("sensors.another_season")]
            )],
            cautions=[
                *(
                    say("sensors.not_used", block=reader.name(one["block"]),
                        rows=reader.number(one["rows"]))
                    for one in document["not_used"]
                ),
                *engine([*(one["reason"] for one in document["not_used"]), *document["warnings"]]),
                say("sensors.model_is_right"),
            ],
            assumed=[],
            sections=[_section(block, number, document, reader)
                      for number, block in enumerate(blocks, start=1)],
            terms=TERMS,
            sources=[say("sensors.source", file=reader.name(document["source"]))],
            engine_version=document["engine_version"],
        ),
        reader,
    )  # fmt: skip


def _answer(blocks: list[Document], reader: Reader) -> list[str]:
    """What the fit did for the crown, or for whatever was read, and for how many numbers."""
    told = []
    for block in blocks:
        rows = (block["errors_on_days_held_out"] or {}).get("overall", [])
        row = next((one for one in rows if one["sensor"] == "crown_c"), rows[0] if rows else None)
        if row is None:
            told.append(reader.say("sensors.no_days_held", block=reader.name(block["block"])))
            continue
        told.append(
            reader.say(
                "sensors.answer", block=reader.name(block["block"]),
                sensor=reader.say(f"sensors.sensor.{row['sensor']}"),
                before=reader.amount("difference", row["rmse_before"], DIGITS),
                after=reader.amount("difference", row["rmse_after"], DIGITS),
            )
        )  # fmt: skip
    learned = sum(_learned(one) for block in blocks for one in block["numbers"])
    fitted = sum(len(block["numbers"]) for block in blocks)
    told.append(
        reader.say("sensors.learned", learned=reader.number(learned), fitted=reader.number(fitted))
    )
    return told


def _learned(number: Document) -> bool:
    return bool(number["fitted_sd"] <= (1.0 - LEARNED) * number["before_sd"])


def _sure(block: Document, reader: Reader) -> list[str]:
    say, name = reader.say, reader.name(block["block"])
    told = [
        say("sensors.days", block=name, fitted=reader.number(len(block["days_fitted"])),
            held=reader.number(len(block["days_held_out"])))
    ]  # fmt: skip
    bound = [one["name"] for one in block["numbers"] if one["at_bound"]]
    if bound:
        told.append(say("sensors.at_bound", block=name, numbers=", ".join(map(reader.name, bound))))
    if block["only_the_ratio_is_told"]:
        told.append(say("sensors.only_ratio", block=name))
    if not block["converged"]:
        told.append(say("sensors.not_converged", block=name))
    return told


def _section(block: Document, number: int, document: Document, reader: Reader) -> Section:
    say = reader.say
    items: list[Item] = []
    errors = block["errors_on_days_held_out"]
    if errors is not None:
        items.append(_overall(errors["overall"], reader))
        items += [
            _hours(row, errors["by_hour"], block, number, document, reader)
            for row in errors["overall"]
        ]
        items.append(_months(errors["by_month"], reader))
    items.append(_numbers(block, reader))
    if block["not_fitted"]:
        items.append(say("sensors.could_not"))
        items.append(Bullets(engine(f"{one['name']}: {one['why']}" for one in block["not_fitted"])))
    heading = say("sensors.heading", block=reader.name(block["block"]),
                  film=reader.name(block["film"]))  # fmt: skip
    return Section(heading, items)


def _numbers(block: Document, reader: Reader) -> Table:
    say = reader.say
    rows = [
        [
            reader.name(one["name"]), reader.name(one["unit"]),
            *(
                f"{reader.plain_value(_short(one[key]))} ± "
                f"{reader.plain_value(_short(one[f'{key}_sd']))}"
                for key in ("before", "fitted")
            ),
            say("sensors.bound") if one["at_bound"]
            else say("sensors.surer" if _learned(one) else "sensors.no_surer"),
        ]
        for one in block["numbers"]
    ]  # fmt: skip
    header = [say(f"sensors.column.{key}") for key in ("number", "unit", "before", "after", "told")]
    return Table(say("sensors.numbers"), header, rows, "<<>><")


def _short(value: float) -> float:
    return float(f"{value:.3g}")


def _error_cells(row: Document, reader: Reader) -> list[str]:
    return [
        reader.number(row["n"]),
        *(
            reader.figure("difference", row[key], DIGITS)
            for key in ("rmse_before", "rmse_after", "bias_before", "bias_after")
        ),
    ]


def _error_header(reader: Reader) -> list[str]:
    unit = reader.unit("difference")
    return [
        reader.say("sensors.column.hours"),
        *(f"{reader.say(f'sensors.column.{key}')} [{unit}]"
          for key in ("rmse_before", "rmse_after", "bias_before", "bias_after")),
    ]  # fmt: skip


def _overall(rows: list[Document], reader: Reader) -> Table:
    return Table(
        reader.say("sensors.overall"),
        [reader.say("sensors.column.sensor"), *_error_header(reader)],
        [[reader.say(f"sensors.sensor.{row['sensor']}"), *_error_cells(row, reader)]
         for row in rows],
        "<>>>>>",
    )  # fmt: skip


def _months(rows: list[Document], reader: Reader) -> Table:
    return Table(
        reader.say("sensors.months"),
        [reader.say("sensors.column.sensor"), reader.say("common.month"), *_error_header(reader)],
        [
            [reader.say(f"sensors.sensor.{row['sensor']}"),
             reader.say(f"calendar.month.m{row['month']:02d}"), *_error_cells(row, reader)]
            for row in rows
        ],
        "<<>>>>>",
    )  # fmt: skip


def _hours(
    overall: Document, rows: list[Document], block: Document, number: int, document: Document,
    reader: Reader,
) -> Figure:  # fmt: skip
    say, sensor = reader.say, overall["sensor"]
    own = [row for row in rows if row["sensor"] == sensor]
    words = say(f"sensors.sensor.{sensor}")
    unit = reader.unit("difference")

    def drawn(key: str) -> list[float]:
        return [reader.value("difference", row[key]) for row in own]

    worst = max(own, key=lambda row: float(row["rmse_after"]))
    alt = say(
        "sensors.hours_alt", sensor=words,
        before=reader.amount("difference", overall["rmse_before"], DIGITS),
        after=reader.amount("difference", overall["rmse_after"], DIGITS),
        worst=reader.amount("difference", worst["rmse_after"], DIGITS),
        hour=reader.number(worst["hour"]),
    )  # fmt: skip
    svg = sensor_hours_figure(
        f"hours-{number}-{sensor.replace('_', '-')}",
        ByHour(
            [row["hour"] for row in own],
            (drawn("rmse_before"), drawn("rmse_after")),
            (drawn("bias_before"), drawn("bias_after")),
        ),
        reader,
        labels=Labels(
            f"{say('sensors.rmse')} [{unit}]", f"{say('sensors.bias')} [{unit}]",
            say("sensors.hour_axis"), say("sensors.before"), say("sensors.after"),
        ),
        title=say("sensors.hours_title", sensor=words, block=reader.name(block["block"])),
        alt=alt,
    )  # fmt: skip
    table = Table(
        say("sensors.hours_table", sensor=words),
        [say("sensors.column.hour"), *_error_header(reader)],
        [[reader.number(row["hour"]), *_error_cells(row, reader)] for row in own],
        ">>>>>>",
    )  # fmt: skip
    return Figure(svg, alt, table, say("sensors.source", file=reader.name(document["source"])))
