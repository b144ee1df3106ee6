"""What was understood of files, as plain text no wider than 100 columns."""

from collections.abc import Sequence

from phenocast.errors import applying
from phenocast.report.columns import look_first, plain, wrapped
from phenocast.report.parts import Bullets, Item, Table, weather_line
from phenocast.report.reader import Document, Reader
from phenocast.report.render import item_lines

PLACES_SHOWN = 5


def check_text(answers: Sequence[Document]) -> str:
    """Return what was understood of one file or several.

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
    texts = []
    for answer in answers:
        count, understood = answer["fault_count"], answer["understood"]
        faults = f"{count} {'fault' if count == 1 else 'faults'}"
        state = f"REFUSED ({faults})" if count else "understood"
        told = understood.get("forecast", {}).get("warnings") or understood.get("notes", ())
        items = _season if answer["kind"] == "season" else _records
        lines = [
            *wrapped(f"{answer['file']}: {answer['kind']} file, {state}", indent=""),
            *look_first(told)[:-1],
            *item_lines(items(understood) if understood else []),
        ]
        texts.append("\n".join(lines))
    return "\n\n".join(texts) + "\n"


def _season(understood: Document) -> list[Item]:
    """Place, blocks, weather and the forecast that would come of them; as far as it was read."""
    bed = understood["bed"]
    size = f"{bed['top_width_m']:g} m wide, {bed['height_m']:g} m high"
    rows = f"rows {bed['row_spacing_m']:g} m apart"
    facts = [
        f"Site: {_place(understood['site'])}",
        f"Bed: {size}, {rows}, {plain(bed['soil'], 30)}",
        *(f"Nursery: {_place(site)}" for site in [understood["nursery"]] if site),
        *(
            f"Your own {kind}: {', '.join(understood[f'user_{kind}'])}"
            for kind in ("films", "cultivars")
            if understood[f"user_{kind}"]
        ),
    ]
    items: list[Item] = [Bullets(facts), _blocks(understood["blocks"])]
    for kind, records in understood.get("weather", {}).items():
        for one in records:
            items += [f"Weather, {kind}: {plain(one['file'], 60)}", *_records(one)]
    if "forecast" in understood:
        forecast = understood["forecast"]
        weather = weather_line(forecast["weather"], Reader())
        items.append(f"A forecast would be as of {forecast['issue_date']}. {weather}")
        items.append(Bullets(forecast["warnings"]))
    return items


def _place(site: Document) -> str:
    latitude, longitude = _degrees(site["latitude"], "NS"), _degrees(site["longitude"], "EW")
    return f"{site['name']}, {latitude} {longitude}, {site['elevation_m']:g} m, {site['time_zone']}"


def _degrees(value: float, sides: str) -> str:
    return f"{abs(value):g} {sides[0] if value >= 0 else sides[1]}"


def _blocks(blocks: Sequence[Document]) -> Table:
    rows = []
    for block in blocks:
        also = applying(
            (block["sprinkling_days"], f"sprinkled {block['sprinkling_days']} d"),
            (block["covers"], "row cover"),
            (True, f"frost: {block['frost_protection']}"),
            (block["lighting"], "lighting"),
            (block["cover_readings"], "cover measured"),
        )
        names = ("block", "cultivar", "film", "transplant", "planting_date", "plants")
        rows.append([*(str(block[name]) for name in names), ", ".join(also)])
    header = ("block", "cultivar", "film", "transplant", "planted", "plants", "also")
    return Table("Blocks", header, rows, "<<<<<><")


def _records(one: Document) -> list[Item]:
    """One weather file: period, gaps, columns, fillings, doubtful values and notes."""
    step = one["step"] if one["step"] in ("hourly", "daily") else f"every {one['minutes']} min"
    gaps = "no row missing"
    if one["rows_missing"]:
        gaps = f"{one['rows_missing']} rows missing (longest gap {one['longest_gap_rows']} rows)"
    placed = one["latitude"] is not None and one["longitude"] is not None
    latitude, longitude, height = (
        one[key] or 0.0 for key in ("latitude", "longitude", "wind_height_m")
    )
    facts = applying(
        (True, f"{step}, {one['rows']} rows"),
        (True, f"{one['first_utc']} to {one['last_utc']} UTC"),
        (True, gaps),
        (one["typical_year"], "a typical year"),
        (placed, f"for {_degrees(latitude, 'NS')} {_degrees(longitude, 'EW')}"),
        (one["wind_height_m"] is not None, f"wind at {height:g} m"),
        (one.get("members"), f"{one.get('members')} members, of which this is the first"),
    )
    rows = [
        [
            f"{column['quantity']} {column['meaning'][column['meaning'].rindex('[') :]}",
            column["header"] or "fixed by the format",
            f"{column['lowest']:g}",
            f"{column['highest']:g}",
            *(str(column[name] or "") for name in ("missing", "removed", "suspect")),
        ]
        for column in one["columns"]
    ]
    header = ("taken as", "from", "lowest", "highest", "missing", "removed", "doubtful")
    rest = one["findings_not_listed"]
    told = [
        *(_finding(finding) for finding in one["findings"]),
        *applying((rest, f"{rest} more values removed or doubtful, not listed")),
    ]
    items: list[Item] = ["; ".join(facts), Table("Columns", header, rows, "<<>>>>>")]
    if "hours" in one:
        filled = ", ".join(f"{name} {hours} h" for name, hours in one["filled_hours"].items())
        items.append(f"filled, of {one['hours']} hours: {filled or 'nothing'}")
    return [*items, Bullets([*told, *one["notes"]])]


def _finding(finding: Document) -> str:
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
