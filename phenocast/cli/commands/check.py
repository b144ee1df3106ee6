"""``phenocast check``: what was understood of season and weather files."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from phenocast import io
from phenocast.cli import inspect, running
from phenocast.cli.group import Command
from phenocast.cli.options import FilePath, json_option, print_json
from phenocast.errors import Fault, InputError, NoAnswerError, cautions_first

SCHEMA_VERSION = 1


@click.command(
    "check",
    cls=Command,
    paste=(
        "phenocast demo --out phenocast-demo",
        "phenocast check phenocast-demo/season.toml",
    ),
    short_help="Say what was understood of season and weather files.",
)
@click.argument("files", type=FilePath("FILE"), metavar="FILE...", nargs=-1, required=True)
@click.option(
    "--time-zone",
    metavar="ZONE",
    help="For a weather file: the clock of its stamps, UTC or a name such as Atlantic/Canary. A "
    "season file states this itself.",
)
@click.option(
    "--stamp",
    type=click.Choice(["start", "end"]),
    help="For a weather file: whether a stamp opens or closes its interval.",
)
@json_option
def command(
    files: tuple[Path, ...], time_zone: str | None, stamp: str | None, as_json: bool
) -> None:
    """Say what was understood of each FILE: a season file (.toml) or a weather file.

    Of a season: place, blocks, weather, and what a forecast of it would rest on. Of weather:
    columns and units, period, gaps, how much is filled, doubtful values with their rows. Faults go
    to standard error; the exit code is 3 where a file is refused, else 4 where too much is missing.
    """
    from phenocast.report.check_text import check_text

    answers: list[dict[str, Any]] = []
    faults: list[Fault] = []
    refused = False
    for path in files:
        answer: dict[str, Any] = {
            "file": str(path), "understood": {}, "faults": [], "fault_count": 0,
        }  # fmt: skip
        look = _season if path.suffix.lower() == ".toml" else _weather(time_zone, stamp)
        try:
            look(path, answer)
        except (InputError, NoAnswerError) as error:
            found = [_told_here(fault, answer["kind"]) for fault in error.faults]
            answer["faults"] = [str(fault) for fault in found]
            answer["fault_count"] = error.count
            faults += found
            refused = refused or isinstance(error, InputError)
        answers.append(answer)
    document = {"schema_version": SCHEMA_VERSION, "kind": "check", "files": answers}
    if as_json:
        print_json(document)
    else:
        click.echo(check_text(answers), nl=False)
    if faults:
        raise InputError(faults) if refused else NoAnswerError(faults)


def _told_here(fault: Fault, kind: str) -> Fault:
    """A fault that names keys, which a weather file checked by itself has no place for."""
    if kind != "weather" or "not stated" not in fault.what:
        return fault
    return replace(
        fault,
        do=f"{fault.do}; keys go under [weather] of the season file that names this file; here "
        "--time-zone and --stamp do the same",
    )


def _season(path: Path, answer: dict[str, Any]) -> None:
    """Look at a season file; what was understood before a fault stays in the answer."""
    understood = answer["understood"]
    answer["kind"] = "season"
    season = io.read_season(path)
    understood.update(io.plain_data(inspect.season_stated(season)))
    records = io.season_weather(season, path.parent)
    understood["weather"] = io.plain_data(inspect.season_weather_read(season, records, path.parent))
    weather = running.hourly(season, records)
    for kind, table in inspect.season_filled(weather).items():
        understood["weather"][kind][0].update(table)
    loaded = running.Loaded(season, records.notes, weather, io.season_inputs(path, season))
    with running.patient_note():
        understood["forecast"] = io.plain_data(inspect.forecast_possible(loaded))
    inspect.planning_possible(season, path.parent)


def _weather(time_zone: str | None, stamp: str | None) -> Callable[[Path, dict[str, Any]], None]:
    """How to look at a weather file whose clock is stated on the command line."""

    def look(path: Path, answer: dict[str, Any]) -> None:
        from phenocast.weather import to_hourly
        from phenocast.weather.quality import record_doubts

        answer["kind"] = "weather"
        stated = io.Stated(time_zone=time_zone, stamp=stamp)
        members = io.read_weather_members(path, stated)
        records = members[0]
        understood = io.plain_data(inspect.records_read(records, path, stated))
        if len(members) > 1:
            understood["members"] = len(members)
        answer["understood"] = understood
        site = inspect.site_of_file(records)
        told = [*records.notes, *record_doubts(records)]
        if site is not None:
            weather = to_hourly(records, site)
            understood.update(inspect.filled(weather))
            told += weather.warnings
        understood["notes"] = list(cautions_first(told))
        for one in members if site is None else members[1:]:
            inspect.usable(one)

    return look
