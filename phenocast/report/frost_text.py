"""Frost of a block as lines of a text page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from phenocast.report.columns import aligned, percent, plain, wrapped

Document = Mapping[str, Any]
MOST_NIGHTS = 10
MOST_BLOCKS = 12
LEAST_LOST_G = 0.5
"""Loss from which a week is shown. [g per plant]"""
LEAST_SHARE = 0.0005
"""Share of a season from which frost is told beside options."""
TABLES_FROM = 0.01
"""Share of a season, in the mean or in one weather year of ten, from which nights are listed."""
INDENT = "              "


def frost_of_plan(document: Document) -> list[str]:
    """Return what the page of a labour plan tells of frost: trays with protection, and blocks.

    Examples
    --------
    >>> frost_of_plan({"frost": {"blocks": [{"block": "North", "frost": {"nights": []}}]}})
    []
    """
    frost = document["frost"]
    blocks = [block for block in frost["blocks"] if block["frost"]["nights"]]
    if not blocks:
        return []
    lines = ["Frost"]
    if frost["with_protection"] is not None:
        bare = {row["week"]: row["trays"]["p50"] for row in document["weeks"]}
        rows = [
            (row["week"], f"{bare[row['week']]}", f"{row['trays']['p50']:.0f}")
            for row in frost["with_protection"]["weekly"]
            if row["trays"]["p50"] > 1.01 * bare[row["week"]]
        ]
        lines += wrapped(
            "Where no protection is stated none is counted: the plan is for the fruit that frost "
            "leaves. Weeks to which protection on every frost night would bring more:"
        )
        lines += aligned(rows, ("week", "trays P50", "with protection"), "<>>") or ["  none"]
    for block in blocks[:MOST_BLOCKS]:
        lines += [f"  {plain(block['block'], 60)}", *frost_lines(block)]
    if len(blocks) > MOST_BLOCKS:
        more = len(blocks) - MOST_BLOCKS
        lines.append(f"  {more} more blocks: read 'frost' of the JSON document")
    return [*lines, ""]


def frost_lines(block: Document) -> list[str]:
    """Return what a block's page tells of frost: nights, losses by night and week, protection.

    Examples
    --------
    >>> frost_lines({"frost": {"nights": []}})
    ['  Frost       no night below 0 degC at flower height in any weather year']
    """
    frost = block["frost"]
    if not frost["nights"]:
        return ["  Frost       no night below 0 degC at flower height in any weather year"]
    count, lost, share = (
        frost[name] for name in ("nights_in_season", "fruit_lost_g_per_plant",
                                 "share_of_season_lost")
    )  # fmt: skip
    beside = frost["with_protection"]
    stated = (
        "no protection stated, so none is counted" if frost["protection"] == "not stated"
        else f"protection: {frost['protection']}"
    )  # fmt: skip
    told = (
        f"nights below 0 degC at flower height, unprotected: {count['p50']:.0f} a season "
        f"({count['p10']:.0f} to {count['p90']:.0f}); {stated}. Frost takes "
        f"{percent(share['mean'])} of the season's fruit in the mean "
        f"({lost['mean']:.1f} g per plant), {percent(share['p90_over_weather_years'])} or more in "
        "one weather year of ten."
    )
    if beside is not None:
        grams = beside["season_g_per_plant"]
        told += (
            f" With protection that keeps flowers at 0 degC in every such night: "
            f"{grams['p50']:.0f} ({grams['p10']:.0f} to {grams['p90']:.0f}) g per plant."
        )
    felt = max(share.values()) >= TABLES_FROM
    if felt:
        told += f" What decides is {frost['decided_by']}."
    lines = wrapped(told, indent=INDENT)
    lines[0] = "  Frost       " + lines[0].lstrip()
    if not felt:  # the nights stand in the document and on the page
        return lines
    lines += _nights(frost["nights"])
    # a labour plan tells the trays of all blocks together
    return [*lines, *_weeks(block)] if "weekly" in block else lines


def worst_nights(nights: Sequence[Document]) -> list[Document]:
    """Return the nights that take most, in order of days; none of those that take nothing.

    Examples
    --------
    >>> worst_nights([{"date": "2027-01-02", "fruit_lost_g": 1.0, "flowers_lost": 0.0}])
    [{'date': '2027-01-02', 'fruit_lost_g': 1.0, 'flowers_lost': 0.0}]
    """
    felt = [one for one in nights if one["fruit_lost_g"] > 0.0 or one["flowers_lost"] > 0.0]
    worst = sorted(felt, key=lambda one: -float(one["fruit_lost_g"]))[:MOST_NIGHTS]
    return sorted(worst, key=lambda one: str(one["date"]))


def _nights(nights: Sequence[Document]) -> list[str]:
    rows = [
        (
            one["date"], percent(one["probability"]), f"{one['flower_c']:.1f}",
            f"{one['flower_protected_c']:.1f}", f"{one['flowers_lost']:.2f}",
            f"{one['fruit_lost_g']:.1f}",
        )
        for one in worst_nights(nights)
    ]  # fmt: skip
    header = ("night", "chance", "flower degC", "as protected", "flowers lost", "g lost")
    return aligned(rows, header, "<>>>>>", indent=INDENT) if rows else []


def lost_weeks(block: Document) -> list[tuple[Document, Document | None, Document | None]]:
    """Return weeks that lose fruit to frost, each with its row without and with protection."""
    bare = {row["week"]: row for row in block.get("weekly", ())}
    beside = block["frost"]["with_protection"]
    spared = {} if beside is None else {row["week"]: row for row in beside["weekly"]}
    return [
        (one, bare.get(one["week"]), spared.get(one["week"]))
        for one in block["frost"]["fruit_lost_by_week"]
        if abs(one["g_per_plant"]) >= LEAST_LOST_G
    ]


def _weeks(block: Document) -> list[str]:
    rows = [
        (
            one["week"], f"{one['g_per_plant']:.1f}",
            *("-" if row is None else f"{row['trays']['p50']:.0f}" for row in (bare, spared)),
        )
        for one, bare, spared in lost_weeks(block)
    ]  # fmt: skip
    header = ("week", "g lost", "trays p50", "with protection")
    return aligned(rows, header, "<>>>", indent=INDENT) if rows else []


def frost_of_options(document: Document, shown: Sequence[tuple[int, Document]]) -> list[str]:
    """Return what a comparison tells of frost; nothing where no option shown loses any fruit.

    Parameters
    ----------
    document : of a comparison.
    shown : options with their numbers.

    Examples
    --------
    >>> frost_of_options({}, [])
    []
    """
    shares = [one["frost"]["share_of_season_lost"] for _, one in shown]
    if not any(share["mean"] >= LEAST_SHARE for share in shares):
        return []
    beside = document["frost"]["protection"] == "not stated"
    rows = []
    for (number, one), share in zip(shown, shares, strict=True):
        row = [str(number), percent(share["mean"]), percent(share["p90_over_weather_years"])]
        row.append(f"{one['season_g_per_plant']['p50']:.0f}")
        if beside:
            kept = one["frost"]["with_protection"]
            row.append(f"{kept['season_g_per_plant']['p50']:.0f}")
        rows.append(row)
    header = ["no.", "lost, mean", "year of ten", "g/plant", "protected"]
    told = (
        "No protection is stated, so none is counted in the other figures; protected: season with "
        "flowers kept at 0 degC on every frost night, medians."
        if beside
        else f"Counted with the protection stated: {document['frost']['protection']}."
    )
    table = aligned(rows, header[: len(rows[0])], ">" * len(rows[0]), indent="")
    return ["Frost, share of the season's fruit", *table, *wrapped(told), ""]
