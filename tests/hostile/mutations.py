"""Mutants of a sound file, and the rule that every reader keeps on them.

A reader gives an answer or refuses with `InputError`, `NoAnswerError` or a fault of usage, in one
message of bounded length. Another exception, a warning of a library or endless work is a fault of
ours. Mutants follow from a seed alone, so that a failure can be made again from its number.
"""

from __future__ import annotations

import gzip
import random
import re
import signal
import traceback
import warnings
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import click
import pytest

from phenocast.errors import InputError, NoAnswerError

REFUSALS = (InputError, NoAnswerError, click.UsageError)
# Processor time after which a reader is taken to hang, far above what any mutant needs. [s]
ENDLESS_S = 30.0
MESSAGE_LINES, MESSAGE_CHARACTERS = 45, 20_000

Change = Callable[[bytes, random.Random], bytes]

NUMBERS = (
    "0", "-0", "-1", "1e308", "-1e308", "1e-320", "1e400", "nan", "inf", "-inf", "NaN", "9" * 25,
    "9" * 5000, "99999", "-9999", "2147483648", "18446744073709551616", "1,5", "1.5.5", "1_000",
    "0x10", "1e", "--5", "+", "½", "٣", "１２", "1 000", "24", "60", "61", "366",
)  # fmt: skip
CELLS = (
    "", " ", '"', '""', "'", "#", "=1+1", "-", "\x00", "\x1b[31m", "\ufeff", "\u202e", "é", "🍓",
    "None", "true", "[]", "{}", "a" * 10_000, "\ud7ff", "\x85", "\u2028", "\x0c", "\t", ";", "|",
    "NaT", "%", "\\", "\\x", "../..", "/dev/zero", "\x7f", "T", ":",
)  # fmt: skip
DATES = (
    "0000-00-00", "0001-01-01", "9999-12-31", "2026-02-30", "2026-13-01", "2026-00-10",
    "10000-01-01", "2026-W01", "2026-W54", "1899-12-31", "2101-01-01", "31/12/2026", "05/06/2026",
    "2026-10-05T25:00", "2026-10-05 13:60", "2026-10-05 13:00:60", "2026-10-05T13:00+99:99",
    "24:00", "-2026-01-01", "1e5", "20261005", "00010101", "99991231", "2026-10", "2262-04-12",
    "1677-09-20",
)  # fmt: skip
_NUMBER = re.compile(rb"-?\d+(?:\.\d+)?")
_DATE = re.compile(
    rb"\d{4}-\d\d-\d\d(?:[T ]\d\d:\d\d)?|\d\d?/\d\d?/\d{4}|(?:19|20)\d{6}|\d{4}-W\d\d"
)


def _place(content: bytes, rng: random.Random) -> int:
    """A place in a file; every second time in its head, where formats are told apart."""
    return rng.randrange(min(len(content), 300) if rng.random() < 0.5 else len(content))


def flip_bit(content: bytes, rng: random.Random) -> bytes:
    at = _place(content, rng)
    return content[:at] + bytes([content[at] ^ (1 << rng.randrange(8))]) + content[at + 1 :]


def random_bytes(content: bytes, rng: random.Random) -> bytes:
    at, n = _place(content, rng), rng.randrange(1, 9)
    return content[:at] + rng.randbytes(n) + content[at + n :]


def zero_bytes(content: bytes, rng: random.Random) -> bytes:
    at, n = _place(content, rng), rng.randrange(1, 40)
    return content[:at] + bytes(n) + content[at + n :]


def truncate(content: bytes, rng: random.Random) -> bytes:
    return content[: _place(content, rng)]


def lose_head(content: bytes, rng: random.Random) -> bytes:
    return content[_place(content, rng) :]


def lose_part(content: bytes, rng: random.Random) -> bytes:
    at = _place(content, rng)
    return content[:at] + content[at + rng.randrange(1, 200) :]


def repeat_part(content: bytes, rng: random.Random) -> bytes:
    at, to = _place(content, rng), _place(content, rng)
    return content[:to] + content[at : at + rng.randrange(1, 200)] + content[to:]


BYTE_CHANGES: tuple[Change, ...] = (
    flip_bit, random_bytes, zero_bytes, truncate, lose_head, lose_part, repeat_part,
)  # fmt: skip


def _put(content: bytes, span: tuple[int, int], text: str) -> bytes:
    return content[: span[0]] + text.encode("utf-8", "surrogatepass") + content[span[1] :]


def _swap_match(pattern: re.Pattern[bytes], texts: Sequence[str]) -> Change:
    def change(content: bytes, rng: random.Random) -> bytes:
        found = [one.span() for one in pattern.finditer(content)]
        return _put(content, rng.choice(found), rng.choice(texts)) if found else content

    return change


