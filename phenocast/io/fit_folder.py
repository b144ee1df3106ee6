"""The folder that a fit leaves, read back: its document, cultivars, draws, records and seasons."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, ConfigDict, NonNegativeFloat, TypeAdapter

from phenocast.errors import Fault, InputError
from phenocast.io.documents import json_of, read_schema
from phenocast.io.files import InputFile, read_text
from phenocast.io.manifest import read_manifest
from phenocast.io.season_file import read_cultivars, read_draws, with_draws
from phenocast.parameters import FIELD_SPREADS, ParameterSet

DOCUMENT, CULTIVARS, DRAWS, RECORDS = (
    "fit.json", "cultivars.toml", "draws.parquet", "records_used.parquet",
)  # fmt: skip


class _Part(BaseModel):
    """A part of the document; keys that no reader of a fit asks for may be there or not."""

    model_config = ConfigDict(extra="ignore", strict=True)


class _Named(_Part):
    cultivar: str


class _Number(_Part):
    value: float
    sd: NonNegativeFloat


class _OfTransplant(_Number):
    name: str
    transplant: str


class _Season(_Part):
    season: str
    later_d: _Number = _Number(value=0.0, sd=0.0)


class _Verdict(_Part):
    rankable: bool
    why_not: list[str]
    records_that_would_settle_it: list[str]


class _Records(_Part):
    seasons: list[str]


class _Document(_Part):
    """What a ranking reads of ``fit.json``."""

    schema_version: Literal[1]
    command: Literal["fit"]
    cultivars: list[_Named]
    transplants: list[_OfTransplant]
    seasons: list[_Season]
    identifiability: _Verdict
    records: _Records
    warnings: list[str]


_SCHEMA = TypeAdapter(_Document)


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
    seasons : tuple of Path
        Season files of the fit.
    records_file : Path
        File of the records.
    """

    path: Path
    document: Mapping[str, Any]
    cultivars: Mapping[str, ParameterSet]
    draws: Mapping[str, Mapping[str, NDArray[np.float64]]]
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
    source = place / DOCUMENT
    document = json_of(read_text(source).text, str(source))
    read_schema(_SCHEMA, document, str(source))
    cultivars = read_cultivars(place / CULTIVARS)
    # Where no number could be fitted there is no draw; what would settle it is told by who ranks.
    rankable = document["identifiability"]["rankable"]
    draws = _drawn(place / DRAWS, cultivars) if rankable else {}
    manifest = read_manifest(place)
    records, seasons = (manifest.input_paths(role, place) for role in ("records", "season"))
    faults = [
        Fault(f"the manifest names no {role} file", str(place))
        for role, named in (("records", records), ("season", seasons))
        if not named
    ]
    if faults:
        raise InputError(faults)
    return FitFolder(
        path=place,
        document=document,
        cultivars={name: cultivars[name] for name in draws},
        draws=draws,
        seasons=seasons,
        records_file=records[0],
    )


def _drawn(
    path: Path, cultivars: Mapping[str, ParameterSet]
) -> dict[str, dict[str, NDArray[np.float64]]]:
    """Draws of the numbers of a plant; those that were fitted for other cultivars are left out."""
    table = read_draws(path)
    names = sorted(set(table["cultivar"]))
    faults = [
        Fault("draws of a cultivar that the fit's cultivars.toml lacks", str(path), name)
        for name in names
        if name not in cultivars
    ]
    if table.groupby("cultivar")["draw"].nunique().nunique() != 1:
        faults.append(
            Fault("the cultivars have not the same draws", str(path), do="fit the records again")
        )
    if faults:
        raise InputError(faults)
    return {
        name: {
            key: draws
            for key, draws in with_draws(cultivars[name], table, path.name).joint.items()
            if key not in FIELD_SPREADS
        }
        for name in names
    }
