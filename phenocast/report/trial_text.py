"""The analysis of trials as a page of plain text, made of its document alone."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from phenocast.report.columns import aligned, plain, wrapped

Document = Mapping[str, Any]


def trial_text(document: Document) -> str:
    """Page of a trial: analysis of variance, means, standard errors, components, what differs.

    Parameters
    ----------
    document : mapping
        A trial document of schema version 1.

    Returns
    -------
    str
        Ends with a newline.
    """
    factors = document["factors"]
    unit = f" [{document['unit']}]" if document["unit"] else ""
    lines = wrapped(
        f"{document['response']}{unit} of {document['file']}: {factors['whole_plot']} on whole "
        f"plots, {factors['sub_plot']} on sub-plots, {factors['block']} as block; "
        f"{document['records']} records",
        indent="",
    )
    for trial in document["trials"]:
        lines += ["", *_trial(trial, document)]
    if document["warnings"]:
        lines += ["", "Cautions"]
        for text in document["warnings"]:
            lines += wrapped(text, bullet="- ")
    return "\n".join(lines) + "\n"


def _trial(trial: Mapping[str, Any], document: Document) -> list[str]:
    named = [f"{part} {trial[part]}" for part in ("season", "site") if trial[part]]
    present = trial["plots"] - trial["missing_plots"]
    head = f"{present} of {trial['plots']} plots in {len(trial['blocks'])} blocks"
    lines = [plain(", ".join([*named, head])), "", *_table(trial), "", *_means(trial, document)]
    lines += ["", *_errors(trial, document), "", *_components(trial), ""]
    lines += ["Residuals", *_residuals(trial, document), ""]
    lines.append(f"What differs ({100 * document['level']:.0f} % intervals, all pairs together)")
    for sentence in trial["what_differs"]:
        lines += wrapped(sentence, bullet="- ")
    if trial["notes"]:
        lines += ["", "Notes"]
        for note in trial["notes"]:
            lines += wrapped(note, bullet="- ")
    return lines


def _table(trial: Mapping[str, Any]) -> list[str]:
    sums = any(line["ss"] is not None for line in trial["table"])
    header = ["source", "df", "SS", "MS", "F", "p", "against"]
    sides = "<>>>>><"
    rows = [
        [
            line["source"],
            f"{line['df']:g}",
            _number(line["ss"]),
            _number(line["ms"]),
            "" if line["f"] is None else f"{line['f']:.3f}",
            _chance(line["p"]),
            f"{line['error']}, {line['error_df']:g} df" if line["error"] else "",
        ]
        for line in trial["table"]
    ]
    if not sums:
        rows, header, sides = [[*r[:2], *r[4:]] for r in rows], [*header[:2], *header[4:]], "<>>><"
        return [
            "Tests by restricted maximum likelihood (plots are missing: no sums of squares)",
            *aligned(rows, header, sides, widest=[40, *[12] * 3, 40]),
        ]
    return [
        "Analysis of variance",
        *aligned(rows, header, sides, widest=[30, 5, 12, 12, 10, 8, 30]),
    ]


def _means(trial: Mapping[str, Any], document: Document) -> list[str]:
    means, factors = trial["means"], document["factors"]
    lines = ["Means"]
    if trial["missing_plots"]:
        lines[0] += ", adjusted for the missing plots"
    cells = {(cell["whole"], cell["sub"]): cell["mean"] for cell in means["cells"]}
    shown = _rounded([cell["mean"] for cell in means["cells"]])
    columns = [one["level"] for one in means["whole"]]
    if len(columns) <= 5:
        rows = [
            [sub["level"], *(shown(cells[whole, sub["level"]]) for whole in columns),
             shown(sub["mean"])]
            for sub in means["sub"]
        ]  # fmt: skip
        overall = sum(one["mean"] for one in means["whole"]) / len(columns)
        rows.append(["all", *(shown(one["mean"]) for one in means["whole"]), shown(overall)])
        header = [factors["sub_plot"], *columns, "all"]
        widest = [20, *[min(20, 68 // len(columns) - 2)] * len(columns), 10]
        return [*lines, *aligned(rows, header, "<" + ">" * (len(columns) + 1), widest=widest)]
    long = [[one["level"], "all", shown(one["mean"])] for one in means["whole"]]
    long += [["all", one["level"], shown(one["mean"])] for one in means["sub"]]
    long += [[cell["whole"], cell["sub"], shown(cell["mean"])] for cell in means["cells"]]
    header = [factors["whole_plot"], factors["sub_plot"], "mean"]
    return [*lines, *aligned(long, header, "<<>", widest=[35, 35, 12])]


def _rounded(values: Sequence[float]) -> Callable[[float], str]:
    """One number of decimals for a whole table: four digits of its largest value."""
    largest = max(abs(value) for value in values)
    decimals = min(max(3 - math.floor(math.log10(largest)), 0), 8) if largest > 0.0 else 0
    return lambda value: f"{value:.{decimals}f}"


def _errors(trial: Mapping[str, Any], document: Document) -> list[str]:
    whole, sub = document["factors"]["whole_plot"], document["factors"]["sub_plot"]
    names = {
        "whole": f"two means of {whole}",
        "sub": f"two means of {sub}",
        "sub within whole": f"two means of {sub} at one {whole}",
        "whole within sub": f"two means of {whole} at one or different {sub}",
    }
    rows = [
        [names[error["between"]], f"{error['value']:.4g}", f"{error['df']:.1f}"]
        for error in trial["standard_errors"]
    ]
    title = "Standard errors of difference"
    if trial["missing_plots"]:
        title += " (typical ones; with plots missing each pair has its own)"
    return [title, *aligned(rows, ["between", "SED", "df"], "<>>", widest=[70, 10, 8])]


def _components(trial: Mapping[str, Any]) -> list[str]:
    parts = trial["components"]
    rows = [
        [name, f"{parts[key]:.4g}"]
        for name, key in (
            ("between blocks", "block"),
            ("between whole plots of a block", "whole_plot"),
            ("between sub-plots of a whole plot", "sub_plot"),
        )
    ]
    lines = ["Variance components", *aligned(rows, ["", "variance"], "<>")]
    return lines + wrapped(
        f"Coefficient of variation {100 * trial['cv']['whole_plot']:.1f} % of whole plots, "
        f"{100 * trial['cv']['sub_plot']:.1f} % of sub-plots."
    )


def _residuals(trial: Mapping[str, Any], document: Document) -> list[str]:
    """Largest residual of each stratum, and whether the spread changes with the fitted value."""
    names = {
        "whole_plot": f"whole plots ({document['factors']['whole_plot']})",
        "sub_plot": f"sub-plots ({document['factors']['sub_plot']})",
    }
    lines = []
    for one in trial["strata"]:
        largest = max(one["scaled_residual"], key=abs, default=0.0)
        lines += wrapped(
            f"{names[one['stratum']]}: largest {largest:+.1f} times their spread; "
            f"{one['in_words']}",
            bullet="- ",
        )
    return lines


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.5g}" if abs(value) < 1e5 else f"{value:.0f}"


def _chance(value: float | None) -> str:
    if value is None:
        return ""
    return f"{value:.3f}" if value >= 0.0005 else "<0.001"