odd_number = _swap_match(_NUMBER, NUMBERS)
odd_number.__name__ = "odd_number"
odd_date = _swap_match(_DATE, DATES)
odd_date.__name__ = "odd_date"


def new_digits(content: bytes, rng: random.Random) -> bytes:
    found = [one.span() for one in _NUMBER.finditer(content)]
    if not found:
        return content
    start, end = rng.choice(found)
    return _put(
        content, (start, end), "".join(rng.choice("0123456789") for _ in range(end - start))
    )


def insert_text(content: bytes, rng: random.Random) -> bytes:
    at = _place(content, rng)
    return _put(content, (at, at), rng.choice(CELLS))


def _lines(change: Callable[[list[bytes], random.Random], None], name: str) -> Change:
    """Change of a file's list of lines, made in place."""

    def whole(content: bytes, rng: random.Random) -> bytes:
        lines = content.split(b"\n")
        change(lines, rng)
        return b"\n".join(lines)

    whole.__name__ = name
    return whole


def _line(lines: list[bytes], rng: random.Random) -> int:
    return rng.randrange(min(3, len(lines)) if rng.random() < 0.3 else len(lines))


def _double(lines: list[bytes], rng: random.Random) -> None:
    lines.insert(_line(lines, rng), lines[_line(lines, rng)])


def _drop(lines: list[bytes], rng: random.Random) -> None:
    del lines[_line(lines, rng)]


def _swap(lines: list[bytes], rng: random.Random) -> None:
    a, b = _line(lines, rng), _line(lines, rng)
    lines[a], lines[b] = lines[b], lines[a]


def _keep_first(lines: list[bytes], rng: random.Random) -> None:
    del lines[rng.randrange(1, 4) :]


def _insert(lines: list[bytes], rng: random.Random) -> None:
    lines.insert(_line(lines, rng), rng.choice(CELLS).encode("utf-8", "surrogatepass"))


def _delimiter(lines: list[bytes]) -> bytes:
    head = b"\n".join(lines[:5])
    return max((b",", b";", b"\t", b"|", b" ", b"="), key=head.count)


def _cell(lines: list[bytes], rng: random.Random, texts: Sequence[str]) -> None:
    at, mark = _line(lines, rng), _delimiter(lines)
    cells = lines[at].split(mark)
    cells[rng.randrange(len(cells))] = rng.choice(texts).encode("utf-8", "surrogatepass")
    lines[at] = mark.join(cells)


def _column(lines: list[bytes], rng: random.Random) -> None:
    """Swap, drop or double a column, or fill it with one odd value."""
    mark, width = _delimiter(lines), max(line.count(_delimiter(lines)) for line in lines[:20]) + 1
    a, b, kind = rng.randrange(width), rng.randrange(width), rng.randrange(4)
    odd = rng.choice((*NUMBERS, *CELLS, *DATES)).encode("utf-8", "surrogatepass")
    for place, line in enumerate(lines):
        cells = line.split(mark)
        if len(cells) != width:
            continue
        if kind == 0:
            cells[a], cells[b] = cells[b], cells[a]
        elif kind == 1:
            del cells[a]
        elif kind == 2:
            cells.insert(b, cells[a])
        elif place:
            cells[a] = odd
        lines[place] = mark.join(cells)


def _extra_mark(lines: list[bytes], rng: random.Random) -> None:
    at = _line(lines, rng)
    lines[at] += _delimiter(lines) * rng.choice((1, 2, 5000))


def _other_mark(lines: list[bytes], rng: random.Random) -> None:
    """Another delimiter in the whole file, or in one line."""
    old, new = _delimiter(lines), rng.choice((b",", b";", b"\t", b"|", b" "))
    chosen = range(len(lines)) if rng.random() < 0.5 else [_line(lines, rng)]
    for at in chosen:
        lines[at] = lines[at].replace(old, new)


LINE_CHANGES: tuple[Change, ...] = (
    _lines(_double, "double_line"),
    _lines(_drop, "drop_line"),
    _lines(_swap, "swap_lines"),
    _lines(_keep_first, "keep_first_lines"),
    _lines(_insert, "insert_line"),
    _lines(lambda lines, rng: _cell(lines, rng, CELLS), "odd_cell"),
    _lines(lambda lines, rng: _cell(lines, rng, NUMBERS), "odd_number_in_cell"),
    _lines(lambda lines, rng: _cell(lines, rng, DATES), "odd_date_in_cell"),
    _lines(_column, "column"),
    _lines(_extra_mark, "extra_mark"),
    _lines(_other_mark, "other_mark"),
)


def other_encoding(content: bytes, rng: random.Random) -> bytes:
    text = content.decode("utf-8", "replace")
    return text.encode(
        rng.choice(("utf-16", "utf-16-le", "utf-32", "utf-8-sig", "utf-7")), "replace"
    )


