"""Files as bytes, as text, and as TOML or JSON: what can be opened, read whole or refused.

A document is refused with the place of every fault: bounded depth and digits, a schema where its
shape matters.
"""

import errno
import gzip
import hashlib
import json
import os
import re
import tomllib
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from pydantic import TypeAdapter, ValidationError

from phenocast.errors import Fault, InputError, PhenocastError, raise_any, refuse
from phenocast.opened import LIMITS, Kind, open_regular
from phenocast.season.kinds import path_of, schema_faults

# First bytes of files that are not weather tables, with what to do about each.
_FOREIGN = (
    (b"PK\x03\x04", "a spreadsheet or a zip archive", "save the sheet as CSV, or unpack the file"),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet", "save the sheet as CSV"),
    (b"%PDF", "a PDF document", "give the table behind it as CSV"),
    (b"\x89HDF", "an HDF5 or NetCDF file", "export the table as CSV or Parquet"),
    (b"CDF\x01", "a NetCDF file", "export the table as CSV or Parquet"),
    (b"CDF\x02", "a NetCDF file", "export the table as CSV or Parquet"),
    (b"\x89PNG", "an image", "give the table itself as CSV"),
    (b"BZh", "a bzip2 archive", "unpack it"),
    (b"\xfd7zXZ", "an xz archive", "unpack it"),
    (b"(\xb5/\xfd", "a zstd archive", "unpack it"),
    (b"SQLite format 3", "a database", "export the table as CSV or Parquet"),
)

_LINE_ENDS = "\n\r\x0b\x0c\x1c\x1d\x1e\x85\u2028\u2029"  # of `str.splitlines`

MOST_LINES = 5_000_000

"""Lines of a text: 20 years of readings every five minutes are 2.1 million."""

_LIMIT = ("a limit on the use of the disk is reached", "choose another place, or have it raised")

PARQUET_MAGIC = b"PAR1"

GZIP_MAGIC = b"\x1f\x8b"


@dataclass(frozen=True)
class InputFile:
    """A file that a run reads.

    Parameters
    ----------
    role : str
        "season", "cultivars", "film", "cover", "observed", "history", "outlook", "nursery", ...
    path : Path
    """

    role: str
    path: Path


def refused(error: OSError, path: Path, doing: str = "read") -> InputError:
    """Error that says in plain words why the machine would not read or write a path.

    Examples
    --------
    >>> print(refused(FileNotFoundError(2, "x"), Path("gone.csv")))
    gone.csv: no such file; check the path
    """
    plain = {
        errno.ENOENT: ("no such file", "check the path"),
        errno.EACCES: (f"no permission to {doing} it", "choose another place, or ask its owner"),
        errno.EPERM: (f"no permission to {doing} it", "choose another place, or ask its owner"),
        errno.EISDIR: ("it is a folder, not a file", "name the file inside it"),
        errno.ENOTDIR: ("part of the path is a file, not a folder", "check the path"),
        errno.EEXIST: ("part of the path is a file, not a folder", "check the path"),
        errno.EROFS: ("the disk is read-only", "choose another place"),
        errno.ENOSPC: ("the disk is full", "free some space, or choose another place"),
        errno.EDQUOT: _LIMIT,
        errno.EFBIG: _LIMIT,
        errno.ENAMETOOLONG: ("the name is too long", "choose a shorter one"),
    }
    what, do = plain.get(error.errno or 0, (f"cannot {doing} it: {error.strerror or error}", ""))
    return InputError(Fault(what, where=str(path), do=do))


@contextmanager
def reading(path: str | os.PathLike[str], what: str) -> Iterator[None]:
    """Refuse a file for whatever a library raises while the file is taken apart inside.

    Parameters
    ----------
    path : str or path
        Of the file, for the message.
    what : str
        What it was to be read as.

    Raises
    ------
    InputError
        For any error inside; refusals that are already told pass as they are.

    Examples
    --------
    >>> with reading("a.csv", "a table"):
    ...     int("2 mm")
    Traceback (most recent call last):
    phenocast.errors.InputError: a.csv: cannot be read as a table: invalid literal for int() with
    base 10: '2 mm'; write or fetch it again
    """
    place = str(path)
    try:
        yield
    except PhenocastError:
        raise
    except MemoryError as error:
        raise InputError(
            Fault("there is not enough memory to read it", place,
                  do="close other programs, or give a file of fewer rows or columns")
        ) from error  # fmt: skip
    except OSError as error:
        raise refused(error, Path(path)) from error
    except Exception as error:
        reason = next(iter(str(error).splitlines()), "")[:120] or type(error).__name__
        raise InputError(
            Fault(f"cannot be read as {what}: {reason}", place, do="write or fetch it again")
        ) from error


