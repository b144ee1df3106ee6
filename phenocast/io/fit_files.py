"""The folder of a fit, and the checkpoint that lets a fit which was cut off go on."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pandas as pd

from phenocast import __version__
from phenocast.calibration.ledger import Ledger
from phenocast.io.atomic import OutputFolder
from phenocast.io.files import InputFile, refused, sha256_of
from phenocast.io.json_text import to_json
from phenocast.io.manifest import parameter_hashes
from phenocast.io.table_files import write_table
from phenocast.opened import open_regular
from phenocast.parameters import ParameterSet, parameter_toml

DRAWS_NAME = "draws.parquet"
TRANSPLANT_DRAWS_NAME = "transplant_draws.parquet"


def write_fit_files(
    folder: OutputFolder,
    *,
    document: str,
    text: str,
    cultivars: Sequence[ParameterSet],
    draws: pd.DataFrame,
    used: pd.DataFrame,
    transplants: Sequence[ParameterSet] = (),
    transplant_draws: pd.DataFrame | None = None,
) -> None:
    """Write every file of a fit but the manifest.

    Parameters
    ----------
    folder : OutputFolder
        Entered.
    document, text : the JSON document and the page.
    cultivars : as a season can name them.
    draws : ``cultivar, draw`` and the fitted numbers; a cultivar with draws names the file.
    used : every record that was used.
    transplants, transplant_draws : the state at planting that was fitted, and its draws.
    """
    folder.write("fit.json", document)
    folder.write("fit.txt", text)
    drawn = set(draws["cultivar"])
    named = [
        ParameterSet(one.name, one.parameters, {**one.labels, "draws": DRAWS_NAME})
        if one.name in drawn
        else one
        for one in cultivars
    ]
    remarks = (
        "Cultivars as fitted to own records; a season names this file as `cultivar_file`.",
        f"A forecast takes the draws of {DRAWS_NAME} in the same folder:",
        "they hold what is known of several numbers together.",
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
    write_table(used, folder.path / "records_used.parquet")


@contextmanager
def checkpoint(
    target: Path, inputs: Sequence[InputFile], options: Mapping[str, Any]
) -> Iterator[Ledger]:
    """Ledger of a fit that lasts longer than its process.

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
    yield Ledger(found, keep)
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
