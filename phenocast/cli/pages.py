"""Pages for the browser that commands leave: their options, and how they are written."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from phenocast.cli.again import one_of
from phenocast.cli.console import note
from phenocast.cli.options import OutPath

F = TypeVar("F", bound=Callable[..., Any])

LANGUAGES = ("en", "es")
UNITS = ("metric", "us")
PAGE_OPTIONS = {"language": one_of(*LANGUAGES), "units": one_of(*UNITS)}
"""Options of pages as a manifest holds them (see `phenocast.cli.again`)."""


def report_option(function: F) -> F:
    """--report, a page of its own."""
    return click.option(
        "--report",
        type=OutPath("FILE"),
        metavar="FILE.html",
        help="Write the answer as one page for the browser, which needs no network. A folder of "
        "--out holds it as report.html in any case.",
    )(function)


def language_option(function: F) -> F:
    """--language of pages."""
    return click.option(
        "--language", type=click.Choice(LANGUAGES), default="en", show_default=True,
        help="Language of the page.",
    )(function)  # fmt: skip


def units_option(function: F) -> F:
    """--units of pages."""
    return click.option(
        "--units", type=click.Choice(UNITS), default="metric", show_default=True,
        help="Units of the page; files for programs keep their own.",
    )(function)  # fmt: skip


def page_options(function: F) -> F:
    """--report, --language and --units together."""
    return report_option(language_option(units_option(function)))


def may_write_page(path: Path | None, *, force: bool) -> None:
    """Refuse a page that is in the way before long work is done for it.

    Raises
    ------
    InputError
        Where the file exists and ``force`` is not given.
    """
    if path is not None:
        from phenocast.io import may_write

        may_write(path, force=force)


def write_page(path: Path | None, html: Callable[[], str], *, force: bool) -> None:
    """Write a page, where one was asked for, and say where it is.

    Parameters
    ----------
    path : Path or None
    html : callable
        Makes the page; not called without a path.
    force : bool
    """
    if path is not None:
        from phenocast.io import write_atomic

        write_atomic(path, html(), force=force)
        note(f"{path}: open it in a browser; print it from there to have a PDF")
