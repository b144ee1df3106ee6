"""``phenocast trial``: analysis of a designed film trial."""

from __future__ import annotations

from pathlib import Path

import click

from phenocast.cli.group import Command
from phenocast.cli.options import FilePath, json_option, print_json


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
@json_option
def command(
    records: Path,
    response: str,
    whole_plot: str,
    sub_plot: str,
    block: str,
    average: bool,
    as_json: bool,
) -> None:
    """Analyse the split-plot trial in RECORDS: each effect against the error of its own plots.

    RECORDS is a CSV or Parquet file with one row a plot. The columns season and site, where there,
    part it into trials that are analysed one by one; the column whole_plot, where there, names the
    beds and uncovers a bed that is counted as several replicates, which is refused. Missing plots
    are answered by restricted maximum likelihood.
    """
    from phenocast.errors import InputError
    from phenocast.io import plain_data, read_trial_records
    from phenocast.report.trial_text import trial_text
    from phenocast.trials import analyse_seasons, trial_document

    names = {"--response": response, "--whole-plot": whole_plot, "--sub-plot": sub_plot,
             "--block": block}  # fmt: skip
    for option, name in names.items():
        others = [other for other, its in names.items() if its == name and other != option]
        if others:
            raise click.UsageError(f"{option} and {others[0]} name the same column '{name}'.")
    read = read_trial_records(records, response, (block, whole_plot, sub_plot))
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
    document = plain_data(
        trial_document(
            trials,
            source=read.source,
            records=len(read.table),
            unit=read.unit,
            warnings=read.notes,
        )
    )
    assert isinstance(document, dict)
    if as_json:
        print_json(document)
        return
    click.echo(trial_text(document), nl=False)
