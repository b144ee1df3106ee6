"""A labour plan as a page of plain text, made of its document alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from phenocast.report.columns import aligned, look_first, plain, wrapped
from phenocast.report.frost_text import frost_of_plan
from phenocast.report.labour_tables import between, clock, zone
from phenocast.report.labour_words import cover, said_first
from phenocast.report.provenance import packout_line
from phenocast.report.reader import Reader, plain_text

Document = Mapping[str, Any]

MOST_BLOCKS = 12


def labour_text(document: Document) -> str:
    """Page of a labour plan: people by week, what the plan is worth, heat, cautions.

    Parameters
    ----------
    document : mapping
        A labour document of schema version 1.

    Returns
    -------
    str
        Ends with a newline.
    """
    lines = [
        plain(f"{document['site']}: people for the fruit of each week"),
        (
            f"As of {document['as_of']}. {document['draws']} draws for each possible season, seed "
            f"{document['seed']}."
        ),
        *wrapped(plain_text(packout_line(document["pack"], Reader())), indent=""),
        *wrapped(_picking(document["picking"]), indent=""),
        *(line for told in said_first(document["heat"], Reader()) for line in wrapped(told)),
        "",
        *look_first(document["warnings"]),
        *_people(document),
        "",
        *frost_of_plan(document),
        *_blocks(document),
    ]
    lines += ["", *_heat(document["heat"]), "", "Cautions"]
    for text in (*document["heat"]["cautions"], *document["warnings"]):
        lines += wrapped(text, bullet="- ")
    lines += ["", *_assumed(document["assumptions"])]
    return "\n".join(lines) + "\n"


def _assumed(assumptions: Sequence[Mapping[str, Any]]) -> list[str]:
    """Assumed numbers of labour one by one, and how many stand behind the fruit."""
    labour = [one for one in assumptions if str(one["set"]).startswith("labour ")]
    told = ", ".join(
        f"{one['name']} {one['value']:g}{'' if one['unit'] == '1' else ' ' + one['unit']}"
        for one in labour
    )
    return wrapped(
        f"Assumed, neither measured nor fitted: {told}. {len(assumptions) - len(labour)} more "
        "stand behind the fruit itself; read 'assumptions' of the JSON document.",
        indent="",
    )


def _picking(picking: Mapping[str, Any]) -> str:
    text = (
        f"Picking: {picking['walk_h_per_ha']:g} h for each hectare and pick plus "
        f"{picking['reach_h_per_t']:g} h for each tonne, from {picking['from']}"
    )
    tallies = picking.get("tallies")
    if tallies:
        walk, reach = tallies["walk_interval"], tallies["reach_interval"]
        text += (
            f" ({tallies['picks']} picks; {100 * tallies['level']:.0f} % intervals {walk[0]:g} to "
            f"{walk[1]:g} and {reach[0]:g} to {reach[1]:g})"
        )
    return text + "."


def _people(document: Document) -> list[str]:
    money, shed = document["currency"], document["packed_in"] == "shed"
    rows = [
        [
            row["week"],
            f"{row['trays']['p50']} ({row['trays']['p10']}-{row['trays']['p90']})",
            f"{row['need_people']['p50']:.1f}",
            f"{row['need_people']['p90']:.1f}",
            f"{row['packing_people']['p50']:.1f}",
            row["planned"],
            f"{row['change']:+d}" if row["change"] else "",
            f"{row['temporary']['p50']:.0f}-{row['temporary']['p90']:.0f}",
            f"{100 * row['short_of_core_probability']:.0f} %",
            f"{100 * row['short_of_all_probability']:.0f} %",
            row["decide_by"] or "decided",
        ]
        for row in document["weeks"]
    ]
    header = ["week", "trays P50 (P10-P90)", "need P50", "P90", "shed", "plan", "+/-",
              "temp.", "beyond", "of all", "decide by"]  # fmt: skip
    sides = "<>>>>>>>>><"
    if not shed:  # nobody packs in a shed: a column of zeros says nothing
        rows = [[*row[:4], *row[5:]] for row in rows]
        header, sides = [*header[:4], *header[5:]], sides[1:]
        sides = "<" + sides[1:]
    figures = document["figures"]
    title = "People who pick and pack, one pool" if shed else "Pickers, who pack in the field"
    lines = [title, *aligned(rows, header, sides)]
    lines += wrapped(
        "need: experienced people at contract hours, heat taken off; "
        f"{'shed: of these in the shed, P50; ' if shed else ''}plan: core crew; +/-: who comes or "
        "goes that Monday; temp.: temporary workers, P50-P90; beyond: probability that the work "
        "goes beyond the contract hours of the core crew, and beyond all overtime and temporary "
        "workers in that week."
    )
    hedging = figures["value_of_hedging"]
    error = figures["reduction_error"]
    large = figures["seasons_at_large"]
    lines += wrapped(
        f"Expected cost from {document['weeks'][0]['week']} on, decided weeks included, "
        f"{large['expected_cost']:.0f} {money}; mean of the worst tenth of seasons "
        f"{large['cvar_90']:.0f}. The plan is held against {large['seasons']} seasons at large, "
        "not only those that stand for all."
    )
    for told in cover(document, Reader()):
        lines += wrapped(told)
    if not figures["gap_reached"]:
        lines += wrapped("What hedging and knowing are worth is not known: the search ended early.")
    elif hedging is None:
        lines += wrapped("The plan for the mean season would break a rule in some season.")
    else:
        knowing = figures["value_of_perfect_information"]
        lines += wrapped(
            f"Planning for all seasons instead of the mean one is worth {hedging:.0f} {money}; "
            f"knowing the season beforehand would be worth {knowing:.0f}."
        )
    lines += wrapped(
        f"Gap to the best possible plan {100 * figures['gap']:.3f} %"
        f"{'' if figures['gap_reached'] else ' (ended by the time limit)'}. "
        f"{figures['seasons_kept']} seasons stand for all, over which it costs "
        f"{figures['expected_cost']:.0f} {money}: largest error of a week's mean "
        f"{100 * error['weekly_mean']:.1f} % and P90 {100 * error['weekly_p90']:.1f} % of the "
        f"busiest week; {100 * error['distance_share']:.0f} % of the spread lies between seasons "
        "and those that stand for them."
    )
    return lines


def _heat(heat: Mapping[str, Any]) -> list[str]:
    start, end = heat["working_hours"]
    lines = ["Heat in the hours that the plan works (P50, P90 of possible seasons)"]
    lines += wrapped(
        f"{clock(start)} to {clock(end)} by the local clock ({zone(heat, Reader())}), breaks kept "
        "in; hours beyond the contract follow at the end and are counted. "
        + Reader().say("labour.aid")
    )
    warm = [row for row in heat["weeks"] if row["hours_above_limit_new_crew"]["p90"] >= 0.5]
    if not warm:
        lines += wrapped(
            "In nine seasons of ten less than half an hour a week is above the limit for a crew "
            "that is not acclimatised. Measure on site all the same."
        )
        return lines
    rows = [
        [
            row["week"],
            f"{row['hours_a_person']['mean']:.0f}-{row['hours_a_person']['most']:.0f}",
            row["new_people"],
            _pair(row["highest_wbgt_c"], 1),
            _pair(row["highest_heat_index_c"], 0),
            _pair(row["hours_above_limit_acclimatised"], 0),
            _pair(row["hours_above_limit_new_crew"], 0),
            _range(row["work_share_range"]),
            _range(row["work_share_range_new_crew"]),
        ]
        for row in warm
    ]
    header = ["week", "h", "new", "WBGT degC", "heat index", "h above limit", "new crew",
              "work share", "new crew"]  # fmt: skip
    lines += aligned(rows, header, "<>>>>>>>>")
    lines += wrapped(
        "h: hours of one person of the core crew, mean and longest; new: people of it hired within "
        "two weeks; h above limit: hours of the week above the NIOSH limit at moderate work, for "
        "acclimatised people with their overtime and for a new crew, as temporary workers are; "
        "work share: range of published curves."
    )
    starts = _starts(warm)
    if starts:
        lines += wrapped(
            f"Other starts between {between(heat, Reader())}, breaks kept in; local rules on hours "
            "and heat come first:"
        )
    return lines + starts


def _starts(rows: Sequence[Mapping[str, Any]]) -> list[str]:
    """Other starts of the working day that have fewer hours above the limits, one line a start."""
    by_start: dict[tuple[float, float], list[Mapping[str, Any]]] = {}
    place = {row["week"]: number for number, row in enumerate(rows)}
    for row in rows:
        if row["better_start"] is not None:
            key = (row["better_start"]["clock_h"], row["starts"][0]["clock_h"])
            by_start.setdefault(key, []).append(row)
    lines = []
    for (better, now), weeks in sorted(by_start.items()):
        fewer = [
            [row["starts"][0][name] - row["better_start"][name] for row in weeks]
            for name in ("above_new_h", "above_acclimatised_h")
        ]
        dark = [row["better_start"]["dark_h"] for row in weeks]
        text = (
            f"start at {clock(better)} instead of {clock(now)} in "
            f"{_runs([row['week'] for row in weeks], place)}: {_span(fewer[0])} hours a week fewer "
            f"above the limit for a new crew, {_span(fewer[1])} for an acclimatised one (P50)"
        )
        if max(dark) >= 0.5:
            text += f"; {_span(dark, 1)} h a day in the dark"
        lines += wrapped(text, bullet="- ")
    return lines


def _runs(weeks: Sequence[str], place: Mapping[str, int]) -> str:
    """Weeks with runs of neighbours in the table written by their ends."""
    runs: list[list[str]] = []
    for week in weeks:
        if runs and place[week] == place[runs[-1][-1]] + 1:
            runs[-1].append(week)
        else:
            runs.append([week])
    return ", ".join(f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(run) for run in runs)


def _span(values: Sequence[float], digits: int = 0) -> str:
    low, high = (f"{value:.{digits}f}" for value in (min(values), max(values)))
    return low if low == high else f"{low} to {high}"


def _blocks(document: Document) -> list[str]:
    """From ripe fruit to trays, block by block, and the loading that the plan leaves out."""
    largest = sorted(
        (block for block in document["blocks"] if block["weeks"]),
        key=lambda block: -sum(row["trays"]["p50"] for row in block["weeks"]),
    )
    rows = []
    for block in largest[:MOST_BLOCKS]:
        peak = max(block["weeks"], key=lambda row: row["trays"]["p50"])
        trays = peak["trays"]
        picks = [row["picks"] for row in block["weeks"] if row["picks"] > 0.0]
        left = sum(row["left_in_field_kg"] for row in block["weeks"]) / 1000.0
        rows.append(
            [
                plain(block["block"], 30),
                peak["week"],
                f"{trays['p50']:.0f} ({trays['p10']:.0f}-{trays['p90']:.0f})",
                _span(picks, 1) if picks else "0",
                f"{left:.1f}",
            ]
        )
    header = ["block", "busiest week", "trays P50 (P10-P90)", "picks a week", "left in field t"]
    lines = ["From ripe fruit to trays", *aligned(rows, header, "<<>>>")]
    if len(largest) > MOST_BLOCKS:
        rest = len(largest) - MOST_BLOCKS
        lines += wrapped(f"{rest} more blocks are left out; --json holds all of them.")
    loading = max(document["loading_h"], key=lambda row: row["p50"])
    lines += wrapped(
        f"Loading is not in the plan: at its height {loading['p50']:.0f} h in {loading['week']} "
        f"(P50; P90 {loading['p90']:.0f} h)."
    )
    return lines


def _pair(values: Mapping[str, float], digits: int) -> str:
    return f"{values['p50']:.{digits}f}, {values['p90']:.{digits}f}"


def _range(values: Sequence[float]) -> str:
    return f"{100 * values[0]:.0f}-{100 * values[1]:.0f} %"
