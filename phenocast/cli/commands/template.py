"""``phenocast template``: a commented file to start from."""

from pathlib import Path

import click

from phenocast import io
from phenocast.cli.console import Command
from phenocast.cli.options import OutPath, force_option

KINDS = (
    "season", "weather", "records", "chamber", "sensors", "prices", "tallies", "trial",
    "dictionary",
)  # fmt: skip


@click.command(
    "template",
    cls=Command,
    paste=("phenocast template season --out season.toml", "phenocast template weather"),
    short_help="Write a file to start from.",
)
@click.argument("kind", type=click.Choice(KINDS), metavar="KIND")
@click.option(
    "--out",
    type=OutPath("FILE"),
    metavar="FILE",
    help="File to write; without it the template is printed.",
)
@force_option
def command(kind: str, out: Path | None, force: bool) -> None:
    """Write a commented file to start from: every column or key is explained in it.

    KIND is one of season, weather, records, chamber, sensors, prices, tallies and trial. A season
    file names a weather file; `season` and `weather` fit each other. The KIND dictionary is the
    page of all tables of records: columns, units, ranges, what is required and what it means.
    """
    text = io.template(kind)
    if out is None:
        click.echo(text.encode("utf-8"), nl=False)
        return
    io.write_atomic(out, text, force=force)
    click.echo(f"{out}")
