"""The sentences of the pages of a comparison: which way is best, how sure that is, what next."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from phenocast.report.parts import Bullets, Item
from phenocast.report.reader import Reader

Document = Mapping[str, Any]

AXES = ("planting_date", "film", "cultivar", "transplant")
MOST_NAMED = 3


def best_of(document: Document) -> Document:
    """Option with the highest mean."""
    return option_of(document, document["best"])


def option_of(document: Document, label: Document) -> Document:
    """Option that a label names."""
    found: Document = next(
        one for one in document["options"] if all(one[axis] == label[axis] for axis in AXES)
    )
    return found


def called(option: Document, document: Document, reader: Reader) -> str:
    """An option in words; the transplants only where they differ."""
    several = len({one["transplant"] for one in document["options"]}) > 1
    return reader.say(
        f"explore.script.option{'_of_transplant' if several else ''}",
        date=reader.date(option["planting_date"]), film=reader.name(option["film"]),
        cultivar=reader.name(option["cultivar"]), transplant=reader.name(option["transplant"]),
    )  # fmt: skip


def amounts(quantiles: Document, told: Callable[[float], str], unit: str, reader: Reader) -> str:
    """Middle with its unit, and the span of 8 in 10."""
    low, middle, high = (told(quantiles[level]) for level in ("p10", "p50", "p90"))
    return reader.say(
        "explore.script.amount_and_range", low=low, middle=middle, high=high, unit=unit
    )


def judged_unit(document: Document, reader: Reader) -> str:
    """Unit in which the options are judged: money, or fruit."""
    return str(document["currency"] or reader.unit("fruit"))


def judged(value: float, document: Document, reader: Reader) -> str:
    """Value in that unit, without it."""
    return reader.number(value) if document["currency"] else reader.figure("fruit", value)


def worth(value: float, document: Document, reader: Reader) -> str:
    """Value with its unit."""
    return f"{judged(value, document, reader)}\u00a0{judged_unit(document, reader)}"


def answer(document: Document, reader: Reader) -> list[str]:
    """The best way and its worth; which others are not clearly worse."""
    say, best = reader.say, best_of(document)
    kind = "margin" if document["currency"] else "fruit"
    first = say(
        f"compare.best_{kind}", option=called(best, document, reader),
        mean=worth(best["expected"], document, reader),
        worst=worth(best["worst_tenth"], document, reader),
    )  # fmt: skip
    near = [one for one in _ranked(document) if one["in_the_noise"] and one is not best]
    if len(document["options"]) == 1:
        return [first]
    if not near:
        return [first, say("compare.alone")]
    names = [called(one, document, reader) for one in near[:MOST_NAMED]]
    key = "compare.near" if len(near) <= MOST_NAMED else "compare.near_and_more"
    return [first, say(key, options=reader.and_list(names))]


def _ranked(document: Document) -> list[Document]:
    return sorted(document["options"], key=lambda one: -float(one["expected"]))


def sure(document: Document, reader: Reader) -> list[Item]:
    """What stands behind the numbers, and the best way against the reference."""
    say, best = reader.say, best_of(document)
    told = [
        say("explore.sure_seasons", futures=reader.number(document["futures"]),
            draws=reader.number(document["draws"])),
        say("explore.sure_clear"),
    ]  # fmt: skip
    if document["reference"] != document["best"]:
        told.append(
            say("compare.reference", reference=called(document["reference"], document, reader),
                share=reader.percent(best["beats_reference_probability"]))
        )  # fmt: skip
    return [Bullets(told)]


def change(document: Document, reader: Reader) -> list[Item]:
    """Prices, costs and the days up to which fruit counts."""
    say = reader.say
    told = [say("explore.change_prices" if document["currency"] else "explore.change_fruit")]
    if document["currency"]:
        told += [*_other_bests(document, reader), say("explore.change_costs")]
    return [Bullets([*told, *_until(document, reader)])]


def _until(document: Document, reader: Reader) -> list[str]:
    """Days up to which fruit counts, and which ways still bear on the last."""
    say, options = reader.say, document["options"]
    last, early = reader.date(document["last_day"]), reader.date(document["early_until"])
    if all(one["season_end"]["rule"] == "stated" for one in options):
        return [say("explore.change_until", last=last, early=early)]
    ends = sorted(one["last_day"] for one in options)
    amount = reader.amount("weekly_fruit", options[0]["season_end"]["g_per_plant"])
    told = [
        say("explore.change_until_open", first=reader.date(ends[0]), last=reader.date(ends[-1]),
            early=early, fruit=amount)
    ]  # fmt: skip
    count = sum(one["season_end"]["rule"] == "still-bearing" for one in options)
    if count:
        told.append(say.counted("explore.still_bearing", count, last=last))
    return told


def _other_bests(document: Document, reader: Reader) -> list[str]:
    """Least lean of the prices, either way, at which another way is best."""
    tilts = sorted(document["price_tilt"]["tilts"], key=lambda one: abs(float(one["tilt"])))
    told = []
    for side in (1.0, -1.0):
        for one in tilts:
            if one["tilt"] * side > 0.0 and one["best"] != document["best"]:
                told.append(
                    reader.say(
                        "compare.early_dearer" if side > 0.0 else "compare.late_dearer",
                        share=reader.percent(abs(one["tilt"])),
                        option=called(one["best"], document, reader),
                    )
                )
                break
    return told


def next_steps(reader: Reader) -> list[Item]:
    """What to do with a comparison."""
    return [Bullets([reader.say(f"explore.next_{step}") for step in ("forecast", "closer",
                                                                     "film")])]  # fmt: skip
