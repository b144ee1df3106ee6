"""A forecast as a page of plain text, no wider than 100 columns.

The page is made of the forecast document alone (what ``phenocast forecast --json`` prints), so that
every figure on it can be found there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import Any

from phenocast.report.columns import WIDEST, aligned, look_first, percent, places, plain, wrapped
from phenocast.report.frost_text import frost_lines
from phenocast.report.provenance import packout_line
from phenocast.report.reader import Reader, plain_text

Document = Mapping[str, Any]
BAR_PLACES = 24


def forecast_text(document: Document, *, list_assumed: bool = False) -> str:
    """Page of a forecast: overview, one part a block, all blocks together, cautions.

    Parameters
    ----------
    document : mapping
        A forecast document of schema version 2.
    list_assumed : bool
        List every assumed number at the end instead of telling how to list them.

    Returns
    -------
    str
        Ends with a newline.
    """
    lines = [*_head(document), "", *look_first(document["warnings"]), *overview(document), ""]
    for block in document["blocks"]:
        lines += [*_block(block, len(document["blocks"]) == 1), ""]
    if len(document["blocks"]) > 1:
        lines += [*_together(document), ""]
    lines += _cautions(document["warnings"], "Cautions")
    lines += ["", *_assumed(document["assumptions"], list_assumed)]
    return "\n".join(lines) + "\n"


def _head(document: Document) -> list[str]:
    """Where, as of when, and on which weather."""
    site = document["site"]
    lines = [
        plain(f"{site['name']}: week of first pick and weekly fruit"),
        (
            f"As of {document['issue_date']}. "
            f"{document['draws']} draws for each possible season, seed {document['seed']}."
        ),
        *wrapped(f"Weather: {weather_source(document['weather'])}.", indent=""),
    ]
    filled = document["weather"]["filled_hours"]
    if filled:
        told = ", ".join(f"{name} {hours} h" for name, hours in filled.items())
        lines += wrapped(f"Filled, in hours of a season: {told}.", indent="")
    return lines


def weather_source(weather: Mapping[str, Any]) -> str:
    """Words for where the weather of a forecast comes from.

    Examples
    --------
    >>> weather_source({"observed_until": None, "outlook_members": 0, "past_years": ["a", "b"],
    ...                 "weather_traces": 2})
    '2 past years (a to b); 2 possible seasons'
    """
    parts = []
    if weather["observed_until"]:
        parts.append(f"observed to {weather['observed_until']}")
    if weather["outlook_members"]:
        parts.append(f"an outlook of {weather['outlook_members']} members")
    years = weather["past_years"]
    if len(years) == 1:
        parts.append(f"one past or typical year ({years[0]})")
    elif years:
        parts.append(f"{len(years)} past years ({years[0]} to {years[-1]})")
    count = weather["weather_traces"]
    possible = "one possible season" if count == 1 else f"{count} possible seasons"
    return f"{', then '.join(parts)}; {possible}"


def overview(document: Document) -> list[str]:
    """One row a block: its first pick and how sure that is, and the fruit of its season."""
    header = ("block", "cultivar", "film", "planted", "week", "first pick", "8 in 10", "g/plant")
    rows = []
    for block in document["blocks"]:
        pick = block["first_pick"]
        rows.append(
            (
                block["block"],
                plain(block["cultivar"], 10),
                plain(block["film"], 18),
                block["planting_date"],
                median_week(pick),
                pick["median"] or "not reached",
                f"{_short(pick['p10'])}..{_short(pick['p90'])}",
                f"{block['fruit']['season_g_per_plant']['p50']:.0f}",
            )
        )
    # The name of the block takes what the other columns leave.
    others = sum(
        max(places(row[column]) for row in [header, *rows]) + 2 for column in range(1, len(header))
    )
    widest = (WIDEST - others, *([WIDEST] * (len(header) - 1)))
    return aligned(rows, header, "<<<<<<<>", indent="", widest=widest)


def median_week(pick: Mapping[str, Any]) -> str:
    """ISO week that holds the median of a first pick, a dash where it is not reached.

    Examples
    --------
    >>> median_week({"median": "2027-01-03"}), median_week({"median": None})
    ('2026-W53', '-')
    """
    from datetime import date

    if pick["median"] is None:
        return "-"
    year, week, _ = date.fromisoformat(pick["median"]).isocalendar()
    return f"{year}-W{week:02d}"


def _short(day: str | None) -> str:
    """Month and day of a date, or that it never comes."""
    return "never" if day is None else day[5:]


def _block(block: Mapping[str, Any], alone: bool) -> list[str]:
    """All that is known of one block."""
    pick = block["first_pick"]
    title = (
        f"{plain(block['block'], 40)}: {plain(block['cultivar'], 20)} on {plain(block['film'], 30)}"
    )
    stages = block["stages"]
    fruit = block["fruit"]
    lines = [
        title,
        "-" * min(len(title), 100),
        (
            f"  Planted     {block['planting_date']}, {plain(block['transplant'], 20)}, "
            f"{block['plants']} plants; alive {_share(block['plants_alive_share'])}"
        ),
        f"  First pick  {_first_pick(pick)}",
        (
            f"              not reached by {block['last_day']} in "
            f"{percent(pick['not_reached_probability'])} of the cases; counted from "
            f"{pick['threshold_g_per_plant']:g} g per plant"
        ),
        *_labelled("Initiation", _initiation(stages["flower_initiation"])),
        f"  Bloom       {_span(stages['anthesis'])}",
        (
            f"  Fruit       {_grams(fruit['season_g_per_plant'])} g per plant in the season, "
            f"{_grams(fruit['early_g_per_plant'])} to {fruit['early_until']}"
        ),
        *_labelled("Season", _season_end(block)),
        *_crown(block["crown"], alone),
        *frost_lines(block),
        *_weeks(block),
    ]
    return lines + _cautions(block["warnings"], "Cautions for this block", indent="  ")


def _first_pick(pick: Mapping[str, Any]) -> str:
    """Week and date of the median, and the span that holds eight cases in ten."""
    if pick["median"] is None:
        return "not reached in half of the cases or more"
    return (
        f"{median_week(pick)}, {pick['median']} (median); 8 in 10 cases: {pick['p10']} to "
        f"{pick['p90'] or 'never'}"
    )


def _span(stage: Mapping[str, Any]) -> str:
    """Median of a stage and the span of eight cases in ten."""
    if stage["median"] is None:
        return "not reached in half of the cases or more"
    return f"{stage['median']} (median); 8 in 10 cases: {stage['p10']} to {stage['p90'] or 'never'}"


def _labelled(label: str, text: str) -> list[str]:
    """Text under a label in the margin, on as many lines as it takes."""
    lines = wrapped(text, indent=" " * 14)
    return [f"  {label:<12}{lines[0].strip()}", *lines[1:]]


def _initiation(stage: Mapping[str, Any]) -> str:
    """When flowers are initiated, or that plants came with buds, and what heat takes."""
    share = stage["arrived_with_buds"]
    buds = "taken to have arrived with flower buds (not looked at)"
    others = f"; in the others {_span(stage)}" if share < 1.0 else ""
    told = _span(stage)
    if share > 0.0:
        told = buds + (f" in {percent(share)} of the cases{others}" if others else "")
    heat = stage["heat"]
    told += (
        f". In the first {heat['days']} days after planting heat stops initiation in "
        f"{percent(heat['hours_stopped_share']['p50'])} of the hours"
    )
    lost = heat["new_trusses_lost_share"]
    if lost is not None:
        told += f" and takes {_share(lost)} of the new trusses"
    return told


def _season_end(block: Mapping[str, Any]) -> str:
    """Where the season ends and why."""
    end = block["season_end"]
    amount = f"{end['g_per_plant']:g} g per plant"
    reasons = {
        "stated": "as stated",
        "fruit": f"as none is stated: in no later week do half of the cases give {amount}",
        "still-bearing": "the last simulated day, as none is stated; the block still bears then, "
        "and what comes later is not in these figures",
        "little-fruit": f"the last simulated day, as none is stated and in no week half of the "
        f"cases give {amount}",
    }
    return f"ends {block['last_day']}, {reasons[end['rule']]}"


def _grams(quantiles: Mapping[str, float]) -> str:
    return f"{quantiles['p50']:.0f} ({quantiles['p10']:.0f} to {quantiles['p90']:.0f})"


def _share(quantiles: Mapping[str, float]) -> str:
    low, middle, high = (percent(quantiles[name]) for name in ("p10", "p50", "p90"))
    return f"{middle} ({low} to {high})"


def _crown(crown: Mapping[str, Any], alone: bool) -> list[str]:
    """Heat that the crown carries: to first bloom, beside the other blocks, and by month."""
    part = crown[crown["headline"]]
    over = "from planting to first bloom"
    if crown["headline"] == "bearing":
        over = f"in the bearing weeks from {part['from']}"
    elif not part["reached"]:
        over = "from planting on, without bloom in half of the cases,"
    lines = _labelled("Crown heat", f"{over} ({part['days']} days): {_heat(part)}")
    if not alone:
        part = crown["compared"]
        told = f"beside the other blocks, {part['from']} to {part['to']}"
        lines += wrapped(f"{told} ({part['days']} days): {_heat(part)}", indent=" " * 14)
    part = crown["season"]
    lines += wrapped(f"over the season ({part['days']} days): {_heat(part)}", indent=" " * 14)
    hot = [month for month in crown["by_month"] if month["hours_above_30c"] > 0]
    if hot:
        rows = [
            (
                month["month"],
                f"{month['hours_above_30c']:.0f}",
                f"{month['degree_hours_above_30c']:.0f}",
                f"{month['mean_c']:.1f}",
                f"{month['max_c']:.1f}",
                f"{month['soil_10cm_max_c']:.1f}",
            )
            for month in hot
        ]
        header = ("month", "h > 30", "degC h > 30", "mean degC", "max degC", "soil 10 cm max")
        lines += aligned(rows, header, "<>>>>>", indent="              ")
    return lines


def _heat(part: Mapping[str, Any]) -> str:
    spread = part["degree_hours_above_30c_spread"]
    told = (
        f"{part['hours_above_30c']:.0f} h and {part['degree_hours_above_30c']:.0f} degC h above "
        f"30 degC (8 in 10 cases: {spread['p10']:.0f} to {spread['p90']:.0f})"
    )
    return told if part["max_c"] is None else f"{told}; highest {part['max_c']:.1f} degC"


def _weeks(block: Mapping[str, Any]) -> list[str]:
    """One row a week: chance of the first pick, and the fruit, from the first to the last week."""
    chances = {row["week"]: row["probability"] for row in block["first_pick"]["week_probabilities"]}
    fruit = {row["week"]: row for row in block["weekly"]}
    if not chances and not fruit:
        return ["  No fruit in any week in nine cases of ten."]
    most = max(chances.values(), default=0.0)
    rows = []
    for week in sorted({*chances, *fruit}):
        chance = chances.get(week)
        grams = fruit[week]["g_per_plant"] if week in fruit else None
        trays = fruit[week]["trays"] if week in fruit else None
        rows.append(
            (
                week,
                "" if not chance else percent(chance),
                bar(chance or 0.0, most),
                *(_three(grams, 1)),
                *(_three(trays, 0)),
            )
        )
    header = ("week", "first pick", "", "g p10", "p50", "p90", "trays p10", "p50", "p90")
    return aligned(idle_weeks_merged(rows), header, "<><>>>>>>")


def idle_weeks_merged(rows: Sequence[tuple[str, ...]]) -> list[tuple[str, ...]]:
    """Rows of weeks in which three or more without any fruit on end become one row.

    Parameters
    ----------
    rows : sequence of tuple of str
        ISO week, then cells; a week is idle where every cell is empty or shows nought.

    Examples
    --------
    >>> rows = [("2026-W52", "3.1"), ("2026-W53", "0.0"), ("2027-W01", "0.0"), ("2027-W02", "0.0")]
    >>> idle_weeks_merged(rows)
    [('2026-W52', '3.1'), ('2026-W53..2027-W02', '0.0')]
    >>> idle_weeks_merged(rows[:3]) == rows[:3]
    True
    """
    merged: list[tuple[str, ...]] = []
    for idle, group in groupby(rows, key=lambda row: set(row[1:]) <= {"", "0", "0.0"}):
        run = list(group)
        if not idle or len(run) < 3:
            merged += run
            continue
        first, last = run[0][0], run[-1][0]
        until = last[5:] if last[:4] == first[:4] else last
        merged.append((f"{first}..{until}", *run[0][1:]))
    return merged


def _three(quantiles: Mapping[str, float] | None, digits: int) -> Sequence[str]:
    """P10, P50 and P90 as cells."""
    if quantiles is None:
        return ("", "", "")
    return tuple(f"{quantiles[name]:.{digits}f}" for name in ("p10", "p50", "p90"))


def bar(share: float, most: float) -> str:
    """Share as a row of marks; the largest share of the table fills all places.

    Examples
    --------
    >>> bar(0.5, 0.5), bar(0.25, 0.5), bar(0.001, 0.5), bar(0.0, 0.5)
    ('########################', '############', ':', '')
    """
    if share <= 0.0 or most <= 0.0:
        return ""
    return "#" * round(BAR_PLACES * share / most) or ":"


def _together(document: Document) -> list[str]:
    """Trays of all blocks together by week."""
    title = "All blocks together"
    weekly = document["total"]["weekly"]
    most = max((row["trays"]["p50"] for row in weekly), default=0.0)
    rows = [
        (row["week"], *_three(row["trays"], 0), bar(row["trays"]["p50"], most)) for row in weekly
    ]
    header = ("week", "trays p10", "p50", "p90", "p50 as a bar")
    return [
        title,
        "-" * len(title),
        *wrapped(plain_text(packout_line(document["pack"], Reader()))),
        *wrapped("The blocks share their weather, so quantiles do not add up."),
        *aligned(idle_weeks_merged(rows), header, "<>>><"),
    ]


def _cautions(warnings: Sequence[str], title: str, indent: str = "") -> list[str]:
    """Warnings as a list under a title; nothing where there are none."""
    if not warnings:
        return []
    lines = [f"{indent}{title}"]
    for warning in warnings:
        lines += wrapped(warning, indent=indent + "  ", bullet="- ")
    return lines


def _assumed(assumptions: Sequence[Mapping[str, Any]], listed: bool) -> list[str]:
    """How many numbers are assumed, and which or how to list them."""
    count = len(assumptions)
    lead = f"{count} numbers behind this are assumed, neither measured nor fitted"
    if not listed:
        return wrapped(
            f"{lead}. List them with --assumed, or read 'assumptions' of the JSON document.",
            indent="",
        )
    lines = [f"{lead}:"]
    for label, group in groupby(assumptions, key=lambda one: str(one["set"])):
        told = ", ".join(_assumption(one) for one in group)
        lines += wrapped(f"{label}: {told}", indent="  ", bullet="- ")
    return lines


def _assumption(one: Mapping[str, Any]) -> str:
    unit = f" {one['unit']}" if one["unit"] not in ("", "1") else ""
    return f"{one['name']} {one['value']:g}{unit}"