def read_bytes(path: str | os.PathLike[str], kind: Kind = "table") -> bytes:
    """Content of a file; gzip is undone.

    Parameters
    ----------
    path : str or path
    kind : "table", "document" or "any"
        How large it may be, `phenocast.opened.LIMITS`.

    Returns
    -------
    bytes

    Raises
    ------
    InputError
        Where the file is missing, no regular file, empty, too large, not readable or damaged inside
        gzip.

    Examples
    --------
    >>> read_bytes("no/such/file.csv")
    Traceback (most recent call last):
    phenocast.errors.InputError: no/such/file.csv: no such file; check the path
    """
    most = LIMITS[kind].megabytes * 1_000_000
    with reading(path, "a file"), open_regular(path, kind) as stream:
        packed = stream.read(len(GZIP_MAGIC)) == GZIP_MAGIC
        stream.seek(0)
        try:
            content = (gzip.GzipFile(fileobj=stream) if packed else stream).read(most + 1) or b""
        except (EOFError, gzip.BadGzipFile, zlib.error) as error:
            raise InputError(
                Fault("the gzip file is damaged or cut off", str(path), do="fetch it again")
            ) from error
    if len(content) > most:
        raise LIMITS[kind].refusal(str(path), what="file, once it is unpacked,")
    blank = not content[:1000].strip() and not content.strip()
    refuse((blank, Fault("the file is empty", where=str(path), do="write it again")))
    return content


def decode(content: bytes, where: str) -> str:
    """Text of a file's bytes: UTF-8, UTF-16 and UTF-32 with or without mark, else Windows-1252.

    Parameters
    ----------
    content : bytes
    where : str
        Name of the file, for messages.

    Returns
    -------
    str

    Raises
    ------
    InputError
        Where the bytes are of a kind that holds no text, damaged, or of more than `MOST_LINES`.

    Examples
    --------
    >>> decode("air [°C]".encode("utf-16"), "a.csv")
    'air [°C]'
    >>> decode("air [°C]".encode("cp1252"), "a.csv")
    'air [°C]'
    """
    for magic, kind, do in _FOREIGN:
        refuse(
            (
                content.startswith(magic),
                Fault(f"this is {kind}, not a text table", where=where, do=do),
            )
        )
    encoding = _encoding(content)
    try:
        text = content.decode(encoding)
    except UnicodeDecodeError as error:
        if encoding != "utf-8-sig":
            raise _damaged(where, encoding) from error
        encoding = "cp1252"
        # Five byte values mean nothing in Windows-1252; Latin-1 gives every one a character.
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            text, encoding = content.decode("latin-1"), "latin-1"
    text = text.lstrip("\ufeff")
    if "\x00" in text[:100_000]:
        raise _damaged(where, encoding)
    count = sum(map(text.count, _LINE_ENDS))
    refuse(
        (count > MOST_LINES, Fault("the text has too many lines", where, count,
                                   f"up to {MOST_LINES}", "give fewer years, or hourly values"))
    )  # fmt: skip
    return text


def _damaged(where: str, encoding: str) -> InputError:
    """Error for bytes that no encoding turns into text."""
    return InputError(
        Fault(
            "the file is not readable text",
            where=where,
            value=encoding.removesuffix("-sig"),
            allowed="CSV in UTF-8, UTF-16 or Windows-1252; Parquet; EPW, TMY3, TMY2; "
            "GHCN-Daily; USCRN",
            do="save it again as CSV in UTF-8",
        )
    )


def _encoding(content: bytes) -> str:
    """Name of the encoding by its mark, else by where the zero bytes lie."""
    if content.startswith((b"\xff\xfe\x00\x00", b"\x00\x00\xfe\xff")):
        return "utf-32"
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    head = content[:2000]
    if len(head) >= 8:
        even, odd = head[0::2].count(0) / len(head[0::2]), head[1::2].count(0) / len(head[1::2])
        if odd > 0.7 and even < 0.1:
            return "utf-16-le"
        if even > 0.7 and odd < 0.1:
            return "utf-16-be"
    return "utf-8-sig"


def read_text(path: str | os.PathLike[str]) -> str:
    """Text of a document, whatever its encoding.

    Parameters
    ----------
    path : str or path

    Returns
    -------
    Text

    Raises
    ------
    InputError
        As `read_bytes` and `decode`.

    Examples
    --------
    >>> from phenocast.parameters.library import shipped
    >>> read_text(shipped("demo_weather", "README.md"))[:2]
    '# '
    """
    return decode(read_bytes(path, "document"), str(path))


def sha256_of(path: str | os.PathLike[str]) -> str:
    """SHA-256 of a file as it lies on the disk, in hexadecimal.

    Parameters
    ----------
    path : str or path

    Returns
    -------
    str
        64 hexadecimal digits.

    Raises
    ------
    InputError
        Where the file cannot be read.

    Examples
    --------
    >>> from phenocast.parameters.library import shipped
    >>> len(sha256_of(shipped("demo_weather", "README.md")))
    64
    """
    with reading(path, "a file"), open_regular(path, "any") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


T = TypeVar("T")


DEEPEST = 16

"""Levels of tables and lists inside one another; a document of ours has half as many."""


