"""``phenocast guide``: the guides that lie in the package."""

import sys
from importlib.resources import files

import click

from phenocast.cli.console import Command

GUIDES = {
    "users": "by user: grower, cooperative, breeder, trial researcher; every command",
    "python": "what a researcher imports: functions, arrays and data frames",
    "methods": "the model with its equations, sources and limits",
    "tables": "columns of all tables, keys of all documents",
}


@click.command(
    "guide",
    cls=Command,
    paste=("phenocast guide", "phenocast guide users"),
    short_help="Show a guide: users, python, methods or tables.",
)
@click.argument("name", type=click.Choice(list(GUIDES)), metavar="[NAME]", required=False)
def command(name: str | None) -> None:
    """Show the guide users, python, methods or tables; without [NAME], list the four.

    On a terminal the guide is shown page by page, elsewhere it is printed as Markdown.
    """
    if name is None:
        for one, content in GUIDES.items():
            click.echo(f"{one:<8}  {content}")
        return
    if on_terminal():
        click.echo_via_pager(text_of(name))
    else:
        click.echo(text_of(name).encode("utf-8"), nl=False)


def text_of(name: str) -> str:
    """Return a guide as Markdown."""
    return files("phenocast").joinpath("guides", f"{name}.md").read_text(encoding="utf-8")


def on_terminal() -> bool:
    """Say whether a person reads what is printed."""
    return sys.stdout.isatty()
