"""Output that is either whole or not there: files and folders under a temporary name, renamed."""

from __future__ import annotations

import errno
import os
import shutil
from collections.abc import Callable
from pathlib import Path
from types import TracebackType

from phenocast.errors import Fault, InputError
from phenocast.io.files import refused

MANIFEST_NAME = "manifest.json"


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
        Replace a file that exists.

    Returns
    -------
    Path

    Raises
    ------
    InputError
        Where the file exists without ``force``, is a folder, or cannot be written. Whatever goes
        wrong, the file that was there before is untouched and no part of the new one is left.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_atomic(Path(folder, "a.txt"), "whole").read_text()
    'whole'
    """
    target = Path(path)
    may_write(target, force=force)
    temporary = target.with_name(f".{target.name}.{os.getpid()}.part")
    made: list[Path] = []
    try:
        made = _make_parents(target)
        if callable(content):
            content(temporary)
        elif isinstance(content, bytes):
            temporary.write_bytes(content)
        else:
            temporary.write_text(content, encoding="utf-8", newline="\n")
        os.replace(temporary, target)
    except BaseException as error:
        _remove(temporary)
        _remove_empty(made)
        if isinstance(error, OSError):
            raise refused(error, target, "write") from error
        if "\0" in str(target):
            raise refused(OSError(errno.EINVAL, str(error)), target, "write") from error
        raise
    return target


def may_write(path: str | os.PathLike[str], *, force: bool = False) -> None:
    """Refuse a file that exists, before long work is done for it.

    Raises
    ------
    InputError

    Examples
    --------
    >>> may_write("does/not/exist/yet.csv")
    """
    target = Path(path)
    if os.path.isdir(target):
        raise InputError(
            Fault("it is a folder, not a file", where=str(path), do="name a file inside it")
        )
    if os.path.lexists(target) and not force:
        raise InputError(
            Fault(
                "the output exists and is not overwritten",
                where=str(path),
                do="choose another name, or give --force",
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
        Replace a folder of earlier results; a folder with anything in it that is not such a
        result (no manifest) is refused even so.

    Attributes
    ----------
    path : Path
        The temporary folder to write into.
    target : Path
        The final place, absolute.

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
        self.target = Path(os.path.abspath(target))
        self.force = force
        self.path = self.target.with_name(f".{self.target.name}.{os.getpid()}.part")
        self._made: list[Path] = []
        self._check()

    def _check(self) -> None:
        """Refuse a target that holds something."""
        if not os.path.lexists(self.target):
            return
        if not self.target.is_dir():
            raise InputError(
                Fault("the output folder is a file", where=self._shown, do="choose another name")
            )
        try:
            holds = os.listdir(self.target)
        except OSError as error:
            raise refused(error, Path(self._shown), "write") from error
        if not holds:
            return
        if not self.force:
            raise InputError(
                Fault(
                    "the output exists and is not overwritten",
                    where=self._shown,
                    do="choose another folder, or give --force",
                )
            )
        if MANIFEST_NAME not in holds:
            raise InputError(
                Fault(
                    f"the folder holds files but no {MANIFEST_NAME}, so it is not a result of an "
                    "earlier run and is not replaced even with --force",
                    where=self._shown,
                    do="choose another folder",
                )
            )

    def __enter__(self) -> OutputFolder:
        try:
            self._made = _make_parents(self.target)
            if self.path.exists():  # left by a killed process that had the same number
                shutil.rmtree(self.path)
            self.path.mkdir()
        except (OSError, ValueError) as error:
            _remove_empty(self._made)
            told = error if isinstance(error, OSError) else OSError(errno.EINVAL, str(error))
            raise refused(told, Path(self._shown), "write") from error
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if kind is not None:
            self._discard()
            if isinstance(error, OSError) and self._is_ours(error.filename):
                raise refused(error, Path(self._shown), "write") from error
            return
        try:
            self._check()  # somebody may have put a folder there meanwhile
            self._rename()
        except BaseException as late:
            self._discard()
            if isinstance(late, OSError):
                raise refused(late, Path(self._shown), "write") from late
            raise

    def write(self, name: str, content: str | bytes | Callable[[Path], object]) -> Path:
        """Write a file of the folder, as `write_atomic`; folders inside it are made."""
        return write_atomic(self.path / name, content)

    def _is_ours(self, name: object) -> bool:
        """Whether the system spoke of a path inside the folder that is being built."""
        return isinstance(name, str | os.PathLike) and Path(name).is_relative_to(self.path)

    def _rename(self) -> None:
        """Put the new folder in place; an old one is set aside first and removed last."""
        old = self.target.with_name(f".{self.target.name}.{os.getpid()}.old")
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


def _make_parents(target: Path) -> list[Path]:
    """Make the folders above a path; return those that were not there, innermost first."""
    missing = []
    for parent in target.absolute().parents:
        if os.path.isdir(parent):
            break
        missing.append(parent)
    target.absolute().parent.mkdir(parents=True, exist_ok=True)
    return missing


def _remove(path: Path) -> None:
    """Remove a file if it is there."""
    try:
        path.unlink(missing_ok=True)
    except (OSError, ValueError):  # a folder above it is not there, or is a file
        return


def _remove_empty(folders: list[Path]) -> None:
    """Remove folders that this run made, as far as they are empty."""
    for folder in folders:
        try:
            folder.rmdir()
        except OSError:
            return
