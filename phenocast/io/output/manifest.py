"""The manifest of a run: all that is needed to get the same files again, byte for byte.

It holds no clock time and no name of a machine, so that two runs of the same thing have the same
manifest. Files inside the output folder are named relative to it, others by their absolute path.
"""

import os
import platform
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from importlib import metadata
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter

from phenocast import __version__
from phenocast.errors import Fault, InputError, raise_any, refuse
from phenocast.io.files import InputFile, json_of, read_schema, read_text, sha256_of
from phenocast.io.output.folder import MANIFEST_NAME, OutputFolder
from phenocast.io.output.json_text import plain_data, to_json
from phenocast.parameters import shipped
from phenocast.season import Season

SCHEMA_VERSION = 1

PARAMETER_FILES = ("films.toml", "cultivars.toml", "soils.toml", "packing.toml", "references.toml")

LIBRARIES = (
    "numpy", "pandas", "scipy", "scikit-learn", "pyarrow", "numba", "llvmlite", "pvlib",
    "pydantic", "jinja2", "matplotlib",
)  # fmt: skip


@dataclass(frozen=True)
class HashedFile:
    """A file and its fingerprint.

    Parameters
    ----------
    role : str
        What it was used as, or "output".
    path : str
        Absolute, or relative to the folder of the manifest where it lies inside.
    sha256 : str
    """

    role: str
    path: str
    sha256: str


@dataclass(frozen=True)
class Manifest:
    """What a run was given and what it wrote.

    Parameters
    ----------
    command : str
        Name of the command.
    options : mapping
        Its options as they were resolved, defaults included; `rerun` gives them again.
    seed : int or None
    season : mapping or None
        The resolved season.
    inputs, parameters, outputs : tuple of HashedFile
        Files read, shipped parameter files, files written (without the manifest).
    warnings : tuple of str
    exit_code : int
    versions : mapping of str to str
        Of phenocast, Python, the platform and the libraries.
    schema_version : int
    """

    command: str
    options: Mapping[str, Any] = field(default_factory=dict)
    seed: int | None = None
    season: Mapping[str, Any] | None = None
    inputs: tuple[HashedFile, ...] = ()
    parameters: tuple[HashedFile, ...] = ()
    outputs: tuple[HashedFile, ...] = ()
    warnings: tuple[str, ...] = ()
    exit_code: int = 0
    versions: Mapping[str, str] = field(default_factory=dict)
    schema_version: int = SCHEMA_VERSION

    def input_paths(self, role: str, folder: Path) -> tuple[Path, ...]:
        """Paths of the inputs of a role; those inside the output folder are found in ``folder``."""
        return tuple(folder / one.path for one in self.inputs if one.role == role)


def versions() -> dict[str, str]:
    """Versions of phenocast, Python, the platform and the libraries that numbers depend on.

    Examples
    --------
    >>> sorted(versions())[:3]
    ['jinja2', 'llvmlite', 'matplotlib']
    """
    found = {
        "phenocast": __version__,
        "python": platform.python_version(),
        "platform": f"{platform.system()} {platform.machine()}",
    }
    for name in LIBRARIES:
        try:
            found[name] = metadata.version(name)
        except metadata.PackageNotFoundError:
            continue
    return found


def parameter_hashes() -> tuple[HashedFile, ...]:
    """Fingerprints of the shipped parameter files.

    Examples
    --------
    >>> [one.path for one in parameter_hashes()][:1]
    ['calibration/films.toml']
    """
    return tuple(
        HashedFile("parameters", f"calibration/{name}", sha256_of(shipped("calibration", name)))
        for name in PARAMETER_FILES
    )


def write_manifest(
    folder: OutputFolder,
    command: str,
    *,
    options: Mapping[str, Any],
    seed: int | None = None,
    season: Season | None = None,
    inputs: Iterable[InputFile] = (),
    warnings: Iterable[str] = (),
    exit_code: int = 0,
) -> Manifest:
    """Write the manifest of a run into its output folder, as the last file.

    Parameters
    ----------
    folder : OutputFolder
        Entered; every other file is written already.
    command : str
    options : mapping
        Every option as resolved, without the output folder itself.
    seed : int, optional
    season : Season, optional
    inputs : iterable of InputFile
        Files that were read; those in ``folder.path`` are the run's own copies.
    warnings : iterable of str
    exit_code : int

    Returns
    -------
    Manifest

    Raises
    ------
    InputError
        Where an input has gone meanwhile.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as place:
    ...     with OutputFolder(Path(place, "run")) as folder:
    ...         _ = folder.write("answer.txt", "week 3")
    ...         _ = write_manifest(folder, "forecast", options={"draws": 10}, seed=1)
    ...     read_manifest(Path(place, "run", "manifest.json")).outputs[0].path
    'answer.txt'
    """
    taken = tuple(dict.fromkeys(inputs))
    made = Manifest(
        command=command,
        options=plain_data(dict(options)),
        seed=seed,
        season=None if season is None else plain_data(season),
        inputs=tuple(
            HashedFile(one.role, _named(one.path, folder), sha256_of(one.path)) for one in taken
        ),
        parameters=parameter_hashes(),
        outputs=tuple(
            HashedFile("output", path.relative_to(folder.path).as_posix(), sha256_of(path))
            for path in sorted(folder.path.rglob("*"))
            if path.is_file() and path.name != MANIFEST_NAME
        ),
        warnings=tuple(warnings),
        exit_code=exit_code,
        versions=versions(),
    )
    folder.write(MANIFEST_NAME, to_json(made))
    return made


