"""``phenocast trial``: analysis of a designed film trial."""

from functools import partial
from pathlib import Path

import click

from phenocast import io, report
from phenocast.cli.console import Command
from phenocast.cli.options import (
    FLAG,
    TEXT,
    FilePath,
    force_option,
    json_option,
    out_folder_option,
)
from phenocast.cli.pages import Answer, View, page_options
from phenocast.errors import InputError


@click.command(
    "trial",
    cls=Command,
    paste=(
        "phenocast template trial --out trial.csv",
        "phenocast trial trial.csv --response marketable_g_per_plant",
    ),
    short_help="Analysis of a designed film trial.",
)
@click.argument("records", type=FilePath("FILE"), metavar="RECORDS")
@click.option("--response", metavar="COLUMN", required=True, help="Column that was measured.")
@click.option(
    "--whole-plot",
    metavar="COLUMN",
    default="film",
    show_default=True,
    help="Treatment that was given to whole plots (beds).",
)
@click.option(
    "--sub-plot",
    metavar="COLUMN",
    default="cultivar",
    show_default=True,
    help="Treatment that was given to sub-plots within them.",
)
@click.option(
    "--block",
    metavar="COLUMN",
    default="replicate",
    show_default=True,
    help="Block that holds every treatment once.",
)
@click.option(
    "--average",
    is_flag=True,
    help="Average several records of a plot (plants, samples) into one value first. Without it "
    "they are refused, for they are no replicates.",
)
@page_options
@out_folder_option(required=False)
@json_option
@force_option
def command(
    records: Path,
    response: str,
    whole_plot: str,
    sub_plot: str,
    block: str,
    average: bool,
    report: Path | None,
    out: Path | None,
    language: str,
    units: str,
    as_json: bool,
    force: bool,
) -> None:
    """Analyse the split-plot trial in RECORDS: each effect against the error of its own plots.

    RECORDS is a CSV or Parquet file with one row a plot. The columns season and site, where there,
    part it into trials that are analysed one by one; the column whole_plot, where there, names the
    beds and uncovers a bed that is counted as several replicates, which is refused. Missing plots
    are answered by restricted maximum likelihood. With --out the folder holds trial.json,
    trial.txt, report.html and manifest.json; with --report the page is written alone.
    """
    names = {"--response": response, "--whole-plot": whole_plot, "--sub-plot": sub_plot,
             "--block": block}  # fmt: skip
    for option, name in names.items():
        others = [other for other, its in names.items() if its == name and other != option]
        if others:
            raise click.UsageError(f"{option} and {others[0]} name the same column '{name}'.")
    VIEW.run(
        partial(answer, records, response, block, whole_plot, sub_plot, average), out=out,
        language=language, units=units, as_json=as_json, force=force, report=report,
    )  # fmt: skip


def answer(
    records: Path, response: str, block: str, whole_plot: str, sub_plot: str, average: bool
) -> Answer:
    """Analysis of a file of records, with what its manifest tells."""
    from phenocast.trials import analyse_seasons, trial_document

    read = io.read_trial_records(records, response, (block, whole_plot, sub_plot))
    try:
        trials = analyse_seasons(
            read.table,
            response,
            block=block,
            whole=whole_plot,
            sub=sub_plot,
            subsamples="mean" if average else "refuse",
        )
    except InputError as error:
        raise InputError(
            [
                type(fault)(
                    fault.what,
                    f"{read.source}, {fault.where}" if fault.where else read.source,
                    fault.value,
                    fault.allowed,
                    fault.do.replace("ask for means of plots", "use --average"),
                )
                for fault in error.faults
            ]
        ) from None
    document = io.plain_document(
        trial_document(
            trials,
            source=read.source,
            records=len(read.table),
            unit=read.unit,
            warnings=read.notes,
        )
    )
    options = {"response": response, "block": block, "whole_plot": whole_plot,
               "sub_plot": sub_plot, "average": average}  # fmt: skip
    return Answer(document, options, [io.InputFile("records", records)])


VIEW = View(
    "trial",
    lambda: {"report.html": report.trial.trial_parts},
    options={
        "response": TEXT,
        "block": TEXT,
        "whole_plot": TEXT,
        "sub_plot": TEXT,
        "average": FLAG,
    },
    roles={"records": True},
    make=lambda inputs, **options: answer(inputs["records"][0], **options),
)
