"""``phenocast check``: what was understood of season and weather files."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from phenocast import io, report
from phenocast.cli import running
from phenocast.cli.console import Command
from phenocast.cli.options import FilePath, json_option, print_json
from phenocast.errors import Fault, InputError, NoAnswerError, cautions_first

if TYPE_CHECKING:
    from phenocast.io import SeasonWeatherRecords, Stated
    from phenocast.season import Season, Site
    from phenocast.weather import HourlyWeather, SeasonWeather, WeatherRecords
    from phenocast.weather.quality import Checked


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
        click.echo(report.check.check_text(answers), nl=False)
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
    understood.update(io.plain_data(season_stated(season)))
    records = io.season_weather(season, path.parent)
    understood["weather"] = io.plain_data(season_weather_read(season, records, path.parent))
    weather = io.hourly(season, records)
    for kind, table in season_filled(weather).items():
        understood["weather"][kind][0].update(table)
    seen = None if season.records_file is None else path.parent / season.records_file
    loaded = io.Loaded(season, records.notes, weather, io.season_inputs(path, season), seen)
    with running.patient_note():
        understood["forecast"] = io.plain_data(forecast_possible(loaded))
    planning_possible(season, path.parent)


def _weather(time_zone: str | None, stamp: str | None) -> Callable[[Path, dict[str, Any]], None]:
    """How to look at a weather file whose clock is stated on the command line."""

    def look(path: Path, answer: dict[str, Any]) -> None:
        from phenocast.weather import to_hourly
        from phenocast.weather.quality import record_doubts

        answer["kind"] = "weather"
        stated = io.Stated(time_zone=time_zone, stamp=stamp)
        members = io.read_weather_members(path, stated)
        records = members[0]
        understood = io.plain_data(records_read(records, path, stated))
        if len(members) > 1:
            understood["members"] = len(members)
        answer["understood"] = understood
        site = site_of_file(records)
        told = [*records.notes, *record_doubts(records)]
        if site is not None:
            weather = to_hourly(records, site)
            understood.update(filled(weather))
            told += weather.warnings
        understood["notes"] = list(cautions_first(told))
        for one in members if site is None else members[1:]:
            usable(one)

    return look


KINDS = ("observed", "history", "outlook", "nursery")


def season_stated(season: Season) -> dict[str, Any]:
    """Place, bed and blocks of a season as they were understood, defaults included."""
    site = season.site
    return {
        "site": _site(site),
        "bed": {
            "top_width_m": season.bed.top_width_m,
            "height_m": season.bed.height_m,
            "row_spacing_m": season.bed.row_spacing_m,
            "soil": season.bed.soil,
        },
        "nursery": None if season.nursery is None else _site(season.nursery.site),
        "blocks": [
            {
                "block": block.name,
                "cultivar": block.cultivar,
                "film": block.film,
                "transplant": block.transplant,
                "planting_date": block.planting_date,
                "plants": round(block.plants),
                "area_ha": block.area_ha,
                "sprinkling_days": 0 if block.sprinkling is None else block.sprinkling.days,
                "covers": len(block.covers),
                "frost_protection": block.frost_kind or "not stated",
                "lighting": len(block.lighting),
                "cover_readings": len(block.canopy),
                "first_pick_g_per_plant": block.first_pick_g_per_plant,
            }
            for block in season.blocks
        ],
        "user_films": sorted(season.user_films),
        "user_cultivars": sorted(season.user_cultivars),
    }


def _site(site: Site) -> dict[str, Any]:
    return {
        "name": site.name,
        "latitude": site.latitude,
        "longitude": site.longitude,
        "elevation_m": site.elevation_m,
        "time_zone": site.time_zone,
    }


def season_weather_read(
    season: Season, records: SeasonWeatherRecords, folder: Path
) -> dict[str, Any]:
    """Files of a season's weather as they were read, by kind."""
    found: dict[str, Any] = {}
    for kind, (source, site) in season.sources.items():
        parts = records.parts()[kind]
        stated = io.Stated.of(source, site)
        paths = [folder / name for name in source.files]
        if kind == "outlook":  # one file, one set of records a member: the first stands for all
            found[kind] = [records_read(parts[0], paths[0], stated) | {"members": len(parts)}]
        else:
            found[kind] = [
                records_read(one, path, stated) for one, path in zip(parts, paths, strict=True)
            ]
    return found


