"""A fit as a page of plain text, made of its document alone."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any

from phenocast.parameters import PLOT_LEVEL_SD
from phenocast.report.columns import aligned, look_first, wrapped

Document = Mapping[str, Any]
_SHOWN_LEFT_OUT = 20


def fit_text(document: Document) -> str:
    """Page of a fit: verdict, numbers with priors, ladder, what records tell, records not used.

    Parameters
    ----------
    document : mapping
        A fit document of schema version 1.

    Returns
    -------
    str
        Ends with a newline.
    """
    records = document["records"]
    lines = wrapped(
        f"Fit of {len(document['cultivars'])} cultivars to {records['used']} records of "
        f"{records['block_seasons']} block-seasons in {len(records['seasons'])} seasons "
        f"({document['records_file']})",
        indent="",
    )
    lines += ["", *look_first(document["warnings"]), *_verdict(document)]
    lines += ["", *_convergence(document)]
    for cultivar in document["cultivars"]:
        lines += ["", *_cultivar(cultivar)]
    if document["transplants"]:
        lines += ["", "State at planting, shared by all blocks of a type"]
        lines += _table(document["transplants"], first="transplant")
    lines += ["", *_seasons(document), "", *_ladder(document), *_date_rules(document)]
    lines += ["", *_scatter(document)]
    lines += ["", *_identifiability(document), *_uncertainty(document), "", *_records(records)]
    if document["warnings"]:
        lines += ["", "Cautions"]
        for text in document["warnings"]:
            lines += wrapped(text, bullet="- ")
    return "\n".join(lines) + "\n"


def _verdict(document: Document) -> list[str]:
    found = document["identifiability"]
    if found["rankable"]:
        return wrapped("Cultivars can be ranked by what heat costs them: see `phenocast rank`.",
                       indent="")  # fmt: skip
    lines = ["These records cannot rank cultivars by heat:"]
    for why in found["why_not"]:
        lines += wrapped(why, bullet="- ")
    lines.append("Records that would settle it:")
    for one in found["records_that_would_settle_it"]:
        lines += wrapped(one, bullet="- ")
    return lines


def _convergence(document: Document) -> list[str]:
    found = document["convergence"]
    words = "The search converged" if found["converged"] else "The search did NOT converge"
    words += (
        f" and its {len(found['starts'])} starts agree."
        if found["starts_agree"]
        else f"; its {len(found['starts'])} starts ended in different places, the best is kept."
    )
    lines = wrapped(words, indent="")
    if found["at_bound"]:
        lines += wrapped(
            "At a bound (the median of the draws is printed): "
            + ", ".join(found["at_bound"])
            + ".",
            indent="",
        )
    return lines


def _cultivar(cultivar: Mapping[str, Any]) -> list[str]:
    head = (
        f"{cultivar['cultivar']}: {cultivar['records']} records, "
        f"{len(cultivar['seasons'])} seasons, films {', '.join(cultivar['films']) or 'none'}"
    )
    if cultivar["note"]:
        return [head, *wrapped(cultivar["note"], indent="  ")]
    return [head, *_table(cultivar["numbers"])]


def _table(numbers: list[Mapping[str, Any]], first: str = "") -> list[str]:
    header = ["number", "unit", "fitted", "80 % interval", "before", "spread left", ""]
    rows = []
    for one in numbers:
        low, high = one["interval_80"]
        rows.append(
            [
                *([one[first]] if first else []),
                one["name"],
                one["unit"],
                f"{_figure(one['value'])} ± {_figure(one['sd'])}",
                f"{_figure(low)} to {_figure(high)}",
                f"{_figure(one['prior']['value'])} ± {_figure(one['prior']['sd'])}",
                f"{100 * one['contraction']:.0f} %",
                "at its bound" if one["at_bound"] else "",
            ]
        )
    if first:
        return aligned(rows, [first, *header], "<<<>>>><")
    return aligned(rows, header, "<<>>>><")


def _figure(value: float) -> str:
    return f"{value:.3g}" if abs(value) < 1000 else f"{value:.0f}"


def _seasons(document: Document) -> list[str]:
    rows = []
    for one in document["seasons"]:
        later, factor = one["later_d"], one["supply_factor"]
        rows.append(
            [
                one["season"],
                f"{later['value']:+.1f} ± {later['sd']:.1f}",
                f"x {factor['value']:.2f} ± {factor['sd']:.2f}",
            ]
        )
    header = ("season", "later than usual [d]", "fruit against usual")
    return ["What all blocks of a season share", *aligned(rows, header, "<>>")]


def _ladder(document: Document) -> list[str]:
    rows = []
    last: list[str] = []
    for rung in document["ladder"]:
        loss = rung["left_out_loss"]
        shown = "" if loss is None or loss != loss else f"{loss:.4f}"
        rows.append(
            [rung["rung"], f"{rung['parameters']:.1f}", f"{rung['bic']:.1f}", shown,
             "stays" if rung["kept"] else "not earned"]
        )  # fmt: skip
    lines = ["Which numbers the records earn (each rung must lower both)"]
    lines += aligned(
        rows, ("rung", "effective numbers", "BIC", "loss on seasons left out", ""), "<>>><"
    )
    for rung in document["ladder"]:
        errors = ", ".join(f"{k} {v:.3g}" for k, v in rung["left_out_error"].items())
        if rung["kept"] and errors:
            last = wrapped(f"Error on seasons left out, {rung['rung']}: {errors}")
    return [*lines, *last]


def _date_rules(document: Document) -> list[str]:
    rules = document["date_rules"]["rules"]
    if not rules:
        return []
    rows = [
        [one["rule"], f"{one['bic']:.1f}",
         "" if one["left_out_error_d"] is None else f"{one['left_out_error_d']:.2f}",
         "stays" if one["kept"] else "not earned"]
        for one in rules
    ]  # fmt: skip
    header = ("rule for the day of first pick", "BIC", "days missed, seasons left out", "")
    return ["", "Plain rules on dates, beside the chain", *aligned(rows, header, "<>><")]


def _scatter(document: Document) -> list[str]:
    found = document["scatter"]
    lines = ["Scatter of records about what is expected"]
    for kind, one in found["kinds"].items():
        if "sd_d" in one:
            lines.append(f"  {kind}: {one['sd_d']:.1f} d")
        else:
            lines.append(
                f"  {kind}: {100 * one['relative']:.0f} %, floor {one['floor']:.2g}, variance per "
                f"unit {one['grain']:.2g}"
            )
    between, plots = found["between_seasons"], found["between_plots"]
    lines += wrapped(
        f"Between seasons {between['shift_d']:.1f} d and {100 * between['level']:.0f} % of fruit; "
        f"between blocks of a season {100 * plots['level']:.0f} % of fruit.",
        indent="  ",
    )
    for one in found.get("spreads", ()):
        low, high = one["interval_80"]
        unit = "" if one["unit"] == "1" else f" {one['unit']}"
        units = "blocks" if one["name"] == PLOT_LEVEL_SD else "seasons"
        of = f"told by {one['units']} {units}" if one["told_by_records"] else "assumed"
        lines += wrapped(
            f"A forecast draws {one['name']} around {_figure(one['value'])}{unit} (80 % interval "
            f"{_figure(low)} to {_figure(high)}), {of}.",
            indent="  ",
        )
    return lines


def _identifiability(document: Document) -> list[str]:
    lines = ["What the records can tell (strongest and weakest direction of each cultivar)"]
    for one in document["identifiability"]["directions"]:
        listed = one["directions"]
        for word, direction in (("well", listed[0]), ("least", listed[-1])):
            lines += wrapped(
                f"{one['cultivar']}, {word}: {_loadings(direction['loadings'])} "
                f"({direction['information']:.2g} times the prior's information)",
                bullet="- ",
            )
    lines += ["Heat in the records, first 60 days after planting"]
    for one in document["identifiability"]["heat_in_the_data"]:
        hours, heat = one["hours_above_cut_off"], one["degree_hours_above_30c"]
        lines += wrapped(
            f"{one['cultivar']}: crown above its cut-off of {one['cut_off_c']:g} degC for "
            f"{hours['least']:.0f} to {hours['most']:.0f} h, {heat['least']:.0f} to "
            f"{heat['most']:.0f} degC h above 30",
            bullet="- ",
        )
    found = document["curves"]
    if found["wider"]:
        wider = found["wider"].values()
        lines += wrapped(
            "Were the response curves free to bend, records would be likelier by "
            f"{found['gain']:.1f} (log-likelihood; by chance up to about "
            f"{found['by_chance']:.0f}). Intervals count that in: they are {min(wider):.2f} to "
            f"{max(wider):.2f} times as wide for it.",
            indent="",
        )
    return lines


def _loadings(loadings: Mapping[str, float]) -> str:
    kept = sorted(loadings.items(), key=lambda item: -abs(item[1]))
    shown = [(name, value) for name, value in kept if abs(value) >= 0.25][:3]
    return " ".join(f"{value:+.2f} {name}" for name, value in shown)


def _uncertainty(document: Document) -> list[str]:
    found = document["uncertainty"].get("heat_sensitivity", [])
    if not found:
        return []
    methods = [m for m in ("laplace", "profile", "bootstrap") if any(m in one for one in found)]
    header = ["cultivar", *(f"{m}, 90 %" for m in methods)]
    rows = []
    for one in found:
        cells = [one["cultivar"]]
        for method in methods:
            ends = one.get(method)
            cells.append("" if ends is None else f"{_end(ends[0])} to {_end(ends[1])}")
        rows.append(cells)
    numbers = "<" + ">" * len(methods)
    told = "One parameter of several: which cultivar loses least, `phenocast rank` tells."
    title = "Heat sensitivity by each method"
    return ["", title, *aligned(rows, header, numbers), *wrapped(told)]


def _end(value: float | None) -> str:
    return "open" if value is None else f"{value:.2f}"


def _records(records: Mapping[str, Any]) -> list[str]:
    kinds = ", ".join(f"{count} {kind}" for kind, count in records["used_by_kind"].items())
    lines = wrapped(f"Records used: {kinds}; each is in records_used.parquet.", indent="")
    left = records["not_used"]
    if not left:
        return [*lines, "Every record was used."]
    lines += [f"Records not used: {len(left)}"]
    for reason, count in Counter(one["reason"] for one in left).most_common():
        rows = [str(one["row"]) for one in left if one["reason"] == reason]
        shown = ", ".join(rows[:_SHOWN_LEFT_OUT]) + (", …" if count > _SHOWN_LEFT_OUT else "")
        lines += wrapped(f"{count}: {reason} (rows {shown})", bullet="- ")
    return lines
