"""Output that is either whole or not there, and that replaces only what an earlier run wrote."""

from __future__ import annotations

import errno
import os
import platform
import re
import shutil
import sys
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from pathlib import Path, PurePosixPath
from types import TracebackType

from phenocast.errors import Fault, InputError, refuse
from phenocast.io.files import PARQUET_MAGIC, refused, sha256_of

MANIFEST_NAME = "manifest.json"

_HOST = re.sub(r"\W+", "_", platform.node())[:30]


def write_atomic(
    path: str | os.PathLike[str],
    content: str | bytes | Callable[[Path], object],
    *,
    force: bool = False,
) -> Path:
    r"""Write a file under a temporary name beside its place and rename it when it is whole.

    Parameters
    ----------
    path : str or path
        Where the file shall lie; missing folders above it are made.
    content : str, bytes or callable
        Text is written as UTF-8 with ``\n`` line ends; a callable is given the temporary path.
    force : bool
        Replace a file that exists, where it is one of ours; see `may_write`.

    Returns
    -------
    Path

    Raises
    ------
    InputError
        Where the file exists and may not be replaced, is a folder, or cannot be written. Whatever
        goes wrong, the file that was there before is untouched and no part of the new one is left.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_atomic(Path(folder, "a.txt"), "whole").read_text()
    'whole'
    """
    may_write(path, force=force)
    made: list[Path] = []
    temporary = None
    try:
        target = Path(os.path.realpath(path))
        clear_left_over(target)
        temporary = _beside(target, "part")
        made = _make_parents(target)
        if callable(content):
            content(temporary)
        elif isinstance(content, bytes):
            temporary.write_bytes(content)
        else:
            temporary.write_text(content, encoding="utf-8", newline="\n")
        os.replace(temporary, target)
    except BaseException as error:
        if temporary is not None:
            _remove(temporary)
        _remove_empty(made)
        if isinstance(error, OSError) or "\0" in str(path):
            raise _not_written(error, path) from error
        raise
    return Path(path)


def may_write(path: str | os.PathLike[str], *, force: bool = False) -> None:
    """Refuse a file that exists, before long work is done for it.

    With ``force`` one that phenocast wrote may be replaced (`is_ours`), and no other.

    Raises
    ------
    InputError

    Examples
    --------
    >>> may_write("does/not/exist/yet.csv")
    """
    target = Path(path)
    refuse(
        (
            os.path.isdir(target),
            Fault("it is a folder, not a file", where=str(path), do="name a file inside it"),
        )
    )
    refuse(
        (
            os.path.lexists(target) and not force,
            Fault(
                "the output exists and is not overwritten",
                where=str(path),
                do="choose another name, or give --force",
            ),
        )
    )
    refuse(
        (
            os.path.lexists(target) and not is_ours(target),
            Fault(
                "the file bears no mark of phenocast, or was changed since, so it is not "
                "replaced even with --force",
                where=str(path),
                do="choose another name, or move the file away",
            ),
        )
    )


