"""The answer of a sensor fit: what readings told of a film and its bed, and what they could not."""

from collections.abc import Iterator, Sequence
from functools import partial
from typing import Any

from phenocast.report.figures.scores import sensor_hours_figure
from phenocast.report.parts import Bullets, Figure, Item, Page, Section, Table, engine
from phenocast.report.reader import Document, Reader

TERMS = ("crown", "film", "root_zone", "prior")
LEARNED = 0.1
"""A parameter whose sd shrank by a smaller share than this is not called learned."""
DIGITS = 2
ERRORS = ("rmse_prior", "rmse_fitted", "bias_prior", "bias_fitted")


def sensor_parts(document: Document, reader: Reader) -> Page:
    """List the parts of a fit to readings of sensors.

    Parameters
    ----------
    document : mapping
        What ``phenocast fit --json`` prints for readings of sensors; nothing else is used.
    reader : Reader
    """
    say, blocks = reader.say, document["blocks"]
    source = say("sensors.source", file=reader.name(document["source"]))
    numbers = [one for block in blocks for one in block["parameters"]]
    learned = reader.number(sum(map(_learned, numbers)))
    return Page(
        kind="fit",
        title=say("sensors.title"),
        place=say("sensors.place", file=reader.name(document["source"])),
        summary=[
            *(_summary(block, reader) for block in blocks),
            say("sensors.learned", learned=learned, fitted=reader.number(len(numbers))),
        ],
        uncertainty=[Bullets([line for block in blocks for line in _uncertainty(block, reader)])],
        sensitivity=[Bullets([say("sensors.more_days"), say("sensors.more_sensors")])],
        next_steps=[Bullets([
            *(say("sensors.name_it", film=reader.name(block["film"])) for block in blocks),
            say("sensors.another_season"),
        ])],
        cautions=[
            *(say("sensors.not_used", block=reader.name(one["block"]),
                  rows=reader.number(one["rows"])) for one in document["not_used"]),
            *engine([*(one["reason"] for one in document["not_used"]), *document["warnings"]]),
            say("sensors.model_is_right"),
        ],
        sections=[
            Section(say("sensors.heading", block=reader.name(block["block"]),
                        film=reader.name(block["film"])), _items(block, number, source, reader))
            for number, block in enumerate(blocks, start=1)
        ],
        sources=[source],
        terms=TERMS,
        engine_version=document["engine_version"],
    )  # fmt: skip


def _summary(block: Document, reader: Reader) -> str:
    """What the fit did for the crown, or for whatever was read."""
    rows = (block["errors_on_days_held_out"] or {}).get("overall", [])
    name = reader.name(block["block"])
    if not rows:
        return reader.say("sensors.no_days_held", block=name)
    row = next((one for one in rows if one["sensor"] == "crown_c"), rows[0])
    return reader.say("sensors.answer", block=name, **_words(row, reader))


def _words(row: Document, reader: Reader) -> dict[str, str]:
    """Sensor and its errors under the prior and after the fit."""
    return {
        "sensor": reader.say(f"sensors.sensor.{row['sensor']}"),
        "prior": reader.amount("difference", row["rmse_prior"], DIGITS),
        "fitted": reader.amount("difference", row["rmse_fitted"], DIGITS),
    }


def _learned(number: Document) -> bool:
    return bool(number["fitted_sd"] <= (1.0 - LEARNED) * number["prior_sd"])


def _uncertainty(block: Document, reader: Reader) -> list[str]:
    say, name = reader.say, reader.name(block["block"])
    fitted, held = (reader.number(len(block[key])) for key in ("days_fitted", "days_held_out"))
    told = [say("sensors.days", block=name, fitted=fitted, held=held)]
    bound = [reader.name(one["name"]) for one in block["parameters"] if one["at_bound"]]
    if bound:
        told.append(say("sensors.at_bound", block=name, parameters=", ".join(bound)))
    if block["only_the_ratio_is_told"]:
        told.append(say("sensors.only_ratio", block=name))
    return told if block["converged"] else [*told, say("sensors.not_converged", block=name)]


