"""Where numbers come from: weather, draws, assumed numbers, warnings; and the terms explained."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import reduce
from itertools import groupby
from typing import Any

from phenocast.report.parts import Engine, Folded, Item, Table
from phenocast.report.reader import Reader


def engine(texts: Iterable[str]) -> list[Engine]:
    """Texts of the engine, which are in English on every page, each once."""
    return [Engine(text) for text in dict.fromkeys(texts)]


def weather_line(weather: Mapping[str, Any], reader: Reader) -> str:
    """Weather of a document in one sentence.

    Parameters
    ----------
    weather : mapping
        ``weather`` of a forecast document.
    reader : Reader

    Examples
    --------
    >>> weather_line({"observed_until": None, "outlook_members": 0, "past_years": ["a", "b"],
    ...               "weather_traces": 2, "filled_hours": {}}, Reader())
    '2 past years (a to b): 2 weather years.'
    """
    say = reader.say
    parts = []
    if weather["observed_until"]:
        parts.append(say("weather.observed", date=reader.date(weather["observed_until"])))
    if weather["outlook_members"]:
        parts.append(say.counted("weather.outlook", weather["outlook_members"]))
    years = weather["past_years"]
    if years:
        parts.append(say.counted("weather.year", len(years), first=years[0], last=years[-1]))
    told = reduce(
        lambda first, second: say("weather.first_then", first=first, second=second), parts
    )
    seasons = say.counted("weather.season", weather["weather_traces"])
    return _capital(say("weather.then", parts=told, seasons=seasons))


def filled_line(weather: Mapping[str, Any], reader: Reader) -> list[str]:
    """Hours that were filled, as one sentence; none where nothing was."""
    filled = weather["filled_hours"]
    if not filled:
        return []
    told = ", ".join(
        reader.say("weather.filled_one", name=name, hours=reader.number(hours))
        for name, hours in filled.items()
    )
    return [reader.say("weather.filled", list=told)]


def packout_line(pack: Mapping[str, Any], reader: Reader) -> str:
    """What lies between ripe fruit and trays, in one sentence, from ``pack`` of a document."""
    low, left, high = (pack["left_share"][level] for level in ("p10", "p50", "p90"))
    return reader.say(
        "weather.packout_stated" if low == high else "weather.packout",
        left=reader.percent(left), low=reader.percent(low), high=reader.percent(high),
        pack=reader.name(pack["name"], 30), over=reader.percent(pack["over_pack"]),
        mass=reader.amount("pack_mass", pack["net_mass_kg"]),
    )  # fmt: skip


def draws_line(document: Mapping[str, Any], reader: Reader) -> str:
    """Draws and seed of a document in one sentence."""
    return reader.say(
        "weather.draws", draws=reader.number(document["draws"]), seed=document["seed"]
    )


def assumed_items(assumptions: Sequence[Mapping[str, Any]], reader: Reader) -> list[Item]:
    """How many numbers are assumed, and all of them in a list that opens on demand."""
    if not assumptions:
        return []
    say = reader.say
    rows = [
        [f"{label}: {one['name']}", reader.plain_value(one["value"]), one["unit"], one["source"]]
        for label, group in groupby(assumptions, key=lambda one: str(one["set"]))
        for one in group
    ]
    header = [say("assumed.name"), say("assumed.value"), say("assumed.unit"), say("assumed.source")]
    table = Table(say("assumed.engine_names"), header, rows, "<><<")
    count = say("assumed.count", count=reader.number(len(assumptions)))
    return [count, Folded(say("assumed.title"), [table])]


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


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
