"""What goes wrong, said so that the user can put it right.

A fault names what is wrong, where, the value found, what is allowed and what to do. Errors carry
the faults that were found, not only the first. The exit code of a command is that of its error.

Examples
--------
>>> raise_me = InputError(Fault("unknown film", where="block[0].film", value="blak",
...                             allowed="black, clear", do="did you mean 'black'?"))
>>> print(raise_me)
block[0].film: unknown film (value 'blak'; allowed: black, clear); did you mean 'black'?
"""

from __future__ import annotations

import difflib
import unicodedata
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    import numpy as np

T = TypeVar("T")

MOST_FAULTS = 20
"""Faults that an error shows; the rest are counted."""

_LONGEST = 600  # of any part of a fault, in characters
_LONGEST_VALUE = 80

CAUTION = "CAUTION: "
"""Begins a warning that data may be wrong: such warnings stand first in every list, and on top of
every text and page."""


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong in what the user gave.

    Parameters
    ----------
    what : str
        What is wrong, in the user's words.
    where : str
        File, row and column, or the path of a key in the file.
    value : object
        The value found; None where there is none to show.
    allowed : str
        What would be accepted.
    do : str
        What to do about it.

    Examples
    --------
    >>> str(Fault("zero plants", where="block[1].plants_per_ha", value=0, allowed="above 0"))
    'block[1].plants_per_ha: zero plants (value 0; allowed: above 0)'
    """

    what: str
    where: str = ""
    value: object = None
    allowed: str = ""
    do: str = ""

    def __str__(self) -> str:
        details = applying(
            (self.value is not None, f"value {_cut(repr(self.value), _LONGEST_VALUE)}"),
            (self.allowed, f"allowed: {_cut(self.allowed)}"),
        )
        text = _cut(self.what)
        if self.where:
            text = f"{_cut(self.where)}: {text}"
        if details:
            text += f" ({'; '.join(details)})"
        if self.do:
            text += f"; {_cut(self.do)}"
        return " ".join(text.split())


def _cut(text: str, most: int = _LONGEST) -> str:
    """Text of bounded length."""
    return text if len(text) <= most else text[: most - 3] + "..."


def printable(text: str) -> str:
    r"""Text on one line with nothing in it that steers a terminal.

    Examples
    --------
    >>> printable("north\x1b[31m block\n"), printable("e\u0301")
    ('north?[31m block ', 'e\u0301')
    """
    if text.isprintable():
        return text
    return "".join(
        letter
        if letter.isprintable() or unicodedata.category(letter) == "Mn"
        else (" " if letter.isspace() else "?")
        for letter in text
    )


class _More(Fault):
    """What stands for faults that are not shown; its value is their number."""

    def __str__(self) -> str:
        return f"and {self.value} more"


def _count(faults: Iterable[Fault]) -> int:
    """Number of faults, those that are not shown included."""
    return sum(int(str(one.value)) if isinstance(one, _More) else 1 for one in faults)


def _capped(faults: list[Fault]) -> tuple[Fault, ...]:
    """The first faults and, where there are more, how many; lists that were cut are added up."""
    shown = [one for one in faults if not isinstance(one, _More)][:MOST_FAULTS]
    more = _count(faults) - len(shown)
    return (*shown, _More("more faults", value=more)) if more else tuple(shown)


class PhenocastError(Exception):
    """Root of every error this package raises on purpose; alone it means a fault of ours."""

    exit_code = 1


class _FaultsError(PhenocastError):
    """An error made of one fault or of several, of which the first `MOST_FAULTS` are kept."""

    def __init__(self, faults: Fault | Iterable[Fault]) -> None:
        self.faults = _capped([faults] if isinstance(faults, Fault) else list(faults))
        if not self.faults:
            raise ValueError("an error needs at least one fault")
        super().__init__("\n".join(str(fault) for fault in self.faults))

    @property
    def count(self) -> int:
        """Number of faults that were found, those that are not shown included."""
        return _count(self.faults)

    def __reduce__(self) -> tuple[type[_FaultsError], tuple[tuple[Fault, ...]]]:
        return type(self), (self.faults,)


class InputError(_FaultsError):
    """The input was refused: the user can put it right."""

    exit_code = 3


class NoAnswerError(_FaultsError):
    """The input was sound but gives no answer: no convergence, too many gaps, infeasible."""

    exit_code = 4


def applying(*rules: tuple[object, T]) -> list[T]:
    """What applies, of pairs of whether it does and what is then said.

    Examples
    --------
    >>> applying((2 > 1, "too many"), (1 > 2, "too few"))
    ['too many']
    """
    return [said for applies, said in rules if applies]


def broken(*rules: tuple[object, Fault]) -> list[Fault]:
    """Faults of the rules that are broken, given as pairs of whether one is and its fault.

    Examples
    --------
    >>> [fault.what for fault in broken((2 > 1, Fault("too many")), (1 > 2, Fault("too few")))]
    ['too many']
    """
    return applying(*rules)


def refuse(
    *rules: tuple[object, Fault], error: type[InputError] | type[NoAnswerError] = InputError
) -> None:
    """Raise an error of all rules that are broken; see `broken`.

    Raises
    ------
    InputError, or ``error``
    """
    if faults := broken(*rules):
        raise error(faults)


def raise_any(faults: Sequence[Fault]) -> None:
    """Raise the faults that were found, if there are any.

    Raises
    ------
    InputError
    """
    if faults:
        raise InputError(faults)


class Gathering(list[Fault]):
    """Faults of several steps, of which each may fail and the others still be looked at.

    Examples
    --------
    >>> faults = Gathering()
    >>> for number in (1, -1):
    ...     with faults.of_step():
    ...         refuse((number < 0, Fault("below zero", value=number)))
    >>> [str(fault) for fault in faults]
    ['below zero (value -1)']
    """

    @contextmanager
    def of_step(self) -> Iterator[None]:
        """Keep the faults of what is refused inside."""
        try:
            yield
        except InputError as error:
            self += error.faults


def nearest(name: str, known: Iterable[str]) -> str | None:
    """Known name closest to a misspelt one, or None where none is close.

    Parameters
    ----------
    name : str
        The name as the user wrote it; case does not matter.
    known : iterable of str
        Names that would be accepted.

    Returns
    -------
    str or None

    Examples
    --------
    >>> nearest("metalised", ["black", "metallised"])
    'metallised'
    >>> nearest("zebra", ["black", "clear"]) is None
    True
    """
    by_lower = {candidate.lower(): candidate for candidate in known}
    close = difflib.get_close_matches(name.lower(), by_lower, n=1, cutoff=0.6)
    return by_lower[close[0]] if close else None


def meant(name: str, known: Iterable[str], otherwise: str = "") -> str:
    """Advice that names the known name closest to a misspelt one, else what to do instead."""
    close = nearest(name, known)
    return f"did you mean '{close}'?" if close else otherwise


def named(kind: str, name: str, known: Mapping[str, T], where: str = "") -> T:
    """What stands under a name.

    Raises
    ------
    InputError
        Where nothing does, with the nearest name.

    Examples
    --------
    >>> named("film", "black", {"black": 1})
    1
    """
    if name not in known:
        raise InputError(unknown_name(kind, name, known, where))
    return known[name]


def unknown_name(kind: str, name: str, known: Iterable[str], where: str = "") -> Fault:
    """Fault for a name that is not in a list of known ones, with the nearest suggested.

    Examples
    --------
    >>> print(unknown_name("soil", "sandyloam", ["sand", "sandy loam"], "bed.soil"))
    bed.soil: unknown soil (value 'sandyloam'; allowed: sand, sandy loam); did you mean
    'sandy loam'?
    """
    names = list(known)
    return Fault(
        f"unknown {kind}",
        where=where,
        value=name,
        allowed=", ".join(names) or "none is defined",
        do=meant(name, names),
    )


def caution(what: str, kind: str) -> str:
    """Warning that data may be wrong, with the way to say that they are right.

    Parameters
    ----------
    what : str
        What was seen: value, where and when, and what to look at.
    kind : str
        Word by which the key ``checked`` of a season file says that such data are right.

    Examples
    --------
    >>> caution("344 plants a hectare", "plants")
    'CAUTION: 344 plants a hectare. If this is right, state checked = ["plants"] at the top ...'
    """
    return f"{CAUTION}{what}. If this is right, state {_stated(kind)} at the top of the season file"


def cautions_first(warnings: Iterable[str], checked: Collection[str] = ()) -> tuple[str, ...]:
    """Warnings, each once: the cautions first, then the others.

    Parameters
    ----------
    warnings : iterable of str
    checked : collection of str
        Kinds of caution that the user has looked at: they are listed like any other warning.

    Examples
    --------
    >>> told = ["soil is dry", caution("344 plants a hectare", "plants")]
    >>> [one[:7] for one in cautions_first(told)], cautions_first(told, ["plants"])[1]
    (['CAUTION', 'soil is'], 'stated as right (plants): 344 plants a hectare')
    """
    seen = []
    for one in warnings:
        for kind in checked:
            what, mark, _ = one.partition(f". If this is right, state {_stated(kind)}")
            if mark:
                one = f"stated as right ({kind}): {what.replace(CAUTION, '', 1)}"
        seen.append(one)
    return tuple(sorted(dict.fromkeys(seen), key=lambda one: not one.startswith(CAUTION)))


def labelled(label: str, warning: str) -> str:
    """Warning under the name of its season or block; a caution stays one.

    Examples
    --------
    >>> labelled("2026", "CAUTION: a"), labelled("2026", "b")
    ('CAUTION: 2026: a', '2026: b')
    """
    what = warning.removeprefix(CAUTION)
    return f"{warning[: len(warning) - len(what)]}{label}: {what}"


def _stated(kind: str) -> str:
    return f'checked = ["{kind}"]'


SHOWN_PER_KIND = 5


class Gathered:
    """Faults of one file; of each kind the first few are shown and the rest are counted.

    Parameters
    ----------
    source : str
        Name of the file.

    Examples
    --------
    >>> found = Gathered("station.csv")
    >>> _ = found.add_rows("not a number", rows=range(2, 30), column="air", values=["hot"] * 28)
    >>> print(str(found.error()).splitlines()[0])
    station.csv, row 2, column 'air': not a number (value 'hot')
    >>> print(str(found.error()).splitlines()[-1])
    station.csv, column 'air': not a number: in 28 rows, of which the first 5 are shown
    """

    def __init__(self, source: str) -> None:
        self.source = source
        self._faults: list[Fault] = []
        self._seen: Counter[tuple[str, str | None]] = Counter()

    def __bool__(self) -> bool:
        return bool(self._faults)

    def place(self, row: int | None = None, column: str | None = None) -> str:
        """File, row and column as a message shows them."""
        text = self.source
        if row is not None:
            text += f", row {row}"
        if column is not None:
            text += f", column '{column}'"
        return text

    def add(
        self,
        what: str,
        *,
        row: int | None = None,
        column: str | None = None,
        value: object = None,
        allowed: str = "",
        do: str = "",
    ) -> None:
        """Note one fault."""
        self._note(Fault(what, self.place(row, column), value, allowed, do), column)

    def _note(self, fault: Fault, column: str | None = None) -> None:
        key = (fault.what, column)
        self._seen[key] += 1
        if self._seen[key] <= SHOWN_PER_KIND:
            self._faults.append(fault)

    def add_rows(
        self,
        what: str,
        *,
        rows: Sequence[int] | np.ndarray,
        values: Sequence[object] | np.ndarray | None = None,
        column: str | None = None,
        allowed: str = "",
        do: str = "",
    ) -> bool:
        """Note the same fault of many rows, and return whether there are any."""
        for position in range(min(len(rows), SHOWN_PER_KIND)):
            value = None if values is None else plain_value(values[position])
            row = int(rows[position])
            self.add(what, row=row, column=column, value=value, allowed=allowed, do=do)
        self._seen[(what, column)] += max(0, len(rows) - SHOWN_PER_KIND)
        return len(rows) > 0

    def extend(self, faults: Iterable[Fault]) -> None:
        """Take faults that were made elsewhere."""
        for fault in faults:
            self._note(fault)

    def error(self) -> InputError:
        """Error that holds what was gathered, with a count where not all is shown."""
        rest = [
            Fault(
                f"{what}: in {times} rows, of which the first {SHOWN_PER_KIND} are shown",
                self.place(column=column),
            )
            for (what, column), times in self._seen.items()
            if times > SHOWN_PER_KIND
        ]
        return InputError([*self._faults, *rest])

    def raise_any(self) -> None:
        """Raise what was gathered, if anything was.

        Raises
        ------
        InputError
        """
        if self._faults:
            raise self.error()


def plain_value(value: object) -> object:
    """Value as a message shows it: numpy scalars as Python's, floats without noise.

    Examples
    --------
    >>> plain_value(37.22222222222222)
    37.2222
    """
    value = value.item() if hasattr(value, "item") else value
    return float(f"{value:.6g}") if isinstance(value, float) else value
