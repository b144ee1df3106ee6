"""``phenocast hindcast``: forecasts of past seasons against what was picked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from phenocast.cli import running
from phenocast.cli.again import COUNT, SEED, TEXT, Kind
from phenocast.cli.answer_files import write_answer
from phenocast.cli.console import Progress, note
from phenocast.cli.group import Command
from phenocast.cli.options import (
    FilePath,
    draws_option,
    force_option,
    json_option,
    out_folder_option,
    print_json,
    seed_option,
)
from phenocast.cli.pages import PAGE_OPTIONS, may_write_page, page_options, write_page

if TYPE_CHECKING:
    from phenocast.forecast import PastBlock
    from phenocast.io import OutputFolder

PAST_YEARS = ("earlier", "others")


@click.command(
    "hindcast",
    cls=Command,
    paste=(
        "phenocast demo --out phenocast-demo",
        "phenocast hindcast phenocast-demo/past/records.csv phenocast-demo/past --out my-hindcast",
    ),
    short_help="Forecasts of past seasons against what was picked.",
)
@click.argument("records", type=FilePath("FILE"), metavar="RECORDS")
@click.argument("seasons", type=FilePath("FILE"), metavar="SEASON...", nargs=-1, required=True)
@click.option(
    "--after",
    "leads",
    type=click.IntRange(0, 300),
    metavar="DAYS",
    multiple=True,
    default=(0,),
    show_default=True,
    help="Make the forecast so many days after planting; may be given several times.",
)
@click.option(
    "--past-years",
    type=click.Choice(PAST_YEARS),
    default="earlier",
    show_default=True,
    help="Years that stand for the weather to come: those that had ended by then, or all but the "
    "season's own (nobody had those then).",
)
@draws_option
@seed_option
@out_folder_option(required=True)
@page_options
@json_option
@force_option
def command(
    records: Path,
    seasons: tuple[Path, ...],
    leads: tuple[int, ...],
    past_years: str,
    draws: int,
    seed: int,
    out: Path,
    report: Path | None,
    language: str,
    units: str,
    as_json: bool,
    force: bool,
) -> None:
    """Forecast every block of past SEASONs that has picks in RECORDS, as of its planting.

    A folder stands for every season file in it. Only what was known then is used: observed weather
    to the day before, and past years that had ended. The forecasts are scored against the picks
    (error of first pick, how often 80 % intervals held, CRPS, weekly fruit) and against what the
    other seasons would have told. The folder of --out holds hindcast.json, hindcast.txt,
    report.html and manifest.json.
    """
    from phenocast.io import OutputFolder
    from phenocast.report.hindcast_page import hindcast_page
    from phenocast.report.hindcast_text import hindcast_text

    may_write_page(report, force=force)
    seasons = running.season_files(seasons)
    with OutputFolder(out, force=force) as folder:
        document = produce(
            folder, records, seasons, sorted(set(leads)), past_years, draws, seed, language, units
        )
    note(f"{out}: hindcast.json, hindcast.txt, report.html, manifest.json")
    write_page(report, lambda: hindcast_page(document, language=language, units=units), force=force)
    if as_json:
        print_json(document)
        return
    click.echo(hindcast_text(document), nl=False)


def produce(
    folder: OutputFolder,
    records: Path,
    seasons: Sequence[Path],
    leads: Sequence[int],
    past_years: str,
    draws: int,
    seed: int,
    language: str = "en",
    units: str = "metric",
) -> dict[str, Any]:
    """Write the files of hindcasts into a folder, and return their document."""
    from phenocast.errors import labelled
    from phenocast.forecast import hindcast_blocks
    from phenocast.forecast.hindcast_document import hindcast_document
    from phenocast.io import (
        InputFile,
        plain_data,
        season_labels,
        write_manifest,
    )
    from phenocast.report.hindcast_page import hindcast_page
    from phenocast.report.hindcast_text import hindcast_text

    labels = season_labels(seasons)
    loaded = {label: running.load(path) for label, path in zip(labels, seasons, strict=True)}
    read = running.picks_of(records, loaded)
    pasts, unused = past_blocks(read.table, loaded)
    with Progress() as progress, running.patient_note() as started:

        def tell(done: int, total: int, what: str) -> None:
            started()
            progress(done, total, what)

        made, missed = hindcast_blocks(
            pasts, leads=leads, draws=draws, seed=seed,
            past_years="others" if past_years == "others" else "earlier", progress=tell,
        )  # fmt: skip
    warnings = [*read.notes, *fitted_warnings(pasts)]
    for label, one in loaded.items():
        warnings += [labelled(label, text) for text in one.told.warnings]
    document = plain_data(
        hindcast_document(
            made, missed, source=read.source, records=len(read.table), unused=unused, draws=draws,
            seed=seed, past_years="others" if past_years == "others" else "earlier",
            warnings=warnings,
        )
    )  # fmt: skip
    assert isinstance(document, dict)
    pages = {"report.html": hindcast_page(document, language=language, units=units)}
    write_answer(folder, "hindcast", document, hindcast_text(document), pages)
    inputs = [one for season in loaded.values() for one in season.inputs]
    write_manifest(
        folder,
        "hindcast",
        options={"leads": list(leads), "past_years": past_years, "draws": draws, "seed": seed,
                 "language": language, "units": units},
        seed=seed,
        inputs=[InputFile("records", records), *inputs],
        warnings=document["warnings"],
    )  # fmt: skip
    return document


def past_blocks(
    table: Any, loaded: Mapping[str, running.Loaded]
) -> tuple[list[PastBlock], list[dict[str, Any]]]:
    """Block-seasons that have picks, and those whose records tell of none.

    Parameters
    ----------
    table : DataFrame
        Records, each put to its season and block.
    loaded : seasons by label.
    """
    from phenocast.errors import Fault, InputError
    from phenocast.forecast import PastBlock, picked_block

    pasts, unused = [], []
    faults: list[Fault] = []
    for (label, name), own in table.groupby(["season", "block"], sort=True):
        one = loaded[label]
        block = one.season.block(name)
        weighed = own["marketable_g_per_plant"].notna().any()
        if not weighed and not (own["event"] == "first pick").any():
            unused.append(
                {"season": label, "block": name, "rows": [int(row) for row in own["row"]],
                 "reason": "no marketable weight and no date of first pick"}
            )  # fmt: skip
            continue
        try:
            picked = picked_block(own, block.planting_date, block.first_pick_g_per_plant)
        except InputError as error:
            faults += [
                Fault(one.what, f"records, {label}: {name}", one.value, one.allowed, one.do)
                for one in error.faults
            ]
            continue
        pasts.append(PastBlock(str(label), one.season, block, one.weather, picked))
    if faults:
        raise InputError(faults)
    return pasts, unused


def fitted_warnings(pasts: Sequence[PastBlock]) -> list[str]:
    """Say of cultivars with fitted numbers that they may have been fitted to these very records."""
    from phenocast.parameters import cultivars

    shipped = {name: dict(one) for name, one in cultivars().items()}
    names = sorted(
        {
            past.block.cultivar
            for past in pasts
            if any(
                one.basis == "fitted" and one != shipped.get(past.block.cultivar, {}).get(key)
                for key, one in past.season.cultivar(past.block.cultivar).items()
            )
        }
    )
    if not names:
        return []
    told = (
        f"numbers of {', '.join(names)} were fitted: if to these records, the scores tell how well "
        "they were followed and not how well others will be"
    )
    return [told]


def _leads(value: object) -> list[int]:
    if not isinstance(value, list) or not value:
        raise TypeError
    return [SEED.read(one) for one in value]


OPTIONS = {
    "leads": Kind(_leads, "a list of whole numbers, 0 or more"),
    "past_years": TEXT,
    "draws": COUNT,
    "seed": SEED,
    **PAGE_OPTIONS,
}
ROLES = ("records", "season")


def again(
    folder: OutputFolder, options: Mapping[str, Any], inputs: Mapping[str, tuple[Path, ...]]
) -> None:
    """Write the files of an earlier run again, from the options in its manifest."""
    produce(
        folder, inputs["records"][0], inputs["season"], options["leads"], options["past_years"],
        options["draws"], options["seed"], options["language"], options["units"],
    )  # fmt: skip
