"""``phenocast fit``: cultivar parameters from past picks, or film files from sensors in a bed."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from phenocast import io, report
from phenocast.cli import running
from phenocast.cli.console import Command, Progress, note, warn
from phenocast.cli.options import (
    FLAG,
    SEED,
    FilePath,
    force_option,
    json_option,
    out_folder_option,
    print_json,
    seed_option,
    workers_option,
)
from phenocast.cli.pages import View, may_write_page, page_options, write_page
from phenocast.errors import Fault, InputError, NoAnswerError, raise_any, refuse, unknown_name

if TYPE_CHECKING:
    from collections.abc import Mapping

    from phenocast.calibration.cultivar.blocks import FitBlock
    from phenocast.io import HarvestRecords, InputFile, OutputFolder
    from phenocast.season import Season


DRAWS = 400
REPORT = "report.html"


@click.command(
    "fit",
    cls=Command,
    paste=(
        "phenocast demo --out phenocast-demo",
        "phenocast fit phenocast-demo/past/records.csv phenocast-demo/past --out my-fit",
    ),
    short_help="Cultivar parameters from past picks, flowers and dates.",
)
@click.argument("records", type=FilePath("FILE"), metavar="RECORDS")
@click.argument("seasons", type=FilePath("FILE"), metavar="SEASON...", nargs=-1, required=True)
@out_folder_option(required=True)
@click.option(
    "--robust",
    is_flag=True,
    help="Let a record that lies far off count for less (Student's t with 4 degrees of freedom).",
)
@click.option(
    "--chamber",
    type=FilePath("FILE"),
    metavar="FILE",
    help="Chamber trials (`phenocast template chamber` shows the columns): they tell induction.",
)
@click.option(
    "--profile",
    is_flag=True,
    help="Walk the profile likelihood of each heat sensitivity beside the quick intervals.",
)
@click.option(
    "--bootstrap",
    type=click.IntRange(0, 2000),
    metavar="N",
    default=0,
    show_default=True,
    help="Draw the seasons again N times (200 are enough) and fit each time.",
)
@seed_option
@json_option
@page_options
@workers_option
@force_option
def command(
    records: Path,
    seasons: tuple[Path, ...],
    out: Path,
    report: Path | None,
    language: str,
    units: str,
    as_json: bool,
    force: bool,
    **asked: Any,
) -> None:
    """Fit cultivars to the picks in RECORDS, grown in the blocks of each SEASON.

    A folder stands for every season file in it. Each season file names the weather that was
    observed and the blocks as they were planted. The folder of --out holds cultivars.toml, which a
    season names as `cultivar_file`, its draws (draws.parquet, transplant_draws.parquet), past
    seasons that forecasts lean on (past_seasons.parquet), fit.json, fit.txt, records_used.parquet
    and manifest.json. Every record is used or listed with the reason.
    A fit that is cut off goes on where it was when the same command is given again.

    Where RECORDS holds temperatures of sensors in a bed, the film of each block is fitted instead:
    the folder then holds a film file for each, which a season can name, and what the sensors told.
    """
    may_write_page(report, force=force)
    seasons = running.season_files(seasons)
    sensors = is_sensor_log(records)
    for option in ("robust", "profile", "bootstrap", "chamber"):
        if sensors and asked[option]:
            raise click.UsageError(f"--{option} is for records of picks, not for sensors")
    with io.OutputFolder(out, force=force) as folder:
        document = produce(folder, records, seasons, language=language, units=units, **asked)
        names = ", ".join(sorted(one.name for one in folder.path.iterdir()))
    note(f"{out}: {names}")
    view = SENSOR_VIEW if sensors else VIEW
    write_page(report, partial(view.page, REPORT, document, language, units), force=force)
    if as_json:
        print_json(document)
    else:
        click.echo(view.text(document, language, units, list_assumed=False), nl=False)


def produce(
    folder: OutputFolder,
    records: Path,
    seasons: tuple[Path, ...],
    *,
    seed: int,
    language: str = "en",
    units: str = "metric",
    chamber: Path | None = None,
    **asked: Any,
) -> dict[str, Any]:
    """Write the files of a fit into a folder, and return their document."""
    if is_sensor_log(records):
        view = SENSOR_VIEW
        document, inputs = fit_sensors(folder, records, seasons, seed)
    else:
        view = VIEW
        document, inputs = _fit_picks(folder, records, seasons, seed=seed, chamber=chamber, **asked)
    view.write_document(folder, document, language, units)
    io.write_manifest(
        folder, "fit", seed=seed, inputs=inputs, warnings=document["warnings"],
        options={**asked, "seed": seed, "language": language, "units": units},
    )  # fmt: skip
    return document


def reproduce(
    folder: OutputFolder, options: Mapping[str, Any], inputs: Mapping[str, tuple[Path, ...]]
) -> None:
    """Write the files of an earlier fit again, from the options in its manifest."""
    chamber = next(iter(inputs.get("chamber", ())), None)
    produce(folder, inputs["records"][0], inputs["season"], chamber=chamber, **options)


VIEW = View(
    "fit",
    lambda: {REPORT: report.fit.fit_parts},
    options={"robust": FLAG, "profile": FLAG, "bootstrap": SEED, "seed": SEED},
    roles={"records": True, "season": True, "chamber": False},
)

SENSOR_VIEW = View("sensors", lambda: {REPORT: report.sensors.sensor_parts})


def _fit_picks(
    folder: Any,
    records: Path,
    seasons: tuple[Path, ...],
    *,
    robust: bool,
    profile: bool,
    bootstrap: int,
    seed: int,
    chamber: Path | None,
) -> tuple[dict[str, Any], list[InputFile]]:
    """Fit and write every file but the answer and the manifest; return document and inputs."""
    from phenocast.calibration.cultivar.document import (
        draws_table,
        fit_document,
        fitted_cultivars,
        fitted_transplants,
        past_table,
        transplant_draws,
    )
    from phenocast.calibration.cultivar.estimator import CultivarCalibrator
    from phenocast.calibration.cultivar.pooling import fitted_spreads
    from phenocast.calibration.cultivar.records import fit_rows, unused_trials
    from phenocast.calibration.cultivar.uncertainty import heat_intervals

    read, blocks, without, inputs, told = prepared(records, seasons)
    rows = fit_rows(read.table, blocks, without=without)
    _refuse_nothing(rows, read.source)
    trials = None
    if chamber is not None:
        inputs.append(io.InputFile("chamber", chamber))
        trials = io.read_chamber_trials(chamber, {block.cultivar for block in blocks})
        told += unused_trials(trials, sorted(set(rows.used["cultivar"])))
    options = {"robust": robust, "seed": seed}
    planned = 40 + bootstrap
    fitted = CultivarCalibrator(
        blocks, student_df=4.0 if robust else None, seeds=(seed + 1, seed + 2), chambers=trials
    )
    with io.checkpoint(folder.target, inputs, options) as checkpoint, Progress() as progress:
        if checkpoint.found:
            note(f"going on after {len(checkpoint.found)} steps of an earlier run")
        steps = [0]

        def tell(what: str) -> None:
            steps[0] += 1
            progress(min(steps[0], planned), planned, what)

        fitted.fit(rows.X, rows.y, checkpoint=checkpoint, progress=tell)
        intervals = heat_intervals(
            fitted,
            profile=profile,
            bootstrap=bootstrap,
            seed=seed,
            checkpoint=checkpoint,
            progress=tell,
        )
    spreads = fitted_spreads(fitted)
    document = io.plain_document(
        fit_document(
            fitted,
            rows,
            blocks,
            source=read.source,
            warnings=[*told, *read.notes],
            uncertainty=intervals,
            spreads=spreads,
        )
    )
    years = ", ".join(document["records"]["seasons"])
    conditions = f"{len(rows.X)} records of {read.source}, seasons {years}"
    io.write_fit_files(
        folder,
        cultivars=fitted_cultivars(fitted, blocks, conditions, spreads),
        draws=draws_table(fitted, DRAWS, seed, spreads),
        used=rows.used,
        past=past_table(fitted, rows, blocks, read.table),
        transplants=fitted_transplants(fitted, conditions),
        transplant_draws=transplant_draws(fitted, DRAWS, seed),
    )
    return document, inputs


def prepared(
    records: Path, seasons: tuple[Path, ...]
) -> tuple[HarvestRecords, list[FitBlock], dict[tuple[str, str], str], list[InputFile], list[str]]:
    """Records and every block-season made ready for a fit.

    Returns
    -------
    records : HarvestRecords
    blocks : list of FitBlock
    without : dict
        Block-seasons without weather, ``(season, block)`` to the reason.
    inputs : list of InputFile
    warnings : list of str
    """
    from phenocast.calibration.cultivar.blocks import fit_block, weather_not_measured

    labels = io.season_labels(seasons)
    loaded = {label: running.load(path) for label, path in zip(labels, seasons, strict=True)}
    _refuse_spellings({label: one.season for label, one in loaded.items()})
    read = running.picks_of(records, loaded)
    inputs = [io.InputFile("records", records)]
    blocks: list[FitBlock] = []
    without: dict[tuple[str, str], str] = {}
    told: list[str] = []
    with running.patient_note() as started:
        for label, one in loaded.items():
            inputs += one.inputs
            told += one.told.warnings
            for block in one.season.blocks:
                try:
                    blocks.append(fit_block(one.season, block, one.weather, label))
                except InputError as error:
                    without[label, block.name] = "; ".join(
                        f"{fault.what}: {fault.value}" for fault in error.faults
                    )
                    warn(f"{label}: {block.name} is not used: {error.faults[0]}")
                started()
            own = [block for block in blocks if block.season == label]
            told += weather_not_measured(one.season, own, one.weather)
    return read, blocks, without, inputs, told


def _refuse_spellings(seasons: dict[str, Season]) -> None:
    """Refuse cultivars whose names differ in case or blanks only: they would be fitted apart."""
    seen: dict[str, tuple[str, str]] = {}
    faults = []
    for label, season in seasons.items():
        for block in season.blocks:
            key = "".join(block.cultivar.split()).casefold()
            before = seen.setdefault(key, (block.cultivar, f"{label}: {block.name}"))
            if before[0] != block.cultivar:
                faults.append(
                    Fault("two spellings of one cultivar", f"{label}: {block.name}",
                          block.cultivar, f"{before[0]} ({before[1]})",
                          "write the name in one way, or name the cultivars more differently")
                )  # fmt: skip
    raise_any(faults)


def _refuse_nothing(rows: Any, source: str) -> None:
    if not len(rows.X):
        reasons = rows.left_out["reason"].value_counts()
        raise NoAnswerError(
            Fault("no record can be used", source,
                  "; ".join(f"{count}: {reason}" for reason, count in reasons.items()) or None)
        )  # fmt: skip


def is_sensor_log(path: Path) -> bool:
    """Whether a table holds temperatures of a bed, by the names of its columns."""
    from phenocast.calibration.film.readings import SENSORS
    from phenocast.io.raw_table import read_raw_table
    from phenocast.io.weather.quantities import split_header

    headers = read_raw_table(path).frame.columns
    return any(split_header(str(header)).name in SENSORS for header in headers)


def fit_sensors(
    folder: OutputFolder, path: Path, seasons: tuple[Path, ...], seed: int
) -> tuple[dict[str, Any], list[InputFile]]:
    """Fit the film of every block in a file of readings and write what season files can name.

    Returns
    -------
    dict
        The document, as it stands in ``sensors.json``.
    list of InputFile
        Every file that was read.

    Raises
    ------
    InputError
        For several season files, a block that the season does not have, or readings that cannot be.
    NoAnswerError
        When no block can be fitted.
    """
    from phenocast.calibration.film.block import block_sensors
    from phenocast.calibration.film.report import sensor_document
    from phenocast.tables import SENSOR_READINGS

    refuse(
        (
            len(seasons) != 1,
            Fault(
                "readings of sensors are of one season",
                "SEASON",
                len(seasons),
                "1 file",
                "fit one season after another",
            ),
        )
    )
    loaded = running.load(seasons[0])
    table = io.read_table(path, SENSOR_READINGS)
    blocks = {block.name: block for block in loaded.season.blocks}
    names = list(dict.fromkeys(table["block"]))
    raise_any([unknown_name("block", one, blocks, str(path)) for one in names if one not in blocks])
    fits: dict[str, Any] = {}
    not_used: list[dict[str, Any]] = []
    faults: list[Fault] = []
    with Progress() as progress:
        for number, name in enumerate(names):
            progress(number, len(names), f"fitting the bed of {name}")
            try:
                model, rows = block_sensors(
                    loaded.season, blocks[name], loaded.weather, table, seed=seed
                )
                fits[name] = model.fit(rows.hours, rows.readings)
            except InputError as error:
                faults += error.faults
                reason = "; ".join(str(fault) for fault in error.faults)
                count = int((table["block"] == name).sum())
                not_used.append({"block": name, "rows": count, "reason": reason})
                warn(f"{name} is not fitted: {reason}")
        progress(len(names), len(names), "done")
    if not fits:
        raise NoAnswerError(faults)
    document = io.plain_document(
        sensor_document(
            fits, source=path.name, not_used=not_used, warnings=list(loaded.told.warnings)
        )
    )
    for model in fits.values():
        io.write_film(
            folder.path / f"{model.film_.name}.toml", model.film_,
            remarks=model.report().splitlines(),
        )  # fmt: skip
    return document, [io.InputFile("records", path), *loaded.inputs]
