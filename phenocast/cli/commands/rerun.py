"""``phenocast rerun``: the files of an earlier run again."""

from __future__ import annotations

import importlib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from phenocast import io
from phenocast.cli.console import Command, note, warn
from phenocast.cli.options import (
    FilePath,
    force_option,
    options_read,
    out_folder_option,
    workers_option,
)
from phenocast.cli.pages import PAGE_OPTIONS
from phenocast.errors import Fault, NoAnswerError, raise_any, refuse

if TYPE_CHECKING:
    from phenocast.io import Manifest

REPRODUCED = ("forecast", "demo", "compare", "labour", "trial", "fit", "rank", "hindcast")


@click.command(
    "rerun",
    cls=Command,
    paste=(
        "phenocast demo --out phenocast-demo",
        "phenocast rerun phenocast-demo/manifest.json --out phenocast-demo-again",
    ),
    short_help="Make the files of an earlier run again, byte for byte.",
)
@click.argument("manifest", type=FilePath("FILE"), metavar="MANIFEST")
@out_folder_option(required=True)
@workers_option
@force_option
def command(manifest: Path, out: Path, force: bool) -> None:
    """Make the files of an earlier run again from its MANIFEST, byte for byte.

    Refused with code 3 where an input or a shipped parameter file has changed; each is named. Where
    the files come out otherwise, each is named, nothing is kept and the code is 4: that can happen
    with another version of a library.
    """
    first = io.read_manifest(manifest)
    home = manifest if manifest.is_dir() else manifest.parent
    options = options_of(first, manifest)
    other_versions = io.check_rerun(first, home)
    for warning in other_versions:
        warn(warning)
    module = importlib.import_module(f"phenocast.cli.commands.{first.command}")
    inputs = {role: first.input_paths(role, home) for role in module.VIEW.roles}
    with io.OutputFolder(out, force=force) as folder:
        getattr(module, "reproduce", module.VIEW.reproduce)(folder, options, inputs)
        faults = differences(first, home, folder.path, exact=not other_versions)
        if faults:
            raise NoAnswerError(faults)
    files = len(first.outputs)
    note(f"{out}: the same {files} files as in the first run, byte for byte")


def options_of(manifest: Manifest, path: Path) -> dict[str, Any]:
    """Options of the first run, refused where they are not what the command takes.

    Raises
    ------
    InputError
    """
    refuse(
        (
            manifest.command not in REPRODUCED,
            Fault(
                "the command of the first run cannot be run again",
                where=str(path),
                value=manifest.command,
                allowed=", ".join(REPRODUCED),
            ),
        )
    )
    module = importlib.import_module(f"phenocast.cli.commands.{manifest.command}")
    kinds = {**module.VIEW.options, **PAGE_OPTIONS}
    options, faults = options_read(manifest.options, kinds, str(path), module.command.params)
    faults += [
        Fault(f"the manifest names no {role} file", where=str(path))
        for role, needed in module.VIEW.roles.items()
        if needed and not any(one.role == role for one in manifest.inputs)
    ]
    raise_any(faults)
    return options


def differences(first: Manifest, home: Path, again: Path, *, exact: bool) -> list[Fault]:
    """Files of a rerun that are not those of the first run.

    Parameters
    ----------
    first : Manifest
    home : Path
        Folder of the first run.
    again : Path
        Folder of the rerun.
    exact : bool
        Compare the manifests too; they differ where versions do.
    """
    do = (
        "this should not happen: please report it with both manifests"
        if exact
        else "install the versions that the manifest names"
    )
    faults = [
        Fault(fault.what, Path(fault.where).relative_to(again).as_posix(), do=do)
        for fault in io.check_outputs(first, again)
    ]
    if exact and not faults and io.read_manifest(again) != first:
        faults.append(Fault("the rerun wrote another manifest", "manifest.json", do=do))
    return faults