def records_read(records: WeatherRecords, path: Path, stated: Stated) -> dict[str, Any]:
    """One weather file as it was read: columns, units, period, gaps, doubtful values.

    Parameters
    ----------
    records : WeatherRecords
    path : Path
        Of the file.
    stated : Stated
        What the user stated of it.
    """
    import numpy as np

    from phenocast.weather import VALUE_COLUMNS, checked

    table = records.table
    stamps = table["time_utc"].to_numpy()
    steps = np.diff(stamps)
    # The commonest distance between two rows; a file of one row has none.
    step = np.median(steps) if len(steps) else np.timedelta64(0, "ns")
    skipped = np.rint(steps / step).astype(int) - 1 if len(steps) else np.zeros(0, dtype=int)
    headers = headers_read(path, stated, records.columns)
    quality = checked(records)
    columns = []
    for name in records.columns:
        values = table[name].to_numpy()
        columns.append(
            {
                "quantity": name,
                "meaning": VALUE_COLUMNS[name],
                "header": headers.get(name),
                "missing": int(np.isnan(values).sum()),
                "removed": quality.removed.get(name, 0),
                "suspect": quality.suspect.get(name, 0),
                "lowest": _rounded(np.nanmin(values)),
                "highest": _rounded(np.nanmax(values)),
            }
        )
    return {
        "file": path.name,
        "step": records.step,
        "minutes": int(step / np.timedelta64(1, "m")),
        "rows": len(table),
        "first_utc": str(stamps[0].astype("datetime64[m]")),
        "last_utc": str(stamps[-1].astype("datetime64[m]")),
        "rows_missing": int(skipped.clip(min=0).sum()),
        "longest_gap_rows": int(skipped.max(initial=0)),
        "typical_year": records.typical_year,
        "wind_height_m": records.wind_height_m,
        "latitude": records.latitude,
        "longitude": records.longitude,
        "columns": columns,
        **findings(quality),
        "notes": list(records.notes),
    }


def findings(quality: Checked) -> dict[str, Any]:
    """Values that were taken out or are doubtful, gathered by quantity and reason.

    Parameters
    ----------
    quality : Checked
        The checks list the first values only, and count all of them.
    """
    gathered: dict[tuple[str, str, str], list[dict[str, Any]]] = {}
    for fault in quality.faults:
        _, row, quantity = fault.where.rsplit(", ", 2)
        place = {"row": int(row.removeprefix("row ")), "value": fault.value}
        gathered.setdefault((quantity, fault.what, fault.allowed), []).append(place)
    found = sum(quality.removed.values()) + sum(quality.suspect.values())
    return {
        "findings": [
            {"quantity": quantity, "what": what, "allowed": allowed, "places": places}
            for (quantity, what, allowed), places in gathered.items()
        ],
        "findings_not_listed": found - len(quality.faults),
    }


def _rounded(value: Any) -> float:
    return float(f"{float(value):.4g}")


def headers_read(path: Path, stated: Stated, quantities: Sequence[str]) -> dict[str, str]:
    """Header and unit that each quantity was read from; empty for formats that fix them.

    Parameters
    ----------
    path : Path
    stated : Stated
    quantities : sequence of str
        Quantities that were read.
    """
    from phenocast.io.raw_table import read_raw_table
    from phenocast.io.weather.quantities import find_columns, split_header

    try:
        table = read_raw_table(path)
    except InputError:
        return {}
    chosen, faults = find_columns(
        [str(header) for header in table.frame.columns], stated.columns, table.source
    )
    if faults or not set(quantities) <= set(chosen):
        return {}
    found = {}
    for quantity in quantities:
        header = chosen[quantity]
        unit = (
            stated.unit_of(quantity, header)
            or split_header(header).unit
            or table.units.get(header)
            or "%"  # the one unit that is taken from the values: humidity above 2
        )
        found[quantity] = f"'{split_header(header).name}' in {unit}"
    return found