def other_line_ends(content: bytes, rng: random.Random) -> bytes:
    return content.replace(b"\n", rng.choice((b"\r\n", b"\r", b"\n\n", b"\n\r", b" ", b"")))


def twice_over(content: bytes, rng: random.Random) -> bytes:
    return content * 2


def damaged_gzip(content: bytes, rng: random.Random) -> bytes:
    return rng.choice(BYTE_CHANGES)(gzip.compress(content, mtime=0), rng)


def nested(content: bytes, rng: random.Random) -> bytes:
    at = _place(content, rng)
    return content[:at] + rng.choice((b"[", b"{", b'{"a":', b'"', b"(")) * 3000 + content[at:]


WHOLE_CHANGES: tuple[Change, ...] = (
    other_encoding, other_line_ends, twice_over, damaged_gzip, nested,
)  # fmt: skip
TEXT_CHANGES: tuple[Change, ...] = (
    *BYTE_CHANGES, *LINE_CHANGES, *LINE_CHANGES, *WHOLE_CHANGES,
    odd_number, odd_number, odd_number, odd_date, odd_date, new_digits, insert_text,
)  # fmt: skip


def mutants(
    valid: bytes, seed: int, count: int, changes: Sequence[Change] = TEXT_CHANGES
) -> Iterator[tuple[str, bytes]]:
    """Mutants of a sound file, each made by one to three changes, with a label that names them."""
    for number in range(count):
        rng = random.Random(seed * 1_000_003 + number)
        content, names = valid, []
        for _ in range(rng.choice((1, 1, 1, 2, 3))):
            change = rng.choice(changes)
            content = change(content or b" ", rng)
            names.append(change.__name__)
        yield f"seed {seed}, mutant {number} ({' + '.join(names)})", content


def outcome(read: Callable[[], object]) -> str:
    """What a reader did: "answer", or the name of the refusal.

    Raises
    ------
    AssertionError
        For any other exception, a warning, endless work, or a message that is none or too long.
    """
    try:
        with _strict():
            read()
    except REFUSALS as error:
        refusal: Exception = error
    except (Exception, RecursionError) as error:
        frames = traceback.extract_tb(error.__traceback__)
        ours = [one for one in frames if "/phenocast/" in one.filename] or frames
        told = f"{type(error).__name__}: {str(error)[:300]}"
        raise AssertionError(f"{told} at {ours[-1].filename}:{ours[-1].lineno}") from error
    else:
        return "answer"
    _check_message(refusal)
    return type(refusal).__name__


def _check_message(error: Exception) -> None:
    text = error.format_message() if isinstance(error, click.UsageError) else str(error)
    assert text.strip(), f"{type(error).__name__} without a message"
    assert text.count("\n") < MESSAGE_LINES, f"{text.count(chr(10)) + 1} lines: {text[:300]}"
    assert len(text) < MESSAGE_CHARACTERS, f"a message of {len(text)} characters: {text[:300]}"


def rounds(few: int, many: int) -> pytest.MarkDecorator:
    """Decorator of a test with `seed` and `count`: few mutants always, many in the slow run."""
    slow = pytest.param(2, many, marks=pytest.mark.slow, id="many")
    return pytest.mark.parametrize(("seed", "count"), [pytest.param(1, few, id="few"), slow])


def refused(read: Callable[[], object], *pieces: str, as_: type[Exception] = InputError) -> None:
    """Assert that a reader refuses in one way, with pieces of text in its message."""
    with _strict(), pytest.raises(as_) as caught:
        read()
    _check_message(caught.value)
    told = " ".join(str(caught.value).split())
    for piece in pieces:
        assert piece in told


def attack(
    read: Callable[[Path], object],
    valid: bytes,
    place: Path,
    *,
    seed: int,
    count: int,
    changes: Sequence[Change] = TEXT_CHANGES,
) -> Counter[str]:
    """Write mutants of a file to a place, one after another, and read each; outcomes by name.

    Raises
    ------
    AssertionError
        With every mutant that was neither read nor refused, where there is one.
    """
    seen: Counter[str] = Counter()
    failed = []
    for label, content in mutants(valid, seed, count, changes):
        place.write_bytes(content)
        try:
            seen[outcome(lambda: read(place))] += 1
        except AssertionError as error:
            failed.append(f"{label}: {error}")
    assert not failed, f"{len(failed)} of {count} mutants:\n" + "\n".join(failed[:20])
    return seen


@contextmanager
def _strict() -> Iterator[None]:
    """Raise where the work inside warns, or takes `ENDLESS_S` of processor time."""

    def stop(_signal: int, _frame: object) -> None:
        raise TimeoutError(f"no end after {ENDLESS_S:g} s of processor time")

    before = signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, ENDLESS_S)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
        signal.signal(signal.SIGPROF, before)
