"""``phenocast crown``: the hourly temperature table."""

from datetime import date
from functools import partial
from pathlib import Path

import click

from phenocast import io, report
from phenocast.cli import running
from phenocast.cli.console import Command, note, warn
from phenocast.cli.options import (
    OutPath,
    as_of_option,
    force_option,
    json_option,
    print_json,
    season_argument,
)
from phenocast.cli.pages import (
    View,
    language_option,
    may_write_page,
    units_option,
    write_page,
)


@click.command(
    "crown",
    cls=Command,
    paste=(
        "phenocast demo --out phenocast-demo",
        "phenocast crown phenocast-demo/season.toml --out crown.csv",
    ),
    short_help="Hourly film, crown and root-zone temperature of each block.",
)
@season_argument
@click.option(
    "--out",
    type=OutPath("FILE"),
    metavar="FILE",
    help="Table to write, ending in .csv or .parquet.",
)
@as_of_option
@click.option(
    "--report",
    type=OutPath("FILE"),
    metavar="FILE.html",
    help="Write mean day and weeks of every bed as one page for the browser, which needs no "
    "network.",
)
@language_option
@units_option
@json_option
@force_option
def command(
    season: Path,
    out: Path | None,
    as_of: date | None,
    report: Path | None,
    language: str,
    units: str,
    as_json: bool,
    force: bool,
) -> None:
    """Write the hourly temperatures of every block of SEASON, one row an hour and block.

    Columns: block, time_utc (start of the hour), air_c, film_surface_c, air_above_film_c, crown_c,
    soil_5cm_c, soil_10cm_c, canopy_cover (0 to 1), filled (bits that tell what was filled in the
    weather). Hours after the observed weather are those of the latest past year, and standard error
    says which. With --report the mean day and the weeks of every bed are written as a page,
    and --json prints the document behind it; one of the three is needed.
    """
    if out is None and report is None and not as_json:
        raise click.UsageError("nothing to leave: say --out FILE, --report FILE.html or --json")
    from phenocast.tables import CROWN_TEMPERATURES

    if out is not None:
        io.check_suffix(out)
        io.may_write(out, force=force)
    may_write_page(report, force=force)
    loaded = running.load(season)
    issued = running.issue_date(loaded, as_of)
    table = running.crown_rows(loaded, issued)
    for warning in loaded.told.warnings:
        warn(warning)
    if out is not None:
        io.write_table(table, out, contract=CROWN_TEMPERATURES, force=force)
        blocks = len(loaded.season.blocks)
        note(
            f"{out}: {len(table)} rows, {blocks} {'block' if blocks == 1 else 'blocks'}; weather: "
            f"{running.course_in_words(loaded, issued, table)}"
        )
    if report is None and not as_json:
        return

    document = running.crown_beds(loaded, issued, table)
    html = partial(VIEW.page, "report.html", document, language, units)
    write_page(report, html, force=force)
    if as_json:
        print_json(document)


VIEW = View("crown", lambda: {"report.html": report.crown.crown_parts})
