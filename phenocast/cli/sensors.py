"""What ``phenocast fit`` does with readings of sensors in a bed: a film file for each block."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from phenocast import io
from phenocast.cli import running
from phenocast.cli.console import Progress, warn
from phenocast.errors import Fault, InputError, NoAnswerError, unknown_name

if TYPE_CHECKING:
    from phenocast.io import InputFile, OutputFolder


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
    from phenocast.report.sensor_text import sensor_text
    from phenocast.tables import SENSOR_READINGS

    if len(seasons) != 1:
        raise InputError(
            Fault("readings of sensors are of one season", "SEASON", len(seasons), "1 file",
                  "fit one season after another")
        )  # fmt: skip
    loaded = running.load(seasons[0])
    table = io.read_table(path, SENSOR_READINGS)
    blocks = {block.name: block for block in loaded.season.blocks}
    names = list(dict.fromkeys(table["block"]))
    unknown = [unknown_name("block", one, blocks, str(path)) for one in names if one not in blocks]
    if unknown:
        raise InputError(unknown)
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
    folder.write("sensors.json", io.to_json(document))
    folder.write("sensors.txt", sensor_text(document))
    return document, [io.InputFile("records", path), *loaded.inputs]
