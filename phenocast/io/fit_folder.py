"""The folder that a fit leaves, read back: its document, cultivars, draws, records and seasons."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from phenocast.errors import Fault, InputError
from phenocast.io.files import InputFile, read_text
from phenocast.io.manifest import read_manifest
from phenocast.io.season_file import read_cultivars
from phenocast.parameters import FIELD_SPREADS, ParameterSet

SCHEMA_VERSION = 1
DOCUMENT, CULTIVARS, DRAWS, RECORDS = (
    "fit.json", "cultivars.toml", "draws.parquet", "records_used.parquet",
)  # fmt: skip
_LABELS = ("cultivar", "draw")


@dataclass(frozen=True)
class FitFolder:
    """What a fit left.

    Parameters
    ----------
    path : Path
    document : mapping
        ``fit.json``.
    cultivars : mapping of str to ParameterSet
        Fitted, as a season would read them.
    draws : mapping of str to mapping of str to array ``[draw]``
        Draws of the fitted numbers of each cultivar, in the order of the draws, which all cultivars
        share; spreads between seasons and blocks are no numbers of a plant and not among them.
    records : DataFrame
        Records as they were used, one row each.
    seasons : tuple of Path
        Season files of the fit.
    records_file : Path
        File of the records.
    """

    path: Path
    document: Mapping[str, Any]
    cultivars: Mapping[str, ParameterSet]
    draws: Mapping[str, Mapping[str, NDArray[np.float64]]]
    records: pd.DataFrame
    seasons: tuple[Path, ...]
    records_file: Path

    def inputs(self) -> tuple[InputFile, ...]:
        """Files of the folder that a ranking reads."""
        names = (DOCUMENT, CULTIVARS, DRAWS, RECORDS, "manifest.json")
        return tuple(InputFile("fit", self.path / name) for name in names)


def read_fit(folder: str | os.PathLike[str]) -> FitFolder:
    """Read the folder of a fit.

    Parameters
    ----------
    folder : str or path

    Returns
    -------
    FitFolder

    Raises
    ------
    InputError
        Where it is no folder of a fit, of another version, or a file of it is missing or damaged.

    Examples
    --------
    >>> read_fit("no/such/folder")
    Traceback (most recent call last):
    phenocast.errors.InputError: no/such/folder: not the folder of a fit...
    """
    place = Path(folder)
    missing = [
        name for name in (DOCUMENT, CULTIVARS, DRAWS, RECORDS, "manifest.json")
        if not (place / name).is_file()
    ]  # fmt: skip
    if missing:
        raise InputError(
            Fault("not the folder of a fit", str(place), f"it lacks {', '.join(missing)}",
                  do="name the folder that `phenocast fit --out` wrote")
        )  # fmt: skip
    document = _document(place / DOCUMENT)
    cultivars = read_cultivars(place / CULTIVARS)
    draws = _draws(place / DRAWS, cultivars)
    manifest = read_manifest(place)
    records = manifest.input_paths("records", place)
    if not records:
        raise InputError(Fault("the manifest names no file of records", str(place)))
    return FitFolder(
        path=place,
        document=document,
        cultivars={name: cultivars[name] for name in draws},
        draws=draws,
        records=_parquet(place / RECORDS),
        seasons=manifest.input_paths("season", place),
        records_file=records[0],
    )


def _document(path: Path) -> Mapping[str, Any]:
    try:
        document = json.loads(read_text(path).text)
    except ValueError as error:
        raise InputError(Fault("not JSON", str(path), str(error))) from error
    if not isinstance(document, dict) or "identifiability" not in document:
        raise InputError(Fault("not the document of a fit", str(path)))
    if document.get("schema_version") != SCHEMA_VERSION:
        raise InputError(
            Fault("the fit is of another version", str(path), document.get("schema_version"),
                  str(SCHEMA_VERSION), "fit the records again")
        )  # fmt: skip
    return document


def _parquet(path: Path) -> pd.DataFrame:
    try:
        return pd.read_parquet(path)
    except (OSError, ValueError) as error:
        raise InputError(Fault("a damaged Parquet file", str(path), str(error))) from error


def _draws(
    path: Path, cultivars: Mapping[str, ParameterSet]
) -> dict[str, dict[str, NDArray[np.float64]]]:
    table = _parquet(path)
    faults = [Fault("no such column", f"{path}: {one}") for one in _LABELS if one not in table]
    if faults:
        raise InputError(faults)
    names = [one for one in table.columns if one not in (*_LABELS, *FIELD_SPREADS)]
    found = {}
    for cultivar, own in table.groupby("cultivar", sort=True):
        if cultivar not in cultivars:
            faults.append(Fault("draws of a cultivar that the fit's cultivars.toml lacks",
                                str(path), cultivar))  # fmt: skip
            continue
        ordered = own.sort_values("draw")
        # a number that was fitted for some cultivars only is empty for the others
        found[str(cultivar)] = {
            name: ordered[name].to_numpy(dtype=np.float64)
            for name in names
            if ordered[name].notna().all()
        }
    if faults:
        raise InputError(faults)
    return found
