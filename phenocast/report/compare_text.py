"""The comparison of options as a page of text, made of its document alone."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from phenocast.report.columns import aligned, look_first, plain, wrapped
from phenocast.report.frost_text import frost_of_options

MOST_ROWS = 25
SCALED_FROM = 1e6
"""Amounts of this size and above are shown in thousands, or thousands of thousands."""

Document = Mapping[str, Any]
Numbered = list[tuple[int, Mapping[str, Any]]]

# What an option is told by, and how wide each may be where all of it differs.
_NAMES = {"film": 18, "cultivar": 8, "transplant": 16}


def compare_text(document: Document) -> str:
    """Return a comparison as text, nothing wider than 100 columns.

    Options are numbered by their expected value, the best first.

    Parameters
    ----------
    document : the document of `phenocast.planning.choice_document.compare_document`.
    """
    ranked = sorted(document["options"], key=lambda one: -one["expected"])
    options = list(enumerate(ranked, start=1))
    shown = [
        (number, one)
        for number, one in options
        if number <= MOST_ROWS or one["undominated"] or _is(one, document["reference"])
    ]
    alike = {
        name: ranked[0][name] for name in _NAMES if len({one[name] for one in ranked}) == 1
    }
    lines = wrapped(
        f"{document['block']}, {document['site']}: {_ways(len(options))} to plant it, as of "
        f"{document['issue_date']}; {_seasons(document['futures'])}, {document['draws']} "
        "draws each, the same for every option.",
        indent="",
    )
    if document["frost"]["caution"] is not None:
        lines += ["", *wrapped(document["frost"]["caution"], indent="", bullet="! ")]
    lines += ["", *look_first(document["warnings"]), *_answer(document, options)]
    lines += ["", *_fruit(document, shown, options, alike)]
    if len(shown) < len(options):
        lines += wrapped(f"{len(options) - len(shown)} more are left out; --json holds all of them")
    lines += ["", *_value(document, shown), "", "Cautions"]
    for texts in document["cautions"].values():
        for text in texts:
            lines += wrapped(text, bullet="- ")
    lines += ["", *frost_of_options(document, shown), "What to know"]
    for text in document["warnings"]:
        lines += wrapped(text, bullet="- ")
    told: dict[str, list[int]] = {}
    for number, one in options:
        for text in one["warnings"]:
            told.setdefault(text, []).append(number)
    for text, numbers in told.items():
        which = "every option" if len(numbers) == len(options) else f"no. {_ranges(numbers)}"
        lines += wrapped(f"{which}: {text}", bullet="- ")
    return "\n".join(lines) + "\n"


def _ways(count: int) -> str:
    return "one way" if count == 1 else f"{count} ways"


def _seasons(count: int) -> str:
    return "one possible season" if count == 1 else f"{count} possible seasons"


def _answer(document: Document, options: Numbered) -> list[str]:
    """Which option is best, which nothing dominates, and which are not told from the best."""
    best, reference = options[0][1], document["reference"]
    held = next(number for number, one in options if _is(one, reference))
    undominated = [number for number, one in options if one["undominated"]]
    by_mean = [n for n, one in options[1:] if one["mean_not_told_from_best"]]
    by_cases = [n for n, one in options[1:] if one["not_clearly_beaten"]]
    lines = wrapped(
        f"Highest expected {document['judged_by']}: no. 1, {_named(best)}. The others are held "
        f"against no. {held}, {_named(reference)}.",
        indent="",
    )
    lines += wrapped(
        f"Nothing beats in both mean and worst tenth: no. {_ranges(undominated)} (marked *).",
        indent="",
    )
    never = [n for n, one in options if one["first_pick"]["week"] is None]
    if never:
        lines += wrapped(
            f"No first pick by {document['last_day']} in the median season: no. {_ranges(never)}.",
            indent="",
        )
    if len(options) == 1:
        return lines
    if best["behind_best"]["standard_error"] is None:
        lines += wrapped(
            "Inside the noise: there is one possible season, so nothing tells how much the means "
            "would differ in another.",
            indent="",
        )
    else:
        lines += wrapped(
            f"Inside the noise by the mean (marked ~): {_or_none(by_mean)}. There the difference "
            "to no. 1 lies within what the sample of seasons and draws leaves open (95 %, each "
            "pair by itself, so the best of many is a little flattered).",
            indent="",
        )
    lines += wrapped(
        f"Inside the noise by single seasons (marked =): {_or_none(by_cases)}. There no. 1 is "
        "better in fewer than 8 of 10 cases.",
        indent="",
    )
    return lines


def _fruit(
    document: Document, shown: Numbered, options: Numbered, alike: Mapping[str, str]
) -> list[str]:
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
            _marks(one),
        ]
        for number, one in shown
    ]
    header = ["no.", "planted", *names, "first pick", "heat", "early", "season", ""]
    widest = [4, 10, *(_NAMES[name] for name in names), 16, 6, 6, 6, 3]
    sides = "><" + "<" * len(names) + "<>>><"
    title = "Fruit"
    if alike:
        title += "; all options: " + ", ".join(f"{k} {plain(v, 30)}" for k, v in alike.items())
    return [
        title,
        *aligned(rows, header, sides, indent="", gap=" ", widest=widest),
        *wrapped(
            "first pick: ISO week of the median (P10-P90); heat: crown degree-hours above 30 degC "
            f"{_days(document['heat_compared'])}; early (to {document['early_until']}) and season: "
            "g per plant; medians."
        ),
        *wrapped(_until(document, options)),
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
    ends = sorted(one["last_day"] for _, one in options)
    span = f"on {ends[0]}" if ends[0] == ends[-1] else f"from {ends[0]} to {ends[-1]}"
    bearing = [n for n, one in options if one["season_end"]["rule"] == "still-bearing"]
    told = (
        "No season end is stated: a season ends with the last week in which half of the cases give "
        f"{options[0][1]['season_end']['g_per_plant']:g} g per plant, {span}."
    )
    if bearing:
        told += f" On {document['last_day']}, the last simulated day, no. {_ranges(bearing)} still "
        told += "bear." if len(bearing) > 1 else "bears."
    return told


def _value(document: Document, shown: Numbered) -> list[str]:
    """What each option is worth, what it risks and how far it lies behind the best."""
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
            row += [amount(one["revenue"]["p50"]), amount(one["cost"])]
            row += [amount(one["margin"][level]) for level in ("p10", "p50", "p90")]
        behind = one["behind_best"]
        gap = amount(behind["mean"])
        if number > 1 and behind["margin_95"] is not None:
            gap += f" +-{amount(behind['margin_95'])}"
        row += [amount(one["expected"]), amount(one["worst_tenth"])]
        row += [f"{100 * one['beats_reference_probability']:.0f} %", amount(one["regret"]), gap]
        rows.append([*row, _marks(one)])
    header = ["no."]
    header += ["revenue", "cost", "P10", "margin", "P90"] if money is not None else []
    header += ["mean", "worst", "beats", "regret", "behind no. 1", ""]
    unit = document["judged_by"] if money is None else money
    unit = f"{scale} {unit}" if scale > 1 else unit
    text = "" if money is None else "revenue: P50; cost: mean; margin: P10, P50, P90; "
    return [
        f"Worth ({unit})",
        *aligned(rows, header, ">" * (len(header) - 1) + "<", indent="", gap="  "),
        *wrapped(
            f"{text}mean: of the {document['judged_by']}; worst: mean of its worst tenth; beats: "
            "share of cases in which it beats the reference; regret: what the best option of each "
            "case would have given beyond this one, mean; behind no. 1: mean difference, and half "
            "of its 95 % interval over possible seasons and draws."
        ),
    ]


def _is(option: Mapping[str, Any], label: Mapping[str, Any]) -> bool:
    return all(option[name] == value for name, value in label.items())


def _named(label: Mapping[str, Any]) -> str:
    return plain(
        f"planted {label['planting_date']} on {label['film']}, {label['cultivar']}, "
        f"{label['transplant']}"
    )


def _marks(option: Mapping[str, Any]) -> str:
    flags = (("undominated", "*"), ("mean_not_told_from_best", "~"), ("not_clearly_beaten", "="))
    return "".join(mark if option[name] else " " for name, mark in flags)


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
