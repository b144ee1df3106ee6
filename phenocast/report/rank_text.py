"""The ranking of cultivars as a page of plain text and as a table, made of its document alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from phenocast.report.columns import aligned, look_first, plain, wrapped

Document = Mapping[str, Any]

WHAT = {
    "season": "fruit of the season lost in the heat",
    "early": "early fruit lost in the heat",
    "delay": "the delay of first pick in the heat",
}
MOST_PAIRS = 3
INDICES = ("ssi", "sti", "tol", "gmp", "ysi")


def rank_text(document: Document) -> str:
    """Page of a ranking: the order and how sure it is, what the heat does, indices, films.

    Parameters
    ----------
    document : mapping
        A rank document of schema version 1.

    Returns
    -------
    str
        Ends with a newline.
    """
    lines = [
        plain(f"Cultivars by {WHAT[document['by']]}"),
        *wrapped(scenario_in_words(document), indent=""),
        *wrapped(
            f"Fit {document['fit']['folder']} of {document['fit']['records']}, seasons "
            f"{', '.join(document['fit']['seasons'])}; {document['draws']} draws.",
            indent="",
        ),
        "",
        *look_first(document["warnings"]),
        *_ranks(document),
        "",
    ]
    for sentence in document["in_words"]:
        lines += wrapped(sentence)
    lines += ["", *_effects(document), "", *_indices(document["raw"]["regimes"])]
    lines += ["", *_slopes(document["raw"]["responses"]), "", *_films(document["films"])]
    if document["warnings"]:
        lines += ["", "Cautions"]
        for text in document["warnings"]:
            lines += wrapped(text, bullet="- ")
    return "\n".join(lines) + "\n"


def scenario_in_words(document: Document) -> str:
    """One sentence on the block, the heat and the years.

    Parameters
    ----------
    document : mapping
        A rank document.
    """
    one = document["scenario"]
    years = one["years"]
    span = years[0] if len(years) == 1 else f"{len(years)} past years ({years[0]} to {years[-1]})"
    return (
        f"Heat: block {one['block']} of {one['season_file']} ({one['film']}, planted "
        f"{one['planting_date']}) as it is, and in air {one['warming_c']:g} degC warmer for "
        f"{one['days']} days after planting; {span}."
    )


def rank_rows(document: Document) -> list[dict[str, Any]]:
    """Rows of the table that ``--csv`` writes, one a cultivar, in order.

    Parameters
    ----------
    document : mapping
        A rank document.
    """
    indices = {
        row["cultivar"]: row["indices"] for row in document["raw"]["regimes"].get("cultivars", [])
    }
    slopes = {row["cultivar"]: row for row in document["raw"]["responses"].get("cultivars", [])}
    rows = []
    for one in document["cultivars"]:
        row = {
            "rank": one["rank"],
            "cultivar": one["cultivar"],
            "estimate": one["estimate"],
            "lower_80": one["interval_80"][0],
            "upper_80": one["interval_80"][1],
            "lower_95": one["interval_95"][0],
            "upper_95": one["interval_95"][1],
            "expected_rank": one["expected_rank"],
            "p_best": one["p_best"],
            "p_among_best_3": one["p_among_best"],
            "may_be_best": one["may_be_best"],
            "season_loss": one["season_loss"]["median"],
            "early_loss": one["early_loss"]["median"],
            "delay_d": one["delay_d"]["median"],
        }
        row |= {name: indices.get(one["cultivar"], {}).get(name) for name in INDICES}
        own = slopes.get(one["cultivar"], {})
        row["slope_g_per_100_degree_hours"] = own.get("slope_g_per_100_degree_hours")
        row["stability_variance"] = own.get("stability_variance")
        row["first_axis_score"] = own.get("first_axis_score")
        rows.append(row)
    return rows


def _shown(value: float | None, by: str) -> str:
    if value is None:
        return "-"
    return f"{value:.1f}" if by == "delay" else f"{100 * value:.1f}"


def _span(pair: Sequence[float | None], by: str) -> str:
    return f"{_shown(pair[0], by)} to {_shown(pair[1], by)}"


def _ranks(document: Document) -> list[str]:
    by = document["by"]
    unit = "d" if by == "delay" else "%"
    rows = [
        [
            one["rank"],
            one["cultivar"],
            _shown(one["estimate"], by),
            _span(one["interval_80"], by),
            _span(one["interval_95"], by),
            f"{one['expected_rank']:.1f}",
            f"{one['p_best']:.2f}",
            f"{one['p_among_best']:.2f}",
            "yes" if one["may_be_best"] else "no",
        ]
        for one in document["cultivars"]
    ]
    header = ["", "cultivar", f"middle {unit}", "80 %", "95 %", "mean rank", "P best",
              f"P best {document['best_of']}", "best?"]  # fmt: skip
    return [
        *aligned(rows, header, "><>>>>>><", widest=[3, 16, 8, 13, 13, 9, 6, 8, 5]),
        *wrapped("best?: whether the cultivar can be told from the best (no), or not (yes)"),
    ]


def _effects(document: Document) -> list[str]:
    rows = [
        [
            one["cultivar"],
            _shown(one["season_loss"]["median"], "season"),
            _span(one["season_loss"]["interval_80"], "season"),
            _shown(one["early_loss"]["median"], "early"),
            _span(one["early_loss"]["interval_80"], "early"),
            _shown(one["delay_d"]["median"], "delay"),
            _span(one["delay_d"]["interval_80"], "delay"),
            f"{100 * one['never_share']:.0f}",
        ]
        for one in document["cultivars"]
    ]
    header = ["cultivar", "season %", "80 %", "early %", "80 %", "delay d", "80 %", "never %"]
    return [
        "What the heat takes: fruit of the season, early fruit, delay of first pick",
        *aligned(rows, header, "<>>>>>>>", widest=[16, 8, 13, 8, 13, 8, 13, 7]),
    ]


def _indices(regimes: Document) -> list[str]:
    title = "A breeder's indices from raw yields, in the order of the ranking above"
    if "why_not" in regimes:
        return [title, *wrapped(f"None: {regimes['why_not']}.")]
    lines = [title]
    for pair in regimes["pairs"][:MOST_PAIRS]:
        lines += wrapped(
            f"mild {pair['mild']} ({pair['mild_degree_hours']:.0f} degC h above 30), hot "
            f"{pair['hot']} ({pair['hot_degree_hours']:.0f})",
            bullet="- ",
        )
    more = len(regimes["pairs"]) - MOST_PAIRS
    if more > 0:
        lines += wrapped(f"and {more} more such pairs", bullet="- ")
    rows = [
        [one["cultivar"], f"{one['mild_g']:.0f}", f"{one['hot_g']:.0f}",
         *(f"{one['indices'][name]:.3g}" for name in INDICES)]
        for one in regimes["cultivars"]
    ]  # fmt: skip
    header = ["cultivar", "mild g", "hot g", "SSI", "STI", "tolerance g", "geometric mean g",
              "share kept"]  # fmt: skip
    return [*lines, *aligned(rows, header, "<>>>>>>>", widest=[16, 8, 8, 8, 8, 11, 16, 10])]


def _slopes(responses: Document) -> list[str]:
    title = "Response to the heat of the environments, raw yields, in the order of the ranking"
    if "why_not" in responses:
        return [title, *wrapped(f"None: {responses['why_not']}.")]
    rows = [
        [
            one["cultivar"],
            f"{one['slope_g_per_100_degree_hours']:.3g}",
            f"{one['slope_error']:.2g}",
            "-" if one["stability_variance"] is None else f"{one['stability_variance']:.4g}",
            "-" if one["first_axis_score"] is None else f"{one['first_axis_score']:.3g}",
        ]
        for one in responses["cultivars"]
    ]
    header = ["cultivar", "g per 100 degC h", "its error", "stability variance", "first axis"]
    lines = [title, *aligned(rows, header, "<>>>>", widest=[20, *[20] * 4])]
    shares = responses["axis_shares"]
    if shares:
        listed = ", ".join(f"{100 * one:.0f} %" for one in shares[:4])
        lines += wrapped(f"Axes of the interaction hold {listed} of it.")
    return lines


def _films(films: Document) -> list[str]:
    title = "What the films did: explained by crown temperature, and left over"
    if "why_not" in films:
        return [title, *wrapped(f"Nothing to split: {films['why_not']}.")]
    lines = [title]
    for one in films["splits"]:
        lines += wrapped(
            f"{one['film']} against {one['reference']}, {one['response']}: observed "
            f"{_change(one['observed'])}; explained {_change(one['explained'])}; left over "
            f"{_change(one['left_over'])}. "
            + ("Enters forecasts: " if one["earned"] else "Stays out of forecasts: ")
            + f"{one['why']}.",
            bullet="- ",
        )
    return lines


def _change(part: Document) -> str:
    low, high = part["interval_95"]
    if low is None:
        return f"{100 * part['share']:+.0f} %"
    return f"{100 * part['share']:+.0f} % ({100 * low:+.0f} to {100 * high:+.0f})"