def _items(block: Document, number: int, source: str, reader: Reader) -> list[Item]:
    """Errors on days kept back, overall, by hour and by month; parameters; what stayed."""
    say, errors = reader.say, block["errors_on_days_held_out"]
    items: list[Item] = []
    if errors is not None:
        items = [
            _errors("overall", errors["overall"], [], reader),
            *_hours(block, number, source, reader),
            _errors("months", errors["by_month"], [
                (say("common.month"), lambda row: say(f"calendar.month.m{row['month']:02d}"))
            ], reader),
        ]  # fmt: skip
    items.append(_parameters(block, reader))
    if block["not_fitted"]:
        left = engine(f"{one['name']}: {one['why']}" for one in block["not_fitted"])
        items += [say("sensors.could_not"), Bullets(left)]
    return items


def _parameters(block: Document, reader: Reader) -> Table:
    rows = [
        [
            reader.name(one["name"]),
            reader.name(one["unit"]),
            *(f"{reader.short(one[key])} ± {reader.short(one[f'{key}_sd'])}"
              for key in ("prior", "fitted")),
            reader.say("sensors.bound" if one["at_bound"]
                       else "sensors.surer" if _learned(one) else "sensors.no_surer"),
        ]
        for one in block["parameters"]
    ]  # fmt: skip
    names = ("parameter", "unit", "prior", "fitted", "told")
    header = [reader.say(f"sensors.column.{name}") for name in names]
    return Table(reader.say("sensors.parameters"), header, rows, "<<>><")


def _errors(
    caption: str,
    rows: Sequence[Document],
    more: Sequence[tuple[str, Any]],
    reader: Reader,
    **words: str,
) -> Table:
    """Errors of sensors, one a row; ``more`` are columns with their name and what they show."""
    say = reader.say
    unit = reader.unit("difference")
    header = [
        say("sensors.column.sensor"), *(name for name, _ in more), say("sensors.column.hours"),
        *(f"{say(f'sensors.column.{key}')} [{unit}]" for key in ERRORS),
    ]  # fmt: skip
    cells = [
        [
            say(f"sensors.sensor.{row['sensor']}"),
            *(shown(row) for _, shown in more),
            reader.number(row["n"]),
            *(reader.figure("difference", row[key], DIGITS) for key in ERRORS),
        ]
        for row in rows
    ]
    return Table(say(f"sensors.{caption}", **words), header, cells, "<" + ">" * (len(header) - 1))


def _hours(block: Document, number: int, source: str, reader: Reader) -> Iterator[Figure]:
    """Errors of each sensor by hour of the day."""
    say, errors = reader.say, block["errors_on_days_held_out"]
    unit = reader.unit("difference")
    for overall in errors["overall"]:
        own = [row for row in errors["by_hour"] if row["sensor"] == overall["sensor"]]
        words = _words(overall, reader)
        worst = max(own, key=lambda row: float(row["rmse_fitted"]))
        alt = say(
            "sensors.hours_alt", **words, hour=reader.number(worst["hour"]),
            worst=reader.amount("difference", worst["rmse_fitted"], DIGITS),
        )  # fmt: skip
        drawn = {key: [reader.value("difference", row[key]) for row in own] for key in ERRORS}
        panels = [
            (f"{say(f'sensors.{kind}')} [{unit}]", drawn[f"{kind}_prior"], drawn[f"{kind}_fitted"])
            for kind in ("rmse", "bias")
        ]
        svg = partial(
            sensor_hours_figure, f"hours-{number}-{overall['sensor'].replace('_', '-')}",
            [row["hour"] for row in own], panels, reader,
            labels=[say(f"sensors.{name}") for name in ("hour_axis", "prior", "fitted")],
            title=say("sensors.hours_title", block=reader.name(block["block"]), **words), alt=alt,
        )  # fmt: skip
        hour = [(say("sensors.column.hour"), lambda row: reader.number(row["hour"]))]
        table = _errors("hours_table", own, hour, reader, **words)
        yield Figure(svg, alt, table, source)
