"""The sentences of the pages of a comparison: which way is best, how sure that is, what next."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from phenocast.report.parts import Bullets, Item
from phenocast.report.provenance import packout_line
from phenocast.report.reader import Reader

Document = Mapping[str, Any]

AXES = ("planting_date", "film", "cultivar", "transplant")
MOST_NAMED = 3


def best_of(document: Document) -> Document | None:
    """Option that is recommended; None where every one is flagged."""
    return None if document["best"] is None else option_of(document, document["best"])


def ranked(document: Document) -> list[Document]:
    """Options by their mean, those that carry a flag after the others."""
    return sorted(
        document["options"], key=lambda one: (bool(one["flags"]), -float(one["expected"]))
    )


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
    """Mean where it is told, otherwise the median, with its unit, and the 80 % interval."""
    headline = "mean" if "mean" in quantiles else "p50"
    low, middle, high = (told(quantiles[level]) for level in ("p10", headline, "p90"))
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


def difference(row: Document, document: Document, reader: Reader, *, cell: bool = False) -> str:
    """Mean difference of an option to the best, with its 95 % interval where there is one."""
    found = row["difference_to_best"]
    mean = (judged if cell else worth)(found["mean"], document, reader)
    if found["low_95"] is None:
        return mean
    low, high = (judged(found[key], document, reader) for key in ("low_95", "high_95"))
    if cell:
        return reader.say("common.middle_and_range", low=low, middle=mean, high=high)
    return reader.say("explore.script.interval", low=low, mean=mean, high=high)


def flag_words(options: Iterable[Document], reader: Reader) -> str:
    """Flags of some options in words, each once."""
    codes = dict.fromkeys(code for one in options for code in one["flags"])
    return "; ".join(reader.say(f"compare.flag.{code}") for code in codes)


def notes(told: Document, document: Document, reader: Reader, tilt: int | None = None) -> list[str]:
    """Where the best date lies on an edge, and which flagged option has a higher mean.

    Parameters
    ----------
    told : mapping
        The document, or the entry of a tilt in it.
    document : mapping
    reader : Reader
    tilt : int, optional
        Place of that tilt.
    """
    say, said = reader.say, []
    if told["best_on_edge"]:
        said.append(say(f"compare.edge.{told['best_on_edge']}"))
    if told["highest_flagged"]:
        one = option_of(document, told["highest_flagged"])
        row = one if tilt is None else one["tilted"][tilt]
        said.append(
            say("compare.flagged_higher" if told["best"] else "compare.flagged_highest",
                option=called(one, document, reader), flags=flag_words([one], reader),
                mean=worth(row["expected"], document, reader))
        )  # fmt: skip
    return said


def bias_words(document: Document, reader: Reader) -> list[str]:
    """Stated biases of the model that bear on what the options differ in."""
    return [reader.say(f"compare.bias.{name}") for name in document["biases"]]


def verdict(one: Document, is_best: bool, reader: Reader) -> str:
    """How an option stands against the best, and whether nothing beats it in both figures."""
    if one["flags"]:
        short = [reader.say(f"compare.flag_in_short.{code}") for code in one["flags"]]
        return reader.say("compare.is_flagged", flags="; ".join(short))
    key = "is_best" if is_best else "is_near" if one["not_clearly_worse"] else "is_worse"
    told = reader.say(f"compare.{key}")
    return f"{told}; {reader.say('compare.undominated')}" if one["undominated"] else told


def none_words(document: Document, reader: Reader) -> list[str]:
    """That no option can be recommended, and why; nothing where one can."""
    if document["best"]:
        return []
    return [reader.say("compare.none", flags=flag_words(document["options"], reader))]


def answer(document: Document, reader: Reader) -> list[str]:
    """The best option and its worth, what to know beside it, and what is not clearly worse."""
    say, best, options = reader.say, best_of(document), document["options"]
    kind = "margin" if document["currency"] else "fruit"
    if best is None:
        told = none_words(document, reader)
    else:
        told = [
            say(f"compare.best_{kind}", option=called(best, document, reader),
                mean=worth(best["expected"], document, reader),
                worst=worth(best["worst_tenth"], document, reader))
        ]  # fmt: skip
    told += notes(document, document, reader)
    near = [
        called(one, document, reader)
        for one in ranked(document)
        if one["not_clearly_worse"] and one is not best and not one["flags"]
    ]
    if near:
        key = "compare.near" if len(near) <= MOST_NAMED else "compare.near_and_more"
        told.append(say(key, options=reader.and_list(near[:MOST_NAMED])))
    elif best is not None and sum(not one["flags"] for one in options) > 1:
        told.append(say("compare.alone"))
    reference = option_of(document, document["reference"])
    if reference["flags"] and best is not None:
        told.append(
            say("compare.reference_flagged", option=called(reference, document, reader),
                flags=flag_words([reference], reader))
        )  # fmt: skip
    return [*told, *bias_words(document, reader)]


def sure(document: Document, reader: Reader) -> list[Item]:
    """What stands behind the numbers, and the best option against the reference."""
    say = reader.say
    told = [
        say("explore.sure_seasons", traces=reader.number(document["weather_traces"]),
            draws=reader.number(document["draws"])),
        say("explore.sure_clear"),
    ]  # fmt: skip
    if document["best"] not in (None, document["reference"]):
        reference = option_of(document, document["reference"])
        told.append(
            say("compare.reference", reference=called(reference, document, reader),
                difference=difference(reference, document, reader))
        )  # fmt: skip
    return [Bullets(told)]


def change(document: Document, reader: Reader) -> list[Item]:
    """Prices, costs and the days up to which fruit counts."""
    say = reader.say
    told = [say("explore.change_prices" if document["currency"] else "explore.change_fruit")]
    if document["currency"]:
        told += [*_other_bests(document, reader), say("explore.change_costs")]
    told.append(packout_line(document["pack"], reader))
    return [Bullets([*told, *_until(document, reader)])]


def _until(document: Document, reader: Reader) -> list[str]:
    """Days up to which fruit counts, and which options still bear on the last."""
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
            if one["tilt"] * side > 0.0 and one["best"] not in (None, document["best"]):
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
