"""The answer of a command: its files, its pages for the browser, and what it prints."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from phenocast import io, report
from phenocast.cli.console import note
from phenocast.cli.options import Kind, OutPath, one_of, print_json

if TYPE_CHECKING:
    from phenocast.io import InputFile, OutputFolder
    from phenocast.report.render import Parts
    from phenocast.season import Season

F = TypeVar("F", bound=Callable[..., Any])

LANGUAGES = ("en", "es")
UNITS = ("metric", "us")
PAGE_OPTIONS = {"language": one_of(*LANGUAGES), "units": one_of(*UNITS)}
"""Options of pages as a manifest holds them (see `phenocast.cli.options`)."""

language_option = click.option(
    "--language", type=click.Choice(LANGUAGES), default="en", show_default=True,
    help="Language of text and page.",
)  # fmt: skip
units_option = click.option(
    "--units", type=click.Choice(UNITS), default="metric", show_default=True,
    help="Units of text and page; files for programs keep their own.",
)  # fmt: skip


def page_options(function: F) -> F:
    """--report, --language and --units together."""
    page = click.option(
        "--report",
        type=OutPath("FILE"),
        metavar="FILE.html",
        help="Write the answer as one page for the browser, which needs no network. A folder of "
        "--out holds it as report.html in any case.",
    )
    return page(language_option(units_option(function)))


@dataclass(frozen=True)
class Answer:
    """What a command found, and what its manifest tells of how it came about.

    Parameters
    ----------
    document : dict
    options : mapping
        As a rerun takes them, those of pages left out.
    inputs : sequence of InputFile
    season : Season or None
    warnings : sequence of str or None
        None for those of the document.
    more : callable or None
        Writes further files into a folder, given a language and units.
    """

    document: dict[str, Any]
    options: Mapping[str, Any]
    inputs: Sequence[InputFile]
    season: Season | None = None
    warnings: Sequence[str] | None = None
    more: Callable[[OutputFolder, str, str], object] | None = None


@dataclass(frozen=True)
class View:
    """How the answer of a command is shown: as a document, as text, and as pages.

    Parameters
    ----------
    kind : str
        Name of the files of document and text, that of the command.
    parts : callable
        Loads what makes the lists of parts, by the names of the pages; the text is made of the
        first of them. See `phenocast.report`.
    options : mapping
        Kinds of the options that a manifest of the command holds, those of pages left out.
    roles : mapping
        Roles of the inputs in a manifest that a rerun reads, each with whether it must be there.
    make : callable or None
        Makes the answer: called with the inputs of a manifest by role, and its options.
    listed : sequence of str
        Names of further files that an answer writes.
    """

    kind: str
    parts: Callable[[], Mapping[str, Parts]]
    options: Mapping[str, Kind] = field(default_factory=dict)
    roles: Mapping[str, bool] = field(default_factory=lambda: {"season": True})
    make: Callable[..., Answer] | None = None
    listed: Sequence[str] = ()

    def text(
        self, document: dict[str, Any], language: str, units: str, *, list_assumed: bool = False
    ) -> str:
        """Return the text of a document."""
        parts = next(iter(self.parts().values()))
        return report.render.to_text(
            parts, document, language=language, units=units, list_assumed=list_assumed
        )

    def page(self, name: str, document: dict[str, Any], language: str, units: str) -> str:
        """Return one of the pages of a document, by its name."""
        parts = self.parts()[name]
        return report.render.to_html(parts, document, language=language, units=units)

    def write_document(
        self, folder: OutputFolder, document: dict[str, Any], language: str, units: str
    ) -> None:
        """Write document, text and pages into a folder; all are made of the document alone."""
        folder.write(f"{self.kind}.json", io.plain_to_json(document))
        folder.write(f"{self.kind}.txt", self.text(document, language, units))
        for name in self.parts():
            folder.write(name, self.page(name, document, language, units))

    def write(self, folder: OutputFolder, answer: Answer, language: str, units: str) -> None:
        """Write document, text, pages and manifest into a folder."""
        self.write_document(folder, answer.document, language, units)
        if answer.more is not None:
            answer.more(folder, language, units)
        told = answer.document["warnings"] if answer.warnings is None else answer.warnings
        io.write_manifest(
            folder,
            self.kind,
            options={**answer.options, "language": language, "units": units},
            seed=answer.options.get("seed"),
            season=answer.season,
            inputs=answer.inputs,
            warnings=told,
        )

    def reproduce(
        self,
        folder: OutputFolder,
        options: Mapping[str, Any],
        inputs: Mapping[str, tuple[Path, ...]],
    ) -> None:
        """Write the files of an earlier run again, from options and inputs of its manifest."""
        own = {name: value for name, value in options.items() if name not in PAGE_OPTIONS}
        assert self.make is not None
        self.write(folder, self.make(inputs, **own), options["language"], options["units"])

    def run(
        self,
        make: Callable[[], Answer],
        *,
        out: Path | None,
        language: str,
        units: str,
        as_json: bool,
        force: bool,
        list_assumed: bool = False,
        **pages: Path | None,
    ) -> None:
        """Make an answer, leave its files and pages, and print it.

        Parameters
        ----------
        make : callable
        out : Path or None
            Folder of results.
        language, units : str
            Of text and pages.
        as_json, force : bool
        list_assumed : bool
            List every assumed parameter in the text that is printed.
        **pages : Path or None
            Single pages to write, by the names of their files without ending.
        """
        for page in pages.values():
            may_write_page(page, force=force)
        if out is None:
            document = make().document
        else:
            with io.OutputFolder(out, force=force) as folder:
                answer = make()
                self.write(folder, answer, language, units)
            document = answer.document
            names = [f"{self.kind}.json", f"{self.kind}.txt", *self.listed, *self.parts()]
            note(f"{out}: {', '.join([*names, 'manifest.json'])}")
        for name, path in pages.items():
            html = partial(self.page, f"{name}.html", document, language, units)
            write_page(path, html, force=force)
        if as_json:
            print_json(document)
        else:
            text = self.text(document, language, units, list_assumed=list_assumed)
            click.echo(text, nl=False)


def may_write_page(path: Path | None, *, force: bool) -> None:
    """Refuse a page that is in the way before long work is done for it."""
    if path is not None:
        io.may_write(path, force=force)


def write_page(path: Path | None, html: Callable[[], str], *, force: bool) -> None:
    """Write a page, where one was asked for, and say where it is.

    Parameters
    ----------
    path : Path or None
    html : callable
        Makes the page.
    force : bool
    """
    if path is not None:
        io.write_atomic(path, html(), force=force)
        note(f"{path}: open it in a browser; print it from there to have a PDF")