class OutputFolder:
    """A folder of results, built under a temporary name beside its place and renamed when whole.

    As a context manager: left normally, the folder appears under its name; left by an error or an
    interruption, nothing of it remains and what was there before is untouched.

    Parameters
    ----------
    target : str or path
        Where the folder shall lie. A folder that exists is taken only where it is empty.
    force : bool
        Replace a folder of earlier results, where it holds nothing but what its manifest lists and
        nothing of that was changed; any other is refused even so.

    Attributes
    ----------
    path : Path
        The temporary folder to write into.
    target : Path
        The final place, absolute and without links.

    Raises
    ------
    InputError
        Where the target exists, is a file, or cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as place:
    ...     with OutputFolder(Path(place, "run")) as folder:
    ...         _ = (folder.path / "answer.txt").write_text("week 3")
    ...     sorted(entry.name for entry in Path(place).rglob("*"))
    ['answer.txt', 'run']
    """

    def __init__(self, target: str | os.PathLike[str], *, force: bool = False) -> None:
        self._shown = str(target)
        self.force = force
        self._made: list[Path] = []
        try:
            self.target = Path(os.path.realpath(target))
            clear_left_over(self.target)
        except (OSError, ValueError) as error:
            raise _not_written(error, target) from error
        self._check()
        self.path = _beside(self.target, "part")

    def _check(self) -> None:
        """Refuse a target that holds something."""
        if not os.path.lexists(self._shown):
            return
        refuse(
            (
                not self.target.is_dir(),
                Fault("the output folder is a file", where=self._shown, do="choose another name"),
            )
        )
        try:
            holds = os.listdir(self.target)
        except OSError as error:
            raise _not_written(error, self._shown) from error
        if not holds:
            return
        refuse(
            (
                not self.force,
                Fault(
                    "the output exists and is not overwritten",
                    where=self._shown,
                    do="choose another folder, or give --force",
                ),
            )
        )
        refuse(
            (
                MANIFEST_NAME not in holds,
                Fault(
                    f"the folder holds files but no {MANIFEST_NAME}, so it is not a result of an "
                    "earlier run and is not replaced even with --force",
                    where=self._shown,
                    do="choose another folder",
                ),
            )
        )
        refuse_foreign(self.target, self._shown)

    def __enter__(self) -> OutputFolder:
        try:
            self._made = _make_parents(self.target)
            self.path.mkdir()
        except OSError as error:
            _remove_empty(self._made)
            raise _not_written(error, self._shown) from error
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if kind is not None:
            self._discard()
            if isinstance(error, OSError) and str(error.filename).startswith(str(self.path)):
                raise _not_written(error, self._shown) from error
            if isinstance(error, InputError) and str(self.path) in str(error):
                raise InputError(  # under the name that the user gave
                    replace(one, where=one.where.replace(str(self.path), self._shown))
                    for one in error.faults
                ) from error
            return
        try:
            self._check()  # somebody may have put a folder there meanwhile
            self._rename()
        except BaseException as late:
            self._discard()
            if isinstance(late, OSError):
                raise _not_written(late, self._shown) from late
            raise

    def write(self, name: str, content: str | bytes | Callable[[Path], object]) -> Path:
        """Write a file of the folder, as `write_atomic`; folders inside it are made."""
        return write_atomic(self.path / name, content)

    def _rename(self) -> None:
        """Put the new folder in place; an old one is set aside first and removed last."""
        old = _beside(self.target, "old")
        aside = self.target.is_dir()
        if aside:
            os.rename(self.target, old)
        try:
            os.rename(self.path, self.target)
        except BaseException:
            if aside:
                os.rename(old, self.target)
            raise
        if aside:
            shutil.rmtree(old, ignore_errors=True)

    def _discard(self) -> None:
        """Remove what was built, and the folders that were made for it."""
        shutil.rmtree(self.path, ignore_errors=True)
        _remove_empty(self._made)


def clear_left_over(target: Path) -> None:
    """Remove what killed runs left beside a target, and put back a folder that one had set aside.

    Only what bears the number of a process that this machine no longer has; where names hold that
    of another machine on a shared disk, its runs cannot be seen from here.

    Parameters
    ----------
    target : Path
        Absolute.

    Examples
    --------
    >>> clear_left_over(Path("/no/such/folder/run"))
    """
    left = re.compile(rf"\.{re.escape(target.name)}\.(\d+)(?:-{_HOST})?\.(part|old)")
    try:
        names = sorted(os.listdir(target.parent))
    except OSError:  # not there yet, or not to be looked into
        return
    for name in names:
        found = left.fullmatch(name)
        if found is None or _runs(int(found[1])):
            continue
        place = target.with_name(name)
        if found[2] == "old" and not os.path.lexists(target):
            os.rename(place, target)
        elif place.is_dir():
            shutil.rmtree(place, ignore_errors=True)
        else:
            _remove(place)


def _runs(process: int) -> bool:
    """Whether another process of this number may be running."""
    if process == os.getpid():  # left by an earlier process of the same number, as in a container
        return False
    if sys.platform == "win32":  # asking would end it
        return True
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:  # of another user
        return True
    return True


def _beside(target: Path, ending: str) -> Path:
    """Name beside a target that tells which process of which machine uses it."""
    return target.with_name(f".{target.name}.{os.getpid()}-{_HOST}.{ending}")


def _not_written(error: BaseException, path: str | os.PathLike[str]) -> InputError:
    """Refusal of a place that the system does not let us write to."""
    told = error if isinstance(error, OSError) else OSError(errno.EINVAL, str(error))
    return refused(told, Path(path), "write")