LARGEST_WHOLE = 2**63

"""Whole numbers lie below this, as TOML 1.0 has it."""


_TOML = "texts stand in quotes, decimals take a point, dates are 2026-10-05"

_KEY = r"""(?:[\w-]+|"[^"\n]*"|'[^'\n]*')"""

_DEEP_KEY = re.compile(rf"(?<![\w-])(?:{_KEY}[ \t]*\.[ \t]*){{{DEEPEST}}}")

"""A key of so many parts that the parser would take minutes over it."""


def read_toml_file(path: str | os.PathLike[str]) -> dict[str, Any]:
    r"""Tables of a TOML file in any encoding.

    Parameters
    ----------
    path : str or path

    Returns
    -------
    dict

    Raises
    ------
    InputError
        Where the file cannot be read or is no TOML, with line and column.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     place = Path(folder, "season.toml")
    ...     _ = place.write_text("[site]\nlatitude = 29,3\n")
    ...     try:
    ...         read_toml_file(place)
    ...     except InputError as error:
    ...         print(error.faults[0].where.split("/")[-1], "|", error.faults[0].value)
    season.toml, row 2, column 14 | latitude = 29,3
    """
    text = read_text(path).replace("\r\n", "\n").replace("\r", "\n")
    tables: dict[str, Any] = _parsed(_toml, text, str(path), "TOML", _TOML)
    return tables


def _toml(text: str) -> dict[str, Any]:
    if _DEEP_KEY.search(text):
        raise RecursionError
    return tomllib.loads(text)


def json_of(text: str, where: str) -> Any:
    """Value of a JSON text.

    Parameters
    ----------
    text : str
    where : str
        Name of the file, for messages.

    Raises
    ------
    InputError
        Where it is no JSON, with line and column.

    Examples
    --------
    >>> json_of('{"draws": 5', "manifest.json")
    Traceback (most recent call last):
    phenocast.errors.InputError: manifest.json, row 1, column 12: cannot be read as JSON: ...
    """
    return _parsed(_json, text, where, "JSON")


def _json(text: str) -> Any:
    document = json.loads(text)
    # Python also reads NaN, infinity and halves of a character, which no document of ours holds.
    json.dumps(document, ensure_ascii=False, allow_nan=False).encode("utf-8")
    return document


def read_schema(adapter: TypeAdapter[T], value: Any, where: str) -> T:
    """Value as its schema has it.

    Parameters
    ----------
    adapter : TypeAdapter
    value : object
        As JSON or TOML gives it.
    where : str
        Name of the file, for messages.

    Raises
    ------
    InputError
        With every fault and its path in the document.

    Examples
    --------
    >>> read_schema(TypeAdapter(dict[str, int]), {"draws": "many"}, "manifest.json")
    Traceback (most recent call last):
    phenocast.errors.InputError: manifest.json: draws: the wrong kind of value (value 'many'; ...
    """
    try:
        return adapter.validate_python(value)
    except ValidationError as error:
        raise InputError(schema_faults(error, None, value, where)) from error


def _parsed(parse: Callable[[str], Any], text: str, where: str, kind: str, do: str = "") -> Any:
    """Document of a text, or the fault of what its parser refuses."""
    try:
        document = parse(text)
    except RecursionError as error:
        raise InputError(
            Fault(f"cannot be read as {kind}: tables or lists lie too deep inside one another",
                  where, allowed=f"{DEEPEST} levels")
        ) from error  # fmt: skip
    except ValueError as error:
        message = str(error)
        found = re.search(r"line (\d+),? column (\d+)", message)
        value = None
        if found:
            where += f", row {found[1]}, column {found[2]}"
            lines = text.split("\n")
            row = int(found[1])
            value = lines[row - 1].strip() if row <= len(lines) else None
        reason = re.split(r"\s*\(at |: line |; use sys\.", message)[0]
        raise InputError(
            Fault(f"cannot be read as {kind}: {reason[:1].lower()}{reason[1:]}", where, value,
                  do=do)
        ) from error  # fmt: skip
    raise_any(list(_oversized(document, where)))
    return document


def _oversized(document: Any, where: str) -> Iterator[Fault]:
    """Faults of what lies too deep, and of whole numbers that no parser of TOML need hold."""
    waiting: list[tuple[tuple[int | str, ...], Any]] = [((), document)]
    while waiting:
        steps, value = waiting.pop()
        if isinstance(value, int) and abs(value) >= LARGEST_WHOLE:
            yield Fault("a whole number of too many digits", path_of(steps, document, where),
                        allowed="up to 18 digits")  # fmt: skip
        if not isinstance(value, dict | list):
            continue
        if len(steps) >= DEEPEST:
            yield Fault("tables or lists lie too deep inside one another",
                        path_of(steps, document, where), allowed=f"{DEEPEST} levels")  # fmt: skip
            continue
        inside = value.items() if isinstance(value, dict) else enumerate(value)
        waiting += [((*steps, key), item) for key, item in inside]
