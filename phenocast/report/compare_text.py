"""The comparison of options as a page of text, made of its document alone."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from phenocast.report.columns import aligned, look_first, plain, wrapped
from phenocast.report.compare_words import answer, ranked
from phenocast.report.frost_text import frost_of_options
from phenocast.report.provenance import packout_line
from phenocast.report.reader import Reader, plain_text

MOST_ROWS = 25
MOST_FLAGGED = 10
SCALED_FROM = 1e6
"""Amounts of this size and above are shown in thousands, or thousands of thousands."""

Document = Mapping[str, Any]
Numbered = list[tuple[int, Mapping[str, Any]]]

# What an option is told by, and how wide each may be where all of it differs.
_NAMES = {"film": 18, "cultivar": 8, "transplant": 16}


def compare_text(document: Document) -> str:
    """Return a comparison as text, nothing wider than 100 columns.

    Options are numbered by their expected value, those that carry a flag after the others.

    Parameters
    ----------
    document : the document of `phenocast.planning.choice_document.compare_document`.
    """
    told = ranked(document)
    options = list(enumerate(told, start=1))
    trusted, flagged = (
        [(number, one) for number, one in options if bool(one["flags"]) == with_flag]
        for with_flag in (False, True)
    )
    shown = [
        (number, one)
        for number, one in trusted
        if number <= MOST_ROWS or one["undominated"] or _is(one, document["reference"])
    ]
    apart = [
        (number, one)
        for place, (number, one) in enumerate(flagged)
        if place < MOST_FLAGGED or _is(one, document["reference"])
    ]
    alike = {name: told[0][name] for name in _NAMES if len({one[name] for one in told}) == 1}
    lines = wrapped(
        f"{document['block']}, {document['site']}: {_count(len(options), 'option')}, as of "
        f"{document['issue_date']}; {_count(document['weather_traces'], 'weather year')}, "
        f"{document['draws']} draws each, the same for every option.",
        indent="",
    )
    lines += ["", *look_first(document["warnings"]), *_answer(document, options)]
    for title, part in (("", shown), ("Flagged, not recommended: ", apart)):
        if part:
            lines += ["", *_fruit(title, document, part, alike)]
            lines += ["", *_value(title, document, part)]
    lines += ["", *_legend(document, options)]
    if (left_out := len(options) - len(shown) - len(apart)) > 0:
        lines += wrapped(f"{left_out} more are left out; --json holds all of them")
    lines += ["", "Cautions"]
    for texts in document["cautions"].values():
        for text in texts:
            lines += wrapped(text, bullet="- ")
    lines += ["", *frost_of_options(document, shown), "What to know"]
    for text in document["warnings"]:
        lines += wrapped(text, bullet="- ")
    warned: dict[str, list[int]] = {}
    for number, one in options:
        for text in one["warnings"]:
            warned.setdefault(text, []).append(number)
    for text, numbers in warned.items():
        which = "every option" if len(numbers) == len(options) else f"no. {_ranges(numbers)}"
        lines += wrapped(f"{which}: {text}", bullet="- ")
    return "\n".join(lines) + "\n"


def _count(count: int, what: str) -> str:
    return f"one {what}" if count == 1 else f"{count} {what}s"


def _answer(document: Document, options: Numbered) -> list[str]:
    """The sentences of the page, and the numbers of the options behind its signs."""
    reader = Reader()
    lines = []
    for text in answer(document, reader):
        lines += wrapped(plain_text(text), indent="")
    never = [n for n, one in options if one["first_pick"]["week"] is None]
    if never:
        lines += wrapped(
            f"No first pick by {document['last_day']} in the median season: no. {_ranges(never)}.",
            indent="",
        )
    if document["best"] is None or len(options) == 1:
        return lines
    reference = next(number for number, one in options if _is(one, document["reference"]))
    undominated = [number for number, one in options if one["undominated"]]
    near = [number for number, one in options if "~" in _marks(one, document)]
    lines += wrapped(
        f"No. 1 is the best; no. {reference} is the reference. Nothing beats in both mean and "
        f"worst tenth: {_or_none(undominated)} (marked *).",
        indent="",
    )
    if options[0][1]["difference_to_best"]["low_95"] is None:
        lines += wrapped(
            "There is one weather year, so nothing tells how much the means would differ in "
            "another, and no option is called worse.",
            indent="",
        )
    else:
        lines += wrapped(f"Not clearly worse than no. 1: {_or_none(near)} (marked ~).", indent="")
        lines += wrapped(plain_text(reader.say("explore.sure_clear")), indent="")
    return lines


def _fruit(title: str, document: Document, shown: Numbered, alike: Mapping[str, str]) -> list[str]:
    names = [name for name in _NAMES if name not in alike]
    rows = [
        [
            number,
            one["planting_date"],
            *(one[name] for name in names),
            _weeks(one["first_pick"]),
            f"{one['crown_degree_hours_above_30c']['p50']:.0f}",
            f"{one['early_g_per_plant']['p50']:.0f}",
            f"{one['season_g_per_plant']['p50']:.0f}",
            _marks(one, document),
        ]
        for number, one in shown
    ]
    header = ["no.", "planted", *names, "first pick", "heat", "early", "season", ""]
    widest = [4, 10, *(_NAMES[name] for name in names), 16, 6, 6, 6, 3]
    sides = "><" + "<" * len(names) + "<>>><"
    title += "Fruit"
    if alike:
        title += "; all options: " + ", ".join(f"{k} {plain(v, 30)}" for k, v in alike.items())
    return [
        title,
        *aligned(rows, header, sides, indent="", gap=" ", widest=widest),
    ]


def _days(told: Mapping[str, Any]) -> str:
    """Days over which heat is held against each other."""
    if told["from"] is not None:
        return f"from {told['from']} to {told['to']}, the bearing weeks of the reference"
    return f"over {told['days']} days after planting, those of the reference to its first bloom"


def _until(document: Document, options: Numbered) -> str:
    """Where the seasons end, and which still bear on the last day."""
    if all(one["season_end"]["rule"] == "stated" for _, one in options):
        return f"The season ends on {document['last_day']}, as stated."
    bearing = [n for n, one in options if one["season_end"]["rule"] == "still-bearing"]
    if len(bearing) == len(options):
        return (
            f"No season end is stated; the simulated days run out on {document['last_day']}, when "
            "every option still bears."
        )
    ends = sorted(one["last_day"] for _, one in options)
    span = f"on {ends[0]}" if ends[0] == ends[-1] else f"from {ends[0]} to {ends[-1]}"
    told = (
        "No season end is stated: a season ends with the last week in which half of the cases give "
        f"{options[0][1]['season_end']['g_per_plant']:g} g per plant, {span}."
    )
    if bearing:
        told += f" On {document['last_day']}, the last simulated day, no. {_ranges(bearing)} still "
        told += "bear." if len(bearing) > 1 else "bears."
    return told


def _value(title: str, document: Document, shown: Numbered) -> list[str]:
    """What each option is worth, what it risks and how far it lies from the best."""
    money = document["currency"]
    largest = max(
        (abs(v) for _, one in shown for v in (one["expected"], *one.get("revenue", {}).values())),
        default=0.0,
    )
    scale = 1
    while largest / scale >= SCALED_FROM:
        scale *= 1000

    def amount(value: float) -> str:
        return f"{value / scale:.0f}"

    rows = []
    for number, one in shown:
        row: list[object] = [number]
        if money is not None:
            row += [amount(one["revenue"]["mean"]), amount(one["cost"])]
        row.append(amount(one["expected"]))
        if money is not None:
            row += [amount(one["margin"][level]) for level in ("p10", "p50", "p90")]
        found = one["difference_to_best"]
        gap = amount(found["mean"])
        if found["low_95"] is not None:
            gap += f" ({amount(found['low_95'])} to {amount(found['high_95'])})"
        row += [amount(one["worst_tenth"]), amount(one["regret"])]
        rows.append([*row, "" if _is(one, document["best"]) else gap, _marks(one, document)])
    header = ["no."]
    header += ["revenue", "cost"] if money is not None else []
    header += ["mean"]
    header += ["P10", "median", "P90"] if money is not None else []
    header += ["worst", "regret", "difference (95 %)", ""]
    unit = document["judged_by"] if money is None else money
    unit = f"{scale} {unit}" if scale > 1 else unit
    sides = ">" * (len(header) - 1) + "<"
    return [f"{title}Worth ({unit})", *aligned(rows, header, sides, indent="", gap=" ")]


def _legend(document: Document, options: Numbered) -> list[str]:
    """What the columns of the tables hold."""
    money = document["currency"] is not None
    return [
        *wrapped(
            "first pick: ISO week of the median (P10-P90); heat: crown degree-hours above 30 degC "
            f"{_days(document['heat_compared'])}; early (to {document['early_until']}) and season: "
            "ripe fruit, g per plant; medians."
        ),
        *wrapped(_until(document, options)),
        *wrapped(
            f"{'revenue and cost: means; P10, median, P90: of the margin; ' if money else ''}mean: "
            f"of the {document['judged_by']}; worst: mean of its worst tenth; regret: what the "
            "best option of each case would have given beyond this one, mean; difference: mean "
            "difference to no. 1, and its 95 % interval over weather years and draws."
        ),
        *wrapped(plain_text(packout_line(document["pack"], Reader()))),
    ]


def _is(option: Mapping[str, Any], label: Mapping[str, Any] | None) -> bool:
    return label is not None and all(option[name] == value for name, value in label.items())


def _marks(option: Mapping[str, Any], document: Document) -> str:
    if option["flags"]:
        return "!"
    near = option["not_clearly_worse"] and not _is(option, document["best"])
    return ("*" if option["undominated"] else " ") + ("~" if near else " ")


def _weeks(first_pick: Mapping[str, Any]) -> str:
    """ISO week of the median, with the numbers of those of P10 and P90; nothing for never."""
    if first_pick["week"] is None:
        return "never"
    ends = [_week_number(first_pick[level]) for level in ("p10", "p90")]
    return f"{first_pick['week']} ({ends[0]}-{ends[1]})"


def _week_number(day: str | None) -> str:
    return "" if day is None else f"{date.fromisoformat(day).isocalendar().week:02d}"


def _or_none(numbers: Sequence[int]) -> str:
    return f"no. {_ranges(numbers)}" if numbers else "none"


def _ranges(numbers: Iterable[int]) -> str:
    """Return rising numbers with runs written as ranges.

    Examples
    --------
    >>> _ranges([1, 2, 3, 7, 9, 10])
    '1-3, 7, 9, 10'
    """
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(
        f"{run[0]}-{run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs
    )