def _make_parents(target: Path) -> list[Path]:
    """Make the folders above a path; return those that were not there, innermost first."""
    missing = []
    for parent in target.parents:
        if os.path.isdir(parent):
            break
        missing.append(parent)
    target.parent.mkdir(parents=True, exist_ok=True)
    return missing


def _remove(path: Path) -> None:
    """Remove a file if it is there."""
    with suppress(OSError):  # a folder above it is not there, or is a file
        path.unlink(missing_ok=True)


def _remove_empty(folders: list[Path]) -> None:
    """Remove folders that this run made, as far as they are empty."""
    for folder in folders:
        try:
            folder.rmdir()
        except OSError:
            return


MARK = b"phenocast"

PARQUET_KEY = b"generator"

"""Key of a Parquet file's own remarks that holds the mark."""

PAGE_MARK = b'<meta name="generator" content="' + MARK

_LOOKED_AT = 4096

_SHOWN = 20


def is_ours(path: str | os.PathLike[str]) -> bool:
    """Whether a file is one that phenocast wrote by itself, so that nothing of anybody is lost.

    A page and a Parquet table say so. A CSV table has exactly the columns of a table that commands
    write, for a remark in it would break its readers. A template is one as long as nobody has
    filled it in. An empty file holds nothing.

    Parameters
    ----------
    path : str or path

    Raises
    ------
    InputError
        Where it cannot be read.

    Examples
    --------
    >>> from phenocast.parameters.library import shipped
    >>> is_ours(shipped("demo_weather", "low_quay.toml"))
    False
    """
    place = Path(path)
    if not place.is_file():
        return False
    try:
        with place.open("rb") as stream:
            head = stream.read(_LOOKED_AT)
    except OSError as error:
        raise refused(error, place) from error
    if PAGE_MARK in head or not head:
        return True
    if head.startswith(PARQUET_MAGIC):
        return _parquet_says_so(place)
    from phenocast.io.templates import TEMPLATE_NAMES, template
    from phenocast.tables import CROWN_TEMPERATURES, RANK_COLUMNS

    if head.partition(b"\n")[0].decode(errors="replace").split(",") in (
        list(CROWN_TEMPERATURES.names), list(RANK_COLUMNS)
    ):  # fmt: skip
        return True
    texts = [template(name).encode() for name in TEMPLATE_NAMES]
    return any(text[:_LOOKED_AT] == head and text == place.read_bytes() for text in texts)


def _parquet_says_so(place: Path) -> bool:
    import pyarrow.parquet as pq

    try:
        return (pq.read_schema(place).metadata or {}).get(PARQUET_KEY) == MARK
    except (OSError, ValueError):  # damaged, so nobody knows what it was
        return False


def refuse_foreign(folder: Path, shown: str) -> None:
    """Refuse to replace a folder that holds more than its manifest lists, or anything changed.

    Parameters
    ----------
    folder : Path
        Holds a manifest.
    shown : str
        Its name in messages.

    Raises
    ------
    InputError
        Naming what is in the way; also where the manifest cannot be read or is of another version.
    """
    from phenocast.io.output.manifest import read_manifest

    try:
        stated = {one.path: one.sha256 for one in read_manifest(folder).outputs}
    except InputError as error:
        raise InputError(
            Fault(f"the folder is not replaced even with --force: {error}", shown,
                  do="choose another folder")
        ) from error  # fmt: skip
    above = {str(parent) for path in stated for parent in PurePosixPath(path).parents}
    foreign: list[str] = []
    for place, folders, files in os.walk(folder):
        for name in sorted([*folders, *files]):
            path = Path(place, name)
            told = path.relative_to(folder).as_posix()
            if name in folders and told in above and not path.is_symlink():
                continue
            if name in folders:
                foreign.append(f"{told}/")
                folders.remove(name)
            elif told == MANIFEST_NAME and not path.is_symlink():
                continue
            elif told not in stated:
                foreign.append(told)
            elif path.is_symlink() or not path.is_file() or sha256_of(path) != stated[told]:
                foreign.append(f"{told} (changed since)")
    if foreign:
        more = f" and {len(foreign) - _SHOWN} more" if len(foreign) > _SHOWN else ""
        raise InputError(
            Fault(
                "the folder is not replaced even with --force, for it holds what the run that "
                f"wrote it did not leave there like this: {', '.join(foreign[:_SHOWN])}{more}",
                shown,
                do="move that elsewhere, or choose another folder",
            )
        )
