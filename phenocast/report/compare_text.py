"""The comparison of options as a page of text."""

from __future__ import annotations

import textwrap
from typing import Any

WIDTH = 100
MOST_ROWS = 40


def compare_text(document: dict[str, Any]) -> str:
    """Return a comparison as text, nothing wider than 100 columns.

    Parameters
    ----------
    document : the document of `phenocast.planning.choice_document.compare_document`.
    """
    options = sorted(document["options"], key=lambda one: -one["expected"])
    money = document["currency"] is not None
    unit = document["currency"] if money else "g per plant"
    best = document["best"]
    lines = _wrap(
        f"{document['block']}, {document['site']}: {len(options)} ways to plant it, as of "
        f"{document['issue_date']}; {document['futures']} possible seasons, {document['draws']} "
        f"draws each, the same for every option."
    )
    lines += _wrap(
        f"Highest expected {document['judged_by']}: planted {best['planting_date']} on "
        f"{best['film']}, {best['cultivar']}, {best['transplant']}. Options marked = are not "
        "clearly worse (it beats them in fewer than 8 of 10 cases); * nothing beats in both mean "
        "and worst tenth."
    )
    lines.append("")
    lines.append(
        f"{'planted':<11}{'film':<19}{'cultivar':<10}{'week':<10}{'heat':>6}{'early':>7}"
        f"{'season':>8}{'mean':>9}{'worst':>9}{'regret':>8}"
    )
    for one in options[:MOST_ROWS]:
        mark = ("*" if one["undominated"] else " ") + ("=" if one["in_the_noise"] else "")
        lines.append(
            f"{one['planting_date']:<11}{one['film'][:18]:<19}{one['cultivar'][:9]:<10}"
            f"{one['first_pick']['week'] or 'never':<10}"
            f"{one['crown_degree_hours_above_30c']['p50']:>6.0f}"
            f"{one['early_g_per_plant']['p50']:>7.0f}{one['season_g_per_plant']['p50']:>8.0f}"
            f"{one['expected']:>9.0f}{one['worst_tenth']:>9.0f}{one['regret']:>8.0f} {mark}"
        )
    if len(options) > MOST_ROWS:
        lines.append(f"... and {len(options) - MOST_ROWS} more; --json holds all of them")
    lines += _wrap(
        "heat: crown degree-hours above 30 degC, median; early (to "
        f"{document['early_until']}) and season: g per plant, median; mean, worst tenth and "
        f"regret: {document['judged_by']}, {unit}; week: median of first pick."
    )
    lines += ["", "Cautions"]
    for texts in document["cautions"].values():
        for text in texts:
            lines += _wrap(text, "  - ")
    early = {text for one in options for text in one["warnings"]}
    lines += ["", "What to know"]
    for text in [*document["warnings"], *sorted(early)]:
        lines += _wrap(text, "  - ")
    return "\n".join(lines) + "\n"


def _wrap(text: str, first: str = "") -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=first, subsequent_indent=" " * len(first),
        break_long_words=False,
    )  # fmt: skip
