"""The folder of a fit, written and read back, and the checkpoint that lets a fit go on."""

import hashlib
import json
import os
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from pydantic import BaseModel, ConfigDict, NonNegativeFloat, TypeAdapter

from phenocast import __version__
from phenocast.calibration.cultivar.selection import Checkpoint
from phenocast.errors import Fault, raise_any, refuse
from phenocast.io.files import InputFile, json_of, read_schema, read_text, refused, sha256_of
from phenocast.io.output.folder import OutputFolder, write_atomic
from phenocast.io.output.json_text import to_json
from phenocast.io.output.manifest import parameter_hashes, read_manifest
from phenocast.io.season_file import read_cultivars, read_draws, with_draws
from phenocast.io.tables import write_table
from phenocast.opened import open_regular
from phenocast.parameters import FIELD_SPREADS, ParameterSet, film_from, parameter_toml
from phenocast.tables import PAST_SEASONS


def write_film(
    path: str | os.PathLike[str],
    film: ParameterSet,
    *,
    remarks: Sequence[str] = (),
) -> Path:
    """Write a film file that a season names by ``[film.NAME] file = "..."``.

    Parameters
    ----------
    path : str or path
    film : ParameterSet
        Such as ``film_`` of a fitted `CrownSensorCalibrator`.
    remarks : sequence of str
        Lines that stand as comments at the head.

    Returns
    -------
    Path

    Raises
    ------
    InputError
        Where the file exists or cannot be written, or where what would be written is no film that
        a season can use.

    Examples
    --------
    >>> import tempfile
    >>> from phenocast.io import read_film
    >>> from phenocast.parameters import films
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     place = write_film(Path(folder, "film.toml"), films()["black"])
    ...     read_film(place, "south") == ParameterSet("south", films()["black"].parameters,
    ...                                               films()["black"].labels)
    True
    """
    text = parameter_toml("film", [film], remarks)
    film_from(tomllib.loads(text), film.name, str(path))
    return write_atomic(path, text)


DRAWS_NAME = "draws.parquet"

PAST_NAME = "past_seasons.parquet"

TRANSPLANT_DRAWS_NAME = "transplant_draws.parquet"


def write_fit_files(
    folder: OutputFolder,
    *,
    cultivars: Sequence[ParameterSet],
    draws: pd.DataFrame,
    used: pd.DataFrame,
    past: pd.DataFrame,
    transplants: Sequence[ParameterSet] = (),
    transplant_draws: pd.DataFrame | None = None,
) -> None:
    """Write every file of a fit but its answer and the manifest.

    Parameters
    ----------
    folder : OutputFolder
        Entered.
    cultivars : as a season can name them.
    draws : ``cultivar, draw`` and the fitted numbers; a cultivar with draws names the file.
    used : every record that was used.
    past : past seasons, `phenocast.tables.PAST_SEASONS`; every cultivar names the file.
    transplants, transplant_draws : the state at planting that was fitted, and its draws.
    """
    drawn = set(draws["cultivar"])
    named = [
        replace(
            one,
            labels={**one.labels, "past": PAST_NAME}
            | ({"draws": DRAWS_NAME} if one.name in drawn else {}),
        )
        for one in cultivars
    ]
    remarks = (
        "Cultivars as fitted to own records; a season names this file as `cultivar_file`.",
        f"A forecast takes the draws of {DRAWS_NAME} in the same folder:",
        "they hold what is known of several numbers together,",
        f"and leans on the past seasons of {PAST_NAME}.",
    )
    parameters = parameter_toml("cultivar", named, remarks)
    if transplants and transplant_draws is not None:
        told = ("State at planting as fitted: it goes before that of the shipped type.",)
        types = [
            ParameterSet(one.name, one.parameters, {"draws": TRANSPLANT_DRAWS_NAME})
            for one in transplants
        ]
        parameters += "\n" + parameter_toml("transplant", types, told)
        write_table(transplant_draws, folder.path / TRANSPLANT_DRAWS_NAME)
    folder.write("cultivars.toml", parameters)
    write_table(draws, folder.path / DRAWS_NAME)
    write_table(past, folder.path / PAST_NAME, contract=PAST_SEASONS)
    write_table(used, folder.path / "records_used.parquet")