def filled(weather: HourlyWeather) -> dict[str, Any]:
    """Hours of an hourly table, and how many of them were filled with what."""
    return {"hours": len(weather), "filled_hours": weather.filled_counts()}


def season_filled(weather: SeasonWeather) -> dict[str, Any]:
    """Filled hours of each kind of weather that a season has."""
    tables = {kind: getattr(weather, kind) for kind in KINDS if kind != "outlook"}
    found = {kind: filled(table) for kind, table in tables.items() if table is not None}
    for member in weather.outlook.values():
        found.setdefault("outlook", filled(member))
    return found


def forecast_possible(loaded: io.Loaded) -> dict[str, Any]:
    """What a forecast of a season would rest on, and what its user would be told.

    Raises
    ------
    InputError, NoAnswerError
        What a forecast would be refused for: the weather ends before the season does, a block or
        its nursery cannot be made ready.
    """
    from phenocast.forecast.advice import block_warnings, season_warnings
    from phenocast.forecast.draws import block_draws, nursery_of
    from phenocast.forecast.weather_traces import weather_traces
    from phenocast.simulation.bed import air_daily, bed_season, site_weather, spin_up_start
    from phenocast.simulation.setup import block_setup

    season = loaded.told
    setups = [block_setup(season, block) for block in season.blocks]
    issued = running.default_issue_date(season, loaded.weather)
    traces = weather_traces(
        loaded.weather,
        season.site,
        min(spin_up_start(setup) for setup in setups),
        max(setup.last_day for setup in setups),
        issued,
        min(block.planting_date for block in season.blocks),
    )
    warnings = list(season_warnings(season, loaded.weather, traces, issued))
    of_site = site_weather(traces.traces[0].weather, season.site)
    for setup in setups:
        warnings += [f"{setup.block.name}: {told}" for told in block_warnings(season, setup)]
        origin = nursery_of(season, setup.block, loaded.weather.nursery)
        block_draws(setup, len(traces.traces), 1, 0, nursery=origin)
        # refuses thresholds of the plant that are out of order
        air_daily(bed_season(setup, of_site), setup.cultivar, setup.n_days)
    # every row is looked at, those after the day of issue too
    records = running.season_records(loaded, max(setup.last_day for setup in setups))
    warnings += [] if records is None else records.warnings
    return {
        "issue_date": issued,
        "weather": {
            "observed_until": traces.observed_until,
            "outlook_members": traces.outlook_members,
            "past_years": list(traces.past_years),
            "weather_traces": len(traces.traces),
        },
        "warnings": warnings,
    }


def planning_possible(season: Season, folder: Path) -> None:
    """Look at labour, prices and tallies as `labour` and `compare` do before their long work.

    Raises
    ------
    InputError, NoAnswerError
        What these commands would be refused for, whatever the day.
    """
    from phenocast.forecast.packout import tray_of
    from phenocast.planning.labour.plan import check_before

    weeks = running.season_weeks(season)
    io.read_prices(season, folder, weeks)
    labour = season.labour
    if labour is not None:
        check_before(labour, weeks, min(block.planting_date for block in season.blocks))
        io.read_tallies(season, folder, tray_of(labour))


def usable(records: WeatherRecords) -> None:
    """Look at weather of a place that is not known as a season does, but for its sun.

    Raises
    ------
    InputError, NoAnswerError
        Where stamps are out of order, or more of the air temperature is missing than is filled.
    """
    from phenocast.season import Site
    from phenocast.weather import to_hourly

    table = records.table.drop(columns=["solar_w_m2"], errors="ignore")
    to_hourly(replace(records, table=table), Site(records.source, 0.0, 0.0, 0.0, "Etc/UTC"))


def site_of_file(records: WeatherRecords) -> Site | None:
    """Place that a weather file names itself, where it names all of it; None otherwise."""
    from phenocast.season import Site

    offset = records.utc_offset_h
    if records.latitude is None or records.longitude is None or offset is None:
        return None
    if abs(records.latitude) > 66.0 or abs(records.longitude) > 180.0 or offset != int(offset):
        return None
    zone = f"Etc/GMT{int(-offset):+d}"  # POSIX counts west as positive
    height = records.elevation_m or 0.0
    return Site(records.source, records.latitude, records.longitude, height, zone)