def _named(path: Path, folder: OutputFolder) -> str:
    """Name of an input in the manifest."""
    absolute = Path(os.path.abspath(path))
    for root in (folder.path, folder.target):
        if absolute.is_relative_to(root):
            return absolute.relative_to(root).as_posix()
    return absolute.as_posix()


def read_manifest(path: str | os.PathLike[str]) -> Manifest:
    """Manifest of an earlier run.

    Parameters
    ----------
    path : str or path
        The file, or the folder it lies in.

    Returns
    -------
    Manifest

    Raises
    ------
    InputError
        Where the file is missing, no manifest, or of a later version.

    Examples
    --------
    >>> read_manifest("no/such/manifest.json")
    Traceback (most recent call last):
    phenocast.errors.InputError: no/such/manifest.json: no such file; check the path
    """
    place = Path(path)
    if place.is_dir():
        place = place / MANIFEST_NAME
    document = json_of(read_text(place), str(place))
    refuse(
        (
            not isinstance(document, dict) or "command" not in document,
            Fault(
                "not a manifest of a run: it names no command",
                where=str(place),
                do=f"name the {MANIFEST_NAME} of an output folder",
            ),
        )
    )
    refuse(
        (
            document.get("schema_version") != SCHEMA_VERSION,
            Fault(
                "a manifest of another version",
                where=str(place),
                value=document.get("schema_version"),
                allowed=str(SCHEMA_VERSION),
                do="run it with the phenocast that wrote it: see versions in the manifest",
            ),
        )
    )
    manifest = read_schema(TypeAdapter(Manifest), document, str(place))
    raise_any([
        Fault("not the name of a file of this run", f"{place}: {role}[{number}].path", one.path,
              allowed, "take a manifest as phenocast wrote it")
        for role, listed, allowed in (
            ("inputs", manifest.inputs, "absolute, or inside the folder of the manifest"),
            ("outputs", manifest.outputs, "inside the folder of the manifest"),
        )
        for number, one in enumerate(listed)
        if "\x00" in one.path or not one.path.strip("/") or ".." in one.path.split("/")
        or (role == "outputs" and one.path.startswith("/"))
    ])  # fmt: skip
    return manifest


def check_rerun(manifest: Manifest, folder: str | os.PathLike[str]) -> list[str]:
    """Refuse a rerun whose inputs or parameters are no longer those of the first run.

    Parameters
    ----------
    manifest : Manifest
    folder : str or path
        Folder of the manifest.

    Returns
    -------
    list of str
        Warnings on versions that differ, so that bytes may differ too.

    Raises
    ------
    InputError
        With every input or parameter file that is gone or has changed.
    """
    faults: list[Fault] = []
    for one in manifest.inputs:
        place = Path(folder) / one.path
        try:
            same = sha256_of(place) == one.sha256
        except InputError as error:
            faults += error.faults
            continue
        if not same:
            faults.append(
                Fault(f"the {one.role} file has changed since the first run", str(place),
                      do="bring the earlier version back, or run the command anew")
            )  # fmt: skip
    now = {one.path: one.sha256 for one in parameter_hashes()}
    faults += [
        Fault("the shipped parameters have changed since the first run", one.path,
              do=f"install phenocast {manifest.versions.get('phenocast', '')} again")
        for one in manifest.parameters
        if now.get(one.path) != one.sha256
    ]  # fmt: skip
    raise_any(faults)
    here = versions()
    return [
        f"{name} was {then} in the first run and is {here.get(name, 'missing')} now: the last "
        "digits may differ"
        for name, then in manifest.versions.items()
        if here.get(name) != then
    ]


def check_outputs(manifest: Manifest, folder: str | os.PathLike[str]) -> list[Fault]:
    """Outputs of a rerun that differ from those of the first run, or are not there.

    Parameters
    ----------
    manifest : Manifest
        Of the first run.
    folder : str or path
        Output folder of the rerun.

    Returns
    -------
    list of Fault
        Empty where every file is the same, byte for byte.
    """
    faults = []
    for one in manifest.outputs:
        place = Path(folder) / one.path
        if not os.path.isfile(place):  # a name that no disk takes is not there either
            faults.append(Fault("the rerun did not write this file", str(place)))
        elif sha256_of(place) != one.sha256:
            faults.append(Fault("the rerun wrote another content", str(place)))
    return faults
