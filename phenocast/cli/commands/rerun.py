"""``phenocast rerun``: the files of an earlier run again."""

from __future__ import annotations

import importlib
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from phenocast.cli.console import note, warn
from phenocast.cli.group import Command
from phenocast.cli.options import FilePath, force_option, out_folder_option

if TYPE_CHECKING:
    from phenocast.errors import Fault
    from phenocast.io import Manifest

AGAIN = ("forecast", "demo")


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
@force_option
def command(manifest: Path, out: Path, force: bool) -> None:
    """Make the files of an earlier run again from its MANIFEST, byte for byte.

    Refused with code 3 where an input or a shipped parameter file has changed; each is named. Where
    the files come out otherwise, each is named, nothing is kept and the code is 4: that can happen
    with another version of a library.
    """
    from phenocast.errors import NoAnswerError
    from phenocast.io import OutputFolder, check_rerun, read_manifest

    first = read_manifest(manifest)
    home = manifest if manifest.is_dir() else manifest.parent
    options = options_of(first, manifest)
    other_versions = check_rerun(first, home)
    for warning in other_versions:
        warn(warning)
    run_again = importlib.import_module(f"phenocast.cli.commands.{first.command}").again
    with OutputFolder(out, force=force) as folder:
        run_again(folder, options, first.input_paths("season", home))
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
    from phenocast.errors import Fault, InputError

    if manifest.command not in AGAIN:
        raise InputError(
            Fault(
                "the command of the first run cannot be run again",
                where=str(path),
                value=manifest.command,
                allowed=", ".join(AGAIN),
            )
        )
    given: Mapping[str, Any] = manifest.options
    options: dict[str, Any] = {}
    faults = []
    for name, least in (("draws", 1), ("seed", 0)):
        value = given.get(name)
        if type(value) is int and least <= value < 2**32:
            options[name] = value
        else:
            faults.append(
                Fault(
                    "not an option of the command",
                    where=f"{path}: options.{name}",
                    value=value,
                    allowed=f"a whole number, {least} or more",
                )
            )
    try:
        options["as_of"] = date.fromisoformat(str(given.get("as_of")))
    except ValueError:
        faults.append(
            Fault(
                "not an option of the command",
                where=f"{path}: options.as_of",
                value=given.get("as_of"),
                allowed="a day, as 2026-11-20",
            )
        )
    if not any(one.role == "season" for one in manifest.inputs):
        faults.append(Fault("the manifest names no season file", where=str(path)))
    if faults:
        raise InputError(faults)
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
    from phenocast.errors import Fault
    from phenocast.io import check_outputs, read_manifest

    do = (
        "this should not happen: please report it with both manifests"
        if exact
        else "install the versions that the manifest names"
    )
    faults = [
        Fault(fault.what, Path(fault.where).relative_to(again).as_posix(), do=do)
        for fault in check_outputs(first, again)
    ]
    if exact and not faults and read_manifest(again) != first:
        faults.append(Fault("the rerun wrote another manifest", "manifest.json", do=do))
    return faults
