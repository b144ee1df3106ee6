"""What was understood of files, as plain text no wider than 100 columns."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from phenocast.report.columns import aligned, look_first, plain, wrapped
from phenocast.report.text import weather_source

Answer = Mapping[str, Any]
PLACES_SHOWN = 5


def check_text(answers: Sequence[Answer]) -> str:
    """Page about one file or several.

    Parameters
    ----------
    answers : sequence of mapping
        As the JSON document of ``phenocast check`` holds them under ``files``.

    Returns
    -------
    str
        Ends with a newline.

    Examples
    --------
    >>> answer = {"file": "a.toml", "kind": "season", "understood": {}, "fault_count": 1}
    >>> print(check_text([answer]))
    a.toml: season file, REFUSED (1 fault)
    """
    parts = []
    for answer in answers:
        count = answer["fault_count"]
        state = "understood"
        if count:
            state = f"REFUSED ({count} {'fault' if count == 1 else 'faults'})"
        lines = wrapped(f"{answer['file']}: {answer['kind']} file, {state}", indent="")
        understood = answer["understood"]
        told = understood.get("forecast", {}).get("warnings") or understood.get("notes", ())
        lines += look_first(told)[:-1]
        if answer["kind"] == "season":
            lines += _season(understood)
        elif understood:
            lines += _records(understood, "  ")
        parts.append("\n".join(lines))
    return "\n\n".join(parts) + "\n"


def _season(understood: Answer) -> list[str]:
    """Place, blocks, weather and the forecast that would come of them; as far as it was read."""
    if not understood:
        return []
    bed = understood["bed"]
    lines = [
        *wrapped(_place(understood["site"]), bullet="Site      "),
        (
            f"  Bed       {bed['top_width_m']:g} m wide, {bed['height_m']:g} m high, rows "
            f"{bed['row_spacing_m']:g} m apart, {plain(bed['soil'], 30)}"
        ),
    ]
    if understood["nursery"]:
        lines += wrapped(_place(understood["nursery"]), bullet="Nursery   ")
    for kind in ("films", "cultivars"):
        if understood[f"user_{kind}"]:
            lines += wrapped(f"Your own {kind}: {', '.join(understood[f'user_{kind}'])}")
    lines += ["", *_blocks(understood["blocks"])]
    for kind, records in understood.get("weather", {}).items():
        for one in records:
            lines += ["", f"  Weather, {kind}: {plain(one['file'], 60)}", *_records(one, "    ")]
    if "forecast" in understood:
        forecast = understood["forecast"]
        lines += [
            "",
            *wrapped(
                f"A forecast would be as of {forecast['issue_date']}: "
                f"{weather_source(forecast['weather'])}."
            ),
            *[
                line
                for warning in forecast["warnings"]
                for line in wrapped(warning, indent="    ", bullet="- ")
            ],
        ]
    return lines


def _place(site: Answer) -> str:
    return (
        f"{site['name']}, {_degrees(site['latitude'], 'N', 'S')} "
        f"{_degrees(site['longitude'], 'E', 'W')}, {site['elevation_m']:g} m, {site['time_zone']}"
    )


def _degrees(value: float, positive: str, negative: str) -> str:
    return f"{abs(value):g} {positive if value >= 0 else negative}"


def _blocks(blocks: Sequence[Answer]) -> list[str]:
    rows = []
    for block in blocks:
        extras = [
            f"sprinkled {block['sprinkling_days']} d" if block["sprinkling_days"] else "",
            "row cover" if block["covers"] else "",
            f"frost: {block['frost_protection']}",
            "lighting" if block["lighting"] else "",
            "cover measured" if block["cover_readings"] else "",
        ]
        rows.append(
            (
                block["block"],
                block["cultivar"],
                block["film"],
                block["transplant"],
                block["planting_date"],
                block["plants"],
                ", ".join(extra for extra in extras if extra),
            )
        )
    header = ("block", "cultivar", "film", "transplant", "planted", "plants", "also")
    return aligned(rows, header, "<<<<<><", widest=(14, 10, 18, 16, 10, 8, 14))


def _records(one: Answer, indent: str) -> list[str]:
    """One weather file: period, gaps, columns, fillings, doubtful values and notes."""
    step = {"hourly": "hourly", "daily": "daily"}.get(one["step"], f"every {one['minutes']} min")
    facts = [f"{step}, {one['rows']} rows", f"{one['first_utc']} to {one['last_utc']} UTC"]
    if one["rows_missing"]:
        facts.append(
            f"{one['rows_missing']} rows missing (longest gap {one['longest_gap_rows']} rows)"
        )
    else:
        facts.append("no row missing")
    if one["typical_year"]:
        facts.append("a typical year")
    if one["latitude"] is not None and one["longitude"] is not None:
        place = f"{_degrees(one['latitude'], 'N', 'S')} {_degrees(one['longitude'], 'E', 'W')}"
        facts.append(f"for {place}")
    if one["wind_height_m"] is not None:
        facts.append(f"wind at {one['wind_height_m']:g} m")
    if one.get("members"):
        facts.append(f"{one['members']} members, of which this is the first")
    lines = wrapped("; ".join(facts), indent=indent)
    rows = [
        (
            f"{column['quantity']} {column['meaning'][column['meaning'].rindex('[') :]}",
            column["header"] or "fixed by the format",
            f"{column['lowest']:g}",
            f"{column['highest']:g}",
            column["missing"] or "",
            column["removed"] or "",
            column["suspect"] or "",
        )
        for column in one["columns"]
    ]
    header = ("taken as", "from", "lowest", "highest", "missing", "removed", "doubtful")
    lines += aligned(
        rows, header, "<<>>>>>", indent=indent, gap=" ", widest=(30, 30, 7, 7, 7, 7, 8)
    )
    if "hours" in one:
        filled = ", ".join(f"{name} {hours} h" for name, hours in one["filled_hours"].items())
        lines += wrapped(f"filled, of {one['hours']} hours: {filled or 'nothing'}", indent=indent)
    for finding in one["findings"]:
        lines += wrapped(_finding(finding), indent=indent, bullet="- ")
    if one["findings_not_listed"]:
        more = f"{one['findings_not_listed']} more values removed or doubtful, not listed"
        lines += wrapped(more, indent=indent, bullet="- ")
    for note in one["notes"]:
        lines += wrapped(note, indent=indent, bullet="- ")
    return lines


def _finding(finding: Answer) -> str:
    """One reason why values of a quantity were taken out or are doubtful, with its first rows."""
    places = finding["places"]
    told = ", ".join(f"{place['row']} ({place['value']:g})" for place in places[:PLACES_SHOWN])
    rows = "row" if len(places) == 1 else "rows"
    rest = len(places) - PLACES_SHOWN
    more = f" and {rest} more, in --json" if rest > 0 else ""
    return (
        f"{finding['quantity']}: {finding['what']} (allowed: {finding['allowed']}); "
        f"{rows} {told}{more}"
    )
