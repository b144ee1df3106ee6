"""``phenocast hindcast``: forecasts of past seasons against what was picked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from phenocast import io, report
from phenocast.cli import running
from phenocast.cli.console import Command
from phenocast.cli.options import (
    COUNT,
    SEED,
    TEXT,
    FilePath,
    draws_option,
    force_option,
    json_option,
    list_of,
    out_folder_option,
    seed_option,
    workers_option,
)
from phenocast.cli.pages import Answer, View, page_options
from phenocast.errors import Fault, InputError, labelled, raise_any

if TYPE_CHECKING:
    from phenocast.forecast import PastBlock

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
@workers_option
@force_option
def command(
    records: Path,
    seasons: tuple[Path, ...],
    leads: tuple[int, ...],
    report: Path | None,
    out: Path,
    language: str,
    units: str,
    as_json: bool,
    force: bool,
    **asked: Any,
) -> None:
    """Forecast every block of past SEASONs that has picks in RECORDS, as of its planting.

    A folder stands for every season file in it. Only what was known then is used: observed weather
    to the day before, and past years that had ended. The forecasts are scored against the picks
    (error of first pick, how often 80 % intervals held, CRPS, weekly fruit) and against what the
    other seasons would have told. The folder of --out holds hindcast.json, hindcast.txt,
    report.html and manifest.json.
    """
    files = running.season_files(seasons)
    VIEW.run(
        partial(answer, records, files, leads=sorted(set(leads)), **asked), out=out,
        language=language, units=units, as_json=as_json, force=force, report=report,
    )  # fmt: skip


def answer(
    records: Path,
    seasons: Sequence[Path],
    *,
    leads: Sequence[int],
    past_years: str,
    draws: int,
    seed: int,
) -> Answer:
    """Hindcasts of past seasons, with what their manifest tells."""
    from phenocast.forecast import hindcast_blocks
    from phenocast.forecast.hindcast_document import hindcast_document

    labels = io.season_labels(seasons)
    loaded = {label: running.load(path) for label, path in zip(labels, seasons, strict=True)}
    read = running.picks_of(records, loaded)
    pasts, unused = past_blocks(read.table, loaded)
    years: Literal["others", "earlier"] = "others" if past_years == "others" else "earlier"
    with running.watched() as tell:
        made, missed = hindcast_blocks(
            pasts, leads=leads, draws=draws, seed=seed, past_years=years, progress=tell
        )
    warnings = [*read.notes, *fitted_warnings(pasts)]
    for label, one in loaded.items():
        warnings += [labelled(label, text) for text in one.told.warnings]
    document = io.plain_document(
        hindcast_document(
            made, missed, source=read.source, records=len(read.table), unused=unused, draws=draws,
            seed=seed, past_years=years, warnings=warnings,
        )
    )  # fmt: skip
    inputs = [one for season in loaded.values() for one in season.inputs]
    options = {"leads": list(leads), "past_years": past_years, "draws": draws, "seed": seed}
    return Answer(document, options, [io.InputFile("records", records), *inputs])


def past_blocks(
    table: Any, loaded: Mapping[str, io.Loaded]
) -> tuple[list[PastBlock], list[dict[str, Any]]]:
    """Block-seasons that have picks, and those whose records tell of none.

    Parameters
    ----------
    table : DataFrame
        Records, each put to its season and block.
    loaded : seasons by label.
    """
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
        pasts.append(PastBlock(str(label), one.season, block, one.weather, picked, one.past))
    raise_any(faults)
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


VIEW = View(
    "hindcast",
    lambda: {"report.html": report.hindcast.hindcast_parts},
    options={
        "leads": list_of(SEED, "a list of whole numbers, 0 or more"),
        "past_years": TEXT,
        "draws": COUNT,
        "seed": SEED,
    },
    roles={"records": True, "season": True},
    make=lambda inputs, **options: answer(inputs["records"][0], inputs["season"], **options),
)