@contextmanager
def checkpoint(
    target: Path, inputs: Sequence[InputFile], options: Mapping[str, Any]
) -> Iterator[Checkpoint]:
    """Checkpoint of a fit that lasts longer than its process.

    Steps are appended to a file beside the output folder as they are done, each line with its
    fingerprint. A run with the same inputs, parameters, options and version takes them over as far
    as the lines are whole, and the rest is cut off; the steps of another are put away. The file
    goes when the fit is done.

    Parameters
    ----------
    target : output folder of the fit.
    inputs : every file that it reads.
    options : of the fit.

    Raises
    ------
    InputError
        Where the file cannot be written.
    """
    place = target.with_name(f".{target.name}.checkpoint.jsonl")
    of = _fingerprint(inputs, options)

    def keep(name: str, outcome: Any) -> None:
        try:
            with place.open("ab") as stream:
                stream.write(_line({"step": name, "outcome": outcome}))
                stream.flush()
                os.fsync(stream.fileno())
        except OSError as error:
            raise refused(error, place, "write") from error

    try:
        kept = b""
        if place.exists():
            with open_regular(place, "any") as stream:
                kept = stream.read()
        found, whole = _kept_steps(kept, of)
        place.parent.mkdir(parents=True, exist_ok=True)
        if whole < len(kept):
            os.truncate(place, whole)
    except OSError as error:
        raise refused(error, place, "write") from error
    if not whole:
        keep("of", of)
    yield Checkpoint(found, keep)
    place.unlink(missing_ok=True)


def _fingerprint(inputs: Sequence[InputFile], options: Mapping[str, Any]) -> str:
    parts = [__version__, to_json(dict(options))]
    parts += [f"{one.role} {sha256_of(one.path)}" for one in inputs]
    parts += [one.sha256 for one in parameter_hashes()]
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()


def _line(entry: Mapping[str, Any]) -> bytes:
    """Line of a checkpoint: the fingerprint of an entry, and the entry."""
    text = json.dumps(entry).encode()
    return hashlib.sha256(text).hexdigest().encode() + b" " + text + b"\n"


def _kept_steps(content: bytes, of: str) -> tuple[dict[str, Any], int]:
    """Steps of a checkpoint up to the first line that is not whole, and their length [byte]."""
    found: dict[str, Any] = {}
    whole = 0
    for line in content.splitlines(keepends=True):
        fingerprint, _, text = line.partition(b" ")
        if hashlib.sha256(text[:-1]).hexdigest().encode() != fingerprint or text[-1:] != b"\n":
            break
        entry = json.loads(text)
        found[entry["step"]] = entry["outcome"]
        whole += len(line)
    if found.pop("of", None) != of:
        return {}, 0
    return found, whole


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

    schema_version: Literal[2]
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
    refuse(
        (
            missing,
            Fault(
                "not the folder of a fit",
                str(place),
                f"it lacks {', '.join(missing)}",
                do="name the folder that `phenocast fit --out` wrote",
            ),
        )
    )
    source = place / DOCUMENT
    document = json_of(read_text(source), str(source))
    read_schema(_SCHEMA, document, str(source))
    cultivars = read_cultivars(place / CULTIVARS)
    # Where no number could be fitted there is no draw; what would settle it is told by who ranks.
    rankable = document["identifiability"]["rankable"]
    draws = _drawn(place / DRAWS, cultivars) if rankable else {}
    manifest = read_manifest(place)
    records, seasons = (manifest.input_paths(role, place) for role in ("records", "season"))
    raise_any(
        [
            Fault(f"the manifest names no {role} file", str(place))
            for role, named in (("records", records), ("season", seasons))
            if not named
        ]
    )
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
    counts = table.groupby("cultivar")["draw"].nunique()
    if counts.min() != counts.max():
        faults.append(
            Fault("the cultivars have not the same draws", str(path), do="fit the records again")
        )
    raise_any(faults)
    return {
        name: {
            key: draws
            for key, draws in with_draws(cultivars[name], table, path.name).joint.items()
            if key not in FIELD_SPREADS
        }
        for name in names
    }
