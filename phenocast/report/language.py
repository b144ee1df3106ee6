"""The words of a page: one TOML file a language, read when the first word is asked for."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

from phenocast.errors import Fault, PhenocastError, nearest

LANGUAGES = ("en", "es")
HOME = Path(__file__).resolve().parent / "strings"


class MissingWordsError(PhenocastError):
    """A page asks for words that its language lacks: a fault of the program, not of the input."""

    def __init__(self, fault: Fault) -> None:
        self.fault = fault
        super().__init__(str(fault))


class Words:
    """Words of one language by key, such as ``frame.answer``.

    Parameters
    ----------
    language : str
        One of `LANGUAGES`.

    Raises
    ------
    MissingWordsError
        Where there is no file of that language.

    Examples
    --------
    >>> Words("en")("frame.glossary")
    'Words used here'
    >>> Words("es").language
    'es'
    """

    def __init__(self, language: str) -> None:
        self.language = language
        self._texts = texts(language)

    def __call__(self, key: str, **values: object) -> str:
        """Words of a key, with values put into their places ``{name}``.

        Raises
        ------
        MissingWordsError
            For a key that the file lacks, or a place that is given no value.
        """
        text = self._texts.get(key)
        where = f"report/strings/{self.language}.toml"
        if text is None:
            close = nearest(key, self._texts)
            do = f"did you mean '{close}'?" if close else "add the key to every language"
            raise MissingWordsError(Fault("no such words", where, value=key, do=do))
        try:
            return text.format_map(values)
        except KeyError as error:
            raise MissingWordsError(
                Fault(f"no value for the place {error}", where, value=key, allowed=text)
            ) from error

    def counted(self, key: str, count: int, **values: object) -> str:
        """Words for one or for many: ``key.one`` or ``key.many``, with ``{count}`` in them."""
        return self(f"{key}.{'one' if count == 1 else 'many'}", **({"count": count} | values))

    def __contains__(self, key: str) -> bool:
        """Say whether the language has a key."""
        return key in self._texts


@cache
def texts(language: str) -> dict[str, str]:
    """Every text of a language by its full key.

    Raises
    ------
    MissingWordsError
        Where there is no file of that language.
    """
    file = HOME / f"{language}.toml"
    if language not in LANGUAGES or not file.is_file():
        raise MissingWordsError(
            Fault("no pages in this language", str(file), language, allowed=", ".join(LANGUAGES))
        )
    return dict(_flat(tomllib.loads(file.read_text(encoding="utf-8")), ""))


def _flat(table: dict[str, Any], above: str) -> list[tuple[str, str]]:
    found: list[tuple[str, str]] = []
    for name, value in table.items():
        key = f"{above}.{name}" if above else name
        found += _flat(value, key) if isinstance(value, dict) else [(key, str(value))]
    return found
