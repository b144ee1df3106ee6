"""Words of the trade that pages use, explained once."""

from __future__ import annotations

from collections.abc import Sequence

from phenocast.report.reader import Reader


def explained(terms: Sequence[str], reader: Reader) -> list[tuple[str, str]]:
    """Terms with their meaning, in the order of the language's alphabet.

    Parameters
    ----------
    terms : sequence of str
        Keys of the table ``glossary`` of the strings; one named twice is explained once.
    reader : Reader

    Examples
    --------
    >>> explained(["crown", "anthesis"], Reader())[0][0]
    'Anthesis'
    """
    pairs = [
        (
            reader.say(f"glossary.{term}.term"),
            reader.say(
                f"glossary.{term}.meaning",
                cut_off=reader.amount("temperature", 30.0, 0),
                depth=reader.say(f"root_zone.{reader.units}"),
            ),
        )
        for term in dict.fromkeys(terms)
    ]
    return sorted(pairs, key=lambda pair: pair[0].casefold())
